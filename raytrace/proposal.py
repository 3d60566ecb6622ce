"""Proposals: the smallest set of panels that keeps early reflections below the limit, and its proof."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from raytrace.candidates import Candidate, Refusal, find_candidates
from raytrace.choice import SPARE_DB, Chosen, Problem, Supply, pose
from raytrace.criteria import Peak
from raytrace.ladder import Step, choose, find_ladder, find_stop, priced_cost
from raytrace.loads import Stability, find_stability
from raytrace.margins import PeakMargin, find_agreement, find_margins, way_of_facets
from raytrace.obstacles import Obstacle, find_obstacles
from raytrace.panelgrid import listening_axis, wanted_spots
from raytrace.proposedscene import NamedPanel, name_panels, scene_text
from raytrace.scene import Scene, load_scene
from raytrace.scenefile import did_you_mean
from raytrace.stock import Stock
from raytrace.study import Study, run_study
from raytrace.surrogate import build_surrogate

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

DEFAULT_BUILD = "wool 50"
_ALIKE_DB = 0.5  # peaks of left and right that differ by less count as mirror images


@dataclass(frozen=True, eq=False)
class ProposedPanel:
    """One panel of a proposal.

    Attributes
    ----------
    name, group : str
        Its own in the room, and that of its entry in the new scene.
    kind : str
        "surface", "stand" or "cloud".
    surface : str
        The surface it is there for.
    build : str
    centre_uv : (2,) float
        Middle of its front in that surface's set-out frame. [m]
    turned : int
        0 or 90.
    reason : str
        What it answers, in one sentence.
    n_battens : int
        Hooks that find no known joist.
    """

    name: str
    group: str
    kind: str
    surface: str
    build: str
    centre_uv: Floats
    turned: int
    reason: str
    n_battens: int


@dataclass(frozen=True)
class Unreached:
    """A peak that stays over the limit: by how much, and what stands in the way."""

    speaker: str
    seat: str
    way: tuple[str, ...]
    delay_s: float
    margin_db: float
    obstacles: tuple[Obstacle, ...]


@dataclass(frozen=True, eq=False)
class Proposal:
    """What is proposed for a scene, and what became of it in the proof.

    Attributes
    ----------
    before, after : Study
        The scene as it is, and the full run on the new one.
    text : str
        The new scene file.
    panels : tuple of ProposedPanel
        In the order of the new scene.
    margins : tuple of PeakMargin
        Of every peak near the limit, by speaker, seat and delay; the predicted ones were fixed before the
        proof ran.
    ladder : tuple of Step
        Best sets of a few panels, the proposal itself last.
    stop : int or None
        Index of the step after which more panels bring little.
    unreached : tuple of Unreached
    agreement_db : tuple of float
        Largest difference of predicted and proven levels of arrivals within 15 dB of the limit: those of
        one bounce, of several.
    stability : tuple of Stability
        At what the stands tip.
    is_symmetric : bool
        Whether places that mirror each other were taken together only.
    n_candidates : int
        Places that were looked at.
    cost : float
        Price of what must be bought; NaN without a price.
    notes : tuple of str
    """

    before: Study
    after: Study
    text: str
    panels: tuple[ProposedPanel, ...]
    margins: tuple[PeakMargin, ...]
    ladder: tuple[Step, ...]
    stop: int | None
    unreached: tuple[Unreached, ...]
    agreement_db: tuple[float, float]
    stability: tuple[Stability, ...]
    is_symmetric: bool
    n_candidates: int
    cost: float
    notes: tuple[str, ...]


def propose(
    scene: Scene,
    *,
    out: Path,
    n_panels: int | None = None,
    budget: float | None = None,
    build: str | None = None,
    stock: Stock | None = None,
    up_to_order: int | None = None,
    progress: Progress | None = None,
) -> Proposal:
    """The smallest set of whole panels that brings every peak in the window below the limit.

    Parameters
    ----------
    scene : Scene
        Panels that it holds already stay.
    out : Path
        Where the new scene is to be written; nothing is written here.
    n_panels : int, optional
        At most so many, and then the best of them.
    budget : float, optional
        For what must be bought; the build needs a price.
    build : str, optional
        What is bought. Without it the first of the scene's own builds, else "wool 50"; with a stock
        nothing is bought unless it is named.
    stock : Stock, optional
        Panels that are owned; they go first.
    up_to_order : int, optional
        As for `run_study`.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    Proposal
        The same scene gives the same proposal.

    Raises
    ------
    ValueError
        If a build is not known or has no price where one is needed.
    SceneError
        If the scene does not hold together.

    Notes
    -----
    A mixed-integer linear programme on the exact effect of every candidate (`mixedinteger`), improved by
    small changes (`choice`), then run in full like any other scene.
    """
    tell = progress or _silent
    stock = stock or Stock()
    scene = scene.model_copy(update={"builds": {**stock.builds, **scene.builds}})
    supplies = find_supplies(scene, build, stock, needs_price=budget is not None)
    tell("the room as it is", 0.0)
    before = run_study(scene, up_to_order=up_to_order)
    axis_m = listening_axis(scene)
    spots = wanted_spots(scene, before.room, before.arrivals)
    tell("places for panels", 0.15)
    names = [supply.build for supply in supplies]
    candidates, refusals = find_candidates(scene, before.room, spots, names, axis_m=axis_m)
    tell("what a panel at each place would do", 0.25)
    surrogate = build_surrogate(scene, before.room, before.arrivals, candidates)
    symmetric = axis_m is not None and is_alike(scene, before.peaks)
    problem = pose(surrogate, candidates, supplies, symmetric=symmetric)
    problem = replace(problem, most_panels=n_panels, budget=budget)
    tell("choosing", 0.45)
    chosen = choose(problem)
    tell("what fewer panels bring", 0.65)
    ladder = find_ladder(scene, before, problem, chosen)
    reasons = find_reasons(scene, before, problem, chosen)
    named = name_panels(scene, before.room, candidates, problem.panels(chosen))
    used = {candidates[k].panel.build_name for k in problem.panels(chosen)}
    own = {name: made for name, made in stock.builds.items() if name in used}
    text = scene_text(scene, candidates, named, reasons=reasons, builds=own, out=out)
    predicted = surrogate.predicted(problem.state(chosen))
    tell("the proof: the new scene in full", 0.75)
    after = run_study(load_scene(out, text), up_to_order=up_to_order)
    tell("what stands in the way", 0.98)
    return Proposal(
        before=before,
        after=after,
        text=text,
        panels=tuple(_proposed(before, candidates[n.candidate], n, reasons) for n in named),
        margins=find_margins(before, predicted, after),
        ladder=ladder,
        stop=find_stop(ladder),
        unreached=_unreached(before, after, candidates, refusals, problem, chosen),
        agreement_db=find_agreement(scene, predicted, after.arrivals),
        stability=find_stability(after.room),
        is_symmetric=symmetric,
        n_candidates=len(candidates),
        cost=priced_cost(problem, chosen),
        notes=_notes(scene, before, problem, chosen),
    )


def _silent(_text: str, _share: float) -> None:
    pass


def find_supplies(scene: Scene, build: str | None, stock: Stock, *, needs_price: bool) -> tuple[Supply, ...]:
    """What panels are to be had: those owned first, then the build that is bought."""
    if build is not None and build not in scene.known_builds:
        raise ValueError(f'no build is called "{build}"{did_you_mean(build, scene.known_builds)}')
    bought = build
    if bought is None and not stock.owned:
        bought = next(iter(scene.builds), DEFAULT_BUILD)
    names = list(dict.fromkeys([*stock.owned, *([] if bought is None else [bought])]))
    if needs_price and bought is not None and scene.build(bought).price is None:
        raise ValueError(
            f'the build "{bought}" has no price: describe it in the scene, [builds."my panel"] with size, '
            "thickness, flow_resistivity and price, and name it with --build"
        )
    return tuple(
        Supply(name, stock.owned.get(name, 0), name == bought, scene.build(name).price) for name in names
    )


def is_alike(scene: Scene, peaks: Sequence[Peak]) -> bool:
    """Whether mirrored speakers make the same peaks over the limit, so that pairs of panels make sense."""
    mains = [k for k, s in enumerate(scene.speakers) if s.use == "main"]
    for seat in range(len(scene.seats)):
        if abs(scene.seats[seat].ears[1] - scene.seats[0].ears[1]) > 1e-3:
            return False
        over = [
            sorted(p.margin_db for p in peaks if (p.speaker, p.seat) == (k, seat) and p.over_limit)
            for k in mains
        ]
        if any(len(own) != len(over[0]) for own in over):
            return False
        if any(abs(a - b) > _ALIKE_DB for own in over for a, b in zip(own, over[0], strict=True)):
            return False
    return True


def find_reasons(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> dict[int, str]:
    """What each chosen candidate answers: the peak that would rise most without it."""
    levels = problem.levels_db(chosen)
    reasons: dict[int, str] = {}
    for unit in chosen:
        for k in problem.units[unit]:
            others = [c for c in problem.panels(chosen) if c != k]
            surrogate = problem.surrogate
            worst = surrogate.worst(surrogate.state(surrogate.factors(others)))
            with np.errstate(divide="ignore"):
                without = 10.0 * np.log10(worst / surrogate.limit)
            counted = np.maximum(without, -SPARE_DB) - np.maximum(levels, -SPARE_DB)
            if counted.max(initial=0.0) < 0.1:  # what it takes off lies below the limit
                counted = np.where(without > -6.0, without - np.maximum(levels, -20.0), 0.0)
            reasons[k] = _reason(scene, before, problem, int(np.argmax(counted)))
    return reasons


def _reason(scene: Scene, before: Study, problem: Problem, name: int) -> str:
    surrogate = problem.surrogate
    speaker, seat, *facets = surrogate.names[name]
    way = way_of_facets(before, facets)
    delay_s = float(surrogate.delay_s[np.flatnonzero(surrogate.name == name)[0]])
    seats = f" at {scene.seats[seat].name}" if len(scene.seats) > 1 else ""
    return (
        f"answers the reflection of {scene.speakers[speaker].name} by way of {', '.join(way)}{seats}, "
        f"{1e3 * delay_s:.1f} ms after the direct sound"
    )


def _proposed(
    before: Study, candidate: Candidate, named: NamedPanel, reasons: dict[int, str]
) -> ProposedPanel:
    surface = before.room.surfaces[candidate.surface]
    return ProposedPanel(
        name=named.name,
        group=named.group,
        kind=candidate.panel.kind,
        surface=surface.name,
        build=candidate.panel.build_name,
        centre_uv=surface.frame.to_plane(candidate.panel.centre),
        turned=candidate.panel.turned,
        reason=reasons[named.candidate],
        n_battens=candidate.n_battens,
    )


def _unreached(
    before: Study,
    after: Study,
    candidates: Sequence[Candidate],
    refusals: Sequence[Refusal],
    problem: Problem,
    chosen: Chosen,
) -> tuple[Unreached, ...]:
    used = [candidates[k] for k in problem.panels(chosen)]
    at_end = _at_end(problem, chosen)
    return tuple(
        Unreached(
            after.scene.speakers[peak.speaker].name,
            after.scene.seats[peak.seat].name,
            way_of_facets(after, peak.facets),
            peak.delay_s,
            peak.margin_db,
            find_obstacles(before, after, peak, candidates, refusals, used, at_end),
        )
        for peak in after.peaks
        if peak.over_limit
    )


def _at_end(problem: Problem, chosen: Chosen) -> str | None:
    """Why no more panels could be taken, if that is so."""
    if problem.most_panels is not None and problem.n_panels(chosen) + 1 > problem.most_panels:
        return f"no more than {problem.most_panels} panels were asked for"
    every = range(len(problem.units))
    if any(problem.may((*chosen, unit)) for unit in every if unit not in chosen):
        return None
    if problem.budget is not None:
        return "the budget is spent"
    if not any(supply.buyable for supply in problem.supplies):
        return "the stock is used up"
    return None


def _notes(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> tuple[str, ...]:
    notes = []
    if not any(verdict.status == "judged" for verdict in before.verdicts):
        notes.append("No speaker is judged, the direct sound of each is hidden: nothing can be proposed.")
    elif not any(peak.over_limit for peak in before.peaks):
        notes.append("No early reflection is over the limit: nothing needs to be put up for them.")
    elif not chosen:
        notes.append("No panel at any place that may be used takes anything worth having off these peaks.")
    builds = {problem.candidates[k].panel.build_name for k in problem.panels(chosen)}
    if DEFAULT_BUILD in builds and DEFAULT_BUILD not in scene.builds:
        notes.append(f'Planned with the library build "{DEFAULT_BUILD}"; --build names another one.')
    battens = sum(problem.candidates[k].n_battens for k in problem.panels(chosen))
    if battens:
        notes.append(
            f"{battens} hooks find no known joist: they need a batten across joists or, beyond the last one, "
            "other structure; the drawings say which."
        )
    if any(problem.candidates[k].panel.kind == "stand" for k in problem.panels(chosen)):
        notes.append("Stands need feet: what they tip at is listed. Keep ways out and windows free.")
    return tuple(notes)

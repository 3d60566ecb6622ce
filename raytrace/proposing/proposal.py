"""Proposals: the smallest set of panels that keeps early reflections below the limit, and its proof."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence
from raytrace.making import Hook, Stability, find_hooks, find_ownership, find_stability
from raytrace.proposing.calibration import choose_by_verdict
from raytrace.proposing.candidates import Candidate, Refusal, find_candidates
from raytrace.proposing.choice import Problem, Supply, pose
from raytrace.proposing.covering import Covered, TriedCover, cover_what_stays
from raytrace.proposing.ladder import Step, find_ladder, find_stop, priced_cost, proven_step
from raytrace.proposing.margins import PeakMargin, find_agreement, find_margins, way_of_facets
from raytrace.proposing.obstacles import Obstacle, Search, find_obstacles
from raytrace.proposing.panelgrid import listening_axis, wanted_spots
from raytrace.proposing.proposed_scene import NamedPanel, name_panels, scene_text
from raytrace.proposing.surrogate import build_surrogate
from raytrace.proposing.words import DEFAULT_BUILD, Answer, find_answers, holding_notes, proposal_notes
from raytrace.scene import Scene, Stand, did_you_mean, load_scene
from raytrace.study import Setting, Study, Variant, Variants, run_study, with_settings

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

_ON_AXIS_M = 0.020  # as `listening_axis` has it


@dataclass(frozen=True)
class PanelWish:
    """Which panels may be proposed, and for whom.

    Attributes
    ----------
    most_panels : int or None
        At most so many, and then the best of them.
    budget : float or None
        For what must be bought; every build that is bought needs a price.
    builds : tuple of str
        What is bought, of each place the one that serves best. Without them all builds that the scene
        prices; else nothing where panels are owned; else the first of the scene's own builds, or "wool 50".
    seats : tuple of str
        Seats that count, the first named first; without them the scene's first one. The others have a say
        only in what `most_panels` or `budget` leave over.
    weights : tuple of float
        What the peaks of each of these seats weigh where all are served together, above 0; without them one
        seat comes after the other.
    margin_db : float or None
        How far below the limit every peak is to be, 0 or more; without it by the uncertainty of its verdict.
    singles : bool
        Whether a panel may go without its mirror image where speakers and seat mirror each other.
    moves : tuple of str
        What may stand another way in the new scene where panels do not do: "desk", "speakers", "seat".
    panels_only : bool
        Look neither for covers nor for other arrangements.
    """

    most_panels: int | None = None
    budget: float | None = None
    builds: tuple[str, ...] = ()
    seats: tuple[str, ...] = ()
    weights: tuple[float, ...] = ()
    margin_db: float | None = None
    singles: bool = False
    moves: tuple[str, ...] = ()
    panels_only: bool = False


_ANY_PANELS = PanelWish()


@dataclass(frozen=True, eq=False)
class ProposedPanel:
    """One panel of a proposal.

    Attributes
    ----------
    panel : int
        Index into the panels of the room in the proof.
    name, group : str
        Its own in the room, and that of its entry in the new scene.
    kind : str
        "surface", "stand" or "cloud".
    leans : bool
        Whether it leans on what is behind it.
    surface : str
        The surface it is there for.
    build : str
    is_owned : bool
        Whether it is there already, of the scene's stock.
    centre_uv : (2,) float
        Middle of its front in that surface's set-out frame. [m]
    turned : int
        0 or 90.
    answers : Answer
        The reflection that it is there for.
    n_hooks, n_on_joists, n_battens : int
        Points that hold it; those in a known joist; those that need a batten across joists.
    """

    panel: int
    name: str
    group: str
    kind: str
    leans: bool
    surface: str
    build: str
    is_owned: bool
    centre_uv: Floats
    turned: int
    answers: Answer
    n_hooks: int
    n_on_joists: int
    n_battens: int


@dataclass(frozen=True)
class OtherSeat:
    """A seat that does not count: peaks over its limit and by how much all together, before and after."""

    name: str
    n_over: tuple[int, int]
    excess_db: tuple[float, float]


@dataclass(frozen=True)
class Unreached:
    """A peak that stays over the limit, or too near it to say, at a seat that counts, and why."""

    speaker: str
    seat: str
    way: tuple[str, ...]
    delay_s: float
    margin_db: float
    verdict: str
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
        Of every peak near the limit at the seats that count, by speaker, seat and delay; the predicted ones
        were fixed before the proof ran.
    ladder : tuple of Step
        Best sets of a few panels, the proposal itself last.
    stop : int or None
        Index of the step after which more panels bring little.
    unreached : tuple of Unreached
    seats : tuple of str
        Seats that count: whose peaks were to be brought below the limit.
    others : tuple of OtherSeat
        What became of the rest.
    agreement_db : tuple of float
        Largest difference of predicted and proven levels of arrivals within 15 dB of the limit: those of
        one bounce, of several.
    stability : tuple of Stability
        At what the stands tip.
    is_symmetric : bool
        Whether places that mirror each other were taken together only.
    is_shared : bool
        Whether what the seats that count left over was spent on the others.
    n_candidates : int
        Places that were looked at.
    cost : float
        Price of what must be bought; NaN without a price.
    notes : tuple of Sentence
    moved : tuple of Variant
        Arrangements that the new scene has in place of the old one; the panels are those for them.
    covers : tuple of TriedCover
        Rugs, curtains and pads that were tried where panels do not go; those that bring something are in the
        new scene and in `after`, but not in what was predicted.
    variants : tuple of Variants
        Arrangements that would mend what stays over the limit, or come nearest.
    """

    before: Study
    after: Study
    text: str
    panels: tuple[ProposedPanel, ...]
    margins: tuple[PeakMargin, ...]
    ladder: tuple[Step, ...]
    stop: int | None
    unreached: tuple[Unreached, ...]
    seats: tuple[str, ...]
    others: tuple[OtherSeat, ...]
    agreement_db: tuple[float, float]
    stability: tuple[Stability, ...]
    is_symmetric: bool
    is_shared: bool
    n_candidates: int
    cost: float
    notes: tuple[Sentence, ...]
    moved: tuple[Variant, ...] = ()
    variants: tuple[Variants, ...] = ()
    covers: tuple[TriedCover, ...] = ()

    @property
    def is_new(self) -> bool:
        """Whether anything is proposed, so that there is a new scene."""
        return bool(self.panels or self.moved or any(cover.is_proposed for cover in self.covers))


def propose_panels(
    scene: Scene,
    wish: PanelWish = _ANY_PANELS,
    *,
    out: Path,
    settings: Sequence[Setting] = (),
    up_to_order: int | None = None,
    within_s: float = 0.030,
    progress: Progress | None = None,
) -> Proposal:
    """The smallest set of whole panels that brings every peak in the window below the limit.

    Parameters
    ----------
    scene : Scene
        Panels that it holds already stay.
    wish : PanelWish
        Which panels may be proposed, and for whom.
    out : Path
        Where the new scene is to be written; nothing is written here.
    settings : sequence of Setting
        Edits of the scene's text that come first: the panels are chosen for the scene with them.
    up_to_order, within_s : int, float
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
        If a build or seat is not known, or a build has no price where one is needed.
    SceneError
        If the scene does not hold together.

    Notes
    -----
    A mixed-integer linear programme on the exact effect of every candidate (`mixedinteger`), improved by
    small changes (`choice`), then run in full like any other scene.
    """
    tell = progress or _silent
    supplies, seats = find_supplies(scene, wish), find_seats(scene, wish.seats)
    tell("the room as it is", 0.0)
    old, scene = scene, with_settings(scene, settings) if settings else scene
    before = run_study(scene, up_to_order=up_to_order, within_s=within_s)
    problem, refusals = _posed(before, wish, supplies, seats, tell)
    tell("choosing", 0.45)
    planned = choose_by_verdict(scene, before, problem)
    problem = planned.problem
    search = Search(before, problem, refusals, planned.chosen, planned.arrivals)
    tell("what fewer panels bring", 0.65)
    ladder = find_ladder(scene, before, problem, search.chosen)
    answers = find_answers(scene, before, problem, search.chosen)
    named = name_panels(scene, before.room, problem.candidates, problem.panels(search.chosen))
    text = scene_text(old, problem.candidates, named, answers=answers, out=out, settings=settings)
    tell("the proof: the new scene in full", 0.75)
    after = run_study(load_scene(out, text), up_to_order=up_to_order, within_s=within_s)
    covered = Covered(text, after, ())
    if not wish.panels_only:
        tell("covers where panels do not go", 0.9)
        spent = priced_cost(problem, search.chosen)
        covered = cover_what_stays(
            after,
            text,
            seats=problem.seats,
            budget=None if wish.budget is None else wish.budget - spent,
            out=out,
            up_to_order=up_to_order,
            within_s=within_s,
        )
    tell("what stands in the way", 0.98)
    return _proven(search, ladder, answers, named, after, covered)


def _silent(_text: str, _share: float) -> None:
    pass


def _posed(
    before: Study, wish: PanelWish, supplies: tuple[Supply, ...], seats: tuple[int, ...], tell: Progress
) -> tuple[Problem, tuple[Refusal, ...]]:
    """What there is to choose among for the seats that count, and the places that no panel may take."""
    scene, room = before.scene, before.room
    is_bounded = wish.most_panels is not None or wish.budget is not None
    is_shared = is_bounded and len(seats) < len(scene.seats)
    heard_at = () if is_shared else seats
    axis_m = listening_axis(scene, seats[0])
    spots = wanted_spots(scene, room, before.arrivals, seats)
    rest = [k for k in range(len(scene.seats)) if k not in seats] if is_shared else []
    others = wanted_spots(scene, room, before.arrivals, rest) if rest else ()
    tell("places for panels", 0.15)
    names = [supply.build for supply in supplies]
    candidates, refusals = find_candidates(scene, room, spots, names, axis_m=axis_m, others=others)
    tell("what a panel at each place would do", 0.25)
    surrogate = build_surrogate(scene, room, before.arrivals, candidates, heard_at)
    symmetric = axis_m is not None and not wish.singles and _on_axis(scene, seats)
    problem = pose(surrogate, candidates, supplies, symmetric=symmetric)
    problem = replace(problem, most_panels=wish.most_panels, budget=wish.budget, margin_db=wish.margin_db)
    weights = tuple(weight / min(wish.weights) for weight in wish.weights)
    return replace(problem, seats=seats, weights=weights, is_shared=is_shared), refusals


def _proven(
    search: Search,
    ladder: tuple[Step, ...],
    answers: dict[int, Answer],
    named: Sequence[NamedPanel],
    panelled: Study,
    covered: Covered,
) -> Proposal:
    """What was chosen beside the full runs with the panels and with covers; no prediction knows of those."""
    after, before, problem, scene = covered.study, search.before, search.problem, search.before.scene
    if search.chosen:
        ladder = (*ladder, proven_step(before, problem, search.chosen, panelled))
    held = _held(after, named)
    hooks = [hook for there in held for hook in there.hooks]
    return Proposal(
        before=before,
        after=after,
        text=covered.text,
        panels=tuple(
            _proposed(before, problem.candidates[own.candidate], own, answers[own.candidate], there)
            for own, there in zip(named, held, strict=True)
        ),
        margins=find_margins(before, search.foreseen, after, problem.seats),
        ladder=ladder,
        stop=find_stop(ladder),
        unreached=_unreached(search, after),
        seats=tuple(scene.seats[k].name for k in problem.seats),
        others=tuple(
            _other_seat(before, after, k) for k in range(len(scene.seats)) if k not in problem.seats
        ),
        agreement_db=find_agreement(scene, search.foreseen, panelled.arrivals, problem.seats),
        stability=find_stability(after.scene, after.room),
        is_symmetric=problem.is_symmetric,
        is_shared=problem.is_shared,
        n_candidates=len(problem.candidates),
        cost=priced_cost(problem, search.chosen),
        notes=(
            *proposal_notes(scene, before, problem, search.chosen),
            *holding_notes(before, after, hooks, search.refusals),
        ),
        covers=covered.tried,
    )


def find_supplies(scene: Scene, wish: PanelWish) -> tuple[Supply, ...]:
    """What panels are to be had: those owned that have no place yet, and the builds that are bought."""
    known = scene.known_builds
    for name in wish.builds:
        if name not in known:
            raise ValueError(f'no build is called "{name}"{did_you_mean(name, known)}')
    bought = wish.builds or tuple(name for name in known if scene.price(name) is not None)
    if not bought and not scene.stock:
        bought = (next(iter(scene.builds), DEFAULT_BUILD),)
    unpriced = next((name for name in bought if scene.price(name) is None), None)
    if wish.budget is not None and unpriced is not None:
        raise ValueError(
            f'the build "{unpriced}" has no price: give one in the scene or in a list for --prices, '
            f'[prices] with "{unpriced}" = 48'
        )
    owned = scene.left_over
    # Where one of them has no price the prices of the others decide nothing: it would pass for free.
    return tuple(
        Supply(name, owned.get(name, 0), name in bought, scene.price(name) if unpriced is None else None)
        for name in dict.fromkeys([*scene.stock, *bought])
    )


def find_seats(scene: Scene, names: Sequence[str]) -> tuple[int, ...]:
    """The seats that count, in the order in which they are named; else the first, the place of work."""
    known = [seat.name for seat in scene.seats]
    for name in names:
        if name not in known:
            raise ValueError(f'no seat is called "{name}"{did_you_mean(name, known)}')
    return tuple(known.index(name) for name in dict.fromkeys(names)) or (0,)


def _on_axis(scene: Scene, seats: Sequence[int]) -> bool:
    """Whether all seats that count lie in the plane in which the speakers mirror each other at the first."""
    return all(abs(scene.seats[k].ears[1] - scene.seats[seats[0]].ears[1]) <= _ON_AXIS_M for k in seats)


def _other_seat(before: Study, after: Study, seat: int) -> OtherSeat:
    over = [[p for p in study.peaks if p.seat == seat and p.over_limit] for study in (before, after)]
    excess = [sum(-peak.margin_db for peak in own) for own in over]
    return OtherSeat(before.scene.seats[seat].name, (len(over[0]), len(over[1])), (excess[0], excess[1]))


class _Held(NamedTuple):
    """Where a proposed panel stands among those of the room, and what holds it."""

    panel: int
    hooks: list[Hook]
    is_owned: bool


def _held(after: Study, named: Sequence[NamedPanel]) -> list[_Held]:
    """Proposed panels in the proof, found by their entry: entries alone have names of their own."""
    hooks = find_hooks(after.scene, after.room)
    index = {(panel.group, panel.member): k for k, panel in enumerate(after.room.panels)}
    places = [index[own.group, own.member] for own in named]
    owned = find_ownership(after.scene, after.room.panels).owned
    return [_Held(place, [hook for hook in hooks if hook.panel == place], place in owned) for place in places]


def _proposed(
    before: Study, candidate: Candidate, named: NamedPanel, answer: Answer, held: _Held
) -> ProposedPanel:
    surface = before.room.surfaces[candidate.surface]
    return ProposedPanel(
        panel=held.panel,
        name=named.name,
        group=named.group,
        kind=candidate.panel.kind,
        leans=isinstance(candidate.entry, Stand) and candidate.entry.lean > 0.0,
        surface=surface.name,
        build=candidate.panel.build_name,
        is_owned=held.is_owned,
        centre_uv=surface.frame.to_plane(candidate.panel.centre),
        turned=candidate.panel.turned,
        answers=answer,
        n_hooks=len(held.hooks),
        n_on_joists=sum(hook.joist is not None for hook in held.hooks),
        n_battens=sum(hook.batten for hook in held.hooks),
    )


def _unreached(search: Search, after: Study) -> tuple[Unreached, ...]:
    return tuple(
        Unreached(
            after.scene.speakers[peak.speaker].name,
            after.scene.seats[peak.seat].name,
            way_of_facets(after, peak.facets),
            peak.delay_s,
            peak.margin_db,
            peak.verdict,
            find_obstacles(search, after, peak),
        )
        for peak in after.peaks
        if peak.may_be_over and peak.seat in search.problem.seats
    )

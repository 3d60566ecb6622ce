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
from raytrace.proposing.candidates import Candidate
from raytrace.proposing.covering import Covered, TriedCover, cover_what_stays
from raytrace.proposing.further import Further, find_further, find_spending
from raytrace.proposing.ladder import (
    Step,
    energy_over,
    find_ladder,
    find_stop,
    priced_cost,
    proven_step,
    where,
)
from raytrace.proposing.margins import PeakMargin, find_agreement, find_margins, way_of_facets
from raytrace.proposing.obstacles import Obstacle, Search, find_obstacles
from raytrace.proposing.proposed_scene import NamedPanel, name_panels, scene_text
from raytrace.proposing.spending import Spending
from raytrace.proposing.wishes import PanelWish, Progress, find_seats, find_supplies, pose_wish
from raytrace.proposing.words import Answer, Purpose, find_answers, holding_notes, proposal_notes
from raytrace.scene import Scene, Stand, load_scene
from raytrace.study import Setting, Study, Variant, Variants, run_study, with_settings

Floats = NDArray[np.float64]

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
    stacked : int
        How many panels it is, one above the other in a stand.
    before_m : float
        From the surface to the back of a panel that does not lean.
    answers : Answer or Purpose
        The reflection that it is there for, or another goal.
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
    stacked: int
    before_m: float
    answers: Answer | Purpose
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
        Whether places that mirror each other were taken together only, and no panel is without its image.
    is_shared : bool
        Whether what the seats that count left over was spent on the others.
    n_candidates : int
        Places that were looked at.
    cost : float
        Price of what must be bought; NaN without a price.
    spending : Spending or None
        What became of a budget or a number of panels that was to be spent; None where that was not asked for.
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
    spending: Spending | None
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
    run: Callable[[Scene], Study] = run_study,
    progress: Progress | None = None,
) -> Proposal:
    """Panels, covers and their proof, without other arrangements; all else as for `propose` in `rearranging`.

    `settings` are edits of the scene's text that come first: the panels are chosen for the scene with them.
    `run` is what a scene is proven by.

    Notes
    -----
    A mixed-integer linear programme on the exact effect of every candidate (`mixedinteger`), improved by
    small changes (`choice`), then run in full like any other scene.
    """
    tell = progress or _silent
    supplies, seats = find_supplies(scene, wish), find_seats(scene, wish.seats)
    tell("the room as it is", 0.0)
    edited = _Edited(scene, tuple(settings), out)
    scene = with_settings(scene, settings) if settings else scene
    before = run(scene)
    problem, refusals = pose_wish(before, wish, supplies, seats, tell)
    tell("choosing", 0.45)
    planned = choose_by_verdict(scene, before, problem)
    search = Search(before, planned.problem, refusals, planned.chosen, planned.arrivals)
    tell("what fewer panels bring", 0.65)
    ladder = find_ladder(scene, before, search.problem, search.chosen)
    drawn = _drawn(search, edited)
    tell("the proof: the new scene in full", 0.75)
    after = run(load_scene(out, drawn.text))
    if wish.spend:
        if search.chosen:
            ladder = (*ladder, proven_step(before, search.problem, search.chosen, after))
        tell("what more panels bring", 0.8)
        search = _spent(search, find_further(after, wish, search.problem, search.chosen))
        drawn = _drawn(search, edited)
        tell("the proof of all of them", 0.9)
        after = run(load_scene(out, drawn.text)) if search.further and search.further.chosen else after
    covered = Covered(drawn.text, after, ())
    if not wish.panels_only:
        tell("covers where panels do not go", 0.92)
        covered = cover_what_stays(
            after,
            drawn.text,
            seats=search.problem.seats,
            budget=None if wish.budget is None else wish.budget - _cost(search),
            out=out,
            run=run,
        )
    tell("what stands in the way", 0.98)
    return _proven(search, ladder, drawn, after, covered)


def _silent(_text: str, _share: float) -> None:
    pass


class _Edited(NamedTuple):
    """The scene as it was given, edits of its text that come first, and where the new text is to go."""

    scene: Scene
    settings: tuple[Setting, ...]
    out: Path


def _spent(search: Search, further: Further) -> Search:
    """A search with what more panels were found for the rest."""
    foreseen = further.foreseen() if further.chosen else search.foreseen
    return replace(search, foreseen=foreseen, further=further)


def _cost(search: Search) -> float:
    """Price of what a search would have bought; NaN without a price."""
    cost, further = priced_cost(search.problem, search.chosen), search.further
    return cost if further is None else cost + priced_cost(further.problem, further.chosen)


class _Drawn(NamedTuple):
    """Panels that are put up, what each is there for, their names, and the scene with them."""

    panels: tuple[Candidate, ...]
    answers: tuple[Answer | Purpose, ...]
    named: tuple[NamedPanel, ...]
    text: str


def _drawn(search: Search, edited: _Edited) -> _Drawn:
    scene, before, problem = search.before.scene, search.before, search.problem
    met = find_answers(scene, before, problem, search.chosen)
    answers: tuple[Answer | Purpose, ...] = tuple(met[k] for k in problem.panels(search.chosen))
    answers += search.further.answers if search.further else ()
    panels, every = search.panels, range(len(search.panels))
    named = name_panels(scene, before.room, panels, every)
    old, settings, out = edited
    text = scene_text(old, panels, named, answers=dict(enumerate(answers)), out=out, settings=settings)
    return _Drawn(panels, answers, named, text)


def _proven(
    search: Search, ladder: tuple[Step, ...], drawn: _Drawn, panelled: Study, covered: Covered
) -> Proposal:
    """What was chosen beside the full runs with the panels and with covers; no prediction knows of those."""
    after = covered.study
    before, problem, scene, further = search.before, search.problem, search.before.scene, search.further
    fewest = len(ladder)
    if further is None and search.chosen:
        ladder = (*ladder, proven_step(before, problem, search.chosen, panelled))
        fewest = len(ladder)
    elif further is not None and further.chosen:
        ladder = (*ladder, _step_of_all(search, ladder, panelled))
    held = _held(after, drawn.named)
    return Proposal(
        before=before,
        after=after,
        text=covered.text,
        panels=tuple(
            _proposed(before, drawn.panels[own.candidate], own, drawn.answers[own.candidate], there)
            for own, there in zip(drawn.named, held, strict=True)
        ),
        margins=find_margins(before, search.foreseen, after, problem.seats),
        ladder=ladder,
        stop=find_stop(ladder[:fewest]),
        unreached=_unreached(search, after),
        seats=tuple(scene.seats[k].name for k in problem.seats),
        others=tuple(
            _other_seat(before, after, k) for k in range(len(scene.seats)) if k not in problem.seats
        ),
        agreement_db=find_agreement(scene, search.foreseen, panelled.arrivals, problem.seats),
        stability=find_stability(after.scene, after.room),
        is_symmetric=problem.is_symmetric and all(panel.mirror >= 0 for panel in search.panels),
        is_shared=problem.is_shared,
        n_candidates=len(problem.candidates),
        cost=_cost(search),
        spending=None
        if further is None
        else find_spending(further, before, panelled, problem, search.chosen),
        notes=(
            *proposal_notes(before, problem, panels=search.panels, end=search.at_end),
            *holding_notes(before, after, [h for there in held for h in there.hooks], search.refusals),
        ),
        covers=covered.tried,
    )


def _step_of_all(search: Search, ladder: tuple[Step, ...], after: Study) -> Step:
    """The last step of a ladder where more than the fewest are put up, by the full run with all of them."""
    further = search.further
    assert further is not None
    last = proven_step(search.before, search.problem, search.chosen, after)
    today = energy_over(search.problem, ())
    left = energy_over(further.problem, further.chosen) / today if today > 0.0 else 0.0
    return replace(
        last,
        n_panels=last.n_panels + further.problem.n_panels(further.chosen),
        panels=where(search.before.room, search.panels),
        left=min(left, ladder[-1].left),
        cost=last.cost + priced_cost(further.problem, further.chosen),
    )


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
    before: Study, candidate: Candidate, named: NamedPanel, answer: Answer | Purpose, held: _Held
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
        stacked=candidate.panel.stacked,
        before_m=float(((candidate.panel.back - surface.frame.origin) @ surface.frame.n).min()),
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

"""Panels, and where they do not do, another arrangement of desk, speakers and seat: proposed and proven."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from raytrace.proposing.margins import with_today
from raytrace.proposing.proposal import Proposal, propose_panels
from raytrace.proposing.wishes import PanelWish
from raytrace.scene import Scene
from raytrace.study import Setting, Study, Target, Variant, Variants, best_for, find_variants, run_study

Progress = Callable[[str, float], None]

MOVES = ("desk", "speakers", "seat")
_MOST_PEAKS = 3  # of those that stay: other arrangements are looked for the strongest
_MOST_ROUNDS = 2  # one arrangement after another, each with panels of its own
_ANY_PANELS = PanelWish()


def propose(
    scene: Scene,
    wish: PanelWish = _ANY_PANELS,
    *,
    out: Path,
    up_to_order: int | None = None,
    within_s: float = 0.030,
    progress: Progress | None = None,
) -> Proposal:
    """The smallest set of whole panels that brings every peak below the limit, and what else could.

    Parameters
    ----------
    scene : Scene
        Panels that it holds already stay.
    wish : PanelWish
        Which panels may be proposed, for whom, and what may be moved.
    out : Path
        Where the new scene is to be written; nothing is written here.
    up_to_order, within_s : int, float
        As for `run_study`.
    progress : callable, optional
        Called with a text and the share done (0 to 1); what it raises ends the search.

    Returns
    -------
    Proposal
        The same scene gives the same proposal.

    Raises
    ------
    ValueError
        If a build or seat is not known, a build has no price where one is needed, or nothing is called as
        `wish.moves` has it.
    SceneError
        If the scene does not hold together.

    Notes
    -----
    Where panels leave a peak, `find_variants` looks for arrangements that mend it with these panels. With
    `wish.moves` the best of them becomes part of the scene, and panels are chosen for that one anew.
    """
    unknown = [name for name in wish.moves if name not in MOVES]
    if unknown:
        raise ValueError(f'nothing that may be moved is called "{unknown[0]}"; known: {", ".join(MOVES)}')
    if wish.panels_only and wish.moves:
        raise ValueError("panels only, or moves as well: not both")
    tell, rounds = progress or _silent, _MOST_ROUNDS + 1 if wish.moves else 1
    run = partial(run_study, up_to_order=up_to_order, within_s=within_s)
    settings: tuple[Setting, ...] = ()
    moved: tuple[Variant, ...] = ()
    today: Study | None = None
    for k in range(rounds):
        found = propose_panels(
            scene,
            wish,
            out=out,
            settings=settings,
            run=run,
            progress=_part(tell, k / rounds, (k + 0.6) / rounds),
        )
        today = today or found.before
        if wish.panels_only:
            return found
        steps = _part(tell, (k + 0.6) / rounds, (k + 1.0) / rounds)
        variants = _variants(found, wish.moves or MOVES, up_to_order, within_s, steps)
        best = best_for(variants, wish.moves) if k + 1 < rounds else None
        found = replace(found, variants=variants)
        if best is None:
            break
        settings, moved = (*settings, *best.settings), (*moved, best)
    if not moved or today is None:
        return found
    margins = with_today(found.margins, today, found.seats)
    return replace(found, before=today, moved=moved, margins=margins)


def _silent(_text: str, _share: float) -> None:
    pass


def _part(tell: Progress, first: float, last: float) -> Progress:
    """Progress of a part of the work, as a share of the whole."""
    return lambda text, share: tell(text, first + share * (last - first))


def _variants(
    found: Proposal, moves: Sequence[str], up_to_order: int | None, within_s: float, tell: Progress
) -> tuple[Variants, ...]:
    """Other arrangements for the strongest peaks that stay."""
    targets = _targets(found)
    return tuple(
        find_variants(
            found.after,
            target,
            moves=moves,
            up_to_order=up_to_order,
            within_s=within_s,
            progress=_part(tell, k / len(targets), (k + 1) / len(targets)),
        )
        for k, target in enumerate(targets)
    )


def _targets(found: Proposal) -> Sequence[Target]:
    """Peaks that stay, by seat and way, the strongest first; both speakers of a pair are one target."""
    scene, heard = found.after.scene, dict[tuple[int, tuple[str, ...]], list[int]]()
    seats = [seat.name for seat in scene.seats]
    speakers = [speaker.name for speaker in scene.speakers]
    for peak in sorted(found.unreached, key=lambda peak: peak.margin_db):
        key = seats.index(peak.seat), peak.way
        speaker = speakers.index(peak.speaker)
        if speaker not in heard.setdefault(key, []):
            heard[key].append(speaker)
    strongest = list(heard.items())[:_MOST_PEAKS]
    return [Target(seat, tuple(sorted(own)), way) for (seat, way), own in strongest]

"""Other places, heights, tilts and sizes of desk, speakers and seat that mend a peak, each proven in full."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

import numpy as np

from raytrace.reflections import (
    Arrivals,
    Reflectors,
    SeatPoints,
    find_reflectors,
    is_judged,
    search_arrivals,
)
from raytrace.room import Room, Shell, build_room, build_shell, looks_up
from raytrace.scene import Scene, SceneError
from raytrace.study.arrangements import Change, NewPeak, Target, Variant, Variants
from raytrace.study.comparison import peak_surface_names
from raytrace.study.freedoms import (
    Freedom,
    Range,
    Setting,
    find_ranges,
    in_reach,
    settings_of,
    with_settings,
)
from raytrace.study.roomformoves import fits
from raytrace.study.study import Study, run_study
from raytrace.verdicts import LeftRight, Peak, find_peaks, speaker_pair

Progress = Callable[[str, float], None]
_Key = tuple[tuple[int, float], ...]  # ranges and values of some changes

_SPARE_DB = 0.3  # the quick look stands off the limit by this much more than the proof has to
_LOOKS = (1.0 / 3.0, 2.0 / 3.0, 1.0)
_GONE_DB = 30.0
_MOST_PAIRS = 3
_FARTHER = 0.15  # of its range by which a change goes on where the full run does not bear it out


def find_variants(
    study: Study,
    target: Target,
    *,
    moves: Collection[str] = ("desk", "speakers", "seat"),
    up_to_order: int | None = None,
    within_s: float = 0.030,
    progress: Progress | None = None,
) -> Variants:
    """Other places, heights, tilts and sizes that bring a peak below the limit, each run in full.

    Parameters
    ----------
    study : Study
        Of the scene as it is.
    target : Target
        The peak.
    moves : collection of str
        What may be moved: "desk" (any box whose top the peak meets), "speakers" (all main ones by the
        same), "seat".
    up_to_order, within_s : int, float
        As for `run_study`.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    Variants

    Notes
    -----
    Each freedom is bracketed outwards from what it is now, with the direct sound and the reflections of as
    many bounces as the peak has over the whole head zone, and halved down to its step. Two are combined,
    each at its better side, where none does alone. What comes out is run in full and reported from that.
    """
    ranges = [own for own in _ranges(study, target) if own.group in moves]
    search = _Search(study, target, tuple(ranges), up_to_order, within_s)
    tell = progress or _silent
    brackets: list[tuple[Change, ...]] = []
    tried: list[Change] = []
    for k, own in enumerate(ranges):
        tell(f"another arrangement: {own.freedom.value}", k / (2 * len(ranges)))
        for side in (own.low, own.high):
            found, looked_at = _bracket(search, own, side)
            brackets += [] if found is None else [(found,)]
            tried += looked_at
    tell("two changes at once", 0.5)
    if not brackets:
        brackets = _pairs(search, _ends(search, tried))
    mending: list[Variant] = []
    for k, changes in enumerate(brackets):
        tell("another arrangement, in full", 0.6 + 0.4 * k / len(brackets))
        proven = _borne_out(search, changes)
        mending += [] if proven is None else [proven]
    mending.sort(key=lambda v: (v.n_over[1] + v.n_undecided[1], len(v.new), len(v.changes), v.effort))
    nearest = None
    if not mending and (ends := _ends(search, tried)):
        best = max(ends, key=lambda end: end[0])[1]
        nearest = _proven(search, (best,), loose=True)
    margin_db = min((p.margin_db for p in peaks_of(study, target)), default=float("nan"))
    return Variants(target, margin_db, tuple(ranges), tuple(mending), nearest)


def _silent(_text: str, _share: float) -> None:
    pass


def _ranges(study: Study, target: Target) -> tuple[Range, ...]:
    met = [surface for surface in study.room.surfaces if surface.name in target.way]
    tops = dict.fromkeys(s.owner for s in met if s.owner is not None and looks_up(s.frame.n))
    return find_ranges(study.scene, target.seat, tops=[name for name in tops if name is not None])


class QuickLook:
    """How far a peak is below the limit and its uncertainty, from as many bounces as it has.

    Parameters
    ----------
    scene : Scene
    target : Target
    known : QuickLook, optional
        At the same peak in a scene that differs in its objects, speakers and seats at most: what stands as
        it does there is not worked out again.

    Raises
    ------
    SceneError
        If the scene does not hold together.
    """

    def __init__(self, scene: Scene, target: Target, known: "QuickLook | None" = None) -> None:
        self._speakers = _one_of_each_pair(scene, target)
        seats = [scene.seats[k] for k in sorted({0, target.seat})]  # speakers may aim at the first
        self._scene = scene.model_copy(
            update={"speakers": tuple(scene.speakers[k] for k in self._speakers), "seats": tuple(seats)}
        )
        self._shell: Shell = build_shell(self._scene, None if known is None else known._shell)
        self._room: Room = build_room(self._scene, self._shell)
        self._seat, self._way, self._known = len(seats) - 1, target.way, known

    @cached_property
    def _reflectors(self) -> Reflectors:
        known = self._known
        return find_reflectors(self._room, None if known is None else (known._room, known._reflectors))

    def _arrivals(self, *, zone: bool) -> Arrivals:
        scene, order = self._scene, max(len(self._way), 1)
        seats = [SeatPoints(scene, self._room, self._reflectors, seat, zone=zone) for seat in scene.seats]
        return search_arrivals(scene, seats, up_to_order=order, within_s=scene.limits.within_s)

    @cached_property
    def ears_db(self) -> float:
        """By the reflection alone at the ears: the zone has it no farther below. [dB]

        -inf where the direct sound of a speaker is hidden.
        """
        arrivals = self._arrivals(zone=False)
        own = [ears for ears in arrivals.at_ears if ears.seat == self._seat]
        if not all(is_judged(self._scene, ears) for ears in own):
            return -np.inf
        return _alone_db(self._scene, self._room, arrivals, self._way, self._seat)

    @cached_property
    def zone_db(self) -> float:
        """By what is judged, over the whole head zone. [dB]"""
        scene, room, arrivals = self._scene, self._room, self._arrivals(zone=True)
        found = find_peaks(scene, arrivals, until_s=scene.limits.within_s)
        heard = [peak for peak in found if peak.seat == self._seat]
        if {p.speaker for p in heard if np.isfinite(p.margin_db)} != set(range(len(self._speakers))):
            return -np.inf
        own = [
            peak
            for peak in heard
            if tuple(room.surfaces[room.facets[f].surface].name for f in peak.facets) == self._way
        ]
        alone_db = _alone_db(scene, room, arrivals, self._way, self._seat)
        return min([alone_db, *(peak.margin_db - peak.uncertainty_db for peak in own)])


@dataclass(frozen=True, eq=False)
class _Search:
    study: Study
    target: Target
    ranges: tuple[Range, ...]
    up_to_order: int | None
    within_s: float
    looks: dict[_Key, QuickLook | None] = field(default_factory=dict)
    scenes: dict[_Key, tuple[Scene, tuple[Setting, ...]]] = field(default_factory=dict)

    def look(self, changes: Sequence[Change]) -> float:
        """How far the peak is below limit and uncertainty, by a quick look; -inf for what cannot be."""
        look = self._look(changes)
        return -np.inf if look is None else look.zone_db

    def ears_db(self, changes: Sequence[Change]) -> float:
        """How far it is below by the ears, which is no less; -inf for what cannot be or is hidden."""
        look = self._look(changes)
        return -np.inf if look is None else look.ears_db

    def mends(self, changes: Sequence[Change]) -> bool:
        """Whether the peak is below; where the ears tell that it is not, the zone is not looked at."""
        return self.ears_db(changes) > _SPARE_DB and self.look(changes) > _SPARE_DB

    def _look(self, changes: Sequence[Change]) -> QuickLook | None:
        key = _key_of(changes)
        if key not in self.looks:
            scene, _ = self.changed(changes)
            self.looks[key] = None if scene is None else QuickLook(scene, self.target, self._now)
        return self.looks[key]

    @cached_property
    def _now(self) -> QuickLook:
        """A look at the scene as it is."""
        return QuickLook(self.study.scene, self.target)

    @cached_property
    def _walls(self) -> Shell:
        """Walls and objects of the scene as it is, with all its speakers."""
        return build_shell(self.study.scene)

    def changed(self, changes: Sequence[Change]) -> tuple[Scene | None, tuple[Setting, ...]]:
        """The scene with some changes, one after the other, and all their edits; None where it cannot be."""
        try:
            scene, settings = self._edited(tuple(changes))
            may_be = in_reach(scene, self.target.seat, self.ranges) and fits(self.study, scene, self._walls)
            return (scene if may_be else None), settings
        except SceneError:
            return None, ()

    def _edited(self, changes: tuple[Change, ...]) -> tuple[Scene, tuple[Setting, ...]]:
        """The same unchecked; what each begins with is known from before."""
        if not changes:
            return self.study.scene, ()
        key = _key_of(changes)
        if key not in self.scenes:
            scene, settings = self._edited(changes[:-1])
            more = settings_of(scene, self.target.seat, changes[-1].range, changes[-1].value)
            self.scenes[key] = with_settings(scene, more), (*settings, *more)
        return self.scenes[key]


def _key_of(changes: Sequence[Change]) -> _Key:
    return tuple((id(change.range), change.value) for change in changes)


def _alone_db(scene: Scene, room: Room, arrivals: Arrivals, way: tuple[str, ...], seat: int) -> float:
    """How far the strongest reflection by a way is below the limit at the ears, whatever it runs into there.

    One that comes so soon after the direct sound that the curve has no maximum of its own is still there.
    """
    found = [_GONE_DB]
    for table in (arrivals, arrivals.near_misses):
        assert table is not None
        for speaker, own in enumerate(scene.speakers):
            for row in table.at(speaker, seat) if own.use == "main" else ():
                met = table.path_surfaces[row, : table.order[row]]
                if tuple(room.surfaces[surface].name for surface in met) == way:
                    found.append(float(scene.limits.margin_db(table.band_level_db[row])))
    return min(found)


def _one_of_each_pair(scene: Scene, target: Target) -> list[int]:
    """Speakers of a target; of two that mirror each other about the seat one will do for a quick look."""
    pair = speaker_pair(scene, seat=target.seat)
    if pair is None or not set(pair) <= set(target.speakers):
        return list(target.speakers)
    a, b = (np.array(scene.speakers[k].position) for k in pair)
    mirrored = b * [1, -1, 1] + [0, 2 * scene.seats[target.seat].ears[1], 0]
    left_out = pair[1] if np.linalg.norm(a - mirrored) < 0.02 else -1
    return [k for k in target.speakers if k != left_out]


def _bracket(search: _Search, own: Range, side: float) -> tuple[Change | None, list[Change]]:
    """The least change towards one bound that brings the peak below, and what was looked at on the way."""
    tried: list[Change] = []
    if abs(side - own.now) < own.step:
        return None, tried
    failed = own.now
    for share in _LOOKS:
        change = Change(own, own.rounded(own.now + share * (side - own.now)))
        tried.append(change)
        if search.mends((change,)):
            return Change(own, _halved(search, own, failed, change.value)), tried
        if search.ears_db((change,)) == -np.inf:
            break
        failed = change.value
    return None, tried


def _halved(search: _Search, own: Range, failed: float, passed: float) -> float:
    """The value nearest to a failed one that passes, to the step of its range."""
    while abs(passed - failed) > own.step * 1.5:
        middle = own.rounded(0.5 * (failed + passed))
        if search.mends((Change(own, middle),)):
            passed = middle
        else:
            failed = middle
    return passed


def _ends(search: _Search, tried: Sequence[Change]) -> list[tuple[float, Change]]:
    """What comes nearest of each freedom, with how far the peak is below there."""
    by_freedom: dict[Freedom, list[Change]] = {}
    for change in tried:
        by_freedom.setdefault(change.range.freedom, []).append(change)
    found = (_nearest(search, changes) for changes in by_freedom.values())
    return [end for end in found if end is not None]


def _nearest(search: _Search, changes: Sequence[Change]) -> tuple[float, Change] | None:
    """The best of some changes, the first of equals; what its ears tell to be worse is not looked at."""
    ears_db = {k: search.ears_db((change,)) for k, change in enumerate(changes)}
    best: tuple[float, int] | None = None
    for k in sorted(ears_db, key=lambda k: -ears_db[k]):
        if ears_db[k] == -np.inf or (best is not None and ears_db[k] < best[0]):
            break
        score = search.look((changes[k],))
        if score > -np.inf and (best is None or (score, -k) > (best[0], -best[1])):
            best = score, k
    return None if best is None else (best[0], changes[best[1]])


def _pairs(search: _Search, ends: Sequence[tuple[float, Change]]) -> list[tuple[Change, ...]]:
    """Two changes that bring the peak below together, each as far as its better side goes, then shrunk."""
    found = []
    for (_, a), (_, b) in combinations(sorted(ends, key=lambda end: -end[0]), 2):
        if search.mends((a, b)):
            found.append(_shrunk(search, a, b))
        if len(found) == _MOST_PAIRS:
            break
    return found


def _shrunk(search: _Search, a: Change, b: Change) -> tuple[Change, ...]:
    """Two changes made smaller by the same share, as long as the peak stays below."""
    failed, passed, kept = 0.0, 1.0, (a, b)
    for _ in range(4):
        share = 0.5 * (failed + passed)
        less = tuple(
            Change(c.range, c.range.rounded(c.range.now + share * (c.value - c.range.now))) for c in (a, b)
        )
        if search.mends(less):
            passed, kept = share, (less[0], less[1])
        else:
            failed = share
    return kept


def _borne_out(search: _Search, changes: tuple[Change, ...]) -> Variant | None:
    """A variant whose full run has the peak below the limit, if need be a little farther on."""
    for _ in range(2):
        proven = _proven(search, changes)
        if proven is None or proven.verdict == "below":
            return proven
        changes = tuple(_farther(change) for change in changes)
    return None


def _farther(change: Change) -> Change:
    own = change.range
    side = own.high if change.value > own.now else own.low
    return Change(own, own.rounded(change.value + _FARTHER * (side - own.now)))


def _proven(search: _Search, changes: tuple[Change, ...], *, loose: bool = False) -> Variant | None:
    """What the full run says of some changes; None where they cannot be, hide a speaker or hide the peak."""
    scene, settings = search.changed(changes)
    if scene is None:
        return None
    before, target = search.study, search.target
    after = run_study(scene, up_to_order=search.up_to_order, within_s=search.within_s)
    judged = [{(v.speaker, v.seat) for v in s.verdicts if v.status == "judged"} for s in (before, after)]
    if not judged[0] <= judged[1]:
        return None
    if _alone_db(scene, after.room, after.arrivals, target.way, target.seat) < 0.0 and not loose:
        return None
    own = peaks_of(after, target)
    verdicts = [peak.verdict for peak in own]
    known = {_key(before, peak) for peak in before.peaks if peak.may_be_over}
    new = [
        NewPeak(
            after.scene.speakers[p.speaker].name,
            after.scene.seats[p.seat].name,
            peak_surface_names(after, p),
            p.margin_db,
        )
        for p in after.peaks
        if p.may_be_over and p.seat == target.seat and _key(after, p) not in known
    ]
    over, undecided = (
        tuple(sum(p.verdict == word and p.seat == target.seat for p in s.peaks) for s in (before, after))
        for word in ("over", "undecided")
    )
    sides = (_side_db(before.left_right), _side_db(after.left_right))
    return Variant(
        changes=changes,
        settings=settings,
        margin_db=min((peak.margin_db for peak in own), default=float("nan")),
        verdict=next((word for word in ("over", "undecided") if word in verdicts), "below"),
        n_over=(over[0], over[1]),
        n_undecided=(undecided[0], undecided[1]),
        new=tuple(new),
        left_right_db=sides,
    )


def _side_db(found: LeftRight | None) -> float:
    return float("nan") if found is None else float(found.difference_db)


def peaks_of(study: Study, target: Target) -> list[Peak]:
    """Judged peaks at a target's seat that come its way from its speakers."""
    return [
        peak
        for peak in study.peaks
        if peak.seat == target.seat
        and peak.speaker in target.speakers
        and peak.verdict != "not judged"
        and peak_surface_names(study, peak) == target.way
    ]


def _key(study: Study, peak: Peak) -> tuple[int, int, tuple[str, ...]]:
    return peak.speaker, peak.seat, peak_surface_names(study, peak)

"""The one table of reflections at the seats, with their levels per band."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics import band_share
from raytrace.reflections.directsound import what_hides
from raytrace.reflections.paths import Paths
from raytrace.reflections.reflection_factors import bounce_surfaces
from raytrace.reflections.search_extent import Reach
from raytrace.room import Room
from raytrace.scene import Scene

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

# Direct sound that is weaker than this against a free field is hidden: no verdict is passed.
HIDDEN_DB = -6.0


@dataclass(frozen=True)
class PointArrivals:
    """What one listening point hears of one speaker.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    zone_point : int
        Which row of `ZONE_STEPS`: 0 = the ears, 1 to 8 = the corners of the head zone, then the others.
    paths : Paths
        The specular paths, shortest first.
    direct : (n_bands, 24) complex
        Pressure of the direct sound re that of a free field.
    pressure : (n_paths, n_bands, 24) complex
        Pressure at 24 frequencies of each band re the free-field direct sound at this point, without
        the phase of the delay. Beside the ears 0 in octaves that the limit's band does not reach into.
    delay_s : (n_paths,) float
        Arrival after the direct sound.
    band_level_db : (n_paths,) float
        Level re direct in the limit's band.
    """

    speaker: int
    seat: int
    zone_point: int
    paths: Paths
    direct: Complexes
    delay_s: Floats
    pressure: Complexes
    band_level_db: Floats


@dataclass(frozen=True)
class Direct:
    """The direct sound of every speaker at every seat; delays are absolute travel times.

    `visible`: whether nothing stands in its way, `hidden_by`: name of what does; `level_db`: what is left of
    it in the limit's band, re a free field.
    """

    speaker: Ints
    seat: Ints
    length_m: Floats
    delay_s: Floats
    visible: Bools
    hidden_by: tuple[str | None, ...]
    level_db: Floats


@dataclass(frozen=True)
class Arrivals:
    """Reflections at the ears of every seat, sorted by speaker, seat and delay.

    Attributes
    ----------
    speaker_names, seat_names : tuple of str
        What `speaker` and `seat` index.
    speaker, seat, order : (n_paths,) int
        Where from, where to, number of bounces.
    path_points : (n_paths, early_order + 2, 3) float
        Speaker, bounce points, ears; unused rows NaN. [m]
    path_facets, path_surfaces, path_openings, path_panels : (n_paths, early_order) int
        Facet, surface, opening (index in the scene) and panel (index in the room) met at each bounce; -1
        where there is none.
    spots : (n_paths, early_order, 2) float
        Bounce points in the set-out frame of their surface; unused NaN. [m]
    length_m, delay_s : (n_paths,) float
        Whole path; arrival after the direct sound.
    energy : (n_paths, n_bands) float
        Ratio to the free-field direct sound of the same speaker in the same band.
    band_level_db : (n_paths,) float
        Level re direct in the limit's band at the ears.
    zone_worst_db : (n_paths,) float
        The highest such level of the same reflection over the nodes of the head zone; of a late one that at
        the ears.
    margin_db : (n_paths,) float
        Limit less level at the ears, positive below the limit; NaN outside the window and where no
        verdict is passed (subs, hidden direct sound).
    over_limit : (n_paths,) bool
        Whether the margin is negative.
    zone_margin_db : (n_paths,) float
        The same of `zone_worst_db`: what verdicts and pictures go by.
    reach : Reach
        How far the search went, and up to when no reflection is missing at any seat.
    direct : Direct
        The direct sound of every speaker and seat.
    at_points : tuple of PointArrivals
        The same for all nodes of the head zones, by speaker, seat, zone point.
    near_misses : Arrivals or None
        Reflections that miss a free edge by little, with the level that is left of them.
    """

    speaker_names: tuple[str, ...]
    seat_names: tuple[str, ...]
    speaker: Ints
    seat: Ints
    order: Ints
    path_points: Floats
    path_facets: Ints
    path_surfaces: Ints
    path_openings: Ints
    path_panels: Ints
    spots: Floats
    length_m: Floats
    delay_s: Floats
    energy: Floats
    band_level_db: Floats
    zone_worst_db: Floats
    margin_db: Floats
    over_limit: Bools
    zone_margin_db: Floats
    reach: Reach
    direct: Direct
    at_points: tuple[PointArrivals, ...]
    near_misses: "Arrivals | None" = None

    @cached_property
    def level_db(self) -> Floats:
        """Level re direct per band, (n_paths, n_bands); -inf where nothing is reflected. [dB]"""
        return decibels(self.energy)

    @cached_property
    def over_limit_in_zone(self) -> Bools:
        """Whether a reflection is over the limit somewhere in the head zone, (n_paths,)."""
        return self.level_re_limit_db > 0.0

    @cached_property
    def level_re_limit_db(self) -> Floats:
        """Level at the worst place of the head zone less the limit, (n_paths,); NaN as the margins. [dB]"""
        return -self.zone_margin_db

    @property
    def at_ears(self) -> tuple[PointArrivals, ...]:
        """What the ears hear, by speaker and seat: one after the other, their paths are the rows."""
        return _at_ears(self.at_points)

    def at(self, speaker: int, seat: int) -> Ints:
        """Rows of one speaker at one seat, by delay."""
        return np.flatnonzero((self.speaker == speaker) & (self.seat == seat))


def decibels(energy: ArrayLike) -> Floats:
    """10 lg of an energy ratio, -inf for 0. [dB]"""
    with np.errstate(divide="ignore"):
        level: Floats = 10.0 * np.log10(np.asarray(energy, np.float64))
    return level


def tabulate(
    scene: Scene,
    room: Room,
    at_points: Iterable[PointArrivals],
    missed: Iterable[PointArrivals],
    reach: Reach,
) -> Arrivals:
    """One table of what `find_point_arrivals` found, by speaker, seat and zone point."""
    at_points, missed = tuple(at_points), tuple(missed)
    direct = _direct(scene, room, _at_ears(at_points))
    near = _table(scene, room, missed, at_points, (reach, direct))
    return replace(_table(scene, room, at_points, missed, (reach, direct)), near_misses=near)


def _table(
    scene: Scene,
    room: Room,
    at_points: tuple[PointArrivals, ...],
    others: tuple[PointArrivals, ...],
    whole: tuple[Reach, Direct],
) -> Arrivals:
    """Lay what the ears hear into one table, with the worst of the head zone beside each row.

    `others`: near misses of paths and the reverse; what is one at the ears may be the other beside them.
    `whole`: how far the search went, and the direct sound.
    """
    at_ears = _at_ears(at_points)
    bounces = [bounce_surfaces(room, h.paths) for h in at_ears]
    points = np.concatenate([h.paths.points for h in at_ears])
    order = np.concatenate([h.paths.order for h in at_ears])
    surfaces = np.concatenate([s for s, _, _ in bounces])
    spots = np.full((*surfaces.shape, 2), np.nan)
    for surface in np.unique(surfaces[surfaces >= 0]):
        rows, bounces_met = np.nonzero(surfaces == surface)
        frame = room.surfaces[surface].frame
        spots[rows, bounces_met] = frame.to_plane(points[rows, bounces_met + 1])
    return Arrivals(
        speaker_names=tuple(s.name for s in scene.speakers),
        seat_names=tuple(s.name for s in scene.seats),
        speaker=np.concatenate([np.full(len(h.paths.order), h.speaker) for h in at_ears]),
        seat=np.concatenate([np.full(len(h.paths.order), h.seat) for h in at_ears]),
        order=order,
        path_points=points,
        path_facets=np.concatenate([h.paths.facets for h in at_ears]),
        path_surfaces=surfaces,
        path_openings=np.concatenate([o for _, o, _ in bounces]),
        path_panels=np.concatenate([p for _, _, p in bounces]),
        spots=spots,
        length_m=np.concatenate([h.paths.length_m for h in at_ears]),
        delay_s=np.concatenate([h.delay_s for h in at_ears]),
        **_levels(scene, at_points, others),
        reach=whole[0],
        direct=whole[1],
        at_points=at_points,
    )


def with_pressures(
    scene: Scene, arrivals: Arrivals, paths: dict[int, Complexes], missed: dict[int, Complexes]
) -> Arrivals:
    """The same paths and near misses with other pressures at some nodes, by their place in `at_points`."""
    assert arrivals.near_misses is not None
    at_points, near = (
        _replaced(scene, table.at_points, pressures)
        for table, pressures in ((arrivals, paths), (arrivals.near_misses, missed))
    )
    beside = replace(arrivals.near_misses, at_points=near, **_levels(scene, near, at_points))
    levels = _levels(scene, at_points, near)
    return replace(arrivals, at_points=at_points, near_misses=beside, **levels)


def _replaced(
    scene: Scene, at_points: tuple[PointArrivals, ...], pressures: dict[int, Complexes]
) -> tuple[PointArrivals, ...]:
    changed = list(at_points)
    for index, pressure in pressures.items():
        level_db = limit_level_db(scene, pressure)
        changed[index] = replace(changed[index], pressure=pressure, band_level_db=level_db)
    return tuple(changed)


def _levels(
    scene: Scene, at_points: tuple[PointArrivals, ...], others: tuple[PointArrivals, ...]
) -> dict[str, Any]:
    """What the table says of levels: energies, the worst of the head zone, and the ears against the limit."""
    at_ears = _at_ears(at_points)
    band_level_db = np.concatenate([h.band_level_db for h in at_ears])
    judged = [is_judged(scene, h) & (h.delay_s <= scene.limits.within_s) for h in at_ears]
    is_in_window = np.concatenate(judged)
    worst_db = np.concatenate([_zone_worst_db(h, (*at_points, *others)) for h in at_ears])
    margin_db = np.where(is_in_window, scene.limits.margin_db(band_level_db), np.nan)
    return {
        "energy": np.concatenate([np.mean(np.abs(h.pressure) ** 2, axis=2) for h in at_ears]),
        "band_level_db": band_level_db,
        "zone_worst_db": worst_db,
        "margin_db": margin_db,
        "over_limit": np.nan_to_num(margin_db, nan=0.0) < 0.0,
        "zone_margin_db": np.where(is_in_window, scene.limits.margin_db(worst_db), np.nan),
    }


def limit_level_db(scene: Scene, pressure: Complexes) -> Floats:
    """Level re direct in the limit's band of pressures (..., n_bands, 24), (...). [dB]"""
    octaves = np.mean(np.abs(pressure) ** 2, axis=-1)
    return decibels(octaves @ band_share(scene.limits.from_hz, scene.limits.to_hz))


def is_judged(scene: Scene, at_point: PointArrivals) -> bool:
    """Whether a verdict is passed: on main speakers whose direct sound is not hidden."""
    is_main = scene.speakers[at_point.speaker].use == "main"
    return is_main and bool(limit_level_db(scene, at_point.direct) >= HIDDEN_DB)


def _at_ears(at_points: Sequence[PointArrivals]) -> tuple[PointArrivals, ...]:
    """Those of some listening points that are the ears themselves, not another place of the head zone."""
    return tuple(h for h in at_points if h.zone_point == 0)


def _zone_worst_db(ears: PointArrivals, at_points: tuple[PointArrivals, ...]) -> Floats:
    """Highest band level of each of the ears' paths among the zone points that have the same path."""
    row_of = {tuple(facets): row for row, facets in enumerate(ears.paths.facets.tolist())}
    worst = ears.band_level_db.copy()
    for other in at_points:
        if (other.speaker, other.seat) == (ears.speaker, ears.seat):
            for facets, level in zip(other.paths.facets.tolist(), other.band_level_db, strict=True):
                row = row_of.get(tuple(facets))
                if row is not None:
                    worst[row] = max(worst[row], level)
    return worst


def _direct(scene: Scene, room: Room, at_ears: Sequence[PointArrivals]) -> Direct:
    length_m = np.array([h.paths.direct_m for h in at_ears])
    return Direct(
        speaker=np.array([h.speaker for h in at_ears]),
        seat=np.array([h.seat for h in at_ears]),
        length_m=length_m,
        delay_s=length_m / room.speed_of_sound_m_s,
        visible=np.array([h.paths.direct_visible for h in at_ears]),
        hidden_by=tuple(what_hides(room, h.paths) for h in at_ears),
        level_db=np.array([limit_level_db(scene, h.direct) for h in at_ears]),
    )

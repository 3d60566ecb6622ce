"""The one table of reflections at the seats, with their levels per band."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics import (
    BANDS_HZ,
    Directivity,
    air_attenuation_db_per_m,
    band_frequencies_hz,
    band_share,
    omni,
    read_directivity,
    two_way,
)
from raytrace.reflections.nearmisses import find_near_misses, free_edges
from raytrace.reflections.paths import ListeningPoint, Paths, first_rows
from raytrace.reflections.reflection_factors import (
    Reflectors,
    bounce_surfaces,
    find_reflectors,
    returned_pressure,
)
from raytrace.reflections.search_extent import Reach, choose_reach, reached_paths
from raytrace.room import Room, speaker_axis
from raytrace.scene import DirectivityFile, Scene, Seat, Speaker, TwoWay

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class PointArrivals:
    """What one listening point hears of one speaker.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    zone_point : int
        0 = the ears, 1 to 8 = the corners of the head zone.
    paths : Paths
        The specular paths, shortest first.
    pressure : (n_paths, n_bands, 24) complex
        Pressure at 24 frequencies of each band re the free-field direct sound at this point, without
        the phase of the delay.
    delay_s : (n_paths,) float
        Arrival after the direct sound.
    band_level_db : (n_paths,) float
        Level re direct in the limit's band.
    """

    speaker: int
    seat: int
    zone_point: int
    paths: Paths
    delay_s: Floats
    pressure: Complexes
    band_level_db: Floats


@dataclass(frozen=True)
class Direct:
    """The direct sound of every speaker at every seat; delays are absolute travel times."""

    speaker: Ints
    seat: Ints
    length_m: Floats
    delay_s: Floats
    visible: Bools


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
        The highest such level of the same reflection over the nine points of the head zone.
    margin_db : (n_paths,) float
        Limit less level at the ears, positive below the limit; NaN outside the window and where no
        verdict is passed (subs, hidden direct sound).
    over_limit : (n_paths,) bool
        Whether the margin is negative.
    zone_margin_db : (n_paths,) float
        The same of `zone_worst_db`: what verdicts and pictures go by.
    incoming : (n_paths, 3) float
        Unit vector from the ears towards where the sound comes from.
    reach : Reach
        How far the search went, and up to when no reflection is missing at any seat.
    direct : Direct
        The direct sound of every speaker and seat.
    at_points : tuple of PointArrivals
        The same for all nine zone points, by speaker, seat, zone point.
    near_misses : Arrivals or None
        Reflections at the ears that miss a free edge by little, with the level that is left of them: no
        part of peaks and verdicts. Among their own `at_points` they stand for the ears.
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
    incoming: Floats
    reach: Reach
    direct: Direct
    at_points: tuple[PointArrivals, ...]
    near_misses: "Arrivals | None" = None

    @property
    def level_db(self) -> Floats:
        """Level re direct per band, (n_paths, n_bands); -inf where nothing is reflected. [dB]"""
        return decibels(self.energy)

    @property
    def over_limit_in_zone(self) -> Bools:
        """Whether a reflection is over the limit somewhere in the head zone, (n_paths,)."""
        return self.level_re_limit_db > 0.0

    @property
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


def zone_points(seat: Seat) -> Floats:
    """The ears and the eight corners of the head zone, (9, 3). [m]"""
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], np.float64)
    points: Floats = np.asarray(seat.ears) + np.vstack([np.zeros(3), corners * np.asarray(seat.zone)])
    return points


def speaker_directivity(scene: Scene, speaker: Speaker, room: Room) -> Directivity:
    """What a speaker sends in every direction of its room; subs are omnidirectional."""
    choice = speaker.directivity
    if speaker.use == "sub" or choice == "omni":
        return omni()
    if isinstance(choice, DirectivityFile):
        key = ("speakers", scene.speakers.index(speaker), "directivity", "file")
        try:
            return read_directivity(scene.path.parent / choice.file)
        except (OSError, ValueError) as problem:
            raise scene.error(key, str(problem)) from None
    shape = choice if isinstance(choice, TwoWay) else TwoWay()
    return two_way(
        shape.radius,
        shape.tweeter_radius,
        shape.crossover,
        np.inf if len(room.faces_at(speaker.position)) else shape.box_radius,
        shape.drivers,
        speed_of_sound_m_s=room.speed_of_sound_m_s,
    )


def find_arrivals(
    scene: Scene,
    room: Room,
    *,
    up_to_order: int | None = None,
    within_s: float = 0.030,
    progress: Progress | None = None,
) -> Arrivals:
    """Every reflection from every speaker to every seat, with level, spot and margin.

    Parameters
    ----------
    scene : Scene
        Speakers, seats, air and limits.
    room : Room
        Built from the same scene.
    up_to_order : int, optional
        Largest number of bounces. Without it 4, and in the limit's window as many more as it takes to miss
        none there, as long as the search stays quick.
    within_s : float
        Latest arrival after the direct sound. [s]
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    Arrivals
        Sorted by speaker, seat, delay.

    Notes
    -----
    Levels: spherical spreading, air absorption (ISO 9613-1) over the detour, the speaker's directivity
    in the leaving direction against that of the listening point, and at each bounce what the surface
    returns unscattered, objects, openings and free edges with their finite size (`weights`).
    """
    from raytrace.kernels import is_cold

    if up_to_order is not None and up_to_order < 1:
        raise ValueError(f"up_to_order must be 1 or more, not {up_to_order}")
    if progress:
        progress("how far to search" + (" (compiling for this machine, once)" if is_cold() else ""), 0.0)
    reflectors = find_reflectors(room)
    seats = [SeatPoints(scene, room, reflectors, seat) for seat in scene.seats]
    reach = choose_reach(
        [points[0] for points in seats],
        [speaker.position for speaker in scene.speakers],
        up_to_order=up_to_order,
        within_s=within_s,
        early_s=scene.limits.within_s,
    )
    at_points: list[PointArrivals] = []
    missed: list[PointArrivals] = []
    for i, speaker in enumerate(scene.speakers):
        for j, seat in enumerate(scene.seats):
            if progress:
                share = (i * len(scene.seats) + j) / (len(scene.speakers) * len(scene.seats))
                progress(f"reflections of {speaker.name} at {seat.name}", share)
            found, near = find_point_arrivals(scene, seats[j], reach, speaker=i, seat=j)
            at_points += found
            missed.append(near)
    return tabulate(scene, room, at_points, missed, reach)


class SeatPoints:
    """The points of a seat's head zone, ears first, each with its tree as soon as it is asked for.

    Parameters
    ----------
    scene : Scene
        Its speakers are the sources.
    room : Room
        Built from the same scene.
    reflectors : Reflectors
        Its free edges, beside which the ears have near misses.
    seat : Seat
    ears_only : bool
        Whether neither the zone nor near misses will be asked for.
    """

    def __init__(
        self, scene: Scene, room: Room, reflectors: Reflectors, seat: Seat, *, ears_only: bool = False
    ) -> None:
        self.room, self.reflectors, self.ears_only = room, reflectors, ears_only
        self._sources = [speaker.position for speaker in scene.speakers]
        self._places = zone_points(seat)[: 1 if ears_only else None]
        self._made: dict[int, ListeningPoint] = {}

    @cached_property
    def in_air(self) -> tuple[int, ...]:
        """Which points lie in the air; of the ears that has been checked."""
        corners = self._places[1:]
        return (0, *(1 + np.flatnonzero(self.room.contains(corners))).tolist()) if len(corners) else (0,)

    def __getitem__(self, zone_point: int) -> ListeningPoint:
        if zone_point not in self._made:
            edges = None
            if zone_point == 0 and not self.ears_only:
                edges = free_edges(self.room, self.reflectors)
            self._made[zone_point] = ListeningPoint(
                self.room, self._places[zone_point], self._sources, free_edges=edges
            )
        return self._made[zone_point]


def find_point_arrivals(
    scene: Scene, points: SeatPoints, reach: Reach, *, speaker: int, seat: int, ears_only: bool = False
) -> tuple[list[PointArrivals], PointArrivals]:
    """What a seat hears of a speaker, ears first, and the near misses at the ears.

    Points of the head zone that do not lie in the air are left out. With `ears_only` the zone and the near
    misses are not looked for.
    """
    entry, ears_only = scene.speakers[speaker], ears_only or points.ears_only
    axis = speaker_axis(scene, entry)
    directivity = speaker_directivity(scene, entry, points.room)
    at_points: list[PointArrivals] = []
    for k in (0,) if ears_only else points.in_air:
        paths = reached_paths(points[k], entry.position, reach)
        at_points.append(_at_point(scene, points, paths, (speaker, seat, k), axis, directivity))
    # They cost as much as the paths themselves; while something moves the curve does without them.
    at_ears = at_points[0].paths
    near = first_rows(at_ears, 0) if ears_only else find_near_misses(points[0], at_ears, reach)
    return at_points, _at_point(scene, points, near, (speaker, seat, 0), axis, directivity)


def tabulate(
    scene: Scene,
    room: Room,
    at_points: Iterable[PointArrivals],
    missed: Iterable[PointArrivals],
    reach: Reach,
) -> Arrivals:
    """One table of what `find_point_arrivals` found, by speaker, seat and zone point."""
    at_points = tuple(at_points)
    table = _table(scene, room, at_points, reach)
    beside = sorted(
        [*missed, *(h for h in at_points if h.zone_point)], key=lambda h: (h.speaker, h.seat, h.zone_point)
    )
    return replace(table, near_misses=_table(scene, room, tuple(beside), reach))


def _at_point(
    scene: Scene,
    points: SeatPoints,
    paths: Paths,
    place: tuple[int, int, int],
    axis: Floats,
    directivity: Directivity,
) -> PointArrivals:
    """Paths with their levels; `place` is speaker, seat and zone point."""
    room = points.room
    pressure = path_pressure(scene, room, points.reflectors, paths, axis=axis, directivity=directivity)
    delay_s = (paths.length_m - paths.direct_m) / room.speed_of_sound_m_s
    return PointArrivals(*place, paths, delay_s, pressure, limit_level_db(scene, pressure))


def path_pressure(
    scene: Scene,
    room: Room,
    reflectors: Reflectors,
    paths: Paths,
    *,
    axis: Floats,
    directivity: Directivity,
) -> Complexes:
    """Pressure of each path re the direct sound, (n_paths, n_bands, 24), without its delay's phase."""
    if not len(paths.order):
        return np.empty((0, *band_frequencies_hz().shape), np.complex128)
    sent = sent_pressure(
        scene, (paths.source, paths.listener), paths.points[:, 1], paths.length_m, axis, directivity
    )
    pressure: Complexes = sent * returned_pressure(room, reflectors, paths)
    return pressure


def sent_pressure(
    scene: Scene,
    ends: tuple[Floats, Floats],
    towards: Floats,
    length_m: Floats,
    axis: Floats,
    directivity: Directivity,
) -> Complexes:
    """Pressure that some paths would bring if nothing were lost at their bounces, (n_paths, n_bands, 24).

    Re the free-field direct sound: spreading and air absorption over the detour, and the speaker's
    directivity in the leaving direction against that of the listening point.

    Parameters
    ----------
    scene : Scene
        Its air.
    ends : tuple of (3,) float
        Speaker and listening point. [m]
    towards : (n_paths, 3) float
        First bounce of each path. [m]
    length_m : (n_paths,) float
    axis, directivity : (3,) float, Directivity
        Of the speaker.
    """
    source, listener = ends
    direct_m = float(np.linalg.norm(listener - source))
    air = air_attenuation_db_per_m(BANDS_HZ, scene.air.temperature, scene.air.humidity, scene.air.pressure)
    leaving = towards - source
    leaving /= np.linalg.norm(leaving, axis=1, keepdims=True)
    loss_db = (length_m - direct_m)[:, None] * air
    left = (direct_m / length_m)[:, None] * 10.0 ** (-loss_db / 20.0)
    sent_direct = directivity.pressure((listener - source)[None] / direct_m, axis, direct_m)
    sent = directivity.pressure(leaving, axis, length_m)
    sent *= left[:, :, None] / sent_direct
    return sent


def limit_level_db(scene: Scene, pressure: Complexes) -> Floats:
    """Level re direct in the limit's band of pressures (..., n_bands, 24), (...). [dB]"""
    octaves = np.mean(np.abs(pressure) ** 2, axis=-1)
    return decibels(octaves @ band_share(scene.limits.from_hz, scene.limits.to_hz))


def _at_ears(at_points: Sequence[PointArrivals]) -> tuple[PointArrivals, ...]:
    """Those of some listening points that are the ears themselves, not another place of the head zone."""
    return tuple(h for h in at_points if h.zone_point == 0)


def _table(scene: Scene, room: Room, at_points: tuple[PointArrivals, ...], reach: Reach) -> Arrivals:
    """Lay what the ears hear into one table, with the worst of the head zone beside each row."""
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
    incoming = points[np.arange(len(order)), order] - points[np.arange(len(order)), order + 1]
    incoming /= np.linalg.norm(incoming, axis=1, keepdims=True)
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
        **_levels(scene, at_points),
        incoming=incoming,
        reach=reach,
        direct=_direct(at_ears, room.speed_of_sound_m_s),
        at_points=at_points,
    )


def with_pressures(scene: Scene, arrivals: Arrivals, pressures: dict[int, Complexes]) -> Arrivals:
    """The same paths with other pressures at some listening points, by their place in `at_points`."""
    at_points = list(arrivals.at_points)
    for index, pressure in pressures.items():
        level_db = limit_level_db(scene, pressure)
        at_points[index] = replace(at_points[index], pressure=pressure, band_level_db=level_db)
    return replace(arrivals, at_points=tuple(at_points), **_levels(scene, tuple(at_points)))


def _levels(scene: Scene, at_points: tuple[PointArrivals, ...]) -> dict[str, Any]:
    """What the table says of levels: energies, the worst of the head zone, and the ears against the limit."""
    at_ears = _at_ears(at_points)
    band_level_db = np.concatenate([h.band_level_db for h in at_ears])
    judged = [is_judged(scene, h) & (h.delay_s <= scene.limits.within_s) for h in at_ears]
    is_in_window = np.concatenate(judged)
    worst_db = np.concatenate([_zone_worst_db(h, at_points) for h in at_ears])
    margin_db = np.where(is_in_window, scene.limits.margin_db(band_level_db), np.nan)
    return {
        "energy": np.concatenate([np.mean(np.abs(h.pressure) ** 2, axis=2) for h in at_ears]),
        "band_level_db": band_level_db,
        "zone_worst_db": worst_db,
        "margin_db": margin_db,
        "over_limit": np.nan_to_num(margin_db, nan=0.0) < 0.0,
        "zone_margin_db": np.where(is_in_window, scene.limits.margin_db(worst_db), np.nan),
    }


def is_judged(scene: Scene, at_point: PointArrivals) -> bool:
    """Whether a verdict is passed: on main speakers whose direct sound is not hidden."""
    return scene.speakers[at_point.speaker].use == "main" and at_point.paths.direct_visible


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


def _direct(at_ears: Sequence[PointArrivals], speed_of_sound_m_s: float) -> Direct:
    length_m = np.array([h.paths.direct_m for h in at_ears])
    return Direct(
        speaker=np.array([h.speaker for h in at_ears]),
        seat=np.array([h.seat for h in at_ears]),
        length_m=length_m,
        delay_s=length_m / speed_of_sound_m_s,
        visible=np.array([h.paths.direct_visible for h in at_ears]),
    )

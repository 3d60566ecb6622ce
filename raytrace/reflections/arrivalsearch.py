"""The search for arrivals: from every speaker to the ears and head zone of every seat, with levels."""

from collections.abc import Callable
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import (
    BANDS_HZ,
    Directivity,
    air_attenuation_db_per_m,
    band_frequencies_hz,
    omni,
    read_directivity,
    two_way,
)
from raytrace.reflections.arrivals import Arrivals, PointArrivals, limit_level_db, tabulate
from raytrace.reflections.nearmisses import find_near_misses, free_edges
from raytrace.reflections.paths import ListeningPoint, Paths, first_rows
from raytrace.reflections.reflection_factors import Reflectors, find_reflectors, returned_pressure
from raytrace.reflections.search_extent import Reach, choose_reach, reached_paths
from raytrace.room import Room, speaker_axis
from raytrace.scene import DirectivityFile, Scene, Seat, Speaker, TwoWay

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Progress = Callable[[str, float], None]


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


def zone_points(seat: Seat) -> Floats:
    """The ears and the eight corners of the head zone, (9, 3). [m]"""
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], np.float64)
    points: Floats = np.asarray(seat.ears) + np.vstack([np.zeros(3), corners * np.asarray(seat.zone)])
    return points


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

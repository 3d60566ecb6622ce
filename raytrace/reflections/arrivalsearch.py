"""The search for arrivals: from every speaker to the ears and head zone of every seat, with levels."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

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
from raytrace.reflections.arrivals import Arrivals, PointArrivals, limit_level_db, tabulate
from raytrace.reflections.beamtree import MOST_NODES, TooManyBeams
from raytrace.reflections.directsound import direct_pressure
from raytrace.reflections.nearmisses import find_near_misses, free_edges
from raytrace.reflections.passing import left_by_objects
from raytrace.reflections.paths import ListeningPoint, Paths, first_rows, some_rows, together
from raytrace.reflections.reflection_factors import returned_pressure
from raytrace.reflections.reflectors import Reflectors, find_reflectors
from raytrace.reflections.response import EDGE_OCTAVES
from raytrace.reflections.search_extent import Reach, choose_reach, reached_paths
from raytrace.room import Room, speaker_axis
from raytrace.scene import DirectivityFile, Scene, Seat, Speaker, TwoWay

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Complexes = NDArray[np.complex128]
Progress = Callable[[str, float], None]

# Nodes of a head zone in half-sizes of its box: the ears, its corners, the middles of edges and faces.
_STEPS = np.array([(x, y, z) for x in (-1, 1, 0) for y in (-1, 1, 0) for z in (-1, 1, 0)], np.float64)
ZONE_STEPS: Floats = _STEPS[np.argsort(-3 * (~_STEPS.any(axis=1)) - _STEPS.all(axis=1), kind="stable")]
N_CORNERS = 9  # the first of them: ears and corners
_AUDIBLE_DB = -32.0  # what comes in weaker is not asked which edges its legs pass
_AT_ONCE = 2000  # paths whose pressure is worked out together: 50 MB for each array of them


def find_arrivals(
    scene: Scene,
    room: Room,
    *,
    up_to_order: int | None = None,
    within_s: float = 0.030,
    zone: bool = True,
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
    zone : bool
        Whether head zones are looked into; without them the ears stand for them.
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
    seats = [SeatPoints(scene, room, reflectors, seat, zone=zone) for seat in scene.seats]
    return search_arrivals(scene, seats, up_to_order=up_to_order, within_s=within_s, progress=progress)


def search_arrivals(
    scene: Scene,
    seats: Sequence["SeatPoints"],
    *,
    up_to_order: int | None,
    within_s: float,
    progress: Progress | None = None,
) -> Arrivals:
    """The same at the points of some seats, those of the scene, in a room whose edges are known."""
    with _refusing_too_many(scene, within_s):
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
            with _refusing_too_many(scene, within_s):
                found, near = find_point_arrivals(scene, seats[j], reach, speaker=i, seat=j)
            at_points += found
            missed += near
    return tabulate(scene, seats[0].room, at_points, missed, reach)


@contextmanager
def _refusing_too_many(scene: Scene, within_s: float) -> Iterator[None]:
    try:
        yield
    except TooManyBeams as problem:
        more = f"{problem} within {1e3 * within_s:g} ms; a smaller --order or --until, or fewer objects, fit"
        raise scene.error(("room",), more) from None


def zone_points(seat: Seat) -> Floats:
    """The nodes of a head zone, the ears first, then its corners, (27, 3). [m]"""
    points: Floats = np.asarray(seat.ears) + ZONE_STEPS * np.asarray(seat.zone)
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
        Its free edges, beside which there are near misses.
    seat : Seat
    ears_only : bool
        Whether neither the zone nor near misses will be asked for.
    zone : bool
        Whether the zone will.
    """

    def __init__(
        self,
        scene: Scene,
        room: Room,
        reflectors: Reflectors,
        seat: Seat,
        *,
        ears_only: bool = False,
        zone: bool = True,
    ) -> None:
        self.room, self.reflectors, self.ears_only = room, reflectors, ears_only
        self._sources = [speaker.position for speaker in scene.speakers]
        self._places = zone_points(seat)[: None if zone and not ears_only else 1]
        self._made: dict[int, ListeningPoint] = {}

    @cached_property
    def in_air(self) -> tuple[int, ...]:
        """Which points lie in the air; of the ears that has been checked."""
        corners = self._places[1:]
        return (0, *(1 + np.flatnonzero(self.room.contains(corners))).tolist()) if len(corners) else (0,)

    def __getitem__(self, zone_point: int) -> ListeningPoint:
        if not self._made:
            edges = None if self.ears_only else free_edges(self.room, self.reflectors)
            self._made[0] = ListeningPoint(self.room, self._places[0], self._sources, free_edges=edges)
        if zone_point not in self._made:
            self._made[zone_point] = self._made[0].another(self._places[zone_point])
        return self._made[zone_point]

    def spare(self) -> None:
        """Let go of the trees of all points but the ears where they have grown large together."""
        if sum(point.n_beams for point in self._made.values()) > MOST_NODES:
            for zone_point in self._made.keys() - {0}:
                self._made[zone_point].forget()


def find_point_arrivals(
    scene: Scene, points: SeatPoints, reach: Reach, *, speaker: int, seat: int, ears_only: bool = False
) -> tuple[list[PointArrivals], list[PointArrivals]]:
    """What the nodes of a seat's head zone hear of a speaker, ears first, and their near misses.

    Beside the ears only early reflections are looked for; nodes that do not lie in the air are left out,
    and of a sub, on which no verdict is passed, all of them. With `ears_only` the zone and the near misses
    are not looked for.
    """
    entry, ears_only = scene.speakers[speaker], ears_only or points.ears_only
    room, nodes = points.room, (0,) if ears_only or entry.use == "sub" else points.in_air
    axis, directivity = speaker_axis(scene, entry), speaker_directivity(scene, entry, room)
    both: list[tuple[Paths, Paths]] = []
    for k in nodes:
        own = reach if k == 0 else reach.early
        paths = reached_paths(points[k], entry.position, own)
        # They cost as much as the paths themselves; while something moves the curve does without them.
        both.append((paths, first_rows(paths, 0) if ears_only else find_near_misses(points[k], paths, own)))
        points.spare()
    places = np.array([points[k].position for k in nodes])
    direct = direct_pressure(room, points.reflectors, both[0][0].source, places)
    sends, flat = (axis, directivity), [paths for pair in both for paths in pair]
    pressures = iter(
        path_pressures(scene, room, points.reflectors, flat[:2], sends=sends)
        + path_pressures(scene, room, points.reflectors, flat[2:], sends=sends, bands=zone_bands(scene))
    )
    at_points: tuple[list[PointArrivals], list[PointArrivals]] = [], []
    for k, pair, free in zip(nodes, both, direct, strict=True):
        for is_near, (heard, paths, pressure) in enumerate(zip(at_points, pair, pressures, strict=False)):
            if is_near:  # behind the edge of an object nothing may be left of them
                left = np.flatnonzero(pressure.any(axis=(1, 2)))
                paths, pressure = some_rows(paths, left), pressure[left]
            delay_s = (paths.length_m - paths.direct_m) / room.speed_of_sound_m_s
            level_db = limit_level_db(scene, pressure)
            heard.append(PointArrivals(speaker, seat, k, paths, free, delay_s, pressure, level_db))
    return at_points


def zone_bands(scene: Scene) -> Ints:
    """Octaves that the limit's band and its filter's edges reach into: what a head zone is asked for."""
    edge = 2.0 ** (0.5 * EDGE_OCTAVES)
    lowest_hz, highest_hz = scene.limits.from_hz / edge, scene.limits.to_hz * edge
    known_hz = band_frequencies_hz().ravel()
    first, last = np.searchsorted(known_hz, lowest_hz) - 1, np.searchsorted(known_hz, highest_hz)
    per_band = len(known_hz) // len(BANDS_HZ)
    bands = np.arange(len(BANDS_HZ))
    heard = (bands >= first // per_band) & (bands <= last // per_band)
    return np.flatnonzero(heard | (band_share(scene.limits.from_hz, scene.limits.to_hz) > 0.0))


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


def path_pressures(
    scene: Scene,
    room: Room,
    reflectors: Reflectors,
    paths: Sequence[Paths],
    *,
    sends: tuple[Floats, Directivity],
    bands: Ints | slice = slice(None),
) -> list[Complexes]:
    """Pressure of each path re the direct sound, without its delay's phase: (n_paths, n_bands, 24) each.

    All paths are those of one speaker, `sends` its axis and directivity; together they take a fraction of
    the time of one after the other. Octaves other than `bands` are left 0.
    """
    starts = np.cumsum([0, *(len(own.order) for own in paths)])
    pressures: list[Complexes] = []
    first = 0
    while first < len(paths):
        last = max(first + 1, int(np.searchsorted(starts, starts[first] + _AT_ONCE, side="right")) - 1)
        own = together(paths[first:last])
        pressure = np.zeros((len(own.order), *band_frequencies_hz().shape), np.complex128)
        if len(own.order):
            ends = own.source, own.listener
            sent = sent_pressure(scene, ends, own.points[:, 1], own.length_m, *sends)
            pressure[:, bands] = sent[:, bands] * returned_pressure(room, reflectors, own, bands=bands)
            loud = np.flatnonzero(limit_level_db(scene, pressure) > _AUDIBLE_DB)
            pressure[np.ix_(loud, np.arange(len(BANDS_HZ))[bands])] *= left_by_objects(
                room, reflectors, own, rows=loud, bands=bands
            )
        pressures += np.split(pressure, starts[first + 1 : last] - starts[first])
        first = last
    return pressures


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
        Speaker and listening point, or one for each path (n_paths, 3). [m]
    towards : (n_paths, 3) float
        First bounce of each path. [m]
    length_m : (n_paths,) float
    axis, directivity : (3,) float, Directivity
        Of the speaker.
    """
    source, listener = ends
    straight = np.broadcast_to(listener - source, towards.shape)
    direct_m = np.linalg.norm(straight, axis=1)
    air = air_attenuation_db_per_m(BANDS_HZ, scene.air.temperature, scene.air.humidity, scene.air.pressure)
    leaving = towards - source
    leaving /= np.linalg.norm(leaving, axis=1, keepdims=True)
    loss_db = (length_m - direct_m)[:, None] * air
    left = (direct_m / length_m)[:, None] * 10.0 ** (-loss_db / 20.0)
    sent_direct = directivity.pressure(straight / direct_m[:, None], axis, direct_m)
    sent = directivity.pressure(leaving, axis, length_m)
    sent *= left[:, :, None] / sent_direct
    return sent

"""How even the bass is for many arrangements of speakers and seats in one room, from one set of its modes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.evenness import JUDGED_HZ, deviation_db
from raytrace.bass.linings import line_modes
from raytrace.bass.listening import ZONE, sources_now
from raytrace.bass.modes import find_modes, reachable_hz
from raytrace.bass.response import Listener, hear
from raytrace.reflections import zone_points
from raytrace.room import Room
from raytrace.scene import Scene

Floats = NDArray[np.float64]

_AT_ONCE = 200  # places whose answers are worked out together: 50 MB in a room with many modes


@dataclass(frozen=True)
class Layout:
    """What plays bass, and the ears by which it is judged.

    Attributes
    ----------
    sources : (n_sources, 3) float
        All with the same signal. [m]
    ears : (n_ears, 3) float
        The first seat's head zone, its ears first, and the ears of the other seats. [m]
    """

    sources: Floats
    ears: Floats


def layout_of(scene: Scene) -> Layout:
    """What plays bass in a scene, and its ears."""
    sources = [speaker.position for speaker in sources_now(scene)]
    others = [seat.ears for seat in scene.seats[1:]]
    ears = [*zone_points(scene.seats[0])[:ZONE], *others]
    return Layout(np.array(sources, np.float64), np.array(ears, np.float64))


def layouts_db(room: Room, layouts: Sequence[Layout]) -> Floats:
    """Standard deviation of the level from 30 to 120 Hz for each of some layouts, (n_layouts,). [dB]

    Parameters
    ----------
    room : Room
        Its speakers, seats and small objects do not matter.
    layouts : sequence of Layout

    Notes
    -----
    As `find_bass` judges the present one. The modes are found once, and what they answer to each place of a
    source is worked out once: a Green's function is the same from either end.
    """
    modes = find_modes(room, top_hz=reachable_hz(room))
    lined = line_modes(room, modes)
    admittances = lined.admittances(JUDGED_HZ, room.medium)
    row_of: dict[bytes, int] = {}
    for layout in layouts:
        for source in layout.sources:
            row_of.setdefault(source.tobytes(), len(row_of))
    places = np.array([np.frombuffer(key) for key in row_of]).reshape(-1, 3)
    lots = [
        hear(modes, lined.overlaps, admittances, places[k : k + _AT_ONCE], JUDGED_HZ)
        for k in range(0, len(places), _AT_ONCE)
    ]
    found = []
    for layout in layouts:
        # What a zone reaches into is no air: the ears stand for it.
        inside = room.contains(layout.ears)
        ears = np.where(inside[:, None], layout.ears, layout.ears[0])
        rows = [row_of[source.tobytes()] for source in layout.sources]
        pressure = sum(_from(lots[row // _AT_ONCE], row % _AT_ONCE, ears) for row in rows)
        found.append(float(deviation_db(np.abs(pressure)[:, None] ** 2)[0]))
    return np.array(found)


def _from(lot: Listener, row: int, ears: Floats) -> NDArray[np.complex128]:
    """Green's function from one place of a lot to some ears, (n_frequencies, n_ears). [1/m]"""
    one = Listener(
        lot.modes, lot.frequencies_hz, lot.answers[..., row : row + 1], lot.rest[..., row : row + 1]
    )
    return np.asarray(one.pressure(ears)[..., 0])

"""What objects leave of the legs of paths that pass their edges, those of direct sound too."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import band_frequencies_hz
from raytrace.reflections.memory import lines_of
from raytrace.reflections.nearmisses import FRESNEL_HZ
from raytrace.reflections.paths import Paths
from raytrace.reflections.reflection_factors import path_ends
from raytrace.reflections.reflectors import Reflectors
from raytrace.room import Room

if TYPE_CHECKING:
    from raytrace.kernels.shadows import Legs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Complexes = NDArray[np.complex128]

_APART_M = 1e-6  # what a leg begins or ends at ends here: far more than rounding


def left_by_objects(
    room: Room,
    reflectors: Reflectors,
    paths: Paths,
    *,
    rows: Ints | slice = slice(None),
    bands: Ints | slice = slice(None),
    fades: bool = True,
) -> Complexes:
    """What the objects of a room leave of all legs of some paths, (n_rows, n_bands, 24).

    Each object leaves 1 - K of a leg, K the Kirchhoff weight of its outline as the leg's image of the
    speaker sees it (Babinet's principle, `kirchhoff_weight`). That fades to 1 where the leg passes the
    outline by one Fresnel zone at 1 kHz, and to 0 as deep behind it: near misses end there. Edges that stand
    on something bend nothing. The part of an object counts that lies between the two ends of the leg.

    Parameters
    ----------
    room, reflectors : Room, Reflectors
    paths : Paths
        All from one speaker, whose own cabinet takes nothing away.
    rows : (n_rows,) int or slice
        Those that are asked for.
    bands : (n_bands,) int or slice
        Octaves that are asked for.
    fades : bool
        Without it outlines count up to two zones, and what is left behind them is left at any depth.
    """
    frequency_hz = band_frequencies_hz()[bands]
    n_rows = len(paths.order[rows])
    if not len(reflectors.bodies.radius) or not n_rows:
        return np.ones((n_rows, *frequency_hz.shape), np.complex128)
    bodies, own = reflectors.bodies, room.own_facets(paths.source)
    images, receivers = (ends[rows] for ends in path_ends(room, paths))
    points, facets, order = paths.points[rows], paths.facets[rows], paths.order[rows]

    def work(some: Ints) -> Complexes:
        from raytrace.kernels.shadows import pass_bodies

        factor = np.ones((len(some), frequency_hz.size), np.complex128)
        pass_bodies(
            _legs(room, (points[some], facets[some], order[some]), (images[some], receivers[some])),
            bodies,
            np.isin(bodies.facet, own),
            frequency_hz.ravel() * (2.0 * np.pi / room.speed_of_sound_m_s),
            room.speed_of_sound_m_s / FRESNEL_HZ,
            fades,
            factor,
        )
        return factor.reshape(-1, *frequency_hz.shape)

    if reflectors.memory is None:
        return work(np.arange(n_rows))
    assert isinstance(bands, slice), "what is remembered is remembered whole"
    key = "objects", bodies.corners.tobytes(), bodies.edge.tobytes(), own.tobytes()
    return reflectors.memory.recall(key, lines_of(points, facets), work)


def _legs(room: Room, paths: tuple[Floats, Ints, Ints], ends: tuple[Floats, Floats]) -> "Legs":
    """All legs of paths with some points, facets and orders, and the planes they begin and end at."""
    from raytrace.kernels.shadows import Legs

    points, facets, order = paths
    row, leg = np.nonzero(np.arange(points.shape[1] - 1) <= order[:, None])
    images, receivers = ends[0][row, leg], ends[1][row, leg]
    span = np.stack([np.linalg.norm(points[row, leg + end] - images, axis=1) for end in (0, 1)], axis=1)
    met = np.pad(facets, ((0, 0), (1, 1)), constant_values=-1)
    met = np.stack([met[row, leg], met[row, leg + 1]], axis=1)
    walls = np.zeros((len(row), 2, 4))
    walls[:, :, 3] = -1.0
    walls[met >= 0, :3] = room.facet_arrays.normals[met[met >= 0]]
    walls[met >= 0, 3] = room.facet_arrays.offsets[met[met >= 0]] + _APART_M
    return Legs(row, np.ascontiguousarray(images), np.ascontiguousarray(receivers), span, walls)

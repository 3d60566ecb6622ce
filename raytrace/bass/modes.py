"""The acoustic modes of a room of any shape with rigid walls, by finite cells."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sparse
from numpy.typing import ArrayLike, NDArray

from raytrace.bass.airbody import AirBody, CutAir, air_body, cut_air
from raytrace.bass.eigen import lowest
from raytrace.bass.elements import Space, assemble
from raytrace.bass.factors import Factor, dissected, factor
from raytrace.bass.grid import DEGREE, make_grid
from raytrace.room import Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

USUAL_TOP_HZ = 200.0
"""Up to where modes of a room are found."""
_WAVES_PER_CELL = 0.70  # at the top: the highest frequencies come out 0.3 % too high at most
_CELLS_ACROSS = (
    1.8  # the cube of a room's volume, at least: so the first ten modes of a small one are as exact
)
_FURTHER = 1.15  # re the top: modes above it that are taken along, for what they do below it
_BLOCK = 16  # columns of a solve: hardly dearer than one; more of them find fewer vectors each
_TERMS = 6  # the nearest is further off than k^2 goes by 1.6: 5 % of what it does is left out at most
_MIDDLE = 0.5  # of the highest eigenvalue: what is found first lies about it, so that fewer columns do


MOST_MODES = 240
"""That are looked for: in rooms with more, single modes do not matter so far up."""


@dataclass(frozen=True)
class RoomModes:
    """Modes of a room with rigid walls, and what answers for those above them.

    Attributes
    ----------
    body : AirBody
    air : CutAir
    space : Space
    eigenvalues : (n_modes,) float
        (2 pi f / c)^2, ascending; the first is 0, the pressure that is the same everywhere. [1/m2]
    shapes : (n_unknowns, n_modes) float
        Values at the nodes; the integral of the square over the air is 1. [m^-3/2]
    about : Factor
        Of stiffness - shift mass, with which they were found.
    mass : sparse array
    top_hz : float
        Up to here the modes are complete and the frequencies settled; those above serve the response.
    speed_of_sound_m_s : float
    """

    body: AirBody
    air: CutAir
    space: Space
    eigenvalues: Floats
    shapes: Floats
    about: Factor
    mass: sparse.csc_array
    top_hz: float
    speed_of_sound_m_s: float

    @cached_property
    def frequencies_hz(self) -> Floats:
        """Of all modes, (n_modes,)."""
        values = np.sqrt(np.maximum(self.eigenvalues, 0.0))
        return np.asarray(values * self.speed_of_sound_m_s / (2.0 * np.pi))

    @cached_property
    def is_complete(self) -> NDArray[np.bool_]:
        """Which of them are below the top, and sound: not the pressure that is the same everywhere."""
        return (self.frequencies_hz <= self.top_hz) & (np.arange(len(self.eigenvalues)) > 0)

    def answers_of_the_rest(self, loads: Floats) -> Floats:
        """What the modes that were not found do to loads (n_unknowns, n), (n_terms, n_unknowns, n).

        The first terms of the sum over them of psi psi' load / (l - k^2) in powers of k^2 - shift.

        Notes
        -----
        What loads and answers have of the modes that were found is taken off before the first solve and
        after each: so it does no harm where the shift is near one of them.
        """
        loads = loads - self.mass @ (self.shapes @ (self.shapes.T @ loads))
        terms = []
        for _ in range(_TERMS):
            answer = self.about.solve(loads)
            terms.append(answer - self.shapes @ (self.shapes.T @ (self.mass @ answer)))
            loads = self.mass @ terms[-1]
        return np.array(terms)

    def at(self, points: ArrayLike) -> Floats:
        """Mode shapes at points in the air (n, 3), (n, n_modes). [m^-3/2]"""
        places = np.asarray(points, np.float64).reshape(-1, 3)
        return np.asarray(self.space.values_at(places) @ self.shapes)


_MOST_KEPT = 2  # about 50 MB each in a usual room
_KEPT: dict[tuple[object, ...], RoomModes] = {}


def find_modes(room: Room, *, top_hz: float = USUAL_TOP_HZ) -> RoomModes:
    """The modes of a room with its large objects, walls taken as rigid.

    Those of the last two shapes are kept: speakers, seats, panels and materials change nothing in them.

    Parameters
    ----------
    room : Room
    top_hz : float
        Up to where they are found. [Hz]

    Returns
    -------
    RoomModes

    Notes
    -----
    Finite cell method (J. Parvizian, A. Duester, E. Rank, Comput. Mech. 41 (2007) 121; from memory): a
    regular grid of cells with functions of the fourth degree, integrals only over the part of each that is
    air. Quadratic functions, on cells a third as large, took four times the unknowns for the same error.
    Against the closed form of boxes: 0.3 % at the top, 0.05 % for the first ten modes.
    """
    body = air_body(room)
    key = (
        body.triangles.tobytes(),
        body.surface.tobytes(),
        body.solid.tobytes(),
        top_hz,
        room.speed_of_sound_m_s,
    )
    if key not in _KEPT:
        found = _solve(body, room, top_hz)
        while len(_KEPT) >= _MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)))
        _KEPT[key] = found
    return _KEPT[key]


def _solve(body: AirBody, room: Room, top_hz: float) -> RoomModes:
    """The same, found anew."""
    c = room.speed_of_sound_m_s
    cell_m = min(_WAVES_PER_CELL * c / top_hz, room.volume_m3 ** (1.0 / 3.0) / _CELLS_ACROSS)
    grid = make_grid(body.triangles, cell_m)
    air = cut_air(body, grid)
    space, stiffness, mass = assemble(air)
    top = (2.0 * np.pi * top_hz / c) ** 2
    further = top * _FURTHER**2
    start = _cosines(space, further)
    # Each column holds something of every cosine; no two columns are alike. The first is constant: a mode.
    i, j = np.ogrid[1 : start.shape[1] + 1, 1:_BLOCK]
    start = np.concatenate([np.ones((len(start), 1)), start @ np.sin(i * i * j + j)], axis=1)
    about = factor(stiffness, mass, _MIDDLE * top, dissected(space.node_index, DEGREE))
    values, shapes = lowest(mass, about, start, (top, further))
    # A shape and its negative are the same mode: the larger extreme is positive.
    sign = np.sign(shapes.max(axis=0) + shapes.min(axis=0) + 1e-9)
    return RoomModes(body, air, space, values, shapes * sign, about, mass, top_hz, c)


def reachable_hz(room: Room) -> float:
    """Up to where a room holds no more modes than are found: `USUAL_TOP_HZ`, or less in large rooms. [Hz]

    Notes
    -----
    (4 pi / 3) V (f / c)^3 + (pi / 4) S (f / c)^2 + (L / 8) f / c modes of a box with edges of length L
    together: R. H. Bolt, D.-Y. Maa, 1939 (from memory). The edges are taken as those of a cube.
    """
    f = np.linspace(1.0, USUAL_TOP_HZ, 400)
    ratio = f / room.speed_of_sound_m_s
    edges_m = 12.0 * room.volume_m3 ** (1.0 / 3.0)
    count = 4.0 * np.pi / 3.0 * room.volume_m3 * ratio**3
    count += 0.25 * np.pi * room.surface_area_m2 * ratio**2 + 0.125 * edges_m * ratio
    return float(f[count <= MOST_MODES][-1])


def _cosines(space: Space, up_to: float) -> Floats:
    """Modes of the box around a room at the nodes, up to an eigenvalue and some more, (n_unknowns, n)."""
    lines = space.grid.lines
    sizes = [float(line[-1] - line[0]) for line in lines]
    # Somewhat further than asked for, so that what a shape adds to its box is there as well.
    counts = [int(np.sqrt(1.3 * up_to) * size / np.pi) + 1 for size in sizes]
    index = np.stack(np.meshgrid(*(np.arange(n + 1) for n in counts), indexing="ij"), -1).reshape(-1, 3)
    index = index[np.sum((np.pi * index / sizes) ** 2, axis=1) <= 1.3 * up_to]
    waves = []
    for axis, nodes in enumerate(space.grid.nodes):
        waves.append(np.cos(np.outer(nodes - nodes[0], np.pi * index[:, axis] / sizes[axis])))
    product = np.einsum("im,jm,km->ijkm", *waves).reshape(-1, len(index))
    return np.asarray(product[space.unknown >= 0])

"""What lies on the walls of a room for long waves: admittances, and how modes press on each kind of it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.acoustics import (
    BANDS_HZ,
    Backing,
    Material,
    Medium,
    load_library,
    local_admittance,
    reflection,
    to_wall_plane,
)
from raytrace.bass.airbody import CutAir
from raytrace.bass.grid import DEGREE
from raytrace.bass.hanging import Hanging, hanging_panels, series_impedance
from raytrace.bass.modes import RoomModes
from raytrace.room import PlacedPanel, Room, stack_of

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Ints = NDArray[np.int64]

_BOARDS = {"plasterboard": 0.050, "plasterboard, empty cavity": 0.100}
"""Depth of the air behind boards of the library that give, from the source of each row. [m]"""
BOARD_KG_M2 = 9.0  # 12.5 mm of 720 kg/m3 (common practice, no source)
_FACE_STEPS = 8  # points along each side of a panel: a twelfth of a metre, and waves are 1.7 m at least
_LEAST_DEPTH_M = 1e-3  # of air behind a panel
_ROUNDING = 1e-13  # of the largest value of a function of a cell
_FACING = 1e-3  # cosine: walls that lie more edge-on are not behind a panel
_BOARD_KNOWN_HZ = float(BANDS_HZ[1])  # the lowest octave in which such boards are measured


@dataclass(frozen=True)
class Lining:
    """One kind of surface that long waves meet.

    Attributes
    ----------
    material : Material
        Of the surface.
    panel : PlacedPanel or None
        What hangs flat before it, or across a corner.
    area_m2 : float
        That the air sees.
    depth_m : float
        Mean depth of the air behind a panel across a corner.
    """

    material: Material
    panel: PlacedPanel | None
    area_m2: float
    depth_m: float = 0.0

    @property
    def name(self) -> str:
        """What it is called."""
        return self.material.name if self.panel is None else self.panel.build_name

    @property
    def is_board_that_gives(self) -> bool:
        """Whether it is taken as a mass before a spring of air."""
        known = load_library().get(self.material.name)
        is_known = known is not None and known.source == self.material.source
        return self.panel is None and self.material.name in _BOARDS and is_known

    def admittance(self, frequency_hz: Floats, medium: Medium) -> Complexes:
        """Admittance at the wall's plane re that of air, (n_frequencies,): its real part takes energy."""
        if self.is_board_that_gives:
            return _giving_board(self.material, frequency_hz, medium)
        if self.panel is not None and self.panel.kind == "corner":
            return _across_corner(self.panel, self.depth_m, frequency_hz, medium)
        wall = wall_admittance(self.material, frequency_hz)
        if self.panel is None:
            return np.asarray(wall, np.complex128)
        panel = self.panel
        backing: Backing = "rigid" if panel.build.back == "solid" else (1.0 - wall) / (1.0 + wall)
        stack = stack_of(panel.build, panel.gap_m)
        face = reflection(stack, frequency_hz, 1.0, medium, backing=backing)
        height_m = panel.gap_m + panel.thickness_m
        c = medium.speed_of_sound_m_s
        factor = face * to_wall_plane(height_m, 1.0, frequency_hz, speed_of_sound_m_s=c)
        return np.asarray((1.0 - factor) / (1.0 + factor))


def wall_admittance(material: Material, frequency_hz: ArrayLike) -> Floats:
    """Real local admittance of a material re that of air, (n,).

    Its random-incidence absorption is that of the material: linear between the centres of octaves over the
    logarithm of frequency, and below 63 Hz that of 63 Hz.
    """
    octave = np.interp(np.log2(np.asarray(frequency_hz)), np.log2(BANDS_HZ), material.absorption)
    return local_admittance(octave)


def _across_corner(panel: PlacedPanel, depth_m: float, frequency_hz: Floats, medium: Medium) -> Complexes:
    """Admittance that a panel across a corner adds where its face is, re that of air.

    Notes
    -----
    1 / (Z + 1 / j k d) - 1 / (j k t + 1 / j k d): the series impedance Z of its layers, which is theirs
    with no pressure behind, before the spring of the air behind, less the same with air of their thickness t,
    which the modes hold already. A layer without resistance adds next to nothing. Rests on k d < 1; what
    flows past open ends is left out.
    """
    jk = 2j * np.pi * frequency_hz / medium.speed_of_sound_m_s
    if panel.build.back == "solid":
        closed = reflection(stack_of(panel.build), frequency_hz, 1.0, medium, backing="rigid")
        return np.asarray((1.0 - closed) / (1.0 + closed) - jk * (depth_m + panel.thickness_m))
    spring = 1.0 / (jk * max(depth_m, _LEAST_DEPTH_M))
    layers = series_impedance(panel, frequency_hz, medium)
    return np.asarray(1.0 / (layers + spring) - 1.0 / (jk * panel.thickness_m + spring))


def _giving_board(material: Material, frequency_hz: Floats, medium: Medium) -> Complexes:
    """Admittance of a board on studs re that of air: a mass before a spring of air, damped.

    Notes
    -----
    1 / (r + j (w m - rho c^2 / (w d)) / (rho c)), the resonance of which is the 60 / sqrt(m d) Hz of
    textbooks on panel absorbers. r is such that the real part at 125 Hz is that of the measured absorption
    there: the larger of two, as a smaller one would absorb far more at resonance than any table shows.
    """
    c = medium.speed_of_sound_m_s
    impedance = medium.impedance

    def reactance(f: Floats) -> Floats:
        w = 2.0 * np.pi * f
        return np.asarray((w * BOARD_KG_M2 - impedance * c / (w * _BOARDS[material.name])) / impedance)

    known = float(wall_admittance(material, np.array([_BOARD_KNOWN_HZ]))[0])
    at_known = float(reactance(np.array([_BOARD_KNOWN_HZ]))[0])
    damping = (1.0 + np.sqrt(max(1.0 - (2.0 * known * at_known) ** 2, 0.0))) / (2.0 * known)
    return np.asarray(1.0 / (damping + 1j * reactance(frequency_hz)))


@dataclass(frozen=True)
class LinedModes:
    """Modes of a room and how hard each pair of them presses on each lining.

    Attributes
    ----------
    modes : RoomModes
    linings : tuple of Lining or Hanging
    overlaps : (n_linings, n_modes, n_modes) float
        Integrals of the product of two mode shapes over each lining [1/m], over panels that hang free of the
        product of their slopes [1/m3].
    """

    modes: RoomModes
    linings: tuple[Lining | Hanging, ...]
    overlaps: Floats

    def admittances(self, frequency_hz: Floats, medium: Medium) -> Complexes:
        """Of each lining, (n_frequencies, n_linings); of panels that hang free what takes that place. [m2]"""
        columns = [lining.admittance(frequency_hz, medium) for lining in self.linings]
        return np.stack(columns, axis=1)

    def damping_per_s(self, medium: Medium) -> Floats:
        """Decay constant of each mode taken by itself, (n_modes,); amplitudes fall as e^(-d t). [1/s]

        Notes
        -----
        From (L - k^2 + j k b C) a = 0 for a small b: k = k_n + j b C / 2, d = c Re(b) C / 2 at the mode's own
        frequency (Kuttruff, Room Acoustics, ch. 3; from memory).
        """
        own = np.maximum(self.modes.frequencies_hz, 1.0)
        taken = self.admittances(own, medium).real
        diagonal = np.diagonal(self.overlaps, axis1=1, axis2=2)
        return np.asarray(0.5 * medium.speed_of_sound_m_s * np.sum(taken * diagonal.T, axis=1))


def line_modes(room: Room, modes: RoomModes) -> LinedModes:
    """The linings of a room's walls and large objects, and what its modes do on them.

    Parameters
    ----------
    room : Room
        May hold other panels than the one whose modes they are.
    modes : RoomModes
    """
    points, weights, cells, lining, on_walls = _surface_rule(room, modes.air, modes)
    on_wall = modes.space.values_at(points, cells)
    # On walls along the axes four functions of a cell out of five are 0 but for rounding.
    on_wall.data[np.abs(on_wall.data) < _ROUNDING] = 0.0
    on_wall.eliminate_zeros()
    weighed = np.sqrt(weights)[:, None] * (on_wall @ modes.shapes)
    linings: list[Lining | Hanging] = list(on_walls)
    overlaps = [own.T @ own for own in (weighed[lining == k] for k in range(len(linings)))]
    for panel in (panel for panel in room.panels if panel.kind == "corner"):
        points, weight = _face_rule(panel)
        shapes = modes.at(points)
        overlaps.append(weight * shapes.T @ shapes)
        area_m2, depth_m = panel.width_m * panel.height_m, _depth_behind_m(room, panel)
        assert panel.surface is not None
        linings.append(Lining(room.surfaces[panel.surface].material, panel, area_m2, depth_m))
    hanging, slopes = hanging_panels(room, modes)
    return LinedModes(modes, (*linings, *hanging), np.array([*overlaps, *slopes]))


def _face_rule(panel: PlacedPanel) -> tuple[Floats, float]:
    """Points on the face of a panel in even steps, and how much of it each stands for. [m2]"""
    share = (np.arange(_FACE_STEPS) + 0.5) / _FACE_STEPS
    u, v = (part.reshape(-1, 1) for part in np.meshgrid(share * panel.width_m, share * panel.height_m))
    points = panel.corners[0] + u * panel.right + v * panel.up
    return points, panel.width_m * panel.height_m / len(points)


def _depth_behind_m(room: Room, panel: PlacedPanel) -> float:
    """Mean depth of the air between the back of a panel and the walls, square to it. [m]"""
    points = _face_rule(panel)[0] - panel.thickness_m * panel.normal
    walls = [f for f in room.facets[: room.n_solid_facets] if room.surfaces[f.surface].owner is None]
    towards = [(f, float(f.normal @ panel.normal)) for f in walls]
    depths = [(points @ f.normal - f.offset) / slope for f, slope in towards if slope > _FACING]
    return float(np.maximum(np.min(depths, axis=0), 0.0).mean())


def _surface_rule(
    room: Room, air: CutAir, modes: RoomModes
) -> tuple[Floats, Floats, Ints, Ints, list[Lining]]:
    """Points, weights [m2], cells and linings for integrals over all that the air sees, and the linings."""
    surface = modes.body.surface[air.faces.parent]
    slack_m = 1e-10 * modes.body.size_m
    pieces = air.faces.cut(*_cover_planes(room, surface), slack_m)
    # `cut` keeps the triangle as parent; which face each part is of follows from its place.
    cells = air.grid.cells_at(pieces.centres + 1e-8 * modes.body.size_m * modes.body.normals[pieces.parent])
    kinds: dict[tuple[object, ...], int] = {}
    which = np.zeros(len(pieces), np.int64)
    linings: list[tuple[Material, PlacedPanel | None]] = []
    for k, place in enumerate(pieces.centres):
        material, panel = _lining_at(room, int(modes.body.surface[pieces.parent[k]]), place)
        key = (material.name, material.source, panel and (panel.build_name, round(panel.gap_m, 6)))
        if key not in kinds:
            kinds[key] = len(linings)
            linings.append((material, panel))
        which[k] = kinds[key]
    from raytrace.kernels.pieces import rule

    # Exact on walls along the axes: two factors of degree 8, and one of the corner of a triangle.
    nodes, weights = np.polynomial.legendre.leggauss(2 * DEGREE + 1)
    points, shares, parent = rule(pieces.points, pieces.start, 0.5 * (nodes + 1.0), 0.5 * weights)
    areas = np.bincount(which[parent], shares, len(linings))
    kept = [Lining(material, panel, float(areas[k])) for k, (material, panel) in enumerate(linings)]
    return points, shares, cells[parent], which[parent], kept


def _covers(room: Room, surface: int) -> list[tuple[Floats, Material | PlacedPanel]]:
    """Rectangles of a surface with what covers it there; the last one counts."""
    covers: list[tuple[Floats, Material | PlacedPanel]] = [
        (opening.rect, opening.material) for opening in room.surfaces[surface].openings
    ]
    flat = (panel for panel in room.panels if panel.surface == surface and panel.acts_as == "patch")
    return [*covers, *((panel.rect, panel) for panel in flat)]


def _lining_at(room: Room, surface: int, place: Floats) -> tuple[Material, PlacedPanel | None]:
    """Material and panel at a place of a surface."""
    own = room.surfaces[surface]
    material, panel = own.material, None
    u, v = own.frame.to_plane(place)
    for (u0, v0, u1, v1), cover in _covers(room, surface):
        if u0 < u < u1 and v0 < v < v1:
            if isinstance(cover, Material):
                material, panel = cover, None
            else:
                panel = cover
    return material, panel


def _cover_planes(room: Room, surface: Ints) -> tuple[Floats, Ints]:
    """Planes through the edges of all covers of the surface that each piece lies on."""
    own: dict[int, Floats] = {}
    for index in np.unique(surface).tolist():
        frame = room.surfaces[index].frame
        rows = []
        for rect, _ in _covers(room, index):
            for axis, offset in zip((frame.u, frame.v, frame.u, frame.v), rect, strict=True):
                rows.append([*axis, offset + axis @ frame.origin])
        own[index] = np.array(rows, np.float64).reshape(-1, 4)
    planes = [own[index] for index in surface.tolist()]
    counts = [len(rows) for rows in planes]
    return np.concatenate([np.zeros((0, 4)), *planes]), np.concatenate([[0], np.cumsum(counts)])

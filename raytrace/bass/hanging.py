"""Panels that hang or stand free, for long waves: what air flows through them, and what flows round them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import Medium, reflection
from raytrace.bass.modes import RoomModes
from raytrace.room import PlacedPanel, Room, facet_distance_m, stack_of

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

_PATCHES = ((4, 20), (2, 80))  # along the shorter side, up to so many panels; 4: 3 % too little flows round
_TOUCHING_M = 0.03  # slabs no farther apart are one plate: air that squeezes through is not counted
_AT_ONCE = 200  # points: so that memory holds what large clouds need
_SLOPE_M = 1e-3  # half the step between two points from which a slope is taken
_NO_PRESSURE = -1.0 + 1e-9  # what lies behind reflects so: hardly any pressure, or it is divided by zero


@dataclass(frozen=True)
class Hanging:
    """Panels of one cloud, or one by itself, with air on both sides.

    Attributes
    ----------
    panel : PlacedPanel
        The first of them; all are made alike.
    area_m2 : float
        Of one face of each, together.
    round_m : float
        How much air moves that flows round it where none flows through, as a depth over its area. [m]
    found_per_m : float
        What of that flow the modes hold that were found, at rest. [1/m]
    """

    panel: PlacedPanel
    area_m2: float
    round_m: float
    found_per_m: float

    is_board_that_gives = False

    @property
    def name(self) -> str:
        """What it is called."""
        return self.panel.build_name

    def admittance(self, frequency_hz: Floats, medium: Medium) -> Complexes:
        """What products of slopes over it are taken times, (n_frequencies,): its real part takes energy. [m2]

        Notes
        -----
        A jump of pressure p' across a plate adds integral of p' dpsi/dn over it to each mode (Green's second
        identity). p' = (Z / j k) dp/dn with Z the series impedance of the layers re that of air, less the
        inertia of air of their thickness, which the modes hold. dp/dn is the sum over the modes less
        p' / round_m, the flow round a plate in free air, and less p' found_per_m, which the sum holds
        already: p' = sum a dpsi/dn / (j k / Z + 1 / round_m + found_per_m). Without a way round that is the
        sheet in a tube of textbooks; without a way through it is a rigid plate that air flows round.
        """
        k = 2.0 * np.pi * frequency_hz / medium.speed_of_sound_m_s
        if self.panel.build.back == "solid":  # a board on a frame: heavy, so it stands still
            through = np.full(len(k), np.inf + 0j)
        else:
            through = series_impedance(self.panel, frequency_hz, medium) - 1j * k * self.panel.thickness_m
        return through_and_round(through, k, round_per_m=1.0 / self.round_m + self.found_per_m)


def through_and_round(through: Complexes, k: Floats, *, round_per_m: float) -> Complexes:
    """The same for a series impedance re air and wavenumbers, (n_frequencies,) each. [m2]"""
    return np.asarray(1j / (k * (1j * k / through + round_per_m)))


def series_impedance(panel: PlacedPanel, frequency_hz: Floats, medium: Medium) -> Complexes:
    """Of the layers of a panel re that of air: theirs with no pressure behind, (n_frequencies,)."""
    nothing = np.full(len(frequency_hz), _NO_PRESSURE)
    face = reflection(stack_of(panel.build), frequency_hz, 1.0, medium, backing=nothing)
    return np.asarray((1.0 + face) / (1.0 - face))


def hanging_panels(room: Room, modes: RoomModes) -> tuple[list[Hanging], list[Floats]]:
    """Panels with air on both sides, and for each cloud the products of slopes of modes over it. [1/m3]"""
    found: list[Hanging] = []
    overlaps: list[Floats] = []
    moves = modes.eigenvalues > 0.5 * modes.eigenvalues[1]  # all but the pressure that is the same everywhere
    for group in room.free_groups:
        panels = [room.panels[k] for k in group.panels if room.panels[k].kind != "corner"]
        if not panels:
            continue
        areas = np.array([panel.area_m2 for panel in panels])
        slopes, round_m = _slopes(room, modes, panels)
        # With the same jump across all of them, as what flows round them is told for.
        held = np.sum((areas @ slopes)[moves] ** 2 / modes.eigenvalues[moves]) / areas.sum()
        found.append(Hanging(panels[0], float(areas.sum()), round_m, float(held)))
        overlaps.append(slopes.T @ (areas[:, None] * slopes))
    return found, overlaps


def _slopes(room: Room, modes: RoomModes, panels: list[PlacedPanel]) -> tuple[Floats, float]:
    """Mean slope of each mode across each panel of a plane, (n_panels, n_modes), and what flows round them.

    The mean is weighed by the jump of pressure that there would be if nothing flowed through. [1/m^2.5, m]
    """
    n_patches = next((n for n, most in _PATCHES if len(panels) <= most), 1)
    lattices = [_lattice(panel, panels, n_patches) for panel in panels]
    normal = panels[0].normal
    jumps = _jumps(lattices, normal, _mirrors(room, panels))
    step = _SLOPE_M * normal
    slopes, volume = [], 0.0
    for (rings, points), jump in zip(lattices, jumps, strict=True):
        across = (modes.at(points + step) - modes.at(points - step)) / (2.0 * _SLOPE_M)
        slopes.append(jump @ across / jump.sum())
        patch_m2 = np.linalg.norm(np.cross(rings[0, 1] - rings[0, 0], rings[0, 3] - rings[0, 0]))
        volume += float(jump.sum() * patch_m2)
    return np.array(slopes), volume / sum(panel.area_m2 for panel in panels)


def _lattice(panel: PlacedPanel, panels: list[PlacedPanel], n_patches: int) -> tuple[Floats, Floats]:
    """Rings (n, 4, 3) over a panel and their middles (n, 3), half-way between its faces.

    Rings of a lattice stand a quarter of a step inside a free edge: so few of them come near the plate.
    """
    sides = ((panel.right, panel.width_m), (panel.up, panel.height_m))
    step_m = min(panel.width_m, panel.height_m) / n_patches
    lines = []
    for along, size_m in sides:
        n = max(round(size_m / step_m), 1)
        inset = [0.0 if _is_joined(panel, end * along, size_m, panels) else 0.25 for end in (-1.0, 1.0)]
        own = size_m / (n + sum(inset))
        lines.append(own * (np.arange(n + 1) + inset[0]) - 0.5 * size_m)
    u, v = lines
    corners = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1)
    around = np.stack([corners[:-1, :-1], corners[1:, :-1], corners[1:, 1:], corners[:-1, 1:]], axis=-2)
    flat = around.reshape(-1, 4, 2)
    rings = panel.middle + flat[..., :1] * panel.right + flat[..., 1:] * panel.up
    return rings, rings.mean(axis=1)


def _is_joined(panel: PlacedPanel, way: Floats, size_m: float, panels: list[PlacedPanel]) -> bool:
    """Whether another panel goes on where one ends."""
    beyond = panel.middle + (0.5 * size_m + _TOUCHING_M) * way
    for other in panels:
        u, v = (beyond - other.middle) @ other.right, (beyond - other.middle) @ other.up
        if other is not panel and abs(u) < 0.5 * other.width_m and abs(v) < 0.5 * other.height_m:
            return True
    return False


def _mirrors(room: Room, panels: list[PlacedPanel]) -> list[tuple[Floats, float]]:
    """Normals and offsets of the walls near some panels, in which the flow round them is mirrored."""
    near = []
    for facet in room.facets[: room.n_solid_facets]:
        away = np.array([facet.normal @ panel.middle - facet.offset for panel in panels])
        reach_m = max(max(panel.width_m, panel.height_m) for panel in panels)
        if room.surfaces[facet.surface].owner is not None or not (0.0 < away.min() < reach_m):
            continue
        foot = panels[int(away.argmin())].middle - away.min() * facet.normal
        if facet_distance_m(foot, facet) <= room.tolerance_m:
            near.append((facet.normal, float(facet.offset)))
    return near


def _jumps(
    lattices: list[tuple[Floats, Floats]], normal: Floats, mirrors: list[tuple[Floats, float]]
) -> list[Floats]:
    """Jump of pressure at the patches of panels that nothing flows through, re the slope across, (n,) each.

    The panels lie in one plane; the slope is that of the pressure that meets them. [m]

    Notes
    -----
    A jump that is the same all over a patch flows as a ring of that circulation does (vortex lattice; Katz,
    Plotkin, Low-Speed Aerodynamics, ch. 10; from memory); the law of Biot and Savart gives its flow.
    """
    rings = np.concatenate([own for own, _ in lattices])
    points = np.concatenate([own for _, own in lattices])
    flow = _flow(rings, points) @ normal
    for across, offset in mirrors:
        image = rings - 2.0 * (rings @ across - offset)[..., None] * across
        flow -= _flow(image, points) @ normal  # mirrored, a ring runs the other way round
    jump = np.abs(np.linalg.solve(flow, np.ones(len(flow))))
    ends = np.cumsum([len(own) for _, own in lattices])[:-1]
    return np.split(jump, ends)


def _flow(rings: Floats, points: Floats) -> Floats:
    """Flow at points (n, 3) that rings (m, 4, 3) of circulation 1 drive, (n, m, 3). [1/m]"""
    return np.concatenate(
        [_flow_at(rings, points[k : k + _AT_ONCE]) for k in range(0, len(points), _AT_ONCE)]
    )


def _flow_at(rings: Floats, points: Floats) -> Floats:
    total = np.zeros((len(points), len(rings), 3))
    for k in range(4):
        a, b = points[:, None] - rings[:, k], points[:, None] - rings[:, (k + 1) % 4]
        long_a, long_b = np.linalg.norm(a, axis=-1), np.linalg.norm(b, axis=-1)
        below = long_a * long_b * (long_a * long_b + np.sum(a * b, axis=-1))
        total += np.cross(a, b) * ((long_a + long_b) / below)[..., None]
    return total / (4.0 * np.pi)

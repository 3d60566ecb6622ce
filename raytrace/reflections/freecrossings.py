"""What free-hung panels let through of the legs that cross them, there and back."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import band_frequencies_hz, hung_transmission, kirchhoff_weight, shared_weight
from raytrace.reflections.paths import Paths
from raytrace.room import FreePanelGroup, PlacedPanel, Room, passed_pressure

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]


class Crossings(NamedTuple):
    """Legs of paths that cross the plane of free-hung panels, path by path in the order of the legs.

    rows, legs (n,); from_front (n,): whether the leg comes from the front of the panels.
    """

    rows: Ints
    legs: Ints
    from_front: Bools

    @property
    def there_and_back(self) -> Ints:
        """Which go behind the panels and come back at the path's next crossing, indices into the others."""
        follows = (self.rows[1:] == self.rows[:-1]) & self.from_front[:-1] & ~self.from_front[1:]
        return np.flatnonzero(follows)


def find_crossings(panel: PlacedPanel, points: Floats) -> Crossings:
    """Crossings of the middle plane of a panel, drawn out, by paths with points (n_paths, m, 3)."""
    heights = (points - panel.middle) @ panel.normal
    rows, legs = np.nonzero(heights[:, :-1] * heights[:, 1:] < 0.0)
    return Crossings(rows, legs, heights[rows, legs] > 0.0)


def pass_free_group(
    room: Room,
    group: FreePanelGroup,
    paths: Paths,
    ends: tuple[Floats, Floats],
    factor: Complexes,
    bands: Ints | slice = slice(None),
) -> None:
    """Multiply `factor` (n_paths, n_bands, 24) by what a sheet lets through of every leg that crosses it.

    `ends`: images and receivers of all legs, from `path_ends`; `bands`: octaves of `factor`.
    """
    members = [room.panels[k] for k in group.panels]
    first = members[0]
    crossings = find_crossings(first, paths.points)
    rows, legs, from_front = crossings
    if len(rows) == 0:
        return
    images, receivers = ends[0][rows, legs], ends[1][rows, legs]
    cosine = incidence_cosines(first.normal, images, receivers)
    passed = passed_pressure(first.build, cosine, room.medium, bands=bands)
    weights = []
    for panel in members:
        outline = 0.5 * (panel.corners + panel.back)
        each = np.empty(passed.shape, np.complex128)
        # Anticlockwise as seen by the receiver, who is on the side the sound leaves to.
        for side, loop in ((from_front, outline[::-1]), (~from_front, outline)):
            each[side] = outline_weight(room, loop, images[side], receivers[side], bands)
        weights.append(each)
    through = hung_transmission([passed] * len(members), weights)
    there = crossings.there_and_back
    if len(there):
        shared = shared_by_crossings(room, members, paths, crossings, ends, bands)
        taken = (passed[there] - 1.0) * (passed[there + 1] - 1.0)
        through[there] = through[there] * through[there + 1] + taken * shared
        through[there + 1] = 1.0
    np.multiply.at(factor, rows, through)


def shared_by_crossings(
    room: Room,
    members: Sequence[PlacedPanel],
    paths: Paths,
    crossings: Crossings,
    ends: tuple[Floats, Floats],
    bands: Ints | slice = slice(None),
) -> Complexes:
    """Sum of K2 - K K' over all pairs of panels, for each path there and back, (n, n_bands, 24).

    Parameters
    ----------
    room : Room
    members : sequence of PlacedPanel
        In one plane.
    paths, crossings : Paths, Crossings
    ends : tuple of (n_paths, n_legs, 3) float
        Source mirrored in the bounces before each leg, listener in the later ones. [m]
    bands : (n_bands,) int or slice
        Octaves that are asked for.
    """
    there = crossings.there_and_back
    rows, legs, back = crossings.rows[there], crossings.legs[there], crossings.legs[there + 1]
    outlines = np.stack([0.5 * (panel.corners + panel.back) for panel in members])
    second = np.repeat(outlines[None], len(rows), axis=0)
    frequency = band_frequencies_hz()[bands]
    shared = shared_weight(
        _unfolded(room, paths, rows, (legs, back), second),
        second,
        ends[0][rows, back],
        ends[1][rows, back],
        frequency.ravel(),
        speed_of_sound_m_s=room.speed_of_sound_m_s,
    )
    return shared.reshape(len(rows), *frequency.shape)


def _unfolded(room: Room, paths: Paths, rows: Ints, legs: tuple[Ints, Ints], points: Floats) -> Floats:
    """Points (n, ..., 3) met on an earlier leg, mirrored in the bounces between it and a later one."""
    normals, offsets = room.facet_arrays.normals, room.facet_arrays.offsets
    mirrored = points.copy()
    for bounce in range(paths.facets.shape[1]):
        between = np.flatnonzero((legs[0] <= bounce) & (bounce < legs[1]))
        facet = paths.facets[rows[between], bounce]
        normal = normals[facet][:, None, None]
        heights = np.sum(mirrored[between] * normal, axis=3) - offsets[facet][:, None, None]
        mirrored[between] -= 2.0 * heights[..., None] * normal
    return mirrored


def incidence_cosines(normal: Floats, images: Floats, receivers: Floats) -> Floats:
    """Cosines of the angles at which lines (n, 3) to (n, 3) meet a plane, (n,)."""
    way = receivers - images
    cosines: Floats = np.minimum(np.abs(way @ normal) / np.linalg.norm(way, axis=1), 1.0)
    return cosines


def outline_weight(
    room: Room, outline: Floats, images: Floats, receivers: Floats, bands: Ints | slice = slice(None)
) -> Complexes:
    """Weight K of a free outline (n_corners, 3) between pairs of points, (n, n_bands, 24)."""
    return kirchhoff_weight(
        outline, images, receivers, band_frequencies_hz()[bands], speed_of_sound_m_s=room.speed_of_sound_m_s
    )

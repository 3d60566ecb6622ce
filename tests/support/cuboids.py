"""Rooms put together from prisms and turned boxes: facets, arrays and triangles without a scene file."""

from types import SimpleNamespace

import numpy as np

from raytrace.reflections import BeamTree
from raytrace.room.facets import Facet, facet_arrays
from raytrace.room.polygons import triangulate


def prism(corners, low, high, *, inwards=True):
    """Outlines of a prism over corners (n, 2), anticlockwise from above; normals inwards or outwards."""
    corners = np.asarray(corners, float)
    below = np.column_stack([corners, np.full(len(corners), low)])
    above = np.column_stack([corners, np.full(len(corners), high)])
    outlines = [below, above[::-1]]
    for i in range(len(corners)):
        j = (i + 1) % len(corners)
        outlines.append(np.array([below[j], below[i], above[i], above[j]]))
    return outlines if inwards else [outline[::-1] for outline in outlines]


def turned_box(centre, size, *, yaw=0.0, pitch=0.0):
    """Outlines of a box that stands in a room; angles in radians."""
    half = np.asarray(size, float) / 2
    corners = [(-half[0], -half[1]), (half[0], -half[1]), (half[0], half[1]), (-half[0], half[1])]
    c, s = np.cos(yaw), np.sin(yaw)
    d, t = np.cos(pitch), np.sin(pitch)
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ np.array([[d, 0, t], [0, 1, 0], [-t, 0, d]])
    return [outline @ turn.T + centre for outline in prism(corners, -half[2], half[2], inwards=False)]


def box_room(size):
    length, width, height = size
    return prism([(0, 0), (length, 0), (length, width), (0, width)], 0, height)


def room_of(outlines, holes=None):
    """What kernels and oracles need of a room: its facets, arrays, triangles and tolerance."""
    facets = []
    for index, outline in enumerate(outlines):
        outline = np.ascontiguousarray(outline, float)
        normal = np.cross(outline, np.roll(outline, -1, axis=0)).sum(axis=0)
        normal /= np.linalg.norm(normal)
        cut = tuple(np.asarray(hole, float) for hole in (holes or {}).get(index, ()))
        facets.append(Facet(index, outline, cut, normal, float((outline @ normal).mean())))
    pieces = [triangulate(facet.outline, facet.holes) for facet in facets]
    arrays = facet_arrays(facets)
    return SimpleNamespace(
        facets=facets,
        facet_arrays=arrays,
        triangles=np.concatenate(pieces),
        facet_of_triangle=np.repeat(np.arange(len(facets)), [len(piece) for piece in pieces]),
        tolerance_m=1e-9 * float(np.linalg.norm(arrays.high.max(axis=0) - arrays.low.min(axis=0))),
    )


def room_with_boxes(n_boxes, *, seed=0, size=(6.0, 4.5, 2.8), sides=(0.15, 0.6)):
    """A box room with turned boxes anywhere in it: 6 + 6 n_boxes facets."""
    rng = np.random.default_rng(seed)
    outlines = box_room(size)
    for _ in range(n_boxes):
        centre = rng.uniform(0.08, 0.92, 3) * size
        outlines += turned_box(
            centre, rng.uniform(*sides, 3), yaw=rng.uniform(0, np.pi), pitch=rng.uniform(-0.3, 0.3)
        )
    return room_of(outlines)


def free_points(room, n_points, *, seed, size=(6.0, 4.5, 2.8), clearance=0.02):
    """Random points (n, 3) in the air of a box room with boxes in it, `clearance` [m] off the boxes."""
    rng = np.random.default_rng(seed)
    arrays, points = room.facet_arrays, []
    while len(points) < n_points:
        point = rng.uniform(0.02, 0.98, 3) * size
        heights = arrays.normals[6:] @ point - arrays.offsets[6:]
        if all(box.max() > clearance for box in heights.reshape(-1, 6)):
            points.append(point)
    return np.array(points)


def tree_paths(room, source, listener, up_to_order, within_m):
    """All paths between two points by a tree of their own, asked as a `ListeningPoint` asks it."""
    tree = BeamTree(room.facet_arrays, room.tolerance_m, n_solid=len(room.facets))
    tree.grow(listener, up_to_order=up_to_order, within_m=within_m, source=source)
    return tree.paths(source, within_m, up_to_order)

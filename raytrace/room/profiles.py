"""Rooms whose cross-section is carried along their length or width: gable, lean-to, section."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace.room.polygons import NamedPolygon, clip_convex, signed_area
from raytrace.scene import GableRoom, LeanToRoom, SectionRoom

Floats = NDArray[np.float64]


def gable_polygons(room: GableRoom) -> list[NamedPolygon]:
    """Faces of a room under two slopes that meet in a ridge."""
    along_length = room.ridge_along == "length"
    near, far = ("left", "right") if along_length else ("front", "back")
    span, run = (room.width, room.length) if along_length else (room.length, room.width)
    near_eaves, far_eaves = room.eaves
    ridge_at = 0.5 * span if room.ridge_at is None else room.ridge_at
    profile = np.array(
        [(0, 0), (span, 0), (span, far_eaves), (ridge_at, room.ridge), (0, near_eaves)], np.float64
    )
    edges = ["floor", f"{far} wall", f"{far} slope", f"{near} slope", f"{near} wall"]
    if room.flat is not None:
        profile, edges = clip_convex(profile, edges, np.array([0.0, 1.0]), room.flat, "ceiling")
    order = ("floor", f"{near} slope", f"{far} slope", *_FOUR_WALLS, "ceiling")
    return _carried(profile, edges, run, along_length=along_length, order=order)


_FOUR_WALLS = ("front wall", "back wall", "left wall", "right wall")


def lean_to_polygons(room: LeanToRoom) -> list[NamedPolygon]:
    """Faces of a room under one sloping ceiling."""
    along_length = room.low_side in ("left", "right")
    near, far = ("left", "right") if along_length else ("front", "back")
    span, run = (room.width, room.length) if along_length else (room.length, room.width)
    at_near, at_far = (room.low, room.high) if room.low_side == near else (room.high, room.low)
    profile = np.array([(0, 0), (span, 0), (span, at_far), (0, at_near)], np.float64)
    edges = ["floor", f"{far} wall", "ceiling", f"{near} wall"]
    return _carried(profile, edges, run, along_length=along_length, order=("floor", "ceiling", *_FOUR_WALLS))


def section_polygons(room: SectionRoom) -> list[NamedPolygon]:
    """Faces of a room whose cross-section is the same all along."""
    along_length = room.length is not None
    run = room.length or room.width
    assert run is not None  # the reader asks for exactly one of the two
    profile = np.array(room.profile, np.float64)
    profile = _without_straight_corners(profile)
    backward = signed_area(profile) < 0
    if backward:
        profile = profile[::-1]
    near, far = ("left", "right") if along_length else ("front", "back")
    edges = [_edge_name(edge, near, far) for edge in np.roll(profile, -1, axis=0) - profile]
    # Several of one name are numbered in the order of the file.
    turn = list(range(len(edges)))
    if backward:
        turn = [*turn[-2::-1], turn[-1]]
    numbered: dict[str, list[str]] = {}
    for name in set(edges):
        several = [k for k in turn if edges[k] == name]
        if len(several) > 1:
            numbered[name] = [f"{name} {number}" for number in range(1, len(several) + 1)]
            for k, own in zip(several, numbered[name], strict=True):
                edges[k] = own
    kinds = (
        "floor",
        "ceiling",
        "left wall",
        "right wall",
        "front wall",
        "back wall",
        f"{near} slope",
        f"{far} slope",
    )
    order = [name for kind in kinds for name in numbered.get(kind, [kind])]
    return _carried(profile, edges, run, along_length=along_length, order=order)


_PLUMB_SINE = math.sin(math.radians(3.0))


def _edge_name(edge: Floats, near: str, far: str) -> str:
    """What a person calls the face over an edge of an anticlockwise profile."""
    across, up = edge / np.linalg.norm(edge)
    if abs(up) <= _PLUMB_SINE:
        return "floor" if across > 0 else "ceiling"
    side = far if up > 0 else near
    return f"{side} wall" if abs(across) <= _PLUMB_SINE else f"{side} slope"


def _carried(
    profile: Floats, edges: Sequence[str], run_m: float, *, along_length: bool, order: Sequence[str]
) -> list[NamedPolygon]:
    """An anticlockwise profile carried along the room, closed by upright walls at both ends.

    `edges[k]` names the face over the edge from corner k to the next; `order` holds the names of all faces in
    the sequence they come in, and may hold more.
    """
    keep = np.linalg.norm(np.roll(profile, -1, axis=0) - profile, axis=1) > 1e-9
    profile, edges = profile[keep], [name for name, kept in zip(edges, keep, strict=True) if kept]
    across, up = profile.T
    ends = []
    for at in (0.0, run_m):
        along = np.full(len(profile), at)
        ends.append(np.column_stack([along, across, up] if along_length else [across, along, up]))
    first, last = ends if along_length else ends[::-1]
    near, far = ("front wall", "back wall") if along_length else ("right wall", "left wall")
    faces = [(near, first), (far, last[::-1])]
    for k, name in enumerate(edges):
        j = (k + 1) % len(profile)
        faces.append((name, np.array([first[k], last[k], last[j], first[j]])))
    faces.sort(key=lambda face: order.index(face[0]))
    return [NamedPolygon(name, None, outline, (), ("room",)) for name, outline in faces]


def _without_straight_corners(profile: Floats) -> Floats:
    before, after = profile - np.roll(profile, 1, axis=0), np.roll(profile, -1, axis=0) - profile
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    size = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    turning: Floats = profile[np.abs(turn) > 1e-9 * size]
    return turning

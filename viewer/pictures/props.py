"""What a picture shows so that things stand on something: legs, stands, frames. No sound meets them."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import Study, cabinet_size_m, is_overhead, speaker_axis
from viewer.pictures.faces import PARTS, box, polygons
from viewer.pictures.meshes import BUST, SUB_SIDE

if TYPE_CHECKING:
    from viewer.pictures.mesh import Mesh

Floats = NDArray[np.float64]
Block = tuple[str, int, list[Floats]]  # part, surface it belongs to or -1, outlines

ALONG = np.array([1.0, 0.0, 0.0])
LEG_M, LEG_INSET_M = 0.045, 0.07
SLAB_M, LEAST_GAP_M = 0.12, 0.25  # a table is no thicker, and stands higher than that over what is below
STAND_FROM_M, GAP_M = 0.12, 0.01  # less than the first under a box is filled by a pad, the second is none
LAMP_HALF_M = 0.6
FRAME_M, FRAME_DEEP_M, MULLION_FROM_M = 0.06, 0.03, 0.9
HANDLE_M, HANDLE_HEIGHT_M = (0.02, 0.13, 0.025), 1.05
_LAMP = re.compile(r"\b(lamp|light|luminaire|pendant)\b", re.IGNORECASE)


def props(study: Study) -> "Mesh":
    """Blocks, six faces each; cell arrays `part` ("leg" or "frame") and `surface` (-1: of no wall).

    Where a table, a speaker or a listener has air below, it gets legs, a stand or a post down to whatever is
    there: which real one it has, the scene does not say.
    """
    blocks = [*_legs(study), *_stands(study), *_posts(study), *_frames(study), *_lamps(study)]
    loops = [loop for _, _, outlines in blocks for loop in outlines]
    parts = [PARTS.index(part) for part, _, outlines in blocks for _ in outlines]
    return polygons(loops, part=parts, surface=[surface for _, surface, outlines in blocks for _ in outlines])


def _block(low: Sequence[float], high: Sequence[float]) -> list[Floats]:
    """An upright box between two corners."""
    one, other = np.array(low, np.float64), np.array(high, np.float64)
    return box((one + other) / 2, tuple((other - one).tolist()), ALONG)


def _below_m(study: Study, point: Floats) -> float:
    """How far down the next face is; 0 where the point is not in the air."""
    start = np.array([point]) - [0.0, 0.0, 0.002]
    if not study.room.contains(start)[0]:
        return 0.0
    down_m = float(study.room.first_hit(start, np.array([[0.0, 0.0, -1.0]]))[0][0])
    return down_m + 0.002 if np.isfinite(down_m) else 0.0


def _column(top: Floats, height_m: float, width_m: float) -> Block:
    half = width_m / 2
    low = [top[0] - half, top[1] - half, top[2] - height_m]
    return "leg", -1, _block(low, [top[0] + half, top[1] + half, top[2]])


def _plate(centre: Floats, width_m: float, thick_m: float) -> Block:
    half = width_m / 2
    high = [centre[0] + half, centre[1] + half, centre[2] + thick_m]
    return "leg", -1, _block([centre[0] - half, centre[1] - half, centre[2]], high)


def _legs(study: Study) -> list[Block]:
    """Legs at the corners of slabs that would float."""
    blocks = []
    cabinets = {cabinet.owner for cabinet in study.room.cabinets}
    for owner, skin in study.room.skins.items():
        points = np.unique(np.round(skin.reshape(-1, 3), 4), axis=0)
        size = np.ptp(points, axis=0)
        if owner is None or owner in cabinets or size[2] > SLAB_M or size[:2].min() < 2 * LEG_INSET_M + LEG_M:
            continue
        feet = points[points[:, 2] < points[:, 2].min() + 1e-3]
        middle = feet.mean(axis=0)
        for foot in feet if len(feet) <= 6 else ():
            away = middle - foot
            top = foot + away * min(1.0, 1.4 * LEG_INSET_M / max(float(np.hypot(*away[:2])), 1e-6))
            if (below_m := _below_m(study, top)) > LEAST_GAP_M:
                blocks.append(_column(top, below_m, LEG_M))
    return blocks


def _stands(study: Study) -> list[Block]:
    """What carries each speaker, down to the desk or the floor."""
    blocks: list[Block] = []
    for speaker in study.scene.speakers:
        place = np.array(speaker.position)
        if speaker.use == "sub":
            size, bottom = np.full(3, SUB_SIDE), place - [0.0, 0.0, SUB_SIDE / 2]
        else:
            size, axis = cabinet_size_m(speaker), speaker_axis(study.scene, speaker)
            bottom = place - size[0] / 2 * axis - [0.0, 0.0, size[2] / 2]
        below_m = _below_m(study, bottom)
        width_m = float(size[:2].min())
        if below_m < GAP_M:
            continue
        foot = bottom - [0.0, 0.0, below_m]
        if below_m < STAND_FROM_M:
            blocks.append(_column(bottom, below_m, 0.8 * width_m))
            continue
        blocks += [
            _plate(bottom - [0.0, 0.0, 0.012], 0.9 * width_m, 0.012),
            _column(bottom, below_m, 0.055),
            _plate(foot, min(1.35 * width_m, 0.30), 0.018),
        ]
    return blocks


def _posts(study: Study) -> list[Block]:
    """A post under the head and shoulders of every listener."""
    blocks: list[Block] = []
    for seat in study.scene.seats:
        top = np.array(seat.ears) - [-BUST[-1][2], 0.0, -BUST[-1][3] - 0.01]
        if (below_m := _below_m(study, top)) > GAP_M:
            foot = top - [0.0, 0.0, below_m]
            blocks += [_column(top, below_m, 0.035), _plate(foot, 0.30, 0.015)]
    return blocks


def _frames(study: Study) -> list[Block]:
    """Frames of windows and doors, and handles, on their wall."""
    blocks: list[Block] = []
    for opening in study.room.openings:
        if opening.kind not in ("window", "door"):
            continue
        frame, (u0, v0, u1, v1) = study.room.surfaces[opening.surface].frame, opening.rect
        bars = [(u0, v0, u0 + FRAME_M, v1), (u1 - FRAME_M, v0, u1, v1), (u0, v1 - FRAME_M, u1, v1)]
        if opening.kind == "window":
            bars.append((u0, v0, u1, v0 + FRAME_M))
            if u1 - u0 > MULLION_FROM_M:
                middle = (u0 + u1) / 2
                bars.append((middle - FRAME_M / 2, v0, middle + FRAME_M / 2, v1))
        found = [("frame", bar, FRAME_DEEP_M) for bar in bars]
        swing = study.scene.openings[opening.index].swing
        if opening.kind == "door" and v0 + HANDLE_HEIGHT_M < v1:
            thick, long, out = HANDLE_M
            at = u0 + 0.09 if swing is not None and swing.hinge == "right" else u1 - 0.09 - long
            height = v0 + HANDLE_HEIGHT_M
            found.append(("leg", (at, height, at + long, height + thick), out + FRAME_DEEP_M))
        for part, (a0, b0, a1, b1), deep_m in found:
            outline = frame.to_room(np.array([[a0, b0], [a1, b0], [a1, b1], [a0, b1]]))
            blocks.append((part, opening.surface, _raised(outline, deep_m * frame.n)))
    return blocks


def _raised(outline: Floats, way: Floats) -> list[Floats]:
    """A block over a flat outline (4, 3), without its back."""
    front = outline + way
    sides = [np.array([outline[k], outline[k - 3], front[k - 3], front[k]]) for k in range(4)]
    return [front, *sides]


def _lamps(study: Study) -> list[Block]:
    """Lamps where the scene keeps a ceiling free for one."""
    blocks: list[Block] = []
    for place in lamp_places(study):
        at, drop_m = place[:3], place[3]
        shade_m = min(0.14, 0.6 * drop_m)
        half = np.minimum(place[4:], LAMP_HALF_M)
        low = at - [*half, drop_m]
        blocks.append(("frame", -1, _block(low, low + np.array([*(2 * half), shade_m]))))
        if drop_m > shade_m + GAP_M:
            blocks.append(_column(at, drop_m - shade_m, 0.012))
    return blocks


def lamp_places(study: Study) -> list[Floats]:
    """Where ceilings are kept free for a lamp; how far that reaches down, half length and width. (6,) [m]"""
    places = []
    for area in study.scene.keep_outs:
        index = study.room.surface_index(area.surface) if area.surface in study.room.surface_names else None
        if index is None or not _LAMP.search(f"{area.name} {area.reason or ''}"):
            continue
        frame = study.room.surfaces[index].frame
        if not is_overhead(frame.n):
            continue
        half = np.full(2, 0.8 * area.radius) if area.radius is not None else np.array(area.size) / 2
        at = np.array(area.centre) if area.at is None else np.array(area.at) + half
        places.append(np.array([*frame.to_room(at), max(float(area.depth), 0.05), *half]))
    return places

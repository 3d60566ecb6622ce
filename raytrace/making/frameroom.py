"""Whether the frames of panels, which stand outside their slabs, have room beside each other and at edges."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, millimetres, sentence
from raytrace.making.framing import take_apart
from raytrace.room import PlacedPanel, Room
from raytrace.scene import Build

Floats = NDArray[np.float64]

_HAIR_M = 2e-4  # places written to a tenth of a millimetre may stand that much nearer to each other


def frame_notes(room: Room) -> tuple[Sentence, ...]:
    """Panels whose frames do not fit where their slabs do, a sentence each.

    A panel is placed by its slab. Frames are drawn outside it: neighbours need the thickness of both
    between them, and a wall, window or door needs that of one.

    Parameters
    ----------
    room : Room

    Returns
    -------
    tuple of Sentence
        By pairs of groups, then by panels.
    """
    hung = [panel for panel in room.panels if panel.kind in ("surface", "cloud", "stand")]
    pairs: dict[str, tuple[float, float]] = {}
    edges: dict[str, tuple[float, float]] = {}
    rects = np.array([panel.rect for panel in hung]).reshape(-1, 4)
    surfaces = np.array([-1 if panel.surface is None else panel.surface for panel in hung])
    frames_m = np.array([frame_beside_m(panel.build) for panel in hung])
    for k, panel in enumerate(hung):
        frame_m = float(frames_m[k])
        apart_m = _apart_m(panel.rect, rects[k + 1 :])
        near = (apart_m < frame_m + frames_m[k + 1 :] - _HAIR_M) & (surfaces[k + 1 :] == surfaces[k])
        for j in np.flatnonzero(near & (surfaces[k] >= 0)):
            other = hung[k + 1 + j]
            if not (panel.in_raft and panel.group == other.group):
                names = " and ".join(dict.fromkeys((panel.group, other.group)))
                _keep_worst(pairs, names, float(apart_m[j]), frame_m + float(frames_m[k + 1 + j]))
        if panel.surface is not None and panel.kind != "stand":
            for what, apart in _edges(room, panel):
                _keep_worst(edges, f"{panel.name}, {what}", apart, frame_m)
    near = "{where}: slabs {apart} apart leave no room for both frames; leave {needed}."
    at_edge = "{where}: {apart} leave no room for the frame; leave {needed}."
    return tuple(
        sentence(told, where=where, apart=millimetres(max(apart_m, 0.0)), needed=millimetres(needed_m))
        for told, found in ((near, pairs), (at_edge, edges))
        for where, (apart_m, needed_m) in found.items()
    )


def frame_beside_m(build: Build) -> float:
    """How far the frame of a build stands out beside its slab. [m]"""
    piece = take_apart(build, hung=False)
    return 0.5 * (piece.outer_m[0] - piece.slab_m[0])


def with_frame(panel: PlacedPanel) -> PlacedPanel:
    """A panel as large as it is made: slab and frame; what stands keeps its lower edge."""
    beside_m = frame_beside_m(panel.build)
    below, above = (0.0, 2.0) if panel.kind == "stand" else (-1.0, 1.0)
    steps = np.array([(-1.0, below), (1.0, below), (1.0, above), (-1.0, above)])
    return replace(
        panel,
        corners=panel.corners + beside_m * steps @ np.array([panel.right, panel.up]),
        width_m=panel.width_m + 2.0 * beside_m,
        height_m=panel.height_m + 2.0 * beside_m,
        rect=panel.rect + beside_m * np.array([-1.0, below, 1.0, above]),
    )


def _keep_worst(found: dict[str, tuple[float, float]], name: str, apart: float, needed: float) -> None:
    if apart < needed - _HAIR_M:
        found[name] = min(found.get(name, (apart, needed)), (apart, needed))


def _apart_m(rect: Floats, others: Floats) -> Floats:
    """Clear distance of a rectangle u0 v0 u1 v1 from others (n, 4) along the side where it is larger."""
    shared_m = np.minimum(rect[2:], others[:, 2:]) - np.maximum(rect[:2], others[:, :2])
    apart_m: Floats = -shared_m.min(axis=1)
    return apart_m


def _edges(room: Room, panel: PlacedPanel) -> list[tuple[str, float]]:
    """What a panel on or under a surface comes near to, and how far that is from its slab."""
    assert panel.surface is not None, "a panel on a surface knows which"
    surface = room.surfaces[panel.surface]
    u0, v0, u1, v1 = panel.rect
    rim = min(u0, v0, surface.frame.width - u1, surface.frame.height - v1)
    near = [(f"edge of the {surface.name}", max(float(rim), 0.0))]
    for opening in surface.openings:
        if opening.kind != "cover":
            near.append((opening.name, max(float(_apart_m(panel.rect, opening.rect[None])[0]), 0.0)))
    return near

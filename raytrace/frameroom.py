"""Whether the frames of panels, which stand outside their slabs, have room beside each other and at edges."""

import numpy as np

from raytrace.framing import take_apart
from raytrace.panels import PlacedPanel
from raytrace.room import Room

_HAIR_M = 1e-4


def frame_notes(room: Room) -> tuple[str, ...]:
    """Panels whose frames do not fit where their slabs do, a sentence each.

    A panel is placed by its slab. Frames are drawn outside it: neighbours need the thickness of both
    between them, and a wall, window or door needs that of one.

    Parameters
    ----------
    room : Room

    Returns
    -------
    tuple of str
        By pairs of groups, then by panels.
    """
    hung = [panel for panel in room.panels if panel.kind in ("surface", "cloud", "stand")]
    pairs: dict[str, tuple[float, float]] = {}
    edges: dict[str, tuple[float, float]] = {}
    for k, panel in enumerate(hung):
        frame_m = _frame_m(panel)
        for other in hung[k + 1 :]:
            if panel.surface is None or panel.surface != other.surface:
                continue
            names = " and ".join(dict.fromkeys((panel.group, other.group)))
            _keep_worst(pairs, names, _apart_m(panel.rect, other.rect), frame_m + _frame_m(other))
        if panel.surface is not None and panel.kind != "stand":
            for what, apart in _edges(room, panel):
                _keep_worst(edges, f"{panel.name}, {what}", apart, frame_m)
    return (
        *(
            f"{names}: slabs {max(1000 * apart, 0.0):.0f} mm apart leave no room for both frames; leave "
            f"{1000 * needed:.0f} mm."
            for names, (apart, needed) in pairs.items()
        ),
        *(
            f"{names}: {1000 * apart:.0f} mm leave no room for the frame; leave {1000 * needed:.0f} mm."
            for names, (apart, needed) in edges.items()
        ),
    )


def _frame_m(panel: PlacedPanel) -> float:
    """How far a frame stands out beside its slab."""
    piece = take_apart(panel.build, hung=False)
    return 0.5 * (piece.outer_m[0] - piece.slab_m[0])


def _keep_worst(found: dict[str, tuple[float, float]], name: str, apart: float, needed: float) -> None:
    if apart < needed - _HAIR_M:
        found[name] = min(found.get(name, (apart, needed)), (apart, needed))


def _apart_m(rect: np.ndarray, other: np.ndarray) -> float:
    """Clear distance of two rectangles u0 v0 u1 v1 along the side where they are farther apart."""
    return float(np.max(np.maximum(rect[:2] - other[2:], other[:2] - rect[2:])))


def _edges(room: Room, panel: PlacedPanel) -> list[tuple[str, float]]:
    """What a panel on or under a surface comes near to, and how far that is from its slab."""
    assert panel.surface is not None, "a panel on a surface knows which"
    surface = room.surfaces[panel.surface]
    u0, v0, u1, v1 = panel.rect
    rim = min(u0, v0, surface.frame.width - u1, surface.frame.height - v1)
    near = [(f"edge of the {surface.name}", max(float(rim), 0.0))]
    for opening in surface.openings:
        if opening.kind != "cover":
            near.append((opening.name, max(_apart_m(panel.rect, opening.rect), 0.0)))
    return near

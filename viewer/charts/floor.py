"""The floor from above, for maps with matplotlib: edge, furniture, doors with their leaf, rulers along it."""

from typing import TYPE_CHECKING

import numpy as np

from raytrace import Room, Scene, is_underfoot
from viewer import look
from viewer.charts.paper import Style, points, word_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

_RIM_M = 0.05  # round the room
_FOOT_M = 0.3048
_STEPS = {"metric": (1.0, 2.0, 5.0), "imperial": (2 * _FOOT_M, 5 * _FOOT_M, 10 * _FOOT_M)}
_MOST_MARKS = 6  # along the longer side: more stand too close
_MARK_M = 0.05
_APART = 0.015  # of the map's longer side: between a mark and its figure


def draw_floor(axes: "Axes", scene: Scene, room: Room) -> None:
    """Front wall at the top, left wall at the left: the floor's edge strongly, furniture thinly, doors."""
    (x0, y0, _), (x1, y1, _) = room.bounds
    axes.axis("off")
    axes.set_xlim(y0 - _RIM_M, y1 + _RIM_M)
    axes.set_ylim(x1 + _RIM_M, x0 - _RIM_M)
    strong: Style = {"color": look.EDGE, "lw": points(6), "zorder": 3}
    thin: Style = {"color": look.EDGE, "lw": points(2.5), "zorder": 2}
    for facet in room.facets[: room.n_solid_facets]:
        if is_underfoot(facet.normal):
            closed = np.vstack([facet.outline, facet.outline[:1]])
            style = strong if room.surfaces[facet.surface].owner is None else thin
            axes.plot(closed[:, 1], closed[:, 0], **style)
    _draw_doors(axes, scene, room)


def _draw_doors(axes: "Axes", scene: Scene, room: Room) -> None:
    """Doors as gaps in the wall, with the way of their leaf where it is known."""
    for opening in room.openings:
        if opening.kind != "door":
            continue
        frame, (u0, v0, u1, _) = room.surfaces[opening.surface].frame, opening.rect
        ends = frame.to_room(np.array([(u0, v0), (u1, v0)]))
        axes.plot(ends[:, 1], ends[:, 0], color=look.WHITE, lw=points(7), zorder=3.2)
        swing = scene.openings[opening.index].swing
        if swing is not None:
            hinge, leaf = (u0, u1 - u0) if swing.hinge == "left" else (u1, u0 - u1)
            turned = np.linspace(0.0, 0.5 * np.pi, 20)
            on_wall = frame.to_room(np.column_stack([hinge + leaf * np.cos(turned), np.full(20, v0)]))
            way = np.vstack(
                [on_wall + np.outer(swing.out * np.sin(turned), frame.n), frame.to_room((hinge, v0))]
            )
            axes.plot(way[:, 1], way[:, 0], color=look.EDGE, lw=points(2.5), zorder=3.3)


def draw_rulers(axes: "Axes", room: Room, *, units: str) -> list["Text"]:
    """Distances from the front wall down the left side, from the left wall along the top, round the room."""
    (x0, y0, _), (x1, y1, _) = room.bounds
    longer_m = max(x1 - x0, y1 - y0)
    steps = _STEPS[units]
    step_m = next((step for step in steps if longer_m / step <= _MOST_MARKS), steps[-1])
    line: Style = {"color": look.MUTED, "lw": points(2.5), "clip_on": False, "zorder": 3}
    words = word_style(colour=look.MUTED)
    apart_m = _MARK_M + _APART * longer_m
    texts = []
    for axis, (low, high) in enumerate(((x0, x1), (y0, y1))):
        for k in range(1, int((high - low) / step_m + 1e-9) + 1):
            at = k * step_m
            figure = f"{at:g} m" if units == "metric" else f"{round(at / _FOOT_M)}'"
            if axis == 0:
                axes.plot([y0 - _MARK_M, y0], [low + at] * 2, **line)
                texts.append(axes.text(y0 - apart_m, low + at, figure, ha="right", va="center", **words))
            else:
                axes.plot([low + at] * 2, [x0 - _MARK_M, x0], **line)
                texts.append(axes.text(low + at, x0 - apart_m, figure, ha="center", va="bottom", **words))
    return texts

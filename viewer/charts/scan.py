"""Picture of a scan with matplotlib: which triangles became which surface, and the room fitted to them."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import CleanRoom
from viewer import look
from viewer.charts.paper import Chart, blank_figure, points, word_style, write_chart

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Floats = NDArray[np.float64]

SIZE = (2400, 1500)
_VIEW = (0.02, 0.05, 0.55, 0.83)  # left, bottom, width, height as shares of the paper
_PLAN = (0.60, 0.36, 0.37, 0.50)
_FROM = np.array([0.55, -0.85, -1.05])  # the way one looks: from above, over the left wall at the front
_MOST_DOTS = 6000


def draw_scan(room: CleanRoom, path: Path) -> Chart:
    """The scan with its triangles in the colours of their surfaces, its plan, and how far off they are.

    Parameters
    ----------
    room : CleanRoom
    path : Path
        ".png", ".svg" or ".pdf".
    """
    figure = blank_figure(SIZE)
    colours = _colours(room)
    texts = _title(figure, room)
    _draw_view(figure.add_axes(_VIEW), room, colours)
    texts += _draw_plan(figure.add_axes(_PLAN), room, colours)
    texts += _draw_key(figure, room, colours)
    caption = (
        "Each triangle of the scan in the colour of the surface it became; grey is furniture, black was left "
        "out."
    )
    return Chart(-1, -1, path, caption, write_chart(figure, path, texts))


def _colours(room: CleanRoom) -> list[str]:
    """A colour for each surface, then furniture, then what was set aside (owner -1)."""
    own = [look.scan_colour(k) for k in range(len(room.surfaces))]
    return [*own, look.SCAN_FURNITURE, look.SCAN_ASIDE]


def _title(figure: "Figure", room: CleanRoom) -> list["Text"]:
    left, top = look.BORDER_PX / figure.bbox.width, 1.0 - look.BORDER_PX / figure.bbox.height
    title = figure.text(left, top, f"Scan {room.file}", va="top", **word_style(look.NAME_PX, bold=True))
    end = title.get_window_extent().x1 / figure.bbox.width + 0.012
    n_surfaces = len(room.surfaces)
    words = f"{n_surfaces} surfaces, noise {room.noise_mm:.0f} mm, shape {room.shape.kind}"
    return [title, figure.text(end, top, words, va="top", **word_style(look.NAME_PX, look.MUTED))]


def _draw_view(axes: "Axes", room: CleanRoom, colours: list[str]) -> None:
    """The triangles as seen from above and outside, without surfaces seen from behind."""
    from matplotlib.collections import PolyCollection

    axes.set_aspect("equal")
    axes.axis("off")
    way = _FROM / np.linalg.norm(_FROM)
    across = np.array([way[1], -way[0], 0.0]) / np.hypot(way[0], way[1])
    upward = np.cross(across, way)
    normals = _normals(room)
    shown = np.array([normals[name] @ way < 0.0 for name in (s.name for s in room.surfaces)] + [True, True])
    chosen = np.flatnonzero(shown[room.owner])
    corners = room.points[room.triangles[chosen]]
    depth = corners.mean(axis=1) @ way
    order = np.argsort(-depth)
    flat = np.stack([corners @ across, corners @ upward], axis=-1)[order]
    sides = corners[:, 1:] - corners[:, :1]
    faces = np.cross(sides[:, 0], sides[:, 1])
    light = np.abs(faces @ way) / np.maximum(np.linalg.norm(faces, axis=1), 1e-12)
    tones = [_shaded(colours[k], s) for k, s in zip(room.owner[chosen][order], light[order], strict=True)]
    axes.add_collection(PolyCollection(list(flat), facecolors=tones, edgecolors=tones, linewidths=0.2))
    axes.autoscale_view()


def _shaded(colour: str, light: float) -> tuple[float, ...]:
    from matplotlib.colors import to_rgb

    return tuple(channel * (0.62 + 0.38 * light) for channel in to_rgb(colour))


def _normals(room: CleanRoom) -> dict[str, Floats]:
    """Normal of each surface into the air, by its name."""
    found: dict[str, Floats] = {}
    for name, outline in room.shape.faces():
        spokes = outline[1:] - outline[0]
        found[name] = found.get(name, np.zeros(3)) + np.cross(spokes[:-1], spokes[1:]).sum(axis=0)
    return found


def _draw_plan(axes: "Axes", room: CleanRoom, colours: list[str]) -> list["Text"]:
    """The walls from above, front wall at the top: points of the scan, and the outline fitted to them."""
    axes.set_aspect("equal")
    axes.axis("off")
    middles = room.points[room.triangles].mean(axis=1)
    names = [surface.name for surface in room.surfaces]
    is_wall = np.isin(room.owner, [k for k, name in enumerate(names) if name in room.shape.walls])
    rows = np.flatnonzero(is_wall | (room.owner == len(names)))
    rows = rows[:: max(1, len(rows) // _MOST_DOTS)]
    axes.scatter(
        middles[rows, 1],
        middles[rows, 0],
        s=points(10) ** 2,
        c=[colours[k] for k in room.owner[rows]],
        linewidths=0,
    )
    closed = np.vstack([room.shape.corners, room.shape.corners[:1]])
    axes.plot(closed[:, 1], closed[:, 0], color=look.INK, lw=points(3))
    for block in room.objects:
        outline = _foot(block.centre, block.size, block.yaw_deg)
        axes.plot(outline[:, 1], outline[:, 0], color=look.INK, lw=points(3), ls=(0, (4, 2)))
    axes.invert_yaxis()
    axes.margins(0.06)
    plate = {"facecolor": look.WHITE, "edgecolor": "none", "pad": points(8)}
    texts = [
        axes.text(
            block.centre[1], block.centre[0], block.name, ha="center", va="center", bbox=plate, **word_style()
        )
        for block in room.objects
    ]
    words = "from above, front wall at the top"
    return [*texts, axes.figure.text(_PLAN[0], 0.885, words, va="center", **word_style(colour=look.MUTED))]


def _foot(centre: tuple[float, ...], size: tuple[float, ...], yaw_deg: float) -> Floats:
    cosine, sine = np.cos(np.radians(yaw_deg)), np.sin(np.radians(yaw_deg))
    signs = 0.5 * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)])
    corners: Floats = signs * size[:2] @ np.array([[cosine, sine], [-sine, cosine]]) + centre[:2]
    return corners


def _draw_key(figure: "Figure", room: CleanRoom, colours: list[str]) -> list["Text"]:
    """A sample of each colour with its surface and how far the scan lies off it, in two columns."""
    from matplotlib.patches import Rectangle

    entries = [(s.name, f"{s.p95_mm:.0f}") for s in room.surfaces]
    entries += [("furniture", "")] * bool(room.objects) + [("left out", "")] * bool((room.owner == -1).any())
    chosen = [*range(len(room.surfaces))] + [-2] * bool(room.objects) + [-1] * bool((room.owner == -1).any())
    head = figure.text(
        _PLAN[0], 0.325, "95 % of points within, mm", va="center", **word_style(colour=look.MUTED)
    )
    texts = [head]
    n_rows = (len(entries) + 1) // 2
    step = min(0.036, 0.28 / max(n_rows, 1))
    for k, ((name, figure_mm), colour) in enumerate(zip(entries, chosen, strict=True)):
        x, y = _PLAN[0] + 0.195 * (k // n_rows), 0.285 - step * (k % n_rows)
        figure.add_artist(Rectangle((x, y - 0.011), 0.014, 0.022, color=colours[colour]))
        texts.append(figure.text(x + 0.02, y, name, va="center", **word_style()))
        texts.append(figure.text(x + 0.178, y, figure_mm, va="center", ha="right", **word_style()))
    return texts

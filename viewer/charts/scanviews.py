"""Views of a scanned room with matplotlib: from above, floor and ceiling, with names, sizes and holes."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import CleanRoom, format_length
from viewer import look
from viewer.charts.paper import Style, points, word_style
from viewer.words import scan_units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

Floats = NDArray[np.float64]

_FROM = np.array([0.55, -0.85, -1.05])  # the way one looks: from above, over the right and front walls
_MOST_DOTS = 6000
_IN_PX, _LEAST_SIZE = 12.0, 0.6  # what stays free round words in a piece, and how much smaller they get
_ALONG = (0.5, 0.2, 0.8, 0.05)  # places along a hole for its name, the first that is free
_PLATE: Style = {"facecolor": look.WHITE, "edgecolor": "none", "pad": points(6), "alpha": 0.85}
_BESIDE, _DIMENSION = (
    0.05,
    0.15,
)  # how far off the outline numbers and dimensions stand, as shares of the room


def roof_names(room: CleanRoom) -> list[str]:
    """Surfaces over the room: all that are neither floor nor wall."""
    own = (name for name, _ in room.shape.faces())
    return [name for name in dict.fromkeys(own) if name != "floor" and name not in room.shape.walls]


def length_words(room: CleanRoom, length_m: float) -> str:
    """A length of the room for its reader."""
    return format_length(length_m, units=scan_units(room.reading.unit), style="m")


def draw_view(axes: "Axes", room: CleanRoom, colours: Sequence[str]) -> "list[Text]":
    """The triangles as seen from above and outside, without surfaces seen from behind; the roof as lines."""
    from matplotlib.collections import PolyCollection

    axes.set_aspect("equal")
    axes.axis("off")
    way = _FROM / np.linalg.norm(_FROM)
    normals = _normals(room)
    shown = np.array([normals[s.name] @ way < 0.0 for s in room.surfaces] + [True, True])
    chosen = np.flatnonzero(shown[room.owner])
    corners = room.points[room.triangles[chosen]]
    order = np.argsort(-(corners.mean(axis=1) @ way))
    sides = corners[:, 1:] - corners[:, :1]
    faces = np.cross(sides[:, 0], sides[:, 1])
    light = np.abs(faces @ way) / np.maximum(np.linalg.norm(faces, axis=1), 1e-12)
    tones = [_shaded(colours[k], s) for k, s in zip(room.owner[chosen][order], light[order], strict=True)]
    flat = list(_seen(corners)[order])
    axes.add_collection(PolyCollection(flat, facecolors=tones, edgecolors=tones, linewidths=0.2))
    above = set(roof_names(room))
    for name, outline in room.shape.faces():
        if name in above:
            closed = _seen(np.vstack([outline, outline[:1]]))
            axes.plot(*closed.T, color=look.INK, lw=points(2.5), ls=(0, (5, 3)))
    for hole in room.holes:
        _draw_hole(axes, _seen(hole.corners), face="none")
    axes.autoscale_view()
    texts = [_name(axes, _seen(np.add(b.centre, (0.0, 0.0, 0.5 * b.size[2]))), b.name) for b in room.objects]
    texts += [_over(axes, _seen(hole.corners), f"hole {k}", 1.0) for k, hole in enumerate(room.holes, 1)]
    for k, name in enumerate(room.shape.walls, 1):
        own = [outline for other, outline in room.shape.faces() if other == name]
        if normals[name] @ way < 0.0:
            texts.append(_name(axes, _seen(own[0]).mean(axis=0), str(k)))
    return _apart(texts)


def draw_plan(axes: "Axes", room: CleanRoom, colours: Sequence[str]) -> "list[Text]":
    """The floor from above, front wall at the top: points of the walls, furniture, numbers and main sizes."""
    _prepare(axes, room)
    middles = room.points[room.triangles].mean(axis=1)
    names = [surface.name for surface in room.surfaces]
    is_wall = np.isin(room.owner, [k for k, name in enumerate(names) if name in room.shape.walls])
    rows = np.flatnonzero(is_wall | (room.owner == len(names)))
    rows = rows[:: max(1, len(rows) // _MOST_DOTS)]
    tones = [colours[k] for k in room.owner[rows]]
    axes.scatter(middles[rows, 1], middles[rows, 0], s=points(8) ** 2, c=tones, linewidths=0)
    _draw_outline(axes, room)
    for block in room.objects:
        foot = _foot(block.centre, block.size, block.yaw_deg)
        axes.plot(foot[:, 1], foot[:, 0], color=look.INK, lw=points(3), ls=(0, (4, 2)))
    aside = crossed(room)
    axes.plot(aside[:, 1], aside[:, 0], "x", color=look.SCAN_ASIDE, ms=points(20), mew=points(4), zorder=6)
    above, normals = set(roof_names(room)), _normals(room)
    texts = [_name(axes, (b.centre[1], b.centre[0]), b.name) for b in room.objects]
    for number, hole in enumerate(room.holes, 1):
        if hole.surface not in above:
            across = hole.corners[:, [1, 0]]
            _draw_hole(axes, across)
            texts.append(_before(axes, across, f"hole {number}", normals[hole.surface], texts))
    return [*_apart([*texts, *_wall_numbers(axes, room)]), *_dimensions(axes, room)]


def crossed(room: CleanRoom) -> Floats:
    """Where what was left out gets a cross: what lies in the room or close round it. (n, 3) [m]"""
    aside = np.array([thing.at for thing in room.set_aside if thing.at is not None]).reshape(-1, 3)
    low, high = room.shape.corners.min(axis=0), room.shape.corners.max(axis=0)
    near_m = _BESIDE * float((high - low).max())
    kept: Floats = aside[((aside[:, :2] > low - near_m) & (aside[:, :2] < high + near_m)).all(axis=1)]
    return kept


def draw_ceiling(axes: "Axes", room: CleanRoom, colours: Sequence[str]) -> "list[Text]":
    """What was scanned of the roof, as if seen through from above, with its holes."""
    from matplotlib.collections import PolyCollection

    _prepare(axes, room)
    above = roof_names(room)
    own = [k for k, surface in enumerate(room.surfaces) if surface.name in above]
    chosen = np.flatnonzero(np.isin(room.owner, own))
    flat = list(room.points[room.triangles[chosen]][:, :, [1, 0]])
    tones = [colours[k] for k in room.owner[chosen]]
    axes.add_collection(PolyCollection(flat, facecolors=tones, edgecolors=tones, linewidths=0.2, alpha=0.75))
    _draw_outline(axes, room)
    pieces = [(name, outline) for name, outline in room.shape.faces() if name in above]
    for _, outline in pieces:
        closed = np.vstack([outline, outline[:1]])
        axes.plot(closed[:, 1], closed[:, 0], color=look.INK, lw=points(2))
    texts = []
    for number, hole in enumerate(room.holes, 1):
        if hole.surface in above:
            across = hole.corners[:, [1, 0]]
            _draw_hole(axes, across)
            texts.append(_over(axes, across, f"hole {number}", -1.0))
    if len(pieces) > 1:
        texts += [_within(axes, outline[:, [1, 0]], name) for name, outline in pieces]
    return _apart(texts)


def roof_words(room: CleanRoom) -> str:
    """How high the room is, lowest and highest."""
    above = set(roof_names(room))
    heights = np.concatenate([outline[:, 2] for name, outline in room.shape.faces() if name in above])
    low, high = (length_words(room, float(own)) for own in (heights.min(), heights.max()))
    return f"{high} high" if low == high else f"{low} to {high} high"


def _prepare(axes: "Axes", room: CleanRoom) -> None:
    """Front wall at the top, and as much round the room as numbers and dimensions take."""
    axes.set_aspect("equal")
    axes.axis("off")
    low, high = room.shape.corners.min(axis=0), room.shape.corners.max(axis=0)
    size_m = float((high - low).max())
    before, after = low - 2.0 * _BESIDE * size_m, high + 1.5 * _DIMENSION * size_m
    axes.set_xlim(low[1] - 1.5 * _DIMENSION * size_m, high[1] + 2.0 * _BESIDE * size_m)
    axes.set_ylim(after[0], before[0])


def _draw_outline(axes: "Axes", room: CleanRoom) -> None:
    closed = np.vstack([room.shape.corners, room.shape.corners[:1]])
    axes.plot(closed[:, 1], closed[:, 0], color=look.INK, lw=points(3))


def _draw_hole(axes: "Axes", outline: Floats, *, face: str = look.WHITE) -> None:
    """An open place, outlined and hatched."""
    from matplotlib.patches import Polygon

    style: Style = {"facecolor": face, "edgecolor": look.ACCENT, "hatch": "////", "lw": points(3)}
    axes.add_patch(Polygon(outline, closed=True, zorder=3, **style))


def _wall_numbers(axes: "Axes", room: CleanRoom) -> "list[Text]":
    """The number of each wall, outside it; longer ones first, which keep their place."""
    corners = room.shape.corners
    away_m = _BESIDE * float(np.ptp(corners, axis=0).max())
    along = np.roll(corners, -1, axis=0) - corners
    length_m = np.hypot(*along.T)
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / length_m[:, None]
    places = corners + 0.5 * along + away_m * outward
    order = np.argsort(-length_m, kind="stable").tolist()
    return [axes.text(places[k, 1], places[k, 0], str(k + 1), **_middle(), **word_style()) for k in order]


def _dimensions(axes: "Axes", room: CleanRoom) -> "list[Text]":
    """Length and width over all, with a line each, left of and below the plan."""
    low, high = room.shape.corners.min(axis=0), room.shape.corners.max(axis=0)
    off_m = _DIMENSION * float((high - low).max())
    style: Style = {"color": look.INK, "lw": points(2), "marker": "|", "ms": points(18)}
    axes.plot([low[1] - off_m] * 2, [low[0], high[0]], **{**style, "marker": "_"})
    axes.plot([low[1], high[1]], [high[0] + off_m] * 2, **style)
    plate = {**_PLATE, "alpha": 1.0}
    middle, size = 0.5 * (low + high), high - low
    length, width = (length_words(room, float(own)) for own in size)
    turned = axes.text(
        low[1] - off_m, middle[0], length, rotation=90, bbox=plate, **_middle(), **word_style()
    )
    level = axes.text(middle[1], high[0] + off_m, width, bbox=plate, **_middle(), **word_style())
    return [turned, level]


def _middle() -> Style:
    return {"ha": "center", "va": "center"}


def _name(axes: "Axes", place: Sequence[float] | Floats, words: str) -> "Text":
    x, y = (float(own) for own in place)
    return axes.text(x, y, words, bbox=_PLATE, zorder=5, **_middle(), **word_style())


def _within(axes: "Axes", outline: Floats, words: str) -> "Text":
    """Words in the middle of an outline: upright where it is narrower than they are, smaller where small."""
    text = _name(axes, _middle_of(outline), words)
    room = np.ptp(axes.transData.transform(outline), axis=0) - 2.0 * _IN_PX
    box = text.get_window_extent()
    if box.width > room[0] and room[1] > room[0]:
        text.set_rotation(90)
        box = text.get_window_extent()
    share = min(room[0] / box.width, room[1] / box.height)
    if share < 1.0:
        text.set_fontsize(text.get_fontsize() * max(share, _LEAST_SIZE))
    return text


def _over(axes: "Axes", outline: Floats, words: str, up: float) -> "Text":
    """Words over an outline; `up` is -1 where axes run downwards."""
    place = float(outline[:, 0].mean()), up * float((up * outline[:, 1]).max())
    style: Style = {"ha": "center", "va": "bottom", "bbox": _PLATE, "zorder": 5, **word_style()}
    return axes.annotate(words, place, (0.0, points(14)), textcoords="offset points", **style)


def _before(axes: "Axes", outline: Floats, words: str, normal: Floats, others: "list[Text]") -> "Text":
    """Words on the side of an outline to which its surface looks, clear of others; above a level one."""
    sideways, up = float(normal[1]), -float(normal[0])
    if np.hypot(sideways, up) < 0.5 * float(np.linalg.norm(normal)):
        return _over(axes, outline, words, -1.0)
    low, high = outline.min(axis=0), outline.max(axis=0)
    if abs(sideways) > abs(up):
        side, x = ("left", high[0]) if sideways > 0.0 else ("right", low[0])
        style: Style = {"ha": side, "va": "center", "xytext": (np.copysign(points(24), sideways), 0.0)}
        places = [(x, low[1] + share * (high[1] - low[1])) for share in _ALONG]
    else:
        side, y = ("bottom", low[1]) if up > 0.0 else ("top", high[1])
        style = {"ha": "center", "va": side, "xytext": (0.0, np.copysign(points(24), up))}
        places = [(low[0] + share * (high[0] - low[0]), y) for share in _ALONG]
    style |= {"bbox": _PLATE, "zorder": 5, "textcoords": "offset points", **word_style()}
    text = axes.annotate(words, places[0], **style)
    for place in places[1:]:
        if not _is_over(text, others):
            break
        text.remove()
        text = axes.annotate(words, place, **style)
    return text


def _middle_of(outline: Floats) -> Floats:
    """Centre of area of an outline (n, 2)."""
    after = np.roll(outline, -1, axis=0)
    cross = outline[:, 0] * after[:, 1] - outline[:, 1] * after[:, 0]
    middle: Floats = (cross[:, None] * (outline + after)).sum(axis=0) / (3.0 * cross.sum())
    return middle


def _apart(texts: "list[Text]") -> "list[Text]":
    """Words that stand over none before them; others are taken away, for the key names everything."""
    kept: list[Text] = []
    for text in texts:
        if _is_over(text, kept):
            text.remove()
        else:
            kept.append(text)
    return kept


def _is_over(text: "Text", others: "list[Text]") -> bool:
    box = text.get_window_extent().padded(points(4))
    return any(box.overlaps(other.get_window_extent()) for other in others)


def _seen(corners: Floats) -> Floats:
    """Points of the room as they lie on the paper of the view, (..., 2)."""
    way = _FROM / np.linalg.norm(_FROM)
    across = np.array([way[1], -way[0], 0.0]) / np.hypot(way[0], way[1])
    upward = np.cross(across, way)
    seen: Floats = np.stack([corners @ across, corners @ upward], axis=-1)
    return seen


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


def _foot(centre: tuple[float, ...], size: tuple[float, ...], yaw_deg: float) -> Floats:
    cosine, sine = np.cos(np.radians(yaw_deg)), np.sin(np.radians(yaw_deg))
    signs = 0.5 * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)])
    corners: Floats = signs * size[:2] @ np.array([[cosine, sine], [-sine, cosine]]) + centre[:2]
    return corners

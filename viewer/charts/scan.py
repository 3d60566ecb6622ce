"""Picture of a scan with matplotlib: which triangles became which surface, and the room fitted to them."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import CleanRoom
from viewer import look
from viewer.charts.paper import Chart, Style, blank_figure, word_style, write_chart
from viewer.charts.scanviews import crossed, draw_ceiling, draw_plan, draw_view, length_words, roof_words
from viewer.words import area_words, scan_units, size_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.text import Text

SIZE = (2400, 1500)
_VIEW = (0.02, 0.04, 0.45, 0.82)  # left, bottom, width, height as shares of the paper
_PLAN = (0.485, 0.40, 0.245, 0.46)
_CEILING = (0.735, 0.40, 0.245, 0.46)
_COLUMNS = (0.495, 0.745)  # of the key
_HEAD, _FOOT, _STEP = 0.36, 0.035, 0.034
_MOST_NAMED = 4  # pieces of furniture that the key names one by one


def draw_scan(room: CleanRoom, path: Path) -> Chart:
    """The scan with its triangles in the colours of their surfaces, floor, ceiling, and how well they fit.

    Parameters
    ----------
    room : CleanRoom
    path : Path
        ".png", ".svg" or ".pdf".
    """
    figure = blank_figure(SIZE)
    colours = _colours(room)
    texts = _title(figure, room)
    texts += draw_view(figure.add_axes(_VIEW), room, colours)
    texts += draw_plan(figure.add_axes(_PLAN), room, colours)
    texts += draw_ceiling(figure.add_axes(_CEILING), room, colours)
    texts += _heads(figure) + _draw_key(figure, room, colours)
    caption = (
        "Each triangle of the scan in the colour of the surface it became; grey is furniture, black was left "
        "out, hatched is open in the scan."
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
    floor = area_words(room.shape.area_m2("floor"), scan_units(room.reading.unit))
    words = f"{roof_words(room)}, floor {floor}, noise {room.noise_mm:.0f} mm, shape {room.shape.kind}"
    return [title, figure.text(end, top, words, va="top", **word_style(look.NAME_PX, look.MUTED))]


def _heads(figure: "Figure") -> list["Text"]:
    """What each view shows."""
    heads = (
        (
            look.BORDER_PX / figure.bbox.width,
            "seen from above, over the right and front walls; dashed: the roof",
        ),
        (_COLUMNS[0], "floor from above, front at the top"),
        (_COLUMNS[1], "ceiling from above, front at the top"),
    )
    style = word_style(colour=look.MUTED)
    return [figure.text(x, 0.885, words, va="center", **style) for x, words in heads]


def _draw_key(figure: "Figure", room: CleanRoom, colours: list[str]) -> list["Text"]:
    """A sample of each colour with its surface, its size and how far the scan lies off it, in two columns."""
    rows = _rows(room, colours)
    n_rows = (len(rows) + 1) // 2
    step = min(_STEP, (_HEAD - _FOOT) / (n_rows + 1))
    texts = []
    for number, x in enumerate(_COLUMNS):
        own = rows[number * n_rows : (number + 1) * n_rows]
        head = word_style(colour=look.MUTED)
        if any(size for _, _, size, _ in own):
            texts.append(figure.text(x + 0.233, _HEAD, "± mm *", va="center", ha="right", **head))
        for k, row in enumerate(own, 1):
            texts += _draw_row(figure, (x, _HEAD - step * k), row)
    foot = "* 95 % of the scan lies within so much of the surface; walls with their lengths"
    return [
        *texts,
        figure.text(_COLUMNS[0], _FOOT - 0.005, foot, va="center", **word_style(colour=look.MUTED)),
    ]


Row = tuple[Style, str, str, str]


def _draw_row(figure: "Figure", at: tuple[float, float], row: Row) -> list["Text"]:
    from matplotlib.patches import Rectangle

    (x, y), (sample, name, size, fit) = at, row
    figure.add_artist(Rectangle((x, y - 0.010), 0.013, 0.020, **sample))
    figures = [
        figure.text(x + right, y, words, va="center", ha="right", **word_style())
        for right, words in ((0.187, size), (0.233, fit))
        if words
    ]
    named = figure.text(x + 0.019, y, name, va="center", **word_style())
    # Long names are set smaller before they run into figures.
    box = named.get_window_extent()
    end = min([own.get_window_extent().x0 for own in figures], default=box.x1) - look.BORDER_PX / 4.0
    if box.x1 > end:
        named.set_fontsize(named.get_fontsize() * (end - box.x0) / box.width)
    return [named, *figures]


def _rows(room: CleanRoom, colours: list[str]) -> list[Row]:
    """Sample, name, size and fit of every surface, then what else the picture shows."""
    walls, units = list(room.shape.walls), scan_units(room.reading.unit)
    along = np.roll(room.shape.corners, -1, axis=0) - room.shape.corners
    rows: list[tuple[int, Row]] = []
    for surface, colour in zip(room.surfaces, colours, strict=False):
        k = walls.index(surface.name) if surface.name in walls else -1
        size = area_words(surface.area_m2, units) if k < 0 else length_words(room, np.hypot(*along[k]))
        name = surface.name if k < 0 else f"{k + 1} {surface.name}"
        rows.append((k, ({"color": colour}, name, size, f"{surface.p95_mm:.0f}")))
    return [row for _, row in sorted(rows, key=lambda own: own[0])] + _other_rows(room)


def _other_rows(room: CleanRoom) -> list[Row]:
    """Holes with their areas, furniture with its sizes, and how much was left out."""
    units = scan_units(room.reading.unit)
    hatched: Style = {"facecolor": look.WHITE, "edgecolor": look.ACCENT, "hatch": "////////"}
    rows: list[Row] = [
        (hatched, f"hole {number}, {hole.surface}", "", area_words(hole.area_m2, units))
        for number, hole in enumerate(room.holes, 1)
    ]
    grey: Style = {"color": look.SCAN_FURNITURE}
    if len(room.objects) <= _MOST_NAMED:
        rows += [(grey, block.name, "", size_words(block.size, units)) for block in room.objects]
    else:
        rows.append((grey, "furniture", "", f"{len(room.objects)} things"))
    aside = room.points[room.triangles[room.owner == -1]]
    sides = aside[:, 1:] - aside[:, :1]
    aside_m2 = 0.5 * float(np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1).sum())
    if len(aside) or len(crossed(room)):
        marked = "left out (x in the plan)" if len(crossed(room)) else "left out"
        rows.append(({"color": look.SCAN_ASIDE}, marked, "", area_words(aside_m2, units)))
    return rows

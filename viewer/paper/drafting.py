"""Marks on paper: lines, areas, discs and measured words, all in millimetres from the top left."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from viewer.look import FONT_FILES, HAIRLINE, INK, WHITE

# DejaVu Sans: cap height and depth below the baseline, as shares of the type size (measured from the font).
CAP_SHARE, DEPTH_SHARE = 0.729, 0.236
LINE_SHARE = 1.25  # from line to line (see report.typ)
MM_PER_POINT = 25.4 / 72.0

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Mark:
    """One thing drawn on a sheet; what does not apply keeps its default.

    Attributes
    ----------
    kind : "line" | "area" | "disc" | "text"
    points : tuple of (x, y)
        Corners, or the centre of a disc or of a line of text. [mm]
    ink, fill : str
        "#rrggbb" or "" for none.
    width_pt : float
        Line width. [pt]
    dash : tuple of float
        Lengths of dashes and gaps. [mm]
    radius : float
        Of a disc. [mm]
    text, size_pt, bold, turned, plate
        The words, their size, and whether they read upwards and stand on a white plate.
    layer : str
        What it belongs to, for files that keep such things apart.
    """

    kind: str
    points: tuple[tuple[float, float], ...]
    ink: str = INK
    fill: str = ""
    width_pt: float = 0.6
    dash: tuple[float, ...] = ()
    radius: float = 0.0
    text: str = ""
    size_pt: float = 9.0
    bold: bool = False
    turned: bool = False
    plate: bool = False
    layer: str = ""

    @cached_property
    def box(self) -> Box:
        """Smallest upright rectangle round the mark: left, top, right, bottom. [mm]"""
        across, down = zip(*self.points, strict=True)
        wide = high = self.radius if self.kind == "disc" else 0.0
        if self.kind == "text":
            size = text_size_mm(self.text, self.size_pt, bold=self.bold)
            high, wide = (side / 2.0 for side in (size if self.turned else size[::-1]))
        return min(across) - wide, min(down) - high, max(across) + wide, max(down) + high


def line(
    points: ArrayLike,
    *,
    ink: str = INK,
    width_pt: float = 0.6,
    dash: tuple[float, ...] = (),
    round_to: int = 3,
) -> Mark:
    """An open line through points (n, 2) in millimetres."""
    return Mark("line", _pairs(points, round_to), ink=ink, width_pt=width_pt, dash=dash)


def area(
    points: ArrayLike,
    *,
    ink: str = "",
    fill: str = "",
    width_pt: float = 0.6,
    dash: tuple[float, ...] = (),
    round_to: int = 3,
) -> Mark:
    """A closed outline (n, 2) in millimetres, filled, drawn or both."""
    return Mark("area", _pairs(points, round_to), ink=ink, fill=fill, width_pt=width_pt, dash=dash)


def disc(
    centre: ArrayLike,
    radius: float,
    *,
    ink: str = "",
    fill: str = "",
    width_pt: float = 0.6,
    round_to: int = 3,
) -> Mark:
    """A disc of `radius` millimetres."""
    return Mark("disc", _pairs([centre], round_to), ink=ink, fill=fill, width_pt=width_pt, radius=radius)


def words(
    text: str,
    centre: ArrayLike,
    *,
    size_pt: float = 9.0,
    bold: bool = False,
    turned: bool = False,
    ink: str = INK,
) -> Mark:
    """Text centred on a point; `turned` reads upwards."""
    place = _pairs([centre], 3)
    return Mark("text", place, ink=ink, text=text, size_pt=size_pt, bold=bold, turned=turned)


def on_plate(text: Mark) -> Mark:
    """The same words on a white plate, which may cover lines."""
    return replace(text, plate=True)


def centred_at(text: Mark, centre: ArrayLike) -> Mark:
    """The same words centred elsewhere."""
    return replace(text, points=_pairs([centre], 3))


def words_from(
    text: str, left: float, middle: float, *, size_pt: float = 9.0, bold: bool = False, ink: str = INK
) -> Mark:
    """A line of text that begins at `left`, its capitals centred on `middle`. [mm]"""
    width, _ = text_size_mm(text, size_pt, bold=bold)
    return words(text, (left + width / 2.0, middle), size_pt=size_pt, bold=bold, ink=ink)


def moved(marks: Iterable[Mark], right: float, down: float) -> list[Mark]:
    """The same marks elsewhere on the paper. [mm]"""
    return [
        replace(mark, points=tuple((round(x + right, 9), round(y + down, 9)) for x, y in mark.points))
        for mark in marks
    ]


def on_layer(layer: str, marks: Iterable[Mark]) -> list[Mark]:
    """The same marks as parts of a layer."""
    return [replace(mark, layer=layer) for mark in marks]


def font_folder() -> Path:
    """The folder of the one typeface, which matplotlib brings."""
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@cache
def typeface(*, bold: bool) -> Any:
    """The one typeface, as matplotlib reads it."""
    from matplotlib.ft2font import FT2Font

    return FT2Font(str(font_folder() / FONT_FILES["bold" if bold else "regular"]))


@cache
def text_size_mm(text: str, size_pt: float, *, bold: bool = False) -> tuple[float, float]:
    """Width and height of one or more lines of text, from the font's own advance widths. [mm]"""
    from matplotlib.ft2font import LoadFlags

    font = typeface(bold=bold)
    font.set_size(100.0, 72.0)
    widths = []
    for row in text.split("\n"):
        font.set_text(row, 0.0, LoadFlags.NO_HINTING)
        widths.append(font.get_width_height()[0] / 64.0 / 100.0)
    height = CAP_SHARE + DEPTH_SHARE + LINE_SHARE * (len(widths) - 1)
    return max(widths) * size_pt * MM_PER_POINT, height * size_pt * MM_PER_POINT


def boxes_overlap(a: Box, b: Box, *, gap: float = 0.0) -> bool:
    """Whether two boxes come nearer to each other than `gap` millimetres in both directions."""
    return a[0] < b[2] + gap and b[0] < a[2] + gap and a[1] < b[3] + gap and b[1] < a[3] + gap


def spread(
    wanted: Sequence[float], sizes: Sequence[float], *, low: float, high: float, gap: float
) -> list[float]:
    """Places nearest to `wanted` at which labels of these sizes stand clear of each other.

    Parameters
    ----------
    wanted, sizes : sequences of n floats
        Where each label's middle would like to be, and how long the label is. [mm]
    low, high : float
        Ends that no label may pass; where all do not fit they run on beyond `high`. [mm]
    gap : float
        Clear distance between neighbours. [mm]
    """
    from viewer.pictures import rising

    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    offsets, reach = [], 0.0
    for i in order:
        offsets.append(reach + sizes[i] / 2.0)
        reach += sizes[i] + gap
    # Labels that would touch form one block whose middle is the mean of what its members want.
    free = [wanted[i] - offset for i, offset in zip(order, offsets, strict=True)]
    starts = rising(np.array(free)).tolist()
    last = max(low, high - (reach - gap)) if wanted else low
    places = [0.0] * len(wanted)
    for i, offset, start in zip(order, offsets, starts, strict=True):
        places[i] = min(max(start, low), last) + offset
    return places


def hatch(outline: ArrayLike, *, spacing: float = 2.5, ink: str = HAIRLINE) -> list[Mark]:
    """Parallel lines at 45 degrees inside an outline (n, 2). [mm]"""
    corners = np.asarray(outline, dtype=float)
    across = corners @ np.array([1.0, 1.0])
    marks = []
    for level in np.arange(np.ceil(across.min() / spacing) * spacing, across.max(), spacing):
        ends = crossings(corners, np.array([1.0, 1.0]), level + 1e-7)
        along = sorted(float(p[0] - p[1]) for p in ends)
        for start, end in zip(along[::2], along[1::2], strict=False):
            if end - start > 0.2:
                pair = [((level + t) / 2.0, (level - t) / 2.0) for t in (start, end)]
                marks.append(line(pair, ink=ink, width_pt=0.4))
    return marks


def crossings(outline: Array, direction: Array, level: float) -> list[Array]:
    """Points where the closed outline (n, 2) crosses the line direction . p = level."""
    points = []
    side = outline @ direction - level
    for i in range(len(outline)):
        j = (i + 1) % len(outline)
        if (side[i] < 0.0) != (side[j] < 0.0):
            points.append(outline[i] + (outline[j] - outline[i]) * (side[i] / (side[i] - side[j])))
    return points


def scale_bar(at: tuple[float, float], *, scale: float, units: str) -> list[Mark]:
    """A bar of three or four equal parts with its figures, its left end at `at`."""
    step_m, name = (0.3048, "ft") if units == "imperial" else (0.5, "m")
    paper_mm = step_m * 1000.0 / scale
    while paper_mm < 9.0:
        step_m, paper_mm = 2.0 * step_m, 2.0 * paper_mm
    while paper_mm > 25.0 and units != "imperial":
        step_m, paper_mm = step_m / 5.0, paper_mm / 5.0
    marks: list[Mark] = []
    x, y = at
    for i in range(4):
        box = [(x, y), (x + paper_mm, y), (x + paper_mm, y + 1.6), (x, y + 1.6)]
        marks.append(area(box, ink=INK, fill=INK if i % 2 == 0 else WHITE, width_pt=0.5))
        x += paper_mm
    per_step = step_m / 0.3048 if units == "imperial" else step_m
    for i in range(5):
        text = f"{round(per_step * i, 3):g}" + (f" {name}" if i == 4 else "")
        marks.append(words(text, (at[0] + i * paper_mm, y + 4.2), size_pt=8.0))
    return marks


def _pairs(points: ArrayLike | Iterable[ArrayLike], digits: int) -> tuple[tuple[float, float], ...]:
    """Rounded plain pairs, so that the same sheet is the same text on every machine."""
    return tuple(
        (float(x), float(y))
        for x, y in np.round(np.asarray(points, dtype=float), digits).reshape(-1, 2) + 0.0
    )

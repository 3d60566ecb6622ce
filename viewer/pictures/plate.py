"""A picture with its title, names, dimensions and key, drawn with Pillow at twice the size and reduced."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from viewer import look
from viewer.pictures.labels import Box, Label, Placed, segments_cross
from viewer.words import boxes_words

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFont import FreeTypeFont

Floats = NDArray[np.float64]
Point = tuple[float, float]


@dataclass(frozen=True)
class Layout:
    """Where the parts of a picture go, in its pixels.

    Attributes
    ----------
    size : (width, height)
        Of the whole picture.
    unit : float
        Pixels per pixel of the reference size.
    title, drawing, key : Box
        Strip on top, the room, strip at the foot.
    columns : (Box, Box)
        Names left and right of the room.
    """

    size: tuple[int, int]
    unit: float
    title: Box
    drawing: Box
    key: Box
    columns: tuple[Box, Box]


def lay_out(size: tuple[int, int]) -> Layout:
    """Divide a picture of `size` = (width, height) pixels."""
    width, height = size
    unit = min(width / look.REFERENCE_SIZE[0], height / look.REFERENCE_SIZE[1])
    edge = max(look.BORDER_PX * unit, 0.0225 * max(size))
    top, bottom = edge + look.HEAD_STRIP_PX * unit, height - edge - look.KEY_STRIP_PX * unit
    left, right = edge + look.COLUMN_PX * unit, width - edge - look.COLUMN_PX * unit
    gap = look.GAP_PX * unit
    return Layout(
        size,
        unit,
        title=Box("title", edge, edge, width - edge, top),
        drawing=Box("drawing", round(left), round(top), round(right), round(bottom - gap)),
        key=Box("key", edge, bottom, width - edge, height - edge),
        columns=(
            Box("left", edge, top + gap, left - gap, bottom - gap),
            Box("right", right + gap, top + gap, width - edge, bottom - gap),
        ),
    )


@cache
def _font(style: str, pixels: int) -> "FreeTypeFont":
    import matplotlib
    from PIL import ImageFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return ImageFont.truetype(str(folder / look.FONT_FILES[style]), pixels)


class Plate:
    """A white sheet that remembers the box of every text drawn on it."""

    def __init__(self, size: tuple[int, int]) -> None:
        from PIL import Image, ImageDraw

        self._size = size
        self._factor = look.OVERSAMPLING
        self._image = Image.new("RGB", (size[0] * self._factor, size[1] * self._factor), look.WHITE)
        self._draw = ImageDraw.Draw(self._image)
        self.boxes: list[Box] = []

    def measure(self, text: str, pixels: float, *, bold: bool = False) -> tuple[float, float]:
        """Width and line height of one line. [px]"""
        font = _font("bold" if bold else "regular", round(pixels * self._factor))
        return font.getlength(text) / self._factor, 1.22 * pixels

    def shortened(self, text: str, pixels: float, width: float, *, bold: bool = False) -> str:
        """The text, or as much of it as fits into a width, ending in an ellipsis."""
        if self.measure(text, pixels, bold=bold)[0] <= width:
            return text
        while text and self.measure(text + "…", pixels, bold=bold)[0] > width:
            text = text[:-1].rstrip()
        return text + "…"

    def wrapped(self, text: str, pixels: float, width: float, *, bold: bool = False) -> list[str]:
        """Lines no wider than a width, broken between words."""
        lines = [""]
        for word in text.split():
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and self.measure(longer, pixels, bold=bold)[0] > width:
                lines.append(word)
            else:
                lines[-1] = longer
        return [self.shortened(line, pixels, width, bold=bold) for line in lines]

    def text(
        self,
        at: Point,
        text: str,
        pixels: float,
        *,
        colour: str = look.INK,
        bold: bool = False,
        align: str = "left",
    ) -> Box:
        """One line whose box has its left, middle or right top corner at `at`."""
        width, height = self.measure(text, pixels, bold=bold)
        left = at[0] - {"left": 0.0, "middle": width / 2, "right": width}[align]
        font = _font("bold" if bold else "regular", round(pixels * self._factor))
        base = at[1] + 0.96 * pixels
        self._draw.text(self._at((left, base)), text, fill=colour, font=font, anchor="ls")
        return self._taken(Box(text, left, at[1], left + width, at[1] + height))

    def upright_text(self, at: Point, text: str, pixels: float, *, colour: str = look.INK) -> Box:
        """One line that reads from the foot of the page upwards, the top left corner of its box at `at`."""
        from PIL import Image, ImageDraw

        width, height = self.measure(text, pixels)
        box = Box(text, at[0], at[1], at[0] + height, at[1] + width)
        font = _font("regular", round(pixels * self._factor))
        size = (round((box.bottom - box.top) * self._factor), round((box.right - box.left) * self._factor))
        mask = Image.new("L", size, 0)
        ImageDraw.Draw(mask).text((0, round(0.8 * size[1])), text, fill=255, font=font, anchor="ls")
        mask = mask.rotate(90, expand=True)
        x, y = self._at((box.left, box.top))
        self._image.paste(colour, (round(x), round(y)), mask)
        return self._taken(box)

    def _taken(self, box: Box) -> Box:
        self.boxes.append(box)
        return box

    def line(self, points: Sequence[Point], colour: str, width: float) -> None:
        """Straight pieces one after another."""
        pixels = max(1, round(width * self._factor))
        self._draw.line([self._at(point) for point in points], fill=colour, width=pixels, joint="curve")

    def area(
        self, points: Sequence[Point], fill: str | None, *, outline: str | None = None, width: float = 1.0
    ) -> None:
        """A closed outline, filled, drawn or both."""
        corners = [self._at(point) for point in points]
        self._draw.polygon(corners, fill=fill)
        if outline:
            self.line([*points, points[0], points[1]], outline, width)

    def disc(self, centre: Point, radius: float, fill: str) -> None:
        """A filled circle."""
        x, y = self._at(centre)
        reach = radius * self._factor
        self._draw.ellipse([x - reach, y - reach, x + reach, y + reach], fill=fill)

    def paste(self, picture: "Image", at: Point) -> None:
        """A picture drawn at twice the size, its top left corner at `at`."""
        x, y = self._at(at)
        self._image.paste(picture, (round(x), round(y)), picture if picture.mode == "RGBA" else None)

    def finish(self) -> "Image":
        """The sheet at its own size."""
        if note := boxes_words("".join(box.text for box in self.boxes)):
            unit = min(side / usual for side, usual in zip(self._size, look.REFERENCE_SIZE, strict=True))
            at = (look.BORDER_PX * unit, self._size[1] - 0.75 * look.BORDER_PX * unit)
            self.text(at, note, 0.8 * look.KEY_PX * unit, colour=look.MUTED)
        return self._image.reduce(self._factor)

    def _at(self, point: Point) -> Point:
        return (point[0] * self._factor, point[1] * self._factor)


def draw_title(plate: Plate, layout: Layout, title: str, view: str, facts: str) -> None:
    """What is shown of which room, and the facts that hold for the whole picture."""
    unit, box = layout.unit, layout.title
    size, gap, width = look.TITLE_PX * unit, look.GAP_PX * unit, box.right - box.left
    view_width = plate.measure(view, size)[0]
    title = plate.shortened(title, size, width - gap - view_width, bold=True)
    drawn = plate.text((box.left, box.top), title, size, bold=True)
    plate.text((drawn.right + gap, box.top), view, size, colour=look.MUTED)
    facts = plate.shortened(facts, look.VALUE_PX * unit, width)
    plate.text((box.left, drawn.bottom + 4 * unit), facts, look.VALUE_PX * unit, colour=look.MUTED)


def label_lines(plate: Plate, layout: Layout, label: Label) -> list[tuple[str, float, bool, str]]:
    """Text, size, boldness and colour of each line of a label, wrapped to its column."""
    width = layout.columns[0].right - layout.columns[0].left
    lines = []
    for text, size, bold, colour in (
        (label.name, look.NAME_PX * layout.unit, True, look.INK),
        (label.value, look.VALUE_PX * layout.unit, False, label.colour),
    ):
        if text:
            lines += [(part, size, bold, colour) for part in plate.wrapped(text, size, width, bold=bold)]
    return lines


def measure_label(plate: Plate, layout: Layout, label: Label) -> tuple[float, float]:
    """Width and height of a label. [px]"""
    sizes = [
        plate.measure(text, size, bold=bold) for text, size, bold, _ in label_lines(plate, layout, label)
    ]
    return max(width for width, _ in sizes), sum(height for _, height in sizes)


def draw_labels(plate: Plate, layout: Layout, placed: Sequence[Placed]) -> None:
    """Leaders first, so that no name is struck through, then the names."""
    unit = layout.unit
    for label in placed:
        plate.line(label.leader, look.WHITE, 1.7 * look.LEADER_PX * unit)
    for label in placed:
        plate.line(label.leader, look.MUTED, look.LEADER_PX * unit)
        if label.label.clear_px == 0.0:
            plate.disc(label.leader[1], 2.4 * look.LEADER_PX * unit, look.MUTED)
    for label in placed:
        align = "right" if label.leader[0][0] > label.box.left else "left"
        x, y = label.box.right if align == "right" else label.box.left, label.box.top
        for text, size, bold, colour in label_lines(plate, layout, label.label):
            y = plate.text((x, y), text, size, colour=colour, bold=bold, align=align).bottom


@dataclass(frozen=True)
class Dimension:
    """A length between two points of the picture, drawn beside the room at `level` (x or y). [px]"""

    start: Point
    end: Point
    text: str
    is_level: bool
    level: float


def draw_dimension(plate: Plate, layout: Layout, dimension: Dimension, leaders: Sequence[Placed]) -> None:
    """Dimension line with slashes at its ends; its figure stands where no leader crosses it."""
    unit, d = layout.unit, dimension
    ends = [(p[0], d.level) if d.is_level else (d.level, p[1]) for p in (d.start, d.end)]
    for point, end in zip((d.start, d.end), ends, strict=True):
        way = np.array(end) - point
        way = way / max(float(np.hypot(*way)), 1e-9)
        begin, stop = np.array(point) + 14 * unit * way, np.array(end) + 12 * unit * way
        plate.line([tuple(begin), tuple(stop)], look.HAIRLINE, 2 * unit)
    plate.line(ends, look.MUTED, look.RULE_PX * unit)
    slash = 10 * unit
    for x, y in ends:
        plate.line([(x - slash, y + slash), (x + slash, y - slash)], look.INK, look.RULE_PX * unit)
    width, height = plate.measure(d.text, look.VALUE_PX * unit)
    if not d.is_level:
        width, height = height, width
    pad = 8 * unit
    (x, y), _ = free_place(ends, (width + 2 * pad, height + 2 * pad), leaders)
    left, top, right, bottom = x - width / 2, y - height / 2, x + width / 2, y + height / 2
    across, down = (pad, 0.0) if d.is_level else (0.0, pad)
    corners = [(left - across, top - down), (right + across, top - down)]
    corners += [(right + across, bottom + down), (left - across, bottom + down)]
    plate.area(corners, look.WHITE)
    write = plate.text if d.is_level else plate.upright_text
    write((left, top), d.text, look.VALUE_PX * unit)


def free_place(
    ends: Sequence[Point], size: tuple[float, float], leaders: Sequence[Placed]
) -> tuple[Point, bool]:
    """Middle of a figure, as near to the middle of its line as the leaders leave room; whether they do."""
    start, end = np.array(ends[0]), np.array(ends[1])
    reach = np.array(size) / 2
    for share in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74):
        middle = start + share * (end - start)
        low, high = middle - reach, middle + reach
        diagonals = (
            ((low[0], low[1]), (high[0], high[1])),
            ((low[0], high[1]), (high[0], low[1])),
        )
        if not any(segments_cross(line.leader, diagonal) for line in leaders for diagonal in diagonals):
            return (float(middle[0]), float(middle[1])), True
    return (float((start + end)[0] / 2), float((start + end)[1] / 2)), False


def draw_front_mark(plate: Plate, layout: Layout, at: Point, way: str) -> None:
    """A small arrow head and the word "front" outside the front wall, which lies "up", "left" or "right"."""
    unit = layout.unit
    reach = 13 * unit
    x, y = at
    if way == "up":
        plate.area([(x - reach, y - reach), (x + reach, y - reach), (x, y - 2.6 * reach)], look.INK)
        plate.text((x + 1.8 * reach, y - 2.9 * reach), "front", look.VALUE_PX * unit)
        return
    side = 1 if way == "left" else -1
    plate.area([(x, y), (x + side * 1.6 * reach, y - reach), (x + side * 1.6 * reach, y + reach)], look.INK)
    width, _ = plate.measure("front", look.VALUE_PX * unit)
    left = x + 2.6 * reach if side > 0 else x - 2.6 * reach - width
    plate.text((left, y - 1.45 * reach), "front", look.VALUE_PX * unit)

"""The key of a picture: the scale of level, what the signs mean, and a scale bar."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from viewer import look
from viewer.pictures.plate import Layout, Plate
from viewer.words import signed

ROW_PX = 50
ROWS = 3
SAMPLE_PX = 66
LEVELS_PX = 840  # width of the scale of level with the gap behind it
BETWEEN_PX = 40


@dataclass(frozen=True)
class _Brush:
    """Where a sample is drawn: left end and middle, and how many pixels a unit of it has."""

    plate: Plate
    x: float
    y: float
    unit: float

    def line(self, colour: str, width: float, start: float = 0.0, end: float = SAMPLE_PX) -> None:
        ends = [(self.x + at * self.unit, self.y) for at in (start, end)]
        self.plate.line(ends, colour, width * self.unit)

    def area(self, fill: str, outline: str) -> None:
        corners = [(self.x + a * self.unit, self.y + b * self.unit) for a, b in _FRAME]
        self.plate.area(corners, fill, outline=outline, width=4 * self.unit)

    def disc(self, radius: float, fill: str) -> None:
        self.plate.disc((self.x + SAMPLE_PX / 2 * self.unit, self.y), radius * self.unit, fill)


_FRAME = ((8, -15), (58, -15), (58, 15), (8, 15))
_STRONG = look.LEVEL_COLOURS[-4]


def _direct(brush: _Brush) -> None:
    for k in range(3):
        brush.line(look.INK, 6, 25 * k, 25 * k + 16)


def _near(brush: _Brush) -> None:
    for k in range(5):
        brush.line(_STRONG, 4, 14 * k, 14 * k + 8)


def _spot(brush: _Brush) -> None:
    brush.disc(19, look.HAIRLINE)
    brush.disc(17, look.WHITE)
    brush.disc(12, _STRONG)


def _chosen(brush: _Brush) -> None:
    brush.line(look.ACCENT, 13)


def _cut(brush: _Brush) -> None:
    brush.area(look.HAIRLINE, look.INK)
    for k in range(4):
        ends = [
            (brush.x + (a + 12 * k) * brush.unit, brush.y + b * brush.unit) for a, b in ((8, 15), (22, -15))
        ]
        brush.plate.line(ends, look.INK, 2.5 * brush.unit)


SIGNS: dict[str, tuple[str, Callable[[_Brush], None]]] = {
    "direct": ("direct sound", _direct),
    "one": ("one bounce", lambda brush: brush.line(_STRONG, 10)),
    "more": ("two or more bounces", lambda brush: brush.line(_STRONG, 5)),
    "over": (
        "area to treat",
        lambda brush: brush.area(look.tinted(look.ACCENT, look.PATCH_OPACITY), look.ACCENT),
    ),
    "spot": ("where it bounces", _spot),
    "faint": ("two bounces, below the limit", lambda brush: brush.line(look.FAINT, 3)),
    "weaker": ("other reflections", lambda brush: brush.line(look.FAINT, 3)),
    "near": ("near miss beside an edge", _near),
    "panel": ("panel", lambda brush: brush.area(look.PANEL, look.PANEL_EDGE)),
    "chosen": ("selected reflection", _chosen),
    "cut": ("cut through", _cut),
    "met": ("points on surfaces", _chosen),
    "air": ("points in the air", lambda brush: brush.line(look.HAIRLINE, 5)),
    "sound": ("where the sound is", lambda brush: brush.disc(14, _STRONG)),
}


def draw_key(plate: Plate, layout: Layout, limit_text: str, signs: Sequence[str]) -> None:
    """The scale of level against the limit and what the signs, of `SIGNS`, mean."""
    _draw_level_scale(plate, layout, limit_text)
    draw_signs(plate, layout, signs, beside_px=LEVELS_PX)


def draw_signs(plate: Plate, layout: Layout, signs: Sequence[str], *, beside_px: float = 0.0) -> None:
    """Columns of small samples, each with a few words, so far from the left edge."""
    unit, box, size = layout.unit, layout.key, look.KEY_PX * layout.unit
    rows = max(ROWS, -(-len(signs) // ROWS))
    left = box.left + beside_px * unit
    for start in range(0, len(signs), rows):
        column = signs[start : start + rows]
        for k, name in enumerate(column):
            words, draw = SIGNS[name]
            y = box.top + (ROW_PX * k + 20) * unit
            draw(_Brush(plate, left, y, unit))
            plate.text((left + (SAMPLE_PX + 16) * unit, y - 18 * unit), words, size)
        widest = max(plate.measure(SIGNS[name][0], size)[0] for name in column)
        left += widest + (SAMPLE_PX + 16 + BETWEEN_PX) * unit


def _draw_level_scale(plate: Plate, layout: Layout, limit_text: str) -> None:
    unit, box = layout.unit, layout.key
    length, height, top = 720 * unit, 30 * unit, box.top + 48 * unit
    span = look.LEVEL_TO_DB - look.LEVEL_FROM_DB
    n = 160
    colours = look.level_colours(look.LEVEL_FROM_DB + span * (np.arange(n) + 0.5) / n)
    for i, colour in enumerate(colours):
        x0, x1 = box.left + length * i / n, box.left + length * (i + 1) / n
        text = "#" + "".join(f"{round(255 * part):02X}" for part in colour)
        plate.area([(x0, top), (x1, top), (x1, top + height), (x0, top + height)], text)
    plate.text((box.left, box.top), limit_text, look.KEY_PX * unit)
    for value in look.LEVEL_TICKS_DB:
        x = box.left + length * (value - look.LEVEL_FROM_DB) / span
        plate.line([(x, top + height), (x, top + height + 9 * unit)], look.INK, 2 * unit)
        text = "limit" if value == 0 else f"{signed(value, 0)} dB"
        align = "left" if value == look.LEVEL_TICKS_DB[0] else "middle"
        plate.text((x, top + height + 12 * unit), text, look.KEY_PX * unit, bold=value == 0, align=align)
    x = box.left - length * look.LEVEL_FROM_DB / span
    plate.line([(x, top - 6 * unit), (x, top + height + 9 * unit)], look.ACCENT, 3.5 * unit)


def draw_scale_bar(plate: Plate, layout: Layout, px_per_unit: float, unit_name: str) -> None:
    """Two whole units in black and white at the right of the key strip."""
    unit, box = layout.unit, layout.key
    count = 2 if 2 * px_per_unit < 420 * unit else 1
    length, height = count * px_per_unit, 14 * unit
    right, top = box.right - 40 * unit, box.top + 62 * unit
    left = right - length
    n_parts = 4
    for i in range(n_parts):
        x0, x1 = left + length * i / n_parts, left + length * (i + 1) / n_parts
        fill = look.INK if i % 2 == 0 else look.WHITE
        plate.area(
            [(x0, top), (x1, top), (x1, top + height), (x0, top + height)],
            fill,
            outline=look.INK,
            width=2 * unit,
        )
    for share, text in ((0.0, "0"), (1.0, f"{count} {unit_name}")):
        plate.text((left + share * length, top + height + 8 * unit), text, look.KEY_PX * unit, align="middle")

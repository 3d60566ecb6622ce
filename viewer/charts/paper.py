"""What all charts share: the paper, how words and axes look on it, and how a chart is written."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from raytrace import BAND_NAMES, Study
from viewer import look
from viewer.pictures import Box
from viewer.words import band_tick, boxes_words, seat_words, speaker_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

SIZE = (
    1800,
    740,
)  # lettering of 8 points across the text of a page, of 5 where a chart is drawn at two thirds
WIDE = (2400, 1150)
OVER_TIME = (0.0975, 0.155, 0.869, 0.729)  # where the axes of a chart over time stand on it
_EDGE = (0.024, 0.035)  # empty left of a title, and above it
BAND_TICKS = [band_tick(band) for band in BAND_NAMES]
_POINT = 72.0 / look.DPI  # points per pixel of the finished chart


@dataclass(frozen=True)
class Chart:
    """One chart on disk: of which speaker and seat, what to see in it, and the boxes of its words [px]."""

    speaker: int
    seat: int
    path: Path
    caption: str
    boxes: tuple[Box, ...]


def blank_figure(size: tuple[int, int] = SIZE) -> "Figure":
    """White paper of so many pixels."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(size[0] / look.DPI, size[1] / look.DPI), dpi=look.DPI, facecolor=look.WHITE)
    FigureCanvasAgg(figure)
    return figure


def points(pixels: float) -> float:
    """Pixels of the finished chart in matplotlib's points."""
    return pixels * _POINT


# What matplotlib is told of how something looks, by keyword.
Style = dict[str, Any]

BEFORE: Style = {"color": look.HAIRLINE, "lw": points(3)}
AFTER: Style = {"color": look.INK, "lw": points(3)}


def word_style(pixels: float = look.KEY_PX, colour: str = look.INK, *, bold: bool = False) -> Style:
    """How words of a chart look, as matplotlib takes it."""
    weight = "bold" if bold else "normal"
    return {"fontsize": points(pixels), "color": colour, "fontfamily": look.FONT, "fontweight": weight}


def chart_title(study: Study, speaker: int, seat: int, words: str, figure: "Figure") -> list["Text"]:
    """Who is heard where, in bold, and what the chart shows of it."""
    who = f"{speaker_words(study, speaker)} at the {seat_words(study, seat)}"
    left, top = _EDGE[0], 1.0 - _EDGE[1]
    title = figure.text(left, top, who[0].upper() + who[1:], va="top", **word_style(look.NAME_PX, bold=True))
    end = title.get_window_extent().x1 / figure.bbox.width + 0.012
    return [title, figure.text(end, top - 0.005, words, va="top", **word_style(colour=look.MUTED))]


def draw_key(figure: "Figure") -> list["Text"]:
    """Samples of the lines before and after at the right end of the title's row."""
    from matplotlib.lines import Line2D

    y = 1.0 - _EDGE[1] - 0.45 * look.NAME_PX / figure.bbox.height
    texts = []
    for x, words, style in ((0.775, "before", BEFORE), (0.885, "after", AFTER)):
        figure.add_artist(Line2D([x, x + 0.025], [y, y], **style))
        texts.append(figure.text(x + 0.032, y, words, va="center", **word_style()))
    return texts


def dress(axes: "Axes", below: str, beside: str, *, ticked: bool = False) -> list["Text"]:
    """Grid, tick labels and the names of both axes; tick marks on the lower one only where asked for."""
    axes.grid(axis="y", color=look.GRID, lw=points(2.5), zorder=0.5)
    axes.set_axisbelow(False)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set(color=look.INK, linewidth=points(3))
    axes.tick_params(length=0, pad=points(14), labelsize=points(look.KEY_PX), labelcolor=look.INK)
    if ticked:
        axes.tick_params(axis="x", length=points(10), width=points(3), color=look.INK)
    labels = [*axes.get_xticklabels(), *axes.get_yticklabels()]
    for label in labels:
        label.set_fontfamily(look.FONT)
    axes.set_xlabel(below, labelpad=points(12), **word_style())
    axes.set_ylabel(beside, labelpad=points(14), **word_style())
    return [*labels, axes.xaxis.label, axes.yaxis.label]


def write_chart(figure: "Figure", path: Path, texts: list["Text"]) -> tuple[Box, ...]:
    """Write a chart, the same bytes for the same chart, and say where its words stand.

    Returns
    -------
    tuple of Box
        Extents of all words in pixels from the top left corner.
    """
    from matplotlib import rc_context

    if note := boxes_words("".join(text.get_text() for text in texts)):
        left, low = look.BORDER_PX / figure.bbox.width, 0.25 * look.BORDER_PX / figure.bbox.height
        texts = [*texts, figure.text(left, low, note, **word_style(0.8 * look.KEY_PX, look.MUTED))]
    metadata = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}.get(path.suffix, {})
    packing: Style = (
        {"pil_kwargs": {"compress_level": look.PNG_LEVEL}} if path.suffix.lower() == ".png" else {}
    )
    with rc_context({"svg.hashsalt": path.stem}):
        figure.savefig(path, dpi=look.DPI, metadata=metadata, **packing)
    height = figure.bbox.height
    boxes = []
    for text in texts:
        if text.get_text():
            x0, y0, x1, y1 = (float(x) for x in text.get_window_extent().extents)
            boxes.append(Box(text.get_text(), x0, height - y1, x1, height - y0))
    return tuple(boxes)

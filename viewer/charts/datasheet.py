"""Chart of a data sheet with matplotlib: what a build takes out of each octave, beside its neighbours."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import BAND_NAMES, DataSheet, format_length
from viewer import look
from viewer.charts.paper import BAND_TICKS, Style, blank_figure, dress, points, word_style, write_chart
from viewer.pictures import Box

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.text import Text

SIZE = (2400, 600)
_PALE, _MIDDLE = "#A9BBD0", "#5B81B7"


@dataclass(frozen=True)
class DataChart:
    """One chart on disk: of which sheet, and the boxes of its words [px]."""

    sheet: int
    path: Path
    boxes: tuple[Box, ...]


def draw_datasheets(
    sheets: tuple[DataSheet, ...], folder: str | Path, *, units: str = "metric", suffix: str = ".png"
) -> tuple[DataChart, ...]:
    """The chart of every data sheet.

    Parameters
    ----------
    sheets : tuple of DataSheet
    folder : path
        Where to; must exist.
    units : {"metric", "imperial"}
        Of thicknesses in the key.
    suffix : str
        ".png", ".svg" or ".pdf".

    Returns
    -------
    tuple of DataChart
        In the order of the sheets.
    """
    charts = []
    for index, sheet in enumerate(sheets):
        path = Path(folder) / f"build-{index + 1}{suffix}"
        figure, texts = datasheet_figure(sheet, units=units)
        charts.append(DataChart(index, path, write_chart(figure, path, texts)))
    return tuple(charts)


def datasheet_figure(sheet: DataSheet, *, units: str = "metric") -> tuple["Figure", list["Text"]]:
    """One chart and all its words."""
    figure = blank_figure(SIZE)
    axes = figure.add_axes((0.085, 0.265, 0.555, 0.665))
    place = np.arange(len(BAND_NAMES), dtype=np.float64)
    own = sheet.own
    lines = [
        (own.random, look.INK, 8, "-", f"{_thick(own.thickness_m, units)}, from all sides"),
        (own.normal, look.INK, 5, (0, (3.0, 1.5)), f"{_thick(own.thickness_m, units)}, head on"),
    ]
    for curve, colour, which in ((sheet.thicker, _MIDDLE, "thicker"), (sheet.thinner, _PALE, "thinner")):
        if curve is not None:
            words = f"{which}: {_thick(curve.thickness_m, units)}, from all sides"
            lines.append((curve.random, colour, 6, "-", words))
    texts = []
    for row, (values, colour, width, dash, words) in enumerate(lines):
        style: Style = {"color": colour, "lw": points(width), "ls": dash}
        axes.plot(place, values, zorder=3 + (row == 0), solid_joinstyle="round", **style)
        if row == 0:
            axes.scatter(place, values, s=points(20) ** 2, color=look.INK, zorder=5)
        y = 0.91 - 0.160 * row
        axes.plot([1.035, 1.095], [y, y], transform=axes.transAxes, clip_on=False, **style)
        texts.append(axes.text(1.115, y, words, transform=axes.transAxes, va="center", **word_style()))
    axes.set_xlim(-0.3, place[-1] + 0.3)
    axes.set_ylim(0.0, 1.05)
    axes.set_xticks(place, BAND_TICKS)
    axes.set_yticks(np.arange(0.0, 1.01, 0.2))
    return figure, [*texts, *dress(axes, "pitch, Hz", "share of the sound it takes out")]


def _thick(metres: float, units: str) -> str:
    return f"{format_length(metres, units=units)} of wool"

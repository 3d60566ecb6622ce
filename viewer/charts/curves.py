"""Charts of a study with matplotlib: what a measurement at the seat would show."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import Curve, Peak, Study
from viewer import look
from viewer.charts.paper import (
    Chart,
    blank_figure,
    chart_title,
    dress,
    level_words,
    points,
    word_style,
    write_chart,
)
from viewer.words import met_words, off_limit, things_met

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Floats = NDArray[np.float64]

LOWEST_DB, HIGHEST_DB = -40.0, 4.0
_ROW_DB = 4.6  # height of one row of names above the curve
MOST_NAMES = 7  # the strongest ones
_LONGEST_NAME = 34


def draw_curves(study: Study, folder: str | Path, *, suffix: str = ".png") -> tuple[Chart, ...]:
    """Level over time of every speaker at every seat, with the limit and what exceeds it.

    Parameters
    ----------
    study : Study
        What to show.
    folder : path
        Where to; must exist.
    suffix : str
        ".png", ".svg" or ".pdf".

    Returns
    -------
    tuple of Chart
        By speaker and seat, subs left out.
    """
    folder = Path(folder)
    charts = []
    for curve in study.curves:
        if study.scene.speakers[curve.speaker].use == "main":
            path = folder / f"speaker-{curve.speaker + 1}-seat-{curve.seat + 1}{suffix}"
            figure, texts = curve_figure(study, curve)
            boxes = write_chart(figure, path, texts)
            charts.append(Chart(curve.speaker, curve.seat, path, _caption(study, curve), boxes))
    return tuple(charts)


def curve_figure(study: Study, curve: Curve) -> tuple["Figure", list["Text"]]:
    """One chart and all its words."""
    figure = blank_figure()
    axes = figure.add_axes((0.092, 0.150, 0.872, 0.715))
    until_ms = float(curve.time_s[-1]) * 1e3
    axes.set_xlim(float(curve.time_s[0]) * 1e3, until_ms)
    axes.set_ylim(LOWEST_DB, HIGHEST_DB)
    peaks = [p for p in study.peaks if (p.speaker, p.seat) == (curve.speaker, curve.seat)]
    texts = [
        *chart_title(study, curve.speaker, curve.seat, "what arrives after the direct sound", figure),
        *draw_window(study, axes),
    ]
    _draw_curve(axes, curve)
    texts += _draw_peaks(study, axes, peaks)
    texts += draw_axes(axes)
    return figure, texts


def draw_window(study: Study, axes: "Axes") -> list["Text"]:
    """Shade the time in which the limit holds and draw the limit across it."""
    limits = study.scene.limits
    axes.axvspan(0.0, limits.within_ms, color=look.WINDOW, lw=0, zorder=0)
    axes.plot([0.0, limits.within_ms], [limits.level_db] * 2, color=look.ACCENT, lw=points(5), zorder=4)
    end = axes.get_xlim()[1]
    inside = limits.within_ms + 0.2 * (end - limits.within_ms) < end
    x = limits.within_ms + 0.15 if inside else limits.within_ms - 0.15
    lines = (
        f"limit: {limits.below_db:g} dB below the direct sound",
        f"within {limits.within_ms:g} ms ({limits.name})",
    )
    return [
        axes.text(
            x,
            limits.level_db,
            "\n".join(lines),
            ha="left" if inside else "right",
            va="center" if inside else "bottom",
            linespacing=1.25,
            # Later reflections may rise behind the words.
            bbox={"facecolor": look.WHITE, "alpha": 0.85, "linewidth": 0, "pad": points(8)}
            if inside
            else None,
            zorder=6,
            **word_style(colour=look.ACCENT),
        )
    ]


def _draw_curve(axes: "Axes", curve: Curve) -> None:
    time_ms, level = curve.time_s * 1e3, np.maximum(curve.level_db, LOWEST_DB - 1.0)
    axes.fill_between(time_ms, LOWEST_DB, level, color=look.CURVE_FILL, lw=0, zorder=1)
    axes.plot(time_ms, level, color=look.INK, lw=points(4), solid_joinstyle="round", zorder=3)


def _draw_peaks(study: Study, axes: "Axes", peaks: list[Peak]) -> list["Text"]:
    """Mark the peaks in the window; name the ones over the limit above the curve."""
    judged = [p for p in peaks if not np.isnan(p.margin_db) and p.level_db > LOWEST_DB]
    if judged:
        colours = look.level_colours(np.array([-p.margin_db for p in judged]))
        x, y = [p.delay_s * 1e3 for p in judged], [p.level_db for p in judged]
        axes.scatter(x, y, s=points(25) ** 2, color=look.WHITE, lw=0, zorder=5)
        axes.scatter(x, y, s=points(18) ** 2, color=colours, lw=0, zorder=6)
        draw_worst_ticks(axes, judged)
    strongest = sorted((p for p in judged if p.over_limit), key=lambda p: p.margin_db)[:MOST_NAMES]
    over = sorted(strongest, key=lambda p: p.delay_s)
    texts = [
        axes.text(
            peak.delay_s * 1e3,
            0.0,
            _peak_words(study, peak),
            va="center",
            ha="left",
            zorder=8,
            **word_style(),
        )
        for peak in over
    ]
    return stack_names(axes, over, texts)


def draw_worst_ticks(axes: "Axes", peaks: list[Peak]) -> None:
    """A red tick over each peak that exceeds the limit, at the loudest place the head may be."""
    reach = 0.006 * (axes.get_xlim()[1] - axes.get_xlim()[0])
    for peak in peaks:
        if peak.over_limit:
            x = peak.delay_s * 1e3
            axes.plot(
                [x - reach, x + reach], [peak.zone_worst_db] * 2, color=look.ACCENT, lw=points(6), zorder=7
            )


def _peak_words(study: Study, peak: Peak) -> str:
    """What made a peak, in client words, and by how much it is over the limit."""
    return f"{peak_ways(study, peak)}, {off_limit(peak.margin_db)} dB over"


def peak_ways(study: Study, peak: Peak) -> str:
    """What made a peak, in client words short enough for a chart."""
    table = study.arrivals
    ways: list[str] = []
    for row in sorted(peak.arrivals, key=lambda r: -table.band_level_db[r])[:2]:
        way = " – ".join(met_words(study, met) for met in things_met(table, row))
        if way not in ways:
            ways.append(way)
    if len(" + ".join(ways)) > _LONGEST_NAME:
        ways = ways[:1]
    return " + ".join(ways)


def stack_names(axes: "Axes", over: list[Peak], texts: list["Text"]) -> list["Text"]:
    """Put names in rows above the curve.

    An earlier peak's name stands higher and reaches over the later leaders, which rise to their own rows
    only: no leader strikes through a name.
    """
    left, right = axes.get_xlim()
    box = axes.get_window_extent()
    ms_per_px = (right - left) / box.width
    rows: list[int] = [0] * len(over)
    starts = [peak.delay_s * 1e3 + 0.08 for peak in over]
    widths = [(text.get_window_extent().width + 24) * ms_per_px for text in texts]
    for i in reversed(range(len(over))):
        below = [rows[j] for j in range(i + 1, len(over)) if starts[j] < starts[i] + widths[i]]
        rows[i] = max(below, default=-1) + 1
    shown = [i for i in range(len(over)) if starts[i] + widths[i] < right]
    n_rows = max((rows[i] for i in shown), default=-1) + 1
    axes.set_ylim(LOWEST_DB, HIGHEST_DB + n_rows * _ROW_DB)
    for i, text in enumerate(texts):
        if i not in shown:
            text.remove()
            continue
        y = HIGHEST_DB + (rows[i] + 0.35) * _ROW_DB
        text.set_position((starts[i] + 0.02, y))
        x = over[i].delay_s * 1e3
        axes.plot(
            [x, x], [over[i].level_db + 1.0, y + 0.4 * _ROW_DB], color=look.MUTED, lw=points(2.5), zorder=2.5
        )
    return [text for i, text in enumerate(texts) if i in shown]


def draw_axes(axes: "Axes") -> list["Text"]:
    """Ticks, grid and the names of both axes."""
    ticks = np.arange(LOWEST_DB, 1.0, 10.0)
    axes.set_yticks(ticks, [level_words(tick) for tick in ticks])
    axes.set_xticks(np.arange(0.0, axes.get_xlim()[1] + 1e-9, 5.0))
    texts = dress(axes, "milliseconds after the direct sound", "dB, direct sound = 0", ticked=True)
    axes.yaxis.set_label_coords(-0.058, (0.0 - LOWEST_DB) / 2 / (axes.get_ylim()[1] - LOWEST_DB))
    return texts


def _caption(study: Study, curve: Curve) -> str:
    limits = study.scene.limits
    status = next(v.status for v in study.verdicts if (v.speaker, v.seat) == (curve.speaker, curve.seat))
    if status == "blocked":
        return "The direct sound is hidden on its way to the seat, so nothing is judged here."
    return (
        "Each hump is sound that arrives by way of a surface. What rises above the red line in the first "
        f"{limits.within_ms:g} ms is too strong; the strongest are named after what sends them. Dots are for "
        "the middle of where the head may be; a red tick is for its loudest place."
    )

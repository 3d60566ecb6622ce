"""Charts of a study with matplotlib: what a measurement at the seat would show."""

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace import Curve, Peak, Scene, Study, peak_surface_names
from viewer import look
from viewer.charts.paper import (
    OVER_TIME,
    Chart,
    blank_figure,
    chart_title,
    dress,
    points,
    word_style,
    write_chart,
)
from viewer.words import (
    NEAR,
    decibels,
    hider_words,
    joined_way,
    listed,
    met_words,
    named_rows,
    off_limit,
    things_met,
    worst_first,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Floats = NDArray[np.float64]

LOWEST_DB, HIGHEST_DB = -40.0, 4.0
_ROW_PX = 1.4 * look.KEY_PX  # height of one row of names above the curve
_LABEL_PX = 105  # from the upright axis to the middle of its name
MOST_NAMES = 7  # the strongest ones
_LONGEST_NAME = 34
_NEAR_S = 0.0003  # the maximum that a reflection makes lies no farther from it


class Mark(NamedTuple):
    """Where a peak stands in a chart: when, and over which level its name's leader begins."""

    delay_ms: float
    level_db: float


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
    axes = figure.add_axes(OVER_TIME)
    until_ms = float(curve.time_s[-1]) * 1e3
    axes.set_xlim(float(curve.time_s[0]) * 1e3, until_ms)
    axes.set_ylim(LOWEST_DB, HIGHEST_DB)
    texts = [
        *chart_title(study, curve.speaker, curve.seat, "what arrives after the direct sound", figure),
        *draw_window(study.scene, axes),
    ]
    _draw_curve(axes, curve)
    texts += _draw_peaks(study, axes, curve)
    texts += draw_axes(axes)
    return figure, texts


def draw_window(scene: Scene, axes: "Axes") -> list["Text"]:
    """Shade the time in which the limit holds and draw the limit across it."""
    limits = scene.limits
    axes.axvspan(0.0, limits.within_ms, color=look.WINDOW, lw=0, zorder=0)
    axes.plot([0.0, limits.within_ms], [limits.level_db] * 2, color=look.ACCENT, lw=points(5), zorder=4)
    lines = (
        f"limit: {limits.below_db:g} dB below the direct sound",
        f"within {limits.within_ms:g} ms ({limits.name})",
    )
    text = axes.text(
        limits.within_ms + 0.15,
        limits.level_db,
        "\n".join(lines),
        va="center",
        linespacing=1.25,
        # Later reflections may rise behind the words.
        bbox={"facecolor": look.WHITE, "alpha": 0.85, "linewidth": 0, "pad": points(8)},
        zorder=6,
        **word_style(colour=look.ACCENT),
    )
    if text.get_window_extent().x1 > axes.get_window_extent().x1:  # no room behind it: above its end
        text.set(x=limits.within_ms - 0.15, y=limits.level_db + 1.0, ha="right", va="bottom")
        text.set_backgroundcolor(look.WINDOW)
    return [text]


def _draw_curve(axes: "Axes", curve: Curve) -> None:
    time_ms, level = curve.time_s * 1e3, np.maximum(curve.level_db, LOWEST_DB - 1.0)
    axes.fill_between(time_ms, LOWEST_DB, level, color=look.CURVE_FILL, lw=0, zorder=1)
    axes.plot(time_ms, level, color=look.INK, lw=points(3), solid_joinstyle="round", zorder=3)


def _draw_peaks(study: Study, axes: "Axes", curve: Curve) -> list["Text"]:
    """Mark the judged peaks; name the ones that are over the limit, or too close to say, above the curve."""
    own = [p for p in study.peaks if (p.speaker, p.seat) == (curve.speaker, curve.seat)]
    judged = [p for p in own if p.verdict != "not judged"]
    for peak in judged:
        draw_mark(axes, peak, mark_of(study, curve, peak).delay_ms)
    strongest = worst_first([p for p in judged if p.may_be_over])[:MOST_NAMES]
    named = sorted(strongest, key=lambda p: p.delay_s)
    texts = [
        axes.text(0.0, 0.0, f"{peak_ways(study, p)}, {_short(p)}", va="center", zorder=8, **word_style())
        for p in named
    ]
    return stack_names(axes, [mark_of(study, curve, peak) for peak in named], texts)


def mark_of(study: Study, curve: Curve, peak: Peak) -> Mark:
    """Where the mark of a peak stands: its maximum in the curve at the ears, or its own delay without one."""
    near = study.arrivals.near_misses
    assert near is not None
    delays_s = [*study.arrivals.delay_s[list(peak.arrivals)], *near.delay_s[list(peak.near_misses)]]
    delay_ms = peak.delay_s * 1e3
    if np.isfinite(peak.ears_db) and delays_s:
        away_s = np.abs(curve.time_s[:, None] - np.array(delays_s)).min(axis=1)
        off_db = np.where(away_s < _NEAR_S, np.abs(curve.level_db - peak.ears_db), np.inf)
        delay_ms = float(curve.time_s[np.argmin(off_db)]) * 1e3
    return Mark(delay_ms, max(peak.ears_db, peak.level_db))


def draw_mark(axes: "Axes", peak: Peak, delay_ms: float) -> None:
    """A dot on the curve, and a bar at the level that is judged where the peak is over the limit or may be.

    Over: a full dot and a red bar. Too close to say: a ring and a grey bar.
    """
    x, is_open = delay_ms, peak.verdict == "undecided"
    if peak.ears_db > LOWEST_DB:
        (colour,) = look.level_colours(np.array([-peak.margin_db]))
        axes.scatter([x], [peak.ears_db], s=points(25) ** 2, color=look.WHITE, lw=0, zorder=5)
        face = look.WHITE if is_open else colour
        axes.scatter(
            [x], [peak.ears_db], s=points(15) ** 2, facecolor=face, edgecolor=colour, lw=points(4), zorder=6
        )
    if peak.may_be_over:
        reach = 0.006 * (axes.get_xlim()[1] - axes.get_xlim()[0])
        bar = look.MUTED if is_open else look.ACCENT
        axes.plot([x, x], [peak.ears_db, peak.level_db], color=bar, lw=points(2), zorder=4.6)
        axes.plot([x - reach, x + reach], [peak.level_db] * 2, color=bar, lw=points(7), zorder=7)


def _short(peak: Peak) -> str:
    """The verdict on a peak, as short as a chart needs it."""
    return NEAR if peak.verdict == "undecided" else f"{off_limit(peak.margin_db)} dB over"


def peak_ways(study: Study, peak: Peak) -> str:
    """What made a peak, in client words short enough for a chart."""
    table = study.arrivals
    ways = [
        joined_way(met_words(study, met) for met in things_met(table, row)) for row in named_rows(study, peak)
    ]
    ways = list(dict.fromkeys(ways)) or [joined_way(peak_surface_names(study, peak))]
    is_long = len(ways) > 1 and len(listed(ways)) > _LONGEST_NAME
    return f"{ways[0]} and {len(ways) - 1} more" if is_long else listed(ways)


def stack_names(axes: "Axes", marks: list[Mark], texts: list["Text"]) -> list["Text"]:
    """Put names in rows above the curve.

    An earlier peak's name stands higher and reaches over the later leaders, which rise to their own rows
    only: no leader strikes through a name.
    """
    left, right = axes.get_xlim()
    box = axes.get_window_extent()
    ms_per_px = (right - left) / box.width
    rows: list[int] = [0] * len(marks)
    starts = [mark.delay_ms + 0.08 for mark in marks]
    widths = [(text.get_window_extent().width + 24) * ms_per_px for text in texts]
    for i in reversed(range(len(marks))):
        below = [rows[j] for j in range(i + 1, len(marks)) if starts[j] < starts[i] + widths[i]]
        rows[i] = max(below, default=-1) + 1
    shown = [i for i in range(len(marks)) if starts[i] + widths[i] < right]
    n_rows = max((rows[i] for i in shown), default=-1) + 1
    row_db = (HIGHEST_DB - LOWEST_DB) * _ROW_PX / (box.height - n_rows * _ROW_PX)
    axes.set_ylim(LOWEST_DB, HIGHEST_DB + n_rows * row_db)
    for i, text in enumerate(texts):
        if i not in shown:
            text.remove()
            continue
        y = HIGHEST_DB + (rows[i] + 0.35) * row_db
        text.set_position((starts[i] + 0.02, y))
        x = marks[i].delay_ms
        axes.plot(
            [x, x], [marks[i].level_db + 1.0, y + 0.4 * row_db], color=look.MUTED, lw=points(2.5), zorder=2.5
        )
    return [text for i, text in enumerate(texts) if i in shown]


def draw_axes(axes: "Axes") -> list["Text"]:
    """Ticks, grid and the names of both axes."""
    ticks = np.arange(LOWEST_DB, 1.0, 10.0)
    axes.set_yticks(ticks, [decibels(tick, 0) for tick in ticks])
    axes.set_xticks(np.arange(0.0, axes.get_xlim()[1] + 1e-9, 5.0))
    texts = dress(axes, "milliseconds after the direct sound", "dB, direct sound = 0", ticked=True)
    beside = -_LABEL_PX / axes.get_window_extent().width
    axes.yaxis.set_label_coords(beside, (0.0 - LOWEST_DB) / 2 / (axes.get_ylim()[1] - LOWEST_DB))
    return texts


def _caption(study: Study, curve: Curve) -> str:
    limits = study.scene.limits
    verdict = next(v for v in study.verdicts if (v.speaker, v.seat) == (curve.speaker, curve.seat))
    if verdict.status == "hidden":
        return (
            f"Nothing is judged here: {hider_words(verdict)} hides the direct sound on its way to the seat."
        )
    own = [p for p in study.peaks if (p.speaker, p.seat) == (curve.speaker, curve.seat)]
    words = (
        "Each hump is sound that arrives by way of a surface, as heard with the head in the middle. Too "
        f"strong is what rises above the red line in the first {limits.within_ms:g} ms at more than a tenth "
        "of the places where the head may be: a red bar shows what it reaches there. The strongest are named."
    )
    if any(p.verdict == "undecided" for p in own):
        words += (
            " Rings with grey bars: too close to the limit to say, within the accuracy of tape and model."
        )
    if any(p.verdict == "below" and p.ears_db > limits.level_db for p in own):
        words += " Dots above the line without a bar: over it in the middle, hardly anywhere else."
    return words

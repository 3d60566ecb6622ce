"""Charts of a comparison with matplotlib: the curve before, pale, and after, strong."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import Comparison, Curve, Peak, PeakPair, VerdictPair
from viewer import look
from viewer.charts.curves import (
    HIGHEST_DB,
    LOWEST_DB,
    MOST_NAMES,
    draw_axes,
    draw_window,
    draw_worst_ticks,
    peak_ways,
    stack_names,
)
from viewer.charts.paper import (
    AFTER,
    BEFORE,
    Chart,
    blank_figure,
    chart_title,
    draw_key,
    points,
    word_style,
    write_chart,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

CAPTION = (
    "Pale: before. Dark: after. What was or is too strong is named, with a ring where it was and a dot where "
    "it is, in the middle of where the head may be. The figures, and the red ticks on what is still too "
    "strong, are for its loudest place; names in red are still too strong."
)


def draw_changes(comparison: Comparison, folder: str | Path, *, suffix: str = ".png") -> tuple[Chart, ...]:
    """Level over time before and after, of every speaker that is judged in both.

    Parameters
    ----------
    comparison : Comparison
        What to show.
    folder : path
        Where to; must exist.
    suffix : str
        ".png", ".svg" or ".pdf".

    Returns
    -------
    tuple of Chart
        Speakers and seats by their indices after.
    """
    charts = []
    for pair in comparison.verdicts:
        speaker, seat = pair.after.speaker, pair.after.seat
        path = Path(folder) / f"before-after-speaker-{speaker + 1}-seat-{seat + 1}{suffix}"
        figure, texts = change_figure(comparison, pair)
        charts.append(Chart(speaker, seat, path, CAPTION, write_chart(figure, path, texts)))
    return tuple(charts)


def change_figure(comparison: Comparison, pair: VerdictPair) -> tuple["Figure", list["Text"]]:
    """One chart and all its words."""
    figure = blank_figure()
    axes = figure.add_axes((0.092, 0.150, 0.872, 0.715))
    before, after = (
        next(c for c in study.curves if (c.speaker, c.seat) == (verdict.speaker, verdict.seat))
        for study, verdict in ((comparison.before, pair.before), (comparison.after, pair.after))
    )
    axes.set_xlim(float(after.time_s[0]) * 1e3, float(after.time_s[-1]) * 1e3)
    axes.set_ylim(LOWEST_DB, HIGHEST_DB)
    study = comparison.after
    texts = chart_title(study, pair.after.speaker, pair.after.seat, "before and after", figure)
    texts += draw_key(figure)
    texts += draw_window(study, axes)
    _draw_curves(axes, before, after)
    own = [p for p in comparison.peaks if (p.speaker, p.seat) == (pair.speaker, pair.seat)]
    texts += _draw_changes(comparison, axes, own)
    texts += draw_axes(axes)
    return figure, texts


def _draw_curves(axes: "Axes", before: Curve, after: Curve) -> None:
    for curve, style, order in ((before, BEFORE, 2.6), (after, AFTER, 3)):
        level = np.maximum(curve.level_db, LOWEST_DB - 1.0)
        axes.plot(curve.time_s * 1e3, level, solid_joinstyle="round", zorder=order, **style)
        if curve is before:
            axes.fill_between(curve.time_s * 1e3, LOWEST_DB, level, color=look.CURVE_FILL, lw=0, zorder=1)


def _draw_changes(comparison: Comparison, axes: "Axes", pairs: list[PeakPair]) -> list["Text"]:
    """Name what was or is over the limit, with a line from its level before to its level after."""
    over = [p for p in pairs if p.worst_margin_db < 0.0 and _shown_peak(p).level_db > LOWEST_DB]
    strongest = sorted(over, key=lambda p: p.worst_margin_db)[:MOST_NAMES]
    named = sorted(strongest, key=lambda p: p.delay_s)
    for pair in named:
        _draw_change(axes, pair)
    draw_worst_ticks(axes, [p.after for p in named if p.after is not None])
    texts = []
    for pair in named:
        is_over = pair.after is not None and pair.after.over_limit
        style = word_style(colour=look.ACCENT if is_over else look.INK)
        words = _change_words(comparison, pair)
        texts.append(axes.text(pair.delay_s * 1e3, 0.0, words, va="center", ha="left", zorder=8, **style))
    return stack_names(axes, [_shown_peak(p) for p in named], texts)


def _shown_peak(pair: PeakPair) -> Peak:
    """The peak before, else the one after: every pair has one of them."""
    peak = pair.before or pair.after
    assert peak is not None, "a pair is made of at least one peak"
    return peak


def _draw_change(axes: "Axes", pair: PeakPair) -> None:
    """A ring where it was, a dot where it is, and the way between."""
    old, new = pair.before, pair.after
    if old is not None:
        end = LOWEST_DB if new is None else max(new.level_db, LOWEST_DB)
        x = [old.delay_s * 1e3, (new or old).delay_s * 1e3]
        axes.plot(x, [old.level_db, end], color=look.MUTED, lw=points(3), zorder=4.5)
        ring = {"color": look.WHITE, "edgecolor": look.MUTED, "lw": points(4), "zorder": 5}
        axes.scatter([x[0]], [old.level_db], s=points(18) ** 2, **ring)
    if new is not None and new.level_db > LOWEST_DB:
        x, colour = [new.delay_s * 1e3], look.level_colours(np.array([-new.margin_db]))
        axes.scatter(x, [new.level_db], s=points(25) ** 2, color=look.WHITE, lw=0, zorder=6)
        axes.scatter(x, [new.level_db], s=points(18) ** 2, color=colour, lw=0, zorder=7)


def _change_words(comparison: Comparison, pair: PeakPair) -> str:
    """What made a peak and what became of it."""
    if pair.before is None:
        assert pair.after is not None
        return f"{peak_ways(comparison.after, pair.after)}, new"
    ways = peak_ways(comparison.before, pair.before)
    if pair.after is None:
        return f"{ways}, gone"
    if abs(pair.change_db) < 0.05:
        return f"{ways}, as before"
    return f"{ways}, {abs(pair.change_db):.1f} dB {'weaker' if pair.change_db < 0 else 'stronger'}"

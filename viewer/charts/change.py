"""Charts of a comparison with matplotlib: the curve before, pale, and after, strong."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import Comparison, Curve, PeakPair, VerdictPair
from viewer import look
from viewer.charts.curves import (
    HIGHEST_DB,
    LOWEST_DB,
    MOST_NAMES,
    Mark,
    draw_axes,
    draw_mark,
    draw_window,
    mark_of,
    peak_ways,
    stack_names,
)
from viewer.charts.paper import (
    AFTER,
    BEFORE,
    OVER_TIME,
    Chart,
    Style,
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
    "Pale: before. Dark: after. What was or is too strong is named, with a pale ring where it was and a mark "
    "where it is, with the head in the middle; names in red are still too strong. Figures and red bars are "
    "for the level that is judged, exceeded at a tenth of the places where the head may be; rings with "
    "grey bars are too close to the limit to say."
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
    axes = figure.add_axes(OVER_TIME)
    before, after = (
        next(c for c in study.curves if (c.speaker, c.seat) == (verdict.speaker, verdict.seat))
        for study, verdict in ((comparison.before, pair.before), (comparison.after, pair.after))
    )
    axes.set_xlim(float(after.time_s[0]) * 1e3, float(after.time_s[-1]) * 1e3)
    axes.set_ylim(LOWEST_DB, HIGHEST_DB)
    study = comparison.after
    texts = chart_title(study, pair.after.speaker, pair.after.seat, "before and after", figure)
    texts += draw_key(figure)
    texts += draw_window(study.scene, axes)
    _draw_curves(axes, before, after)
    own = [p for p in comparison.peaks if (p.speaker, p.seat) == (pair.speaker, pair.seat)]
    texts += _draw_changes(comparison, axes, own, (before, after))
    texts += draw_axes(axes)
    return figure, texts


def _draw_curves(axes: "Axes", before: Curve, after: Curve) -> None:
    for curve, style, order in ((before, BEFORE, 2.6), (after, AFTER, 3)):
        level = np.maximum(curve.level_db, LOWEST_DB - 1.0)
        axes.plot(curve.time_s * 1e3, level, solid_joinstyle="round", zorder=order, **style)
        if curve is before:
            axes.fill_between(curve.time_s * 1e3, LOWEST_DB, level, color=look.CURVE_FILL, lw=0, zorder=1)


def _draw_changes(
    comparison: Comparison, axes: "Axes", pairs: list[PeakPair], curves: tuple[Curve, Curve]
) -> list["Text"]:
    """Name what was or is over the limit, or too close to say, with its marks before and after."""
    near = [pair for pair in pairs if any(p is not None and p.may_be_over for p in (pair.before, pair.after))]
    strongest = sorted(near, key=lambda p: (not _was_or_is_over(p), p.worst_margin_db))[:MOST_NAMES]
    named = sorted(strongest, key=lambda p: p.delay_s)
    marks, texts = [], []
    for pair in named:
        marks.append(_draw_change(comparison, axes, pair, curves))
        is_over = pair.after is not None and pair.after.over_limit
        style = word_style(colour=look.ACCENT if is_over else look.INK)
        texts.append(axes.text(0.0, 0.0, _change_words(comparison, pair), va="center", zorder=8, **style))
    return stack_names(axes, marks, texts)


def _was_or_is_over(pair: PeakPair) -> bool:
    return any(peak is not None and peak.over_limit for peak in (pair.before, pair.after))


def _draw_change(comparison: Comparison, axes: "Axes", pair: PeakPair, curves: tuple[Curve, Curve]) -> Mark:
    """A pale ring where it was, its mark where it is, the way between; where its name's leader begins."""
    old, new = pair.before, pair.after
    was = None if old is None else mark_of(comparison.before, curves[0], old)
    now = None if new is None else mark_of(comparison.after, curves[1], new)
    if old is not None and was is not None and old.ears_db > LOWEST_DB:
        end_db = LOWEST_DB if new is None else max(new.ears_db, LOWEST_DB)
        x = [was.delay_ms, (now or was).delay_ms]
        axes.plot(x, [old.ears_db, end_db], color=look.MUTED, lw=points(3), zorder=4.5)
        ring: Style = {"color": look.WHITE, "edgecolor": look.MUTED, "lw": points(4), "zorder": 5}
        axes.scatter(x[:1], [old.ears_db], s=points(18) ** 2, **ring)
    if new is not None and now is not None:
        draw_mark(axes, new, now.delay_ms)
    first = was or now
    assert first is not None, "a pair is made of at least one peak"
    return first


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

"""Chart of a measurement with matplotlib: the predicted curve, pale, the measured one, strong, with names."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import Attribution, Held, MeasuredRoom, Measurement
from viewer import look
from viewer.charts.curves import HIGHEST_DB, LOWEST_DB, draw_axes, draw_window
from viewer.charts.paper import AFTER, BEFORE, WIDE, Chart, blank_figure, points, word_style, write_chart
from viewer.words import joined_way

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

_MOST_NAMES = 8
_NAMED_DB = -20.0
_ROW_DB = 3.6


def draw_all_measured(found: MeasuredRoom, folder: Path, *, suffix: str) -> tuple[Chart, ...]:
    """A chart of each measurement of the room as it is: beside that before the work, or the prediction.

    Parameters
    ----------
    found : MeasuredRoom
    folder : Path
        Where to; must exist.
    suffix : str
        ".png", ".svg" or ".pdf".
    """
    charts = []
    for heard in found.last.heard:
        speaker, seat = heard.take.speaker, heard.take.seat
        path = folder / f"measured-speaker-{speaker + 1}-seat-{seat + 1}{suffix}"
        was = found.states[0][1].at(speaker, seat) if len(found.states) > 1 else None
        draw_measured(found.last, heard, path, before=was)
        other = "the prediction" if was is None else "as it was measured before"
        caption = (
            f"Level over time as measured, dark; {other}, pale; the limit, red. Names: what made a peak."
        )
        charts.append(Chart(speaker, seat, path, caption, ()))
    return tuple(charts)


def draw_measured(held: Held, heard: Measurement, path: Path, *, before: Measurement | None = None) -> Path:
    """Level over time as measured and as predicted, with who made the strongest peaks.

    Parameters
    ----------
    held : Held
    heard : Measurement
        One of `held.heard`.
    path : Path
        What to write: .png, .svg or .pdf.
    before : Measurement, optional
        Of the room as it was, drawn in place of the prediction.
    """
    figure = blank_figure(WIDE)
    axes = figure.add_axes((0.092, 0.150, 0.872, 0.715))
    axes.set_xlim(-1.0, 1e3 * heard.until_s)
    axes.set_ylim(LOWEST_DB, HIGHEST_DB)
    pale = ("predicted", heard.predicted.curves) if before is None else ("before", before.curves)
    drawn = (pale, ("measured" if before is None else "after", heard.curves))
    _draw_title(figure, held, heard, [name for name, _ in drawn])
    for (_, curves), style, order in zip(drawn, (BEFORE, AFTER), (2.6, 3), strict=True):
        level = np.maximum(curves.level_db, LOWEST_DB - 1.0)
        axes.plot(1e3 * curves.time_s, level, solid_joinstyle="round", zorder=order, **style)
    draw_window(held.scene, axes)
    _draw_names(axes, heard)
    draw_axes(axes)
    write_chart(figure, path, [])
    return path


def _draw_title(figure: "Figure", held: Held, heard: Measurement, drawn: list[str]) -> None:
    from matplotlib.lines import Line2D

    names = held.scene.speakers[heard.take.speaker].name, held.scene.seats[heard.take.seat].name
    top = 1.0 - look.BORDER_PX / figure.bbox.height
    left = look.BORDER_PX / figure.bbox.width
    what = "measured and predicted" if "predicted" in drawn else "measured before and after"
    words = f"{names[0]} at {names[1]}, {what}"
    figure.text(left, top, words[0].upper() + words[1:], va="top", **word_style(look.NAME_PX, bold=True))
    y = 1.0 - (look.BORDER_PX + 0.45 * look.NAME_PX) / figure.bbox.height
    for x, name, style in zip((0.76, 0.88), drawn, (BEFORE, AFTER), strict=True):
        figure.add_artist(Line2D([x, x + 0.025], [y, y], **style))
        figure.text(x + 0.032, y, name, va="center", **word_style())


def _draw_names(axes: "Axes", heard: Measurement) -> None:
    """The strongest peaks with what made them, in rows above the curve.

    An earlier name stands higher than those it reaches over, so that no leader strikes through one; names
    that would run off the paper end at their peak.
    """
    loud = [own for own in heard.peaks if own.peak.level_db >= _NAMED_DB and not own.is_speakers_own]
    loud = sorted(
        sorted(loud, key=lambda own: -own.peak.level_db)[:_MOST_NAMES], key=lambda o: o.peak.delay_s
    )
    left, right = axes.get_xlim()
    ms_per_px = (right - left) / axes.get_window_extent().width
    named: list[tuple[bool, float, float, Attribution, Text]] = []
    for own in reversed(loud):
        colour = look.MUTED if own.is_unexplained else look.INK
        text = axes.text(0.0, 0.0, _name(heard, own), va="bottom", **word_style(0.85 * look.KEY_PX, colour))
        wide_ms, at_ms = (text.get_window_extent().width + 24) * ms_per_px, 1e3 * own.peak.delay_s
        # One that would reach over a later name which ends at its peak does so too.
        runs_off = at_ms + wide_ms > right or any(off and at < at_ms + wide_ms for off, at, *_ in named)
        named.append((runs_off, at_ms, wide_ms, own, text))
    rows, ends = list[int](), list[tuple[float, float]]()
    # Those that end at their peak go over all that they reach back over, the later the higher.
    named.sort(key=lambda one: (one[0], one[1] if one[0] else -one[1]))
    for runs_off, at_ms, wide_ms, _, text in named:
        begin, end = (at_ms - wide_ms, at_ms) if runs_off else (at_ms, at_ms + wide_ms)
        crossed = [row for row, (b, e) in zip(rows, ends, strict=True) if b < end and begin < e]
        rows.append(max(crossed, default=-1) + 1)
        ends.append((begin, end))
        beside_ms = (-12 if runs_off else 10) * ms_per_px
        text.set(x=at_ms + beside_ms, ha="right" if runs_off else "left")
    axes.set_ylim(LOWEST_DB, HIGHEST_DB + (max(rows, default=-1) + 1) * _ROW_DB)
    for (_, _, _, own, text), row in zip(named, rows, strict=True):
        height_db, at_ms = HIGHEST_DB + (row + 0.2) * _ROW_DB, 1e3 * own.peak.delay_s
        text.set_y(height_db)
        axes.plot(
            [at_ms] * 2, [own.peak.level_db, height_db + 0.6 * _ROW_DB], color=look.HAIRLINE, lw=points(2)
        )
        axes.plot([at_ms], [own.peak.level_db], "o", color=look.INK, ms=points(12), zorder=4)


def _name(heard: Measurement, own: Attribution) -> str:
    if own.made_by is None:
        return "edges of what is drawn" if own.is_of_edges else "nothing drawn"
    parts = heard.predicted.peaks[own.made_by].parts
    words = joined_way(parts[0].surfaces)
    return words if len(parts) == 1 else f"{words}, {len(parts) - 1} more"

"""Charts of decay with matplotlib: how sound dies away per octave, and its times against the target."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import BAND_NAMES, Decay, Study
from viewer import look
from viewer.charts.paper import (
    BAND_TICKS,
    WIDE,
    Chart,
    Style,
    blank_figure,
    chart_title,
    dress,
    points,
    word_style,
    write_chart,
)
from viewer.words import band_words, decibels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Floats = NDArray[np.float64]

_LOWEST_DB = -60.0
_PALE, _DARK = look.rgb("#A9BBD0"), look.rgb(look.INK)
_KEY_FROM, _KEY_DOWN_TO_DB = 0.76, -33.0  # where the key stands, of the width and in level
_FIRM_DB = 1.0  # curves end where chance has more to say than this


def draw_decays(
    study: Study, decays: Sequence[Decay], folder: str | Path, *, suffix: str = ".png"
) -> tuple[Chart, ...]:
    """Decay curves and decay times of every speaker at every seat.

    Parameters
    ----------
    study : Study
        For the names.
    decays : sequence of Decay
        Of the same scene.
    folder : path
        Where to; must exist.
    suffix : str
        ".png", ".svg" or ".pdf".

    Returns
    -------
    tuple of Chart
        By speaker and seat, subs left out.
    """
    charts = []
    for decay in decays:
        if study.scene.speakers[decay.speaker].use == "main":
            path = Path(folder) / f"decay-speaker-{decay.speaker + 1}-seat-{decay.seat + 1}{suffix}"
            figure, texts = decay_figure(study, decay)
            boxes = write_chart(figure, path, texts)
            charts.append(Chart(decay.speaker, decay.seat, path, _caption(decay), boxes))
    return tuple(charts)


def decay_figure(study: Study, decay: Decay) -> tuple["Figure", list["Text"]]:
    """One chart and all its words: curves on the left, times on the right."""
    figure = blank_figure(WIDE)
    curves = figure.add_axes((0.085, 0.150, 0.375, 0.690))
    times = figure.add_axes((0.570, 0.150, 0.394, 0.690))
    texts = chart_title(study, decay.speaker, decay.seat, "how sound dies away, low to high pitch", figure)
    texts += _draw_curves(curves, decay)
    texts += _draw_times(times, decay)
    return figure, texts


def _is_guide(decay: Decay) -> NDArray[np.bool_]:
    """Bands below the frequency from which on such figures hold, (n_bands,)."""
    return np.array(BAND_NAMES) < decay.schroeder_hz


def _draw_curves(axes: "Axes", decay: Decay) -> list["Text"]:
    """Level of what is still to come, a line per band; the key stands where no curve comes."""
    # A curve ends at the first time where it is too low or too uncertain.
    shown = np.logical_and.accumulate(
        (decay.level_db >= _LOWEST_DB) & (decay.level_error_db <= _FIRM_DB), axis=0
    )
    until_s = float(decay.time_s[max(1, int(np.flatnonzero(shown.any(axis=1)).max()))])
    beside = decay.time_s > _KEY_FROM * until_s
    if np.any(decay.level_db[beside][shown[beside]] > _KEY_DOWN_TO_DB):
        until_s /= _KEY_FROM
    axes.set_xlim(0.0, until_s * 1e3)
    axes.set_ylim(_LOWEST_DB, 0.0)
    texts = []
    for band, is_guide in enumerate(_is_guide(decay)):
        share = band / (len(BAND_NAMES) - 1)
        style: Style = {
            "color": tuple((1.0 - share) * _PALE + share * _DARK),
            "lw": points(5),
            "ls": (0, (3.0, 1.5)) if is_guide else "-",
        }
        level = decay.level_db[shown[:, band], band]
        axes.plot(decay.time_s[: len(level)] * 1e3, level, zorder=3, **style)
        y = 0.955 - 0.062 * band
        axes.plot([0.78, 0.85], [y, y], transform=axes.transAxes, zorder=3, **style)
        words = band_words(BAND_NAMES[band])
        texts.append(axes.text(0.87, y, words, transform=axes.transAxes, va="center", **word_style()))
    step_ms = next(step for step in (20, 50, 100, 200, 500, 1000, 2000, 5000) if until_s * 1e3 / step <= 8.0)
    axes.set_xticks(np.arange(0.0, 0.97 * until_s * 1e3, step_ms))  # none beyond the axis
    ticks = np.arange(_LOWEST_DB, 1.0, 10.0)
    axes.set_yticks(ticks, [decibels(tick, 0) for tick in ticks])
    return [*texts, *dress(axes, "milliseconds after the direct sound", "Remaining sound, dB")]


def _draw_times(axes: "Axes", decay: Decay) -> list["Text"]:
    """T20 per band with its error, the formulas beside it, the target and its tolerance behind."""
    place = np.arange(len(BAND_NAMES), dtype=np.float64)
    t20, error, target = decay.parameters.t20_s, decay.errors.t20_s, decay.target
    formulas = np.stack([decay.sabine_s, decay.eyring_s, decay.arau_s])
    axes.set_xlim(-0.6, place[-1] + 0.6)
    high = np.concatenate([t20, target.high_s, formulas.ravel()])
    axes.set_ylim(0.0, 1.32 * float(np.max(high[np.isfinite(high)])))
    axes.fill_between(place, target.low_s, target.high_s, color=look.CURVE_FILL, lw=0, zorder=1)
    ends = np.interp(np.log([200.0, 4000.0]), np.log(BAND_NAMES), place)
    axes.plot(ends, [target.time_s] * 2, color=look.MUTED, lw=points(4), zorder=2)
    for seconds in formulas:
        axes.hlines(seconds, place - 0.22, place + 0.22, color=look.HAIRLINE, lw=points(4), zorder=3)
    axes.errorbar(place, t20, error, fmt="none", ecolor=look.INK, elinewidth=points(4), zorder=4)
    firm = ~_is_guide(decay)
    for chosen, face in ((firm, look.INK), (~firm, look.WHITE)):
        dots: Style = {"s": points(20) ** 2, "lw": points(4), "zorder": 5}
        axes.scatter(place[chosen], t20[chosen], color=face, edgecolor=look.INK, **dots)
    axes.set_xticks(place, BAND_TICKS)
    top = axes.get_ylim()[1]
    steps = (mantissa * 10.0**power for power in range(-2, 4) for mantissa in (1, 2, 5))
    step = next(step for step in steps if step >= 0.05 and top / step <= 8.0)
    seconds_shown = np.arange(0.0, 0.86 * top, step)  # not through the key
    axes.set_yticks(seconds_shown, [f"{tick:.2f}" if step < 0.1 else f"{tick:.1f}" for tick in seconds_shown])
    return [*_key(axes, decay), *dress(axes, "pitch, Hz", "seconds for 60 dB")]


def _key(axes: "Axes", decay: Decay) -> list["Text"]:
    """What the marks mean, in two columns above them."""
    at: Style = {"transform": axes.transAxes, "zorder": 6, "clip_on": False}
    left, right, upper, lower = 0.02, 0.55, 0.955, 0.885
    axes.scatter([left], [upper], s=points(20) ** 2, color=look.INK, **at)
    axes.scatter([left], [lower], s=points(20) ** 2, color=look.WHITE, edgecolor=look.INK, lw=points(4), **at)
    axes.plot([right - 0.02, right + 0.02], [upper] * 2, color=look.HAIRLINE, lw=points(4), **at)
    axes.fill_between(
        [right - 0.02, right + 0.02], lower - 0.022, lower + 0.022, color=look.CURVE_FILL, lw=0, **at
    )
    axes.plot([right - 0.02, right + 0.02], [lower] * 2, color=look.MUTED, lw=points(4), **at)
    below_hz = f"below {round(decay.schroeder_hz, -1):.0f} Hz: " if decay.schroeder_hz else ""
    words = (
        (left, upper, "followed by rays"),
        (left, lower, f"{below_hz}a guide only"),
        (right, upper, "three classical formulas"),
        (right, lower, f"target {decay.target.time_s:.2f} s, tolerance"),
    )
    return [
        axes.text(x + 0.035, y, text, transform=axes.transAxes, va="center", **word_style())
        for x, y, text in words
    ]


def _caption(decay: Decay) -> str:
    if np.isfinite(decay.middle_s):
        first = f"At mid frequencies sound dies away in {decay.middle_s:.2f} s"
    elif decay.is_over_at_once:
        first = "In the middle of the range nothing rings: no sound, or next to none, comes back to the seat"
    else:
        first = "In the middle of the range the room rings longer than could be followed"
    return (
        f"{first}; a listening room of this size is meant to ring for about {decay.target.time_s:.2f} s. The "
        "steeper a line falls, the sooner that pitch is gone; a line ends where it gets uncertain. Hollow "
        "dots and dashed lines are a rough guide only."
    )

"""Charts of tone with matplotlib: what early reflections do to each pitch a speaker sends."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import EarlyResponse, Study
from viewer import look
from viewer.charts.paper import (
    AFTER,
    BEFORE,
    Chart,
    Style,
    blank_figure,
    chart_title,
    draw_key,
    dress,
    points,
    word_style,
    write_chart,
)
from viewer.words import band_tick, path_words, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

SIZE = (1800, 940)  # two of them and their words fill a page
_TICKS_HZ = (200, 500, 1000, 2000, 5000)
_STEP_DB = 6.0
_DEEPEST_DB = -24.0  # a line that dips deeper is cut off
_VEIL = 0.72  # how much of what lies under it white takes away
_WIDE_ENOUGH = 1.4  # so many times the first pitch: words stand inside the veil
_NO_MORE_DB = 0.1  # a difference in evenness that prints as none


def draw_tones(
    study: Study,
    folder: str | Path,
    *,
    before: Study | None = None,
    below_hz: float = 0.0,
    has_bass: bool = False,
    suffix: str = ".png",
) -> tuple[Chart, ...]:
    """Level over pitch of every speaker at every seat, direct sound and reflections together.

    Parameters
    ----------
    study : Study
        What to show.
    folder : path
        Where to; must exist.
    before : Study, optional
        The same room without its panels: its line is drawn pale behind.
    below_hz : float
        Where the room's modes rule and reflections tell nothing: greyed. [Hz]
    has_bass : bool
        Whether a chapter on the bass stands beside it, to which the greyed part sends its reader.
    suffix : str
        ".png", ".svg" or ".pdf".

    Returns
    -------
    tuple of Chart
        By speaker and seat; subs and speakers whose direct sound is hidden left out.
    """
    see = "; see “The bass” in client.pdf" if has_bass else ""
    judged = {(v.speaker, v.seat) for v in study.verdicts if v.status == "judged"}
    charts = []
    for response in study.responses:
        if (response.speaker, response.seat) in judged:
            path = Path(folder) / f"tone-speaker-{response.speaker + 1}-seat-{response.seat + 1}{suffix}"
            old = None if before is None else _counterpart(study, before, response)
            figure, texts = tone_figure(study, response, old, below_hz=below_hz, has_bass=has_bass)
            boxes = write_chart(figure, path, texts)
            caption = _caption(response) + _beside(study, response, old, below_hz, see)
            charts.append(Chart(response.speaker, response.seat, path, caption, boxes))
    return tuple(charts)


def _counterpart(study: Study, before: Study, response: EarlyResponse) -> EarlyResponse | None:
    """The response of the same speaker and seat, by name, in another study."""
    names = [
        (own.arrivals.speaker_names[r.speaker], own.arrivals.seat_names[r.seat])
        for own, r in [(study, response), *((before, r) for r in before.responses)]
    ]
    return next((r for r, name in zip(before.responses, names[1:], strict=True) if name == names[0]), None)


def tone_figure(
    study: Study,
    response: EarlyResponse,
    before: EarlyResponse | None = None,
    *,
    below_hz: float = 0.0,
    has_bass: bool = False,
) -> tuple["Figure", list["Text"]]:
    """One chart and all its words; `before` is drawn pale behind, what is below `below_hz` greyed."""
    figure = blank_figure(SIZE)
    axes = figure.add_axes((0.0975, 0.122, 0.869, 0.772))
    axes.set_xscale("log")
    axes.set_xlim(response.frequency_hz[0], response.frequency_hz[-1])
    levels = np.concatenate([response.level_db, [] if before is None else before.level_db])
    lowest = max(_DEEPEST_DB, _STEP_DB * np.floor(levels.min() / _STEP_DB))
    highest = _STEP_DB * np.ceil(max(float(levels.max()), 1.0) / _STEP_DB)
    axes.set_ylim(lowest, highest)
    shown = np.maximum(response.level_db, lowest)
    axes.fill_between(response.frequency_hz, 0.0, shown, color=look.CURVE_FILL, lw=0, zorder=1)
    axes.axhline(0.0, color=look.MUTED, lw=points(3), zorder=2)
    if before is not None:
        axes.plot(before.frequency_hz, np.maximum(before.level_db, lowest), zorder=2.5, **BEFORE)
    axes.plot(response.frequency_hz, shown, zorder=3, **AFTER)
    texts = chart_title(study, response.speaker, response.seat, "what reflections do to the tone", figure)
    if before is not None:
        texts += draw_key(figure)
    texts += _grey_out(axes, below_hz, has_bass)
    texts += _draw_dips(study, axes, response)
    texts += _dress(axes, np.arange(lowest, highest + 0.1, _STEP_DB))
    return figure, texts


def _grey_out(axes: "Axes", below_hz: float, has_bass: bool) -> list["Text"]:
    """A pale veil over the pitches that the room's modes rule, and why it is there."""
    first, last = axes.get_xlim()
    end = min(below_hz, last)
    if end <= first:
        return []
    low, high = axes.get_ylim()
    corners = [first, end, end, first], [low, low, high, high]
    axes.fill(*corners, color=look.WHITE, alpha=_VEIL, lw=0, zorder=3.5)
    axes.vlines(end, low, high, color=look.HAIRLINE, lw=points(2), zorder=3.6)
    if not has_bass or end < _WIDE_ENOUGH * first:
        return []
    at: Style = {"ha": "center", "va": "bottom", "zorder": 5}
    return [axes.text(float(np.sqrt(first * end)), low, "see “The bass”", **at, **word_style())]


def _draw_dips(study: Study, axes: "Axes", response: EarlyResponse) -> list["Text"]:
    """Ticks above the line where the strongest arrival alone would cancel the sound, and what it is."""
    if not response.dips_hz.size:
        return []
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.16 * (high - low))
    axes.vlines(
        response.dips_hz,
        high + 0.015 * (high - low),
        high + 0.055 * (high - low),
        color=look.INK,
        lw=points(4),
        zorder=4,
        clip_on=False,
    )
    delay_ms = 1e3 * study.arrivals.delay_s[response.strongest]
    words = (
        f"ticks: what the {path_words(study, response.strongest)} alone takes out, {delay_ms:.1f} ms later"
    )
    at: Style = {"transform": axes.transAxes, "ha": "left", "va": "top", "zorder": 5}
    return [axes.text(0.0, 1.0, words, **at, **word_style())]


def _dress(axes: "Axes", levels_db: "np.ndarray") -> list["Text"]:
    axes.set_yticks(levels_db, [signed(level, 0) for level in levels_db])
    words = [band_tick(hz) for hz in _TICKS_HZ]
    axes.set_xticks(_TICKS_HZ, words)
    axes.set_xticks([], minor=True)
    return dress(axes, "pitch, Hz", "dB, speaker alone = 0", ticked=True)


def _beside(
    study: Study, response: EarlyResponse, before: EarlyResponse | None, below_hz: float, see: str
) -> str:
    """What is said of the greyed part and of the line before; why the new one is less even, if it is."""
    grey = ""
    if below_hz > response.frequency_hz[0]:
        grey = f" Greyed on the left, below {below_hz:.0f} Hz: the room's own notes rule there{see}."
    if before is None or below_hz >= response.frequency_hz[-1]:
        return grey
    grey += " Pale: before, without the panels."
    now, was = (own.unevenness_db(below_hz) for own in (response, before))
    if now <= was + _NO_MORE_DB:
        return grey
    left = "what is left" if response.strongest < 0 else f"the {path_words(study, response.strongest)}"
    return (
        f"{grey} The new line is less even ({now:.1f} dB instead of {was:.1f}): the panels took away "
        f"reflections that had filled some of its dips, so {left} draws its comb more plainly."
    )


def _caption(response: EarlyResponse) -> str:
    first = (
        "How loud each pitch arrives once reflections join the direct sound, averaged over a semitone; a "
        "flat line at 0 would be the speaker alone."
    )
    if not response.dips_hz.size:
        return f"{first} No single reflection is strong enough to stand out: what is left is a fine ripple."
    return (
        f"{first} Teeth at even steps are a comb: one strong reflection takes out the pitches under the "
        "ticks and lifts those between. It sounds hollow or coloured, and it changes as the head moves."
    )

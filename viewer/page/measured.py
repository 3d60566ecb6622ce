"""What was measured, on the page: whether it worked, and the curve as a drawing."""

import html
from typing import TYPE_CHECKING

import numpy as np

from viewer import look
from viewer.page.bass import svg_line, svg_text
from viewer.words import decibels, did_it_work, most_telling

if TYPE_CHECKING:
    from raytrace import Held, MeasuredRoom, Measurement

_WIDE, _HIGH = 330, 190  # of the drawing
_LEFT, _RIGHT, _TOP, _FOOT = 34, 6, 6, 22
_LOWEST_DB, _HIGHEST_DB, _STEP_DB = -40.0, 5.0, 10.0
_STEP_MS = 5.0
_EVERY = 3  # samples of a curve that a drawing so small shows


def measured_section(found: "MeasuredRoom | None") -> str:
    """Markup with the curve that tells most and what it says in words; "" where nothing was measured."""
    if found is None:
        return ""
    heard = most_telling(found)
    was = found.states[0][1].at(heard.take.speaker, heard.take.seat) if len(found.states) > 1 else None
    name = found.last.scene.speakers[heard.take.speaker].name
    pale = "the prediction" if was is None else "as measured before"
    words = f"Dark: {name} as measured. Pale: {pale}. Red: the limit."
    lines = "\n".join(f"<p>{html.escape(line)}</p>" for line in (*did_it_work(found), words))
    return (
        f'<section id="measured">\n<h2>Measured</h2>\n<svg viewBox="0 0 {_WIDE} {_HIGH}" role="img" '
        f'aria-label="{html.escape(words)}">{_drawing(found.last, heard, was)}</svg>\n{lines}\n</section>'
    )


def _drawing(held: "Held", heard: "Measurement", was: "Measurement | None") -> str:
    """Scale, both curves and the limit as marks."""
    wide, high = _WIDE - _LEFT - _RIGHT, _HIGH - _TOP - _FOOT
    until_ms = 1e3 * heard.until_s

    def at(ms: float, level_db: float) -> tuple[float, float]:
        share = (_HIGHEST_DB - min(max(level_db, _LOWEST_DB), _HIGHEST_DB)) / (_HIGHEST_DB - _LOWEST_DB)
        return _LEFT + wide * (ms + 1.0) / (until_ms + 1.0), _TOP + high * share

    marks = []
    for level_db in np.arange(_LOWEST_DB, _HIGHEST_DB, _STEP_DB).tolist():
        start, end = at(-1.0, level_db), at(until_ms, level_db)
        marks += [
            svg_line(start, end, colour=look.GRID),
            svg_text((_LEFT - 5, start[1] + 4), "end", decibels(level_db, 0)),
        ]
    for ms in np.arange(0.0, until_ms + 0.1, _STEP_MS).tolist():
        marks.append(svg_text((at(ms, 0.0)[0], _HIGH - 6), "middle", f"{ms:g} ms" if ms else "0"))
    pale = heard.predicted.curves if was is None else was.curves
    for curves, colour in ((pale, look.HAIRLINE), (heard.curves, look.INK)):
        shown = curves.time_s <= heard.until_s
        places = zip(
            (1e3 * curves.time_s[shown])[::_EVERY].tolist(),
            curves.level_db[shown][::_EVERY].tolist(),
            strict=True,
        )
        pairs = " ".join(f"{x:.1f},{y:.1f}" for x, y in (at(*place) for place in places))
        marks.append(f'<polyline points="{pairs}" fill="none" stroke="{colour}" stroke-width="1.5"/>')
    limits = held.scene.limits
    ends = at(0.0, limits.level_db), at(min(limits.within_ms, until_ms), limits.level_db)
    marks.append(svg_line(*ends, colour=look.ACCENT))
    return "".join(marks)

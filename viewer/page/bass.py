"""The bass on the page: the floor in bands with the best places, and the curve at the seat as a drawing."""

import html
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace import Study
from viewer import look
from viewer.page.controls import rounded
from viewer.pictures import bands, column, even_levels_db, loops_of
from viewer.words import decibels, listed, uneven_now

if TYPE_CHECKING:
    from raytrace import Bass

Contents = dict[str, Any]
Floats = NDArray[np.float64]

_WIDE, _HIGH = 330, 190  # of the drawing
_LEFT, _RIGHT, _TOP, _FOOT = 34, 6, 6, 22
_LOWEST_DB, _STEP_DB = -30.0, 10.0
_FROM_HZ, _TO_HZ = 20.0, 200.0
_TICKS_HZ = (20, 50, 100, 200)
_LIFT = 8  # steps off the floor


def bass_skins(bass: "Bass", study: Study) -> list[Contents]:
    """The floor in bands of evenness, the darkest the most even."""
    levels = even_levels_db(bass.floor_db)
    height_m = float(study.room.bounds[0, 2]) + _LIFT * look.RAISE_M
    points = np.column_stack([bass.floor_m, np.zeros(len(bass.floor_m))])
    faces = bands(points, bass.floor_db, levels, height_m=height_m).faces
    band = column(faces, "band").astype(np.int64)
    loops = loops_of(faces)
    return [
        {
            "layer": "bass",
            "kind": "bass",
            "colour": look.EVEN_COLOURS[k],
            "triangles": rounded(np.array(_fans([loops[i] for i in np.flatnonzero(band == k)])).ravel()),
            "text": _band_words(k, levels),
            "light": "flat",
            "opacity": 1,
        }
        for k in sorted(set(band.tolist()))
    ]


def _fans(loops: list[Floats]) -> list[list[Floats]]:
    return [[loop[0], loop[i], loop[i + 1]] for loop in loops for i in range(1, len(loop) - 1)]


def _band_words(band: int, levels: Floats) -> str:
    low, high = levels[band], levels[band + 1]
    reach = f"{low:.1f} dB and more" if band == len(levels) - 2 else f"{low:.1f} to {high:.1f} dB"
    return f"The bass with the sub here: uneven by {reach}"


def bass_names(bass: "Bass", study: Study) -> list[Contents]:
    """Number and evenness of each of the best places, on the floor."""
    floor_m = float(study.room.bounds[0, 2])
    return [
        {
            "text": f"{k}: {place.evenness_db:.1f} dB",
            "at": rounded(np.array([*place.position_m[:2], floor_m])),
            "kind": "thing",
            "layer": "bass",
            "plane": None,
        }
        for k, place in enumerate(bass.places, 1)
    ]


def bass_section(bass: "Bass | None") -> str:
    """Markup with the curve now and from the best place, and what it says in words; "" without a bass."""
    if bass is None:
        return ""
    now = next(response for response in bass.responses if response.sources == bass.sources)
    curves = [(look.INK, "", now.level_db)]
    words = (
        f"Full line: the bass at the {now.seat} seat now, from {listed(bass.sources)}, {uneven_now(bass)}."
    )
    if bass.places:
        best = bass.places[0]
        curves.insert(0, (look.EVEN_COLOURS[1], "6 4", best.level_db))
        words += f" Dashed: with the sub at place 1, uneven by {best.evenness_db:.1f} dB."
    words += " Switch on the bass over the floor below; place 1 is the best that is free."
    label = html.escape(words)
    return (
        f'<section id="bass">\n<h2>Bass</h2>\n<svg viewBox="0 0 {_WIDE} {_HIGH}" role="img" '
        f'aria-label="{label}">{_drawing(bass.frequencies_hz, curves)}</svg>\n<p>{label}</p>\n</section>'
    )


def _drawing(hz: Floats, curves: list[tuple[str, str, Floats]]) -> str:
    """Scale and curves as marks."""
    highest = _STEP_DB * np.ceil(max(float(level.max()) for _, _, level in curves) / _STEP_DB)
    wide, high = _WIDE - _LEFT - _RIGHT, _HIGH - _TOP - _FOOT

    def across(frequency_hz: Floats) -> Floats:
        return np.asarray(_LEFT + wide * np.log(frequency_hz / _FROM_HZ) / np.log(_TO_HZ / _FROM_HZ))

    def down(level_db: Floats) -> Floats:
        share = (highest - np.maximum(level_db, _LOWEST_DB)) / (highest - _LOWEST_DB)
        return np.asarray(_TOP + high * share)

    marks = []
    for level in np.arange(_LOWEST_DB, highest + 1.0, _STEP_DB):
        y = float(down(np.array(level)))
        marks.append(svg_line((_LEFT, y), (_LEFT + wide, y)))
        marks.append(svg_text((_LEFT - 5, y + 4), "end", decibels(level, 0)))
    for tick in _TICKS_HZ:
        x = float(across(np.array(tick, np.float64)))
        marks.append(svg_line((x, _TOP), (x, _TOP + high)))
        words, anchor = (f"{tick} Hz", "end") if tick == _TICKS_HZ[-1] else (f"{tick}", "middle")
        marks.append(svg_text((x, _HIGH - 6), anchor, words))
    for colour, dash, level_db in curves:
        pairs = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(across(hz), down(level_db), strict=True))
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        marks.append(f'<polyline points="{pairs}" fill="none" stroke="{colour}" stroke-width="2"{dashed}/>')
    return "".join(marks)


def svg_line(start: tuple[float, float], end: tuple[float, float], *, colour: str = look.HAIRLINE) -> str:
    """A straight line as a mark."""
    (x1, y1), (x2, y2) = start, end
    ends = f'x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"'
    return f'<line {ends} stroke="{colour}"/>'


def svg_text(at: tuple[float, float], anchor: str, words: str) -> str:
    """Small words as a mark."""
    place = f'x="{at[0]:.1f}" y="{at[1]:.1f}" text-anchor="{anchor}"'
    return f'<text {place} font-size="11" fill="{look.MUTED}">{words}</text>'

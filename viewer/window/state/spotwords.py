"""What one reflection is, in words for the window: where it comes from, how strong, where to measure."""

import numpy as np

from raytrace import BAND_NAMES, Orientation, Study, Surface, format_length, orientation
from viewer.window.state.verdictwords import limit_text
from viewer.words import (
    band_tick,
    band_words,
    decibels,
    joined_names,
    joined_way,
    named_rows,
    path_text,
    peak_of,
)

_FEW = 2  # bounces whose spots are told from all sides
_ON_END_DEG = 45.0  # a box that is pitched by more has its front or back on top
_HARDLY_M = 1e-3  # off the floor, that no tape shows


def row_words(study: Study, row: int, units: str) -> str:
    """A few lines about one reflection, for the pointer that rests on it."""
    table = study.arrivals
    lines = [
        f"{path_text(study, row)}, from {table.speaker_names[table.speaker[row]]}",
        f"{table.delay_s[row] * 1e3:.2f} ms after the direct sound, {', '.join(level_words(study, row))}",
        *peak_lines(study, row),
        *spot_lines(study, row, units),
        band_text(study, row),
    ]
    return "\n".join(lines)


def level_words(study: Study, row: int) -> list[str]:
    """Level at the ears, and what comes of it against the limit, each by itself."""
    level_db = float(study.arrivals.band_level_db[row])
    if level_db == -np.inf:
        return ["wholly absorbed on its way"]
    return [f"{decibels(level_db)} dB re direct by itself", limit_text(study, row)]


def peak_lines(study: Study, row: int) -> list[str]:
    """What else a reflection is counted with, since it arrives at the same moment; nothing if by itself."""
    peak = peak_of(study, row)
    if peak is None:
        return []
    with_it = [path_text(study, i) for i in named_rows(study, peak) if i != row]
    with_it += [
        f"{joined_way(names)} where the head is off the middle" for names in joined_names(study, peak)
    ]
    with_it += ["what is bent past an edge"] if peak.near_misses else []
    more = f" and {len(with_it) - 1} more" if len(with_it) > 1 else ""
    return [f"counted together with {with_it[0]}{more}"] if with_it else []


def spot_lines(study: Study, row: int, units: str) -> list[str]:
    """Per bounce what is measured on its surface: from both of its sides, and up or from the front.

    Of more than two bounces each is told from one side only, so that all of them can be read at a glance.
    """
    table, lines = study.arrivals, []
    for bounce in range(int(table.order[row])):
        surface = study.room.surfaces[table.path_surfaces[row, bounce]]
        u, v = table.spots[row, bounce]
        across = [format_length(float(x), units=units) for x in (u, surface.frame.width - u)]
        other = [format_length(float(x), units=units) for x in (v, surface.frame.height - v)]
        lies = orientation(surface.frame.n)
        if lies.is_level and _is_of_a_box(study, surface):
            where = f"{across[0]} from its front, {other[0]} from its left"
            rest = f" ({across[1]} from its back, {other[1]} from its right)"
        elif lies.is_level and surface.owner is not None:
            where = f"{across[0]} and {across[1]} from its ends, {other[0]} and {other[1]} from its sides"
            rest = ""
        elif lies.is_level:
            where = f"{across[0]} from the front, {other[0]} from the left wall"
            rest = f" ({across[1]} from the back, {other[1]} from the right)"
        else:
            on_floor = abs(float(surface.frame.origin[2])) < _HARDLY_M
            up = "above the floor" if on_floor and lies is Orientation.UPRIGHT else "up from its lower edge"
            where = f"{across[0]} from its left edge, {other[0]} {up}"
            rest = f" ({across[1]} from its right)"
        lines.append(f"{surface.name}: {where}{rest if table.order[row] <= _FEW else ''}")
    return lines


def _is_of_a_box(study: Study, surface: Surface) -> bool:
    """Whether a level face is the top or bottom of a box that stands upright: it has a front and a left."""
    is_solid = surface.facets[0] < study.room.n_solid_facets
    boxes = (
        entry for entry in study.scene.objects if entry.shape == "box" and abs(entry.pitch) < _ON_END_DEG
    )
    return is_solid and any(entry.name == surface.owner for entry in boxes)


def band_text(study: Study, row: int) -> str:
    """Level per octave band, in two lines."""
    levels = study.arrivals.level_db[row]
    words = [f"{band_words(b)} {decibels(float(x))}" for b, x in zip(BAND_NAMES, levels, strict=True)]
    half = len(words) // 2
    return f"dB per octave: {' · '.join(words[:half])}\n{' · '.join(words[half:])}"


def band_levels(study: Study, row: int) -> list[tuple[str, float]]:
    """Names of the octave bands with the level of a reflection in each. [dB]"""
    return [(band_tick(b), float(x)) for b, x in zip(BAND_NAMES, study.arrivals.level_db[row], strict=True)]

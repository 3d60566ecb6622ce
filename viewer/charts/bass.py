"""Chart of the bass with matplotlib: how even each place of the floor makes it, and the curve at the seat."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import Bass, Room, Scene
from viewer import look
from viewer.charts.floor import draw_floor, draw_rulers
from viewer.charts.paper import (
    AFTER,
    BEFORE,
    Chart,
    Style,
    blank_figure,
    dress,
    points,
    word_style,
    write_chart,
)
from viewer.words import decibels, listed, uneven_now

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

SIZE = (2400, 1300)
_TICKS_HZ = (20, 31.5, 50, 80, 125, 200)
_STEP_DB = 10.0
_DEEPEST_DB = -30.0  # a line that dips deeper is cut off
_MAP = (0.045, 0.17, 0.40, 0.625)  # left, bottom, width, height as shares of the paper
_CURVE = (0.56, 0.17, 0.40, 0.62)
_KEY_AT = 0.872  # of the paper's height: what the signs and lines mean


def draw_bass(bass: Bass, scene: Scene, room: Room, path: Path, *, units: str = "metric") -> Chart:
    """The floor as a map of unevenness with the places found, and the curve at the first seat.

    Parameters
    ----------
    bass : Bass
        What was found.
    scene, room
        Of which.
    path : Path
        ".png", ".svg" or ".pdf".
    units : {"metric", "imperial"}
        Of the rulers along the floor.
    """
    figure = blank_figure(SIZE)
    texts = _title(figure, bass, scene)
    axes = figure.add_axes(_MAP)
    axes.set_aspect("equal")
    texts += _draw_map(figure, axes, bass, scene, room)
    texts += draw_rulers(axes, room, units=units)
    texts += _draw_curve(figure, bass)
    caption = (
        "The darker a place of the floor, the more even the bass with the sub there. Numbers are the best "
        "places that are free; the curve is the level at the ears, pale now and dark from place 1."
    )
    return Chart(-1, 0, path, caption, write_chart(figure, path, texts))


def _title(figure: "Figure", bass: Bass, scene: Scene) -> list["Text"]:
    height = figure.bbox.height
    top, left = 1.0 - look.BORDER_PX / height, look.BORDER_PX / figure.bbox.width
    bold = word_style(look.NAME_PX, bold=True)
    title = figure.text(left, top, f"Bass at the {scene.seats[0].name} seat", va="top", **bold)
    end = title.get_window_extent().x1 / figure.bbox.width + 0.012
    words = f"now from {listed(bass.sources)}: {uneven_now(bass)}"
    return [title, figure.text(end, top, words, va="top", **word_style(look.NAME_PX, look.MUTED))]


def _draw_map(figure: "Figure", axes: "Axes", bass: Bass, scene: Scene, room: Room) -> list["Text"]:
    """The floor from above, front wall at the top, left wall at the left."""
    draw_floor(axes, scene, room)
    signs = "■ sub now    " if bass.has_sub else ""
    words = f"{signs}▲ speaker    ● head    1 best free place    front wall above"
    texts = [figure.text(_MAP[0] + 0.02, _KEY_AT, words, va="center", **word_style())]
    texts += _fill(figure, axes, bass)
    for speaker in scene.speakers:
        marker = "s" if speaker.use == "sub" else "^"
        y, x = speaker.position[1], speaker.position[0]
        axes.plot([y], [x], marker, color=look.SPEAKER_FRONT, ms=points(26), mec=look.WHITE, zorder=5)
    for seat in scene.seats:
        axes.plot([seat.ears[1]], [seat.ears[0]], "o", color=look.HEAD, ms=points(30), mec=look.INK, zorder=5)
    for k, place in enumerate(bass.places, 1):
        x, y, _ = place.position_m
        axes.plot([y], [x], "o", color=look.WHITE, ms=points(46), mec=look.INK, mew=points(3), zorder=6)
        middle: Style = {"ha": "center", "va": "center_baseline", "zorder": 7}
        texts.append(axes.text(y, x, f"{k}", **middle, **word_style(look.KEY_PX, bold=True)))
    return texts


def _fill(figure: "Figure", axes: "Axes", bass: Bass) -> list["Text"]:
    """Unevenness over the floor, and its scale."""
    from matplotlib.colors import ListedColormap
    from matplotlib.tri import Triangulation

    if len(bass.floor_m) < 3 or min(np.ptp(bass.floor_m, axis=0)) == 0.0:
        return []
    x, y = bass.floor_m.T
    mesh = Triangulation(y, x)
    corners = bass.floor_m[mesh.triangles]
    # Across corners that the room leaves out there is no floor.
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    mesh.set_mask(sides > 0.2)
    low, high = np.percentile(bass.floor_db, (0.0, 95.0))
    levels = np.linspace(np.floor(2.0 * low) / 2.0, np.ceil(2.0 * high) / 2.0 + 0.5, 9)
    colours = ListedColormap([look.LEVEL_COLOURS[k] for k in range(14, -1, -2)])
    filled = axes.tricontourf(mesh, bass.floor_db, levels=levels, cmap=colours, extend="max", zorder=1)
    scale = figure.add_axes((_MAP[0] + 0.02, 0.075, 0.34, 0.022))
    figure.colorbar(filled, cax=scale, orientation="horizontal", spacing="proportional")
    scale.set_xticks(levels[::2], [f"{level:.1f}" for level in levels[::2]])
    scale.tick_params(length=0, labelsize=points(look.KEY_PX), pad=points(8))
    for label in scale.get_xticklabels():
        label.set_fontfamily(look.FONT)
    words = "uneven by, dB: one sub there"
    at: Style = {"ha": "left", "va": "bottom"}
    below = figure.text(_MAP[0] + 0.02, 0.104, words, **at, **word_style())
    return [*scale.get_xticklabels(), below]


def _draw_curve(figure: "Figure", bass: Bass) -> list["Text"]:
    axes = figure.add_axes(_CURVE)
    axes.set_xscale("log")
    axes.set_xlim(bass.frequencies_hz[0], 200.0)
    now = next(response for response in bass.responses if response.sources == bass.sources).level_db
    curves: Sequence[tuple[str, np.ndarray, Style]] = [("now", now, BEFORE)]
    if bass.places:
        curves = [*curves, ("sub at place 1", bass.places[0].level_db, AFTER)]
    highest = _STEP_DB * np.ceil(max(float(levels.max()) for _, levels, _ in curves) / _STEP_DB)
    axes.set_ylim(_DEEPEST_DB, highest)
    for _, levels, style in curves:
        axes.plot(bass.frequencies_hz, np.maximum(levels, _DEEPEST_DB), **style)
    axes.set_xticks(_TICKS_HZ, [f"{hz:g}" for hz in _TICKS_HZ])
    axes.set_xticks([], minor=True)
    steps = np.arange(_DEEPEST_DB, highest + 0.1, _STEP_DB)
    axes.set_yticks(steps, [decibels(level, 0) for level in steps])
    texts = dress(axes, "Hz", "dB re free field at 1 m", ticked=True)
    return texts + _key(figure, [(name, style) for name, _, style in curves])


def _key(figure: "Figure", lines: Sequence[tuple[str, Style]]) -> list["Text"]:
    from matplotlib.lines import Line2D

    texts = []
    for k, (words, style) in enumerate(lines):
        x, y = _CURVE[0] + 0.14 * k, _KEY_AT
        figure.add_artist(Line2D([x, x + 0.025], [y, y], **style))
        texts.append(figure.text(x + 0.032, y, words, va="center", **word_style()))
    return texts

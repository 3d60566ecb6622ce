"""Plan of a room with how its speakers are to be turned: axes, angles and distances."""

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace import (
    Aiming,
    BoundaryResponse,
    Orientation,
    Pointing,
    Surface,
    format_length,
    is_underfoot,
    orientation,
)
from viewer import look
from viewer.charts.paper import Style, blank_figure, points, word_style, write_chart
from viewer.pictures import Box
from viewer.words import decibels, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Floats = NDArray[np.float64]

SIZE = (2400, 1600)
_PLAN = (0.03, 0.04, 0.58, 0.82)  # left, bottom, width, height as shares of the paper
_X, _Y, _ = np.eye(3)
_FACING = 0.7  # cosine of 45 degrees: what a distance is measured to looks along it by more
_AHEAD_M, _ARC_M, _HEAD_M = 0.45, 0.32, 0.09
_FRONT_M, _AROUND_M, _BESIDE_M, _RIM_M = (
    2.0,
    0.8,
    1.5,
    0.05,
)  # what is shown of the room round speakers and seat
_STEP, _COLUMN = 0.036, 0.80  # of the words beside the plan, in heights of the paper
_NAMED = 2  # walls in a line
_PAGE = {"boxstyle": "square,pad=0.12", "facecolor": look.WHITE, "edgecolor": "none"}


def draw_aim_plan(aim: Aiming, path: str | Path, *, units: str = "metric") -> tuple[Box, ...]:
    """Write the plan for the seat that was asked for; the front wall is at the top.

    Parameters
    ----------
    aim : Aiming
    path : path
        Ends in .png, .svg or .pdf.
    units : {"metric", "imperial"}

    Returns
    -------
    tuple of Box
        Where its words stand. [px]
    """
    figure, texts = aim_plan_figure(aim, units=units)
    return write_chart(figure, Path(path), texts)


def aim_plan_figure(aim: Aiming, *, units: str = "metric") -> tuple["Figure", list["Text"]]:
    """The plan and all its words."""
    figure = blank_figure(SIZE)
    axes = figure.add_axes(_PLAN)
    axes.set_aspect("equal", anchor="N")
    axes.axis("off")
    _draw_room(aim, axes)
    _frame(aim, axes, [p for p in aim.pointings if p.seat == aim.wish.seat])
    ears = np.array(aim.scene.seats[aim.wish.seat].ears)
    chosen = [
        (pointing, response)
        for pointing, response in zip(aim.pointings, aim.responses, strict=True)
        if pointing.seat == aim.wish.seat
    ]
    texts = []
    for number, (pointing, response) in enumerate(chosen, start=1):
        texts += _draw_speaker(aim, axes, (pointing, number), ears, units)
        texts += _draw_distances(aim, axes, (pointing, response), units)
    head = _seen(ears)
    _circle(axes, head, _HEAD_M, facecolor=look.HEAD, edgecolor=look.EDGE)
    return figure, texts + _headline(aim, figure) + _legend(aim, figure, chosen, units)


def _seen(points_m: Floats) -> Floats:
    """Points of the room as the plan has them: y to the right, the front wall at the top."""
    return np.stack([points_m[..., 1], -points_m[..., 0]], axis=-1)


def _draw_room(aim: Aiming, axes: "Axes") -> None:
    """Floor and furniture from above, lower faces first."""
    from matplotlib.patches import Polygon

    room = aim.room
    level = [
        facet
        for facet in room.facets[: room.n_solid_facets]
        if is_underfoot(facet.normal) and not room.is_cabinet[facet.surface]
    ]
    for facet in sorted(level, key=lambda f: float(f.outline[:, 2].max())):
        colour = look.FLOOR if room.is_room_surface[facet.surface] else look.OBJECT
        edge = {"edgecolor": look.EDGE, "linewidth": points(look.RULE_PX)}
        axes.add_patch(Polygon(_seen(facet.outline), closed=True, facecolor=colour, **edge))


def _frame(aim: Aiming, axes: "Axes", chosen: list[Pointing]) -> None:
    """Show the room from the wall behind the speakers on, as far behind the seat as there is paper."""
    ears = aim.scene.seats[aim.wish.seat].ears
    places = np.array([ears, *(aim.scene.speakers[p.speaker].position for p in chosen)])
    low, high = aim.room.bounds
    front = places[:, 0].min()
    y = max(low[1], places[:, 1].min() - _BESIDE_M), min(high[1], places[:, 1].max() + _BESIDE_M)
    start = low[0] if front - low[0] < _FRONT_M else front - _AROUND_M
    deep_m = (y[1] - y[0]) * (_PLAN[3] * SIZE[1]) / (_PLAN[2] * SIZE[0])
    x = start, min(high[0], max(places[:, 0].max() + _AROUND_M, start + deep_m))
    axes.set_xlim(y[0] - _RIM_M, y[1] + _RIM_M)
    axes.set_ylim(-x[1] - _RIM_M, -x[0] + _RIM_M)


def _draw_speaker(
    aim: Aiming, axes: "Axes", which: tuple[Pointing, int], ears: Floats, units: str
) -> list["Text"]:
    """Its cabinet as it is to be turned, its axis to the ears with the distance, its toe-in."""
    from matplotlib.patches import Polygon

    pointing, number = which
    source = np.array(aim.scene.speakers[pointing.speaker].position)
    yaw = math.atan2(*(ears - source)[1::-1])
    ahead = np.array([math.cos(yaw), math.sin(yaw), 0.0])
    aside = np.array([-ahead[1], ahead[0], 0.0])
    deep, wide = pointing.standing.cabinet_m[:2]
    corners = [
        source + s * 0.5 * wide * aside - t * deep * ahead for s, t in ((-1, 0), (1, 0), (1, 1), (-1, 1))
    ]
    axes.add_patch(Polygon(_seen(np.array(corners)), closed=True, facecolor=look.SPEAKER, zorder=3))
    _line(axes, source, ears, color=look.INK, lw=points(5), zorder=4)
    behind = ears + aim.wish.behind_m * _X
    _line(axes, source, behind, color=look.MUTED, lw=points(3), ls=(0, (4, 3)), zorder=3.5)
    _line(axes, source, source + _AHEAD_M * _X, color=look.MUTED, lw=points(3), zorder=4)
    turned = np.linspace(0.0, yaw, 30)
    arc = source[:2] + _ARC_M * np.stack([np.cos(turned), np.sin(turned)], axis=-1)
    axes.plot(*_seen(arc).T, color=look.INK, lw=points(3), zorder=4)
    away = -math.copysign(1.0, yaw or 1.0)  # towards the outer side along y
    side = "right" if away < 0.0 else "left"
    cabinet = _seen(source - 0.5 * deep * ahead)
    distance = format_length(pointing.distance_m, units=units)
    turn = f"{pointing.at_ears.toe_in_deg:.1f}°"
    white = word_style(colour=look.WHITE)
    return [
        axes.text(cabinet[0], cabinet[1], f"{number}", ha="center", va="center", zorder=6, **white),
        _label(axes, source + 0.62 * (ears - source) + 0.05 * away * _Y, distance, ha=side),
        _label(axes, source + _ARC_M * _X + 0.04 * away * _Y, turn, ha=side),
    ]


def _is_upright(surface: Surface) -> bool:
    return orientation(surface.frame.n) is Orientation.UPRIGHT


def _draw_distances(
    aim: Aiming, axes: "Axes", heard: tuple[Pointing, BoundaryResponse], units: str
) -> list["Text"]:
    """From the acoustic centre square to the wall behind it and to the one on its outer side."""
    pointing, response = heard
    source = np.array(aim.scene.speakers[pointing.speaker].position)
    walls = [
        (dip.distance_m, aim.room.surfaces[aim.room.surface_index(dip.surface)]) for dip in response.dips
    ]
    walls = [
        (away, wall)
        for away, wall in walls
        if wall.owner is None and orientation(wall.frame.n) is Orientation.UPRIGHT
    ]
    behind = [(away, wall.frame.n) for away, wall in walls if wall.frame.n[0] > _FACING]
    # On its own side of the seat: across the room the line would run through the other speaker.
    outer = source[1] - aim.scene.seats[pointing.seat].ears[1]
    beside = [(away, wall.frame.n) for away, wall in walls if -wall.frame.n[1] * np.sign(outer) > _FACING]
    texts = []
    for sort in (behind, beside):
        if sort:
            away_m, normal = min(sort, key=lambda one: one[0])
            _line(axes, source, source - away_m * normal, color=look.PANE_EDGE, lw=points(3), zorder=2.5)
            texts.append(_label(axes, source - 0.62 * away_m * normal, format_length(away_m, units=units)))
    return texts


def _line(axes: "Axes", start: Floats, end: Floats, **style: Any) -> None:
    axes.plot(*_seen(np.array([start, end])).T, **style)


def _circle(axes: "Axes", middle: Floats, radius_m: float, **style: Any) -> None:
    from matplotlib.patches import Circle

    axes.add_patch(Circle((float(middle[0]), float(middle[1])), radius_m, zorder=5, **style))


def _label(axes: "Axes", place: Floats, words: str, *, ha: str = "center") -> "Text":
    x, y = _seen(place).tolist()
    return axes.text(x, y, words, ha=ha, va="center", bbox=_PAGE, zorder=6, **word_style())


def _headline(aim: Aiming, figure: "Figure") -> list["Text"]:
    left, top = look.BORDER_PX / SIZE[0], 1.0 - look.BORDER_PX / SIZE[1]
    seat = aim.scene.seats[aim.wish.seat].name
    words = f"{aim.scene.title}: how to turn the speakers for {seat}, from above, front wall at the top"
    return [figure.text(left, top, words, va="top", **word_style(look.NAME_PX, bold=True))]


def _legend(
    aim: Aiming, figure: "Figure", chosen: list[tuple[Pointing, BoundaryResponse]], units: str
) -> list["Text"]:
    """The same in words beside the plan, with what a plan cannot show."""
    behind = format_length(aim.wish.behind_m, units=units)
    lines: list[tuple[str, Style]] = []
    for number, (pointing, response) in enumerate(chosen, start=1):
        lines.append((f"{number}  {aim.scene.speakers[pointing.speaker].name}", {"bold": True}))
        lines += [(words, {}) for words in _speaker_lines(aim, pointing, units)]
        lines += [(words, {}) for words in _dip_lines(response)]
        lines.append(("", {}))
    lines += [(words, {}) for words in _wall_lines(aim, units)]
    lines += [
        (words, {"colour": look.MUTED})
        for words in (
            "Line: axis to the ears.",
            f"Dashed: crossing {behind} behind them.",
            "Lengths from the acoustic centre, the middle",
            "of the cabinet's front; walls at right angles.",
        )
    ]
    step = min(_STEP, _COLUMN / len(lines))
    pixels = min(float(look.KEY_PX), 0.75 * step * SIZE[1])
    return [
        figure.text(0.645, 0.86 - k * step, words, va="top", **word_style(pixels, **style))
        for k, (words, style) in enumerate(lines)
    ]


def _speaker_lines(aim: Aiming, pointing: Pointing, units: str) -> list[str]:
    """What an installer sets of one speaker, line by line."""
    height_m = aim.scene.speakers[pointing.speaker].position[2]
    own, other, standing = pointing.at_ears, pointing.behind_head, pointing.standing
    lines = [
        f"ears at {format_length(pointing.distance_m, units=units)}",
        f"acoustic centre {format_length(height_m, units=units)} high",
        f"toe-in {own.toe_in_deg:.1f}°, crossing behind {other.toe_in_deg:.1f}°",
        f"tilt {_turn(own.tilt_deg)}, wedge {_turn(own.wedge_deg)} (+: front raised)",
    ]
    if standing.on_object:
        lines.append(f"stands on {standing.on_object}")
    elif standing.gap_m >= 0.0:
        lines.append(f"stand {format_length(standing.gap_m, units=units)} over {standing.surface}")
    return lines


def _dip_lines(response: BoundaryResponse) -> list[str]:
    """The deepest dip that near walls make together, and the two that take most."""
    if not response.combined:
        return []
    dip = response.combined[0]
    return [f"dip {decibels(dip.level_db)} dB at {dip.hz:.0f} Hz: {' and '.join(dip.surfaces[:_NAMED])}"]


def _wall_lines(aim: Aiming, units: str) -> list[str]:
    """How far from the wall behind them the low end is most even, where any is better than now."""
    sweep = aim.sweep
    if sweep is None or not sweep.best:
        return []
    best, now = sweep.best[0], sweep.now
    away, own = (format_length(place.distance_m, units=units) for place in (best, now))
    return [
        f"low end most even {away} from {sweep.wall}:",
        f"uneven by {best.evenness_db:.1f} dB, by {now.evenness_db:.1f} dB now at {own}",
        "",
    ]


def _turn(angle_deg: float) -> str:
    """An angle up or down with its sign; none where it rounds to nothing."""
    return f"{signed(angle_deg)}°" if round(angle_deg, 1) else "0°"

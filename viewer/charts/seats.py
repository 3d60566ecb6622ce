"""Map of the places for a seat with matplotlib: how good each free place is, the best with speakers."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from raytrace import JudgedSeat, Seats
from viewer import look
from viewer.charts.floor import draw_floor, draw_rulers
from viewer.charts.paper import Style, blank_figure, points, word_style, write_chart
from viewer.pictures import Box
from viewer.words import decibels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

SIZE = (2400, 1500)
_MAP = (0.06, 0.16, 0.47, 0.70)  # left, bottom, width, height as shares of the paper
_BEHIND_PX = 34  # from the ears to the middle of a number, the disc of which is 49 wide
_COLUMN, _STEP = 0.57, 0.036  # of the words beside the map


def draw_seats(seats: Seats, path: Path, *, units: str = "metric") -> tuple[Box, ...]:
    """The floor from above with every free place, the best ones numbered.

    Parameters
    ----------
    seats : Seats
    path : Path
        ".png", ".svg" or ".pdf".
    units : {"metric", "imperial"}
        Of the rulers along the floor.

    Returns
    -------
    tuple of Box
        Where its words stand. [px]
    """
    figure = blank_figure(SIZE)
    texts = _title(figure, seats)
    axes = figure.add_axes(_MAP)
    axes.set_aspect("equal", anchor="N")
    draw_floor(axes, seats.scene, seats.room)
    texts += draw_rulers(axes, seats.room, units=units)
    texts += _draw_places(figure, axes, seats)
    if seats.now is not None:
        _draw_pair(axes, seats.now, look.MUTED, dashed=True)
    for number, one in enumerate(seats.best, start=1):
        texts.append(_draw_best(axes, one, number))
    return write_chart(figure, path, texts + _list(figure, seats))


def _title(figure: "Figure", seats: Seats) -> list["Text"]:
    left, top = look.BORDER_PX / SIZE[0], 1.0 - look.BORDER_PX / SIZE[1]
    words = f"{seats.scene.title}: places for {seats.scene.seats[0].name}, front wall as it is now at the top"
    return [figure.text(left, top, words, va="top", **word_style(look.NAME_PX, bold=True))]


def _draw_places(figure: "Figure", axes: "Axes", seats: Seats) -> list["Text"]:
    """A mark at the ears of every free place that points to the wall faced, the darker the better."""
    from matplotlib.colors import ListedColormap

    every = [*seats.best, *seats.others]
    if not every:
        return []
    scores = np.array([one.score for one in every])
    low, high = float(scores.min()), float(max(scores.max(), scores.min() + 1.0))
    colours = ListedColormap([look.LEVEL_COLOURS[k] for k in range(14, -1, -2)])
    for one, score in zip(every, scores, strict=True):
        ahead = one.speakers.mean(axis=0)[:2] - one.ears[:2]
        turned = np.degrees(np.arctan2(-ahead[0], ahead[1])) - 90.0  # on the map y is right and x is down
        axes.plot(
            [one.ears[1]],
            [one.ears[0]],
            marker=(3, 0, turned),
            color=colours((score - low) / (high - low)),
            ms=points(26),
            mec=look.EDGE,
            mew=points(1),
            ls="none",
            zorder=4,
        )
    words = f"▲ free place, looks to the wall faced: dark {low:.0f} points, pale {high:.0f}; fewer are better"
    return [figure.text(_MAP[0], 0.075, words, va="center", **word_style())]


def _draw_pair(axes: "Axes", one: JudgedSeat, colour: str, *, dashed: bool = False) -> None:
    """Lines from the ears to the speakers, and the speakers."""
    for speaker in one.speakers:
        style: Style = {"ls": (0, (4, 3))} if dashed else {}
        axes.plot(
            [one.ears[1], speaker[1]],
            [one.ears[0], speaker[0]],
            color=colour,
            lw=points(3),
            zorder=5,
            **style,
        )
        axes.plot([speaker[1]], [speaker[0]], "s", color=colour, ms=points(20), mec=look.WHITE, zorder=6)


def _draw_best(axes: "Axes", one: JudgedSeat, number: int) -> "Text":
    from matplotlib.transforms import offset_copy

    _draw_pair(axes, one, look.INK)
    y, x = one.ears[1], one.ears[0]
    axes.plot([y], [x], "o", color=look.INK, ms=points(16), zorder=6)
    # Behind the head, so that two who sit back to back at one place have a number each; x runs down.
    behind = one.ears[:2] - one.speakers[:, :2].mean(axis=0)
    down, right = points(_BEHIND_PX) * behind / np.linalg.norm(behind)
    there = offset_copy(axes.transData, axes.get_figure(root=True), x=right, y=-down, units="points")
    badge: Style = {"color": look.WHITE, "mec": look.INK, "transform": there, "zorder": 7}
    axes.plot([y], [x], "o", ms=points(46), mew=points(3), **badge)
    middle: Style = {"ha": "center", "va": "center_baseline", "transform": there, "zorder": 8}
    text: Text = axes.text(y, x, f"{number}", **middle, **word_style(look.KEY_PX, bold=True))
    return text


def _list(figure: "Figure", seats: Seats) -> list["Text"]:
    """What the best places are worth, beside the map."""
    texts, y = [], 0.86
    rows = [(f"{k}", one) for k, one in enumerate(seats.best, start=1)]
    rows += [] if seats.now is None else [("now, dashed", seats.now)]
    for label, one in rows:
        head = f"{label}:  facing {one.place.wall}, {one.score:.1f} points"
        texts.append(figure.text(_COLUMN, y, head, va="top", **word_style(bold=True)))
        dip = decibels(one.dip_db, 0)
        lines = (
            f"early energy {one.over_db:.1f} dB over the limit, {one.n_over} peaks over",
            f"bass uneven by {one.evenness_db:.1f} dB; dip {dip} dB at {one.dip_hz:.0f} Hz",
        )
        for line in lines:
            y -= _STEP
            texts.append(figure.text(_COLUMN + 0.02, y, line, va="top", **word_style(colour=look.MUTED)))
        y -= 1.35 * _STEP
    if not seats.best:
        texts.append(figure.text(_COLUMN, y, "No place is free.", va="top", **word_style(bold=True)))
    return texts

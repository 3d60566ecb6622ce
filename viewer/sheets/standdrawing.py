"""A stand from the front and from the side, to scale, with its measures and what tips it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace import Stability, StandPart, Treatment, format_length
from viewer.look import INK, MUTED, OBJECT, PANEL, WHITE, tinted
from viewer.paper import (
    SMALL_PT,
    Mark,
    Strip,
    area,
    bullet,
    depth_mm,
    disc,
    hatch,
    heading,
    line,
    run_along,
    scale_words,
    words,
    words_from,
)
from viewer.sheets.treatment import View
from viewer.words import force_words, length_figure, listed, size_words, timber_words

Floats = NDArray[np.float64]

_SCALES = {"metric": (10, 20, 25, 30, 40, 50, 100), "imperial": (12, 16, 24, 32, 48, 64, 96)}
_HIGH_MM, _WIDE_MM = 84.0, 68.0  # what both views may take, without their measures
_RUN_MM, _APART_MM, _WALL_MM = 5.0, 16.0, 3.0
_SAME_M, _SAME_UP_M = 0.001, 0.015  # nearer to each other than that one figure does
_NEAR_WALL_M = 0.5  # a wall farther behind is not drawn
_FILLS = {"panel": tinted(PANEL, 0.5), "leg": OBJECT, "foot": OBJECT, "block": OBJECT}


def stand_strips(view: View, treatment: Treatment, units: str, width_mm: float) -> list[Strip]:
    """A drawing of each kind of stand on a sheet, and what it is made of; equal ones together.

    Parameters
    ----------
    view, treatment : View, Treatment
    units : {"metric", "imperial"}
    width_mm : float
        Of the column.
    """
    groups: dict[tuple[object, ...], list[int]] = {}
    for k in view.listed:
        if k in treatment.stability:
            groups.setdefault(_kind(treatment, k), []).append(k)
    strips = []
    for members in groups.values():
        found = treatment.stability[members[0]]
        drawn = StandDrawing(found, units)
        names = listed([treatment.room.panels[k].name for k in members])
        strips.append(heading(f"{names}, {scale_words(drawn.scale, units)}", width_mm))
        strips.append(drawn.strip())
        strips += [bullet(text, width_mm) for text in _made_of(treatment, members[0], units)]
    return strips


def _kind(treatment: Treatment, index: int) -> tuple[object, ...]:
    """What stands share that are drawn alike."""
    panel, found = treatment.room.panels[index], treatment.stability[index]
    corners = np.concatenate([part.side for part in found.body.parts])
    wall = round(found.to_wall_m, 3) if found.to_wall_m <= _NEAR_WALL_M else None
    return panel.build_name, wall, found.n_straps, *np.round(corners, 3).ravel().tolist()


def _made_of(treatment: Treatment, index: int, units: str) -> list[str]:
    """Its parts with their sizes and how they are joined."""
    panel, found = treatment.room.panels[index], treatment.stability[index]
    size = size_words(treatment.pieces[index].outer_m, units)
    count = "one panel" if panel.stacked == 1 else f"{panel.stacked} panels one above the other"
    parts = [
        f"{p.count} x {p.name} {timber_words(p.timber, units)}, {format_length(p.length_m, units=units)}"
        for p in found.body.timber
    ]
    joints = "each block on edge, screwed to the side of the frame with four screws"
    if not found.leans:
        joints = (
            "legs screwed to the sides of each frame with four screws; feet on edge outside the legs, glued "
            "and held by two bolts through both"
        )
    return [f"{count} {size}; {'; '.join(parts)}", f"{joints}; rubber pads below."]


class StandDrawing:
    """Marks of one stand at a scale: front view left, side view right, from their own upper left corner.

    Attributes
    ----------
    front, side : list of Mark
        Outlines of its parts.
    measures : list of Mark
    scale : int
        20 for 1:20.
    """

    def __init__(self, found: Stability, units: str) -> None:
        self.found, self.body, self.units = found, found.body, units
        sides = np.concatenate([part.side for part in self.body.parts])
        self._rear, self._fore = float(sides[:, 0].min()), float(sides[:, 0].max())
        self._wall = self._wall_m()
        rear_m = self._rear if self._wall is None else min(self._wall, self._rear)
        along_m = self.body.wide_m + self._fore - rear_m
        fits = (
            s
            for s in _SCALES[units]
            if 1000.0 * self.body.top_m / s <= _HIGH_MM and 1000.0 * along_m / s <= _WIDE_MM
        )
        self.scale = next(fits, _SCALES[units][-1])
        k = self._k = 1000.0 / self.scale
        ups = self._heights()
        self._left = _RUN_MM + depth_mm([length_figure(x, units) for x in ups]) + 1.0
        self._floor = k * self.body.top_m + 4.0
        self._middle = self._left + 0.5 * k * self.body.wide_m
        self._origin = self._left + k * self.body.wide_m + _APART_MM - k * rear_m
        self.front = [mark for part in self.body.parts for mark in self._from_front(part)]
        self.side = [mark for part in self.body.parts for mark in self._from_side(part)]
        self.measures = [*self._front_measures(ups), *self._side_measures()]
        self.signs = [*self._hidden(), *self._draw_wall(), *self._draw_statics()]

    def _wall_m(self) -> float | None:
        """Where the wall behind is, ahead of the lower front edge; None where it is far. [m]"""
        if not self.found.to_wall_m <= _NEAR_WALL_M:
            return None
        upper_back = [part for part in self.body.parts if part.name == "panel"][-1].side[2]
        return float(upper_back[0]) - self.found.to_wall_m

    def _heights(self) -> list[float]:
        """Edges of its parts above the floor, the floor first, its top last. [m]"""
        edges = self._stops([part.side[:, 1] for part in self.body.parts], 0.0)[1:-1]
        apart = [0.0]
        for up in edges:
            if up - apart[-1] > _SAME_UP_M and self.body.top_m - up > _SAME_UP_M:
                apart.append(up)
        return [*apart, self.body.top_m]

    @staticmethod
    def _stops(groups: Sequence[Floats], datum: float) -> list[float]:
        """Places apart from each other, counted from a datum, the datum first. [m]"""
        kept = [datum]
        for value in sorted(float(x) for group in groups for x in group):
            if value - kept[-1] > _SAME_M:
                kept.append(value)
        return [value - datum for value in kept]

    def from_side(self, points: Floats) -> Floats:
        """Points ahead of the lower front edge and up (n, 2) [m] in the side view. [mm]"""
        return np.array([self._origin, self._floor]) + self._k * points * [1.0, -1.0]

    def _from_front(self, part: StandPart) -> list[Mark]:
        (a, b), low, high = part.across_m, part.side[:, 1].min(), part.side[:, 1].max()
        box = [
            (self._middle + self._k * x, self._floor - self._k * z)
            for x, z in ((a, low), (b, low), (b, high), (a, high))
        ]
        return [area(box, ink=INK, fill=_FILLS[part.name], width_pt=0.6, round_to=9)]

    def _from_side(self, part: StandPart) -> list[Mark]:
        if part.across_m[0] > 0.0:  # of a pair the nearer one
            return []
        return [area(self.from_side(part.side), ink=INK, fill=_FILLS[part.name], width_pt=0.6, round_to=9)]

    def _hidden(self) -> list[Mark]:
        """Panels as they lie behind a leg."""
        if self.body.leans:
            return []
        panels = (part for part in self.body.parts if part.name == "panel")
        return [area(self.from_side(p.side), ink=MUTED, width_pt=0.5, dash=(1.2, 0.8)) for p in panels]

    def _front_measures(self, ups: list[float]) -> list[Mark]:
        edge, k = 0.5 * self.body.wide_m, self._k
        across = self._stops([np.array(part.across_m) for part in self.body.parts], -edge)
        start, below = self._middle - k * edge, self._floor + _RUN_MM
        figures = [[length_figure(x, self.units) for x in stops[1:]] for stops in (across, ups)]
        marks = run_along(
            [start + k * x for x in across], figures[0], below, below=True, low=0.0, high=self._origin
        )
        left = self._left - _RUN_MM
        places = [self._floor - k * z for z in ups]
        return marks + run_along(places, figures[1], left, below=False, low=0.0, high=self._floor + 6.0)

    def _side_measures(self) -> list[Mark]:
        """What it rests on and where its panel stands, counted from the rear end of a foot."""
        panel = self.body.parts[0].side
        stops = self._stops(
            [np.array(self.body.foot), panel[:2, 0]], min(self.body.foot[0], float(panel[1, 0]))
        )
        start = min(self.body.foot[0], float(panel[1, 0]))
        places = [self._origin + self._k * (start + x) for x in stops]
        texts = [length_figure(x, self.units) for x in stops[1:]]
        return run_along(places, texts, self._floor + _RUN_MM, below=True, low=places[0] - 6.0, high=132.0)

    def _draw_wall(self) -> list[Mark]:
        """The floor, and the wall behind where it is near, with straps to it."""
        rear = self._rear if self._wall is None else min(self._wall, self._rear)
        right = self._origin + self._k * self._fore + 3.0
        left = self._origin + self._k * rear - (0.0 if self._wall is None else _WALL_MM)
        marks = [line([(left, self._floor), (right, self._floor)], width_pt=1.0)]
        marks.append(
            line(
                [(self._left - 2.0, self._floor), (2.0 * self._middle - self._left + 2.0, self._floor)],
                width_pt=1.0,
            )
        )
        if self._wall is None:
            return marks
        x = self._origin + self._k * self._wall
        wall = [(x - _WALL_MM, 2.6), (x, 2.6), (x, self._floor), (x - _WALL_MM, self._floor)]
        marks += [*hatch(wall, spacing=1.6, ink=MUTED), line([wall[1], wall[2]], width_pt=1.0)]
        if self.found.n_straps:
            back = [part for part in self.body.parts if part.name == "panel"][-1].side[2]
            (top,) = self.from_side(back[None])
            marks.append(line([(x, float(top[1]) + 2.0), (float(top[0]), float(top[1]) + 2.0)], width_pt=1.6))
        return marks

    def _draw_statics(self) -> list[Mark]:
        """Its centre of mass and the push at which it tips."""
        (x, y) = self.from_side(self.body.centre[None])[0].tolist()
        marks = [disc((x, y), 1.3, ink=INK, fill=WHITE, width_pt=0.7)]
        marks += [
            line([(x - 2.0, y), (x + 2.0, y)], width_pt=0.5),
            line([(x, y - 2.0), (x, y + 2.0)], width_pt=0.5),
        ]
        side = self._origin + self._k * self._fore + 8.0
        marks.append(line([(x + 2.0, y), (side - 1.0, y)], ink=MUTED, width_pt=0.3, dash=(1.0, 0.8)))
        up = length_figure(float(self.body.centre[1]), self.units)
        marks += self._beside(side, y, "centre of mass", f"{up} up")
        push_y = self._floor - self._k * self.body.push_height_m
        tip = [part for part in self.body.parts if part.name == "panel"][-1].side[3]
        (edge,) = self.from_side(tip[None])
        start, end = float(edge[0]) + 1.0, float(edge[0]) + 6.0
        marks += [line([(start, push_y), (end, push_y)], width_pt=0.9)]
        marks += [line([(end - 1.5, push_y - 1.0), (end, push_y), (end - 1.5, push_y + 1.0)], width_pt=0.9)]
        marks += self._beside(side, push_y, "tips at", force_words(self.body.push_n, self.units))
        over = 0.5 * (self.from_side(np.array([[self._rear, 0.0], [self._fore, 0.0]]))[:, 0]).sum()
        for text, at in (("from the front", self._middle), ("from the side", float(over))):
            marks.append(words(text, (at, 1.0), size_pt=SMALL_PT, ink=MUTED))
        return marks

    @staticmethod
    def _beside(left: float, middle: float, *rows: str) -> list[Mark]:
        return [words_from(row, left, middle + 3.0 * k, size_pt=SMALL_PT) for k, row in enumerate(rows)]

    def strip(self) -> Strip:
        """Both views as one piece of a column."""
        marks = [*self.front, *self.side, *self.signs, *self.measures]
        return Strip(max(mark.box[3] for mark in marks) + 2.0, tuple(marks))

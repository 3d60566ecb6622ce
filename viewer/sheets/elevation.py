"""The drawing of a set-out sheet: a surface to scale with its spots, dimensions and obstacles."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace import Scene, Study, Surface
from viewer.look import ACCENT, EDGE, HAIRLINE, INK, MUTED, WHITE
from viewer.paper import (
    Box,
    Mark,
    area,
    boxes_overlap,
    disc,
    hatch,
    line,
    on_plate,
    scale_bar,
    spread,
    text_size_mm,
    words,
)
from viewer.sheets.faceview import LEFT, LOWER, RIGHT, UPPER, FaceView, Spot
from viewer.words import length_figure

Floats = NDArray[np.float64]

SCALES = {
    "metric": (5, 10, 20, 25, 30, 40, 50, 75, 100, 150, 200),
    "imperial": (6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192),
}
SPOT_ROW_MM, AREA_ROW_MM, EDGE_MM, SCALE_BAR_MM = 7.2, 5.8, 6.0, 9.0
LETTER_MM = 3.0
SPOT_PT, AREA_PT, NAME_PT, LETTER_PT = 12.0, 9.5, 9.0, 11.0
WASH = ACCENT + "22"


@dataclass(frozen=True)
class Obstacle:
    """An opening or a place to keep free: what it is called, and its outline in the set-out frame. [m]"""

    text: str
    outline: Floats
    is_keep_out: bool

    @property
    def rect(self) -> tuple[float, float, float, float]:
        """Smallest upright rectangle round it: u0, v0, u1, v1. [m]"""
        (u0, v0), (u1, v1) = self.outline.min(axis=0).tolist(), self.outline.max(axis=0).tolist()
        return u0, v0, u1, v1


def find_obstacles(scene: Scene, surface: Surface) -> tuple[Obstacle, ...]:
    """Openings and keep-outs of one surface."""
    found = []
    for opening in surface.openings:
        u0, v0, u1, v1 = opening.rect
        found.append(Obstacle(opening.name, np.array([(u0, v0), (u1, v0), (u1, v1), (u0, v1)]), False))
    for keep_out in scene.keep_outs:
        if keep_out.surface != surface.name:
            continue
        if keep_out.centre is not None and keep_out.radius is not None:
            turn = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
            outline = keep_out.centre + keep_out.radius * np.column_stack([np.cos(turn), np.sin(turn)])
        else:
            assert keep_out.at is not None
            assert keep_out.size is not None
            corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], np.float64)
            outline = np.array(keep_out.at) + corners * np.array(keep_out.size)
        text = f"{keep_out.name}: {keep_out.reason}" if keep_out.reason else keep_out.name
        if keep_out.reason and keep_out.reason.startswith(keep_out.name):
            text = keep_out.reason  # it says the name itself
        found.append(Obstacle(text, outline, True))
    return tuple(found)


def best_scale(view: FaceView, n_spots: int, room_mm: tuple[float, float], *, units: str) -> int:
    """The finest usual scale at which a surface and its dimensions fit the room, 20 for 1:20."""
    wide, high = room_mm
    for scale in SCALES[units]:
        left, right, above, below = _borders(view, n_spots)
        if (
            view.width_m * 1000.0 / scale + left + right <= wide
            and view.height_m * 1000.0 / scale + above + below <= high
        ):
            return scale
    return SCALES[units][-1]


def _borders(view: FaceView, n_spots: int) -> tuple[float, float, float, float]:
    """What dimensions take to the left of the surface, to the right, above and below. [mm]"""
    per_spot = SPOT_ROW_MM + AREA_ROW_MM
    uneven = len(view.outlines) > 1 or len(view.holes) > 0 or max(map(len, view.outlines)) > 4
    extra = AREA_ROW_MM if uneven or not _fills_rectangle(view) else 0.0
    on_left, on_right = (n_spots + 1) // 2, n_spots // 2
    return (
        EDGE_MM + max(2.0 * LETTER_MM + 1.0, on_left * (per_spot + extra)),
        EDGE_MM + on_right * (per_spot + extra),
        EDGE_MM + LETTER_MM + 0.5,
        EDGE_MM + n_spots * (per_spot + extra) + SCALE_BAR_MM,
    )


def _fills_rectangle(view: FaceView) -> bool:
    """Whether the outline is the whole of the set-out rectangle."""
    h, w = view.outlines[0].T
    enclosed = 0.5 * abs(float(np.sum(h * np.roll(w, -1) - np.roll(h, -1) * w)))
    return len(view.outlines) == 1 and enclosed > 0.9999 * view.width_m * view.height_m


class Drawing:
    """Marks of one surface with some of its spots, at the finest scale that fits `room_mm`.

    Attributes
    ----------
    marks : list of Mark
        In drawing order.
    scale : int
        20 for 1:20.
    size_mm : (2,) tuple
        What the drawing takes on paper. [mm]
    keys : list of str
        Names that found no room in the drawing, behind the numbers that stand for them there.
    """

    def __init__(
        self, study: Study, view: FaceView, spots: Sequence[Spot], room_mm: tuple[float, float], *, units: str
    ) -> None:
        self.view, self.units = view, units
        self.marks: list[Mark] = []
        self._back: list[Mark] = []
        self.keys: list[str] = []
        self.scale = best_scale(view, len(spots), room_mm, units=units)
        left, right, above, below = _borders(view, len(spots))
        self.wall: Box = (
            left,
            above,
            left + view.width_m * 1000.0 / self.scale,
            above + view.height_m * 1000.0 / self.scale,
        )
        self.size_mm = self.wall[2] + right, self.wall[3] + below
        self._taken: list[Box] = []
        obstacles = find_obstacles(study.scene, view.surface)
        self._draw_surface(obstacles)
        for spot in spots:
            self._draw_area(spot)
        self._draw_dimensions(spots)
        for spot in spots:
            self._draw_spot(spot)
        self._name_spots(spots)
        self._name_obstacles(obstacles, spots)
        self._name_neighbours()
        self.marks += scale_bar((self.wall[0], self.size_mm[1] - 6.2), scale=self.scale, units=units)
        self.marks[:0] = self._back

    def on_paper(self, sheet_m: ArrayLike) -> Floats:
        """h, w in metres (n, 2) to millimetres on paper."""
        return np.array(self.wall[:2]) + np.asarray(sheet_m, np.float64).reshape(-1, 2) * 1000.0 / self.scale

    def _draw_surface(self, obstacles: Sequence[Obstacle]) -> None:
        for obstacle in obstacles:
            outline = self.on_paper(self.view.from_frame(obstacle.outline))
            ink = INK if obstacle.is_keep_out else HAIRLINE
            self.marks += hatch(outline, spacing=1.8 if obstacle.is_keep_out else 3.0, ink=ink)
            self.marks.append(area(outline, ink=EDGE, width_pt=0.8))
        for outline in self.view.outlines:
            self.marks.append(area(self.on_paper(outline), ink=INK, width_pt=1.4))
        for hole in self.view.holes:
            self.marks.append(area(self.on_paper(hole), ink=INK, fill=WHITE, width_pt=1.4))

    def _draw_area(self, spot: Spot) -> None:
        outline = self.on_paper(self.view.from_frame(spot.patch.outline))
        self.marks.append(area(outline, ink=ACCENT, fill=WASH, width_pt=1.1))
        u0, v0, u1, v1 = spot.patch.rect
        corners = self.on_paper(self.view.from_frame([(u0, v0), (u1, v0), (u1, v1), (u0, v1)]))
        self.marks.append(area(corners, ink=ACCENT, width_pt=0.5, dash=(1.2, 0.9)))

    def _draw_spot(self, spot: Spot) -> None:
        for place in self.on_paper(self.view.from_frame(spot.patch.spots[1:])):
            self.marks.append(disc(place, 0.5, fill=ACCENT))
        (x, y) = self.on_paper(self.view.from_frame(spot.uv))[0]
        self.marks.append(disc((x, y), 1.9, fill=WHITE, ink=ACCENT, width_pt=0.6))
        self.marks.append(disc((x, y), 1.1, fill=ACCENT))
        self._taken.append((x - 2.2, y - 2.2, x + 2.2, y + 2.2))

    def _draw_dimensions(self, spots: Sequence[Spot]) -> None:
        """Rows below the surface and columns beside it, one pair for each spot."""
        below = self.wall[3] + EDGE_MM
        beside = {LEFT: self.wall[0] - EDGE_MM, RIGHT: self.wall[2] + EDGE_MM}
        rows = []
        for number, spot in enumerate(spots):
            side = LEFT if number % 2 == 0 else RIGHT
            rows.append((spot.letter, below + SPOT_ROW_MM - 3.0))
            for stops, size_pt, pitch in _chains(spot, LEFT, RIGHT, self.view.width_m):
                below += pitch
                self._chain([self.wall[0] + s * 1000.0 / self.scale for s in stops], stops, below, size_pt)
            step = -1.0 if side == LEFT else 1.0
            first = True
            for stops, size_pt, pitch in _chains(spot, UPPER, LOWER, self.view.height_m):
                # Words that read upwards stand to the left of their line, so a right-hand column starts
                # with room for them.
                line_x = beside[side] + (step * pitch if side == RIGHT else 0.0)
                beside[side] += step * pitch
                places = [self.wall[1] + s * 1000.0 / self.scale for s in stops]
                self._chain(places, stops, line_x, size_pt, upright=True)
                if first:
                    self._letter(spot.letter, (line_x - 1.0, self.wall[1] - EDGE_MM))
                    first = False
        for letter, at in rows:
            self._letter(letter, (self._end_of_row(at), at))

    def _end_of_row(self, at: float) -> float:
        """Where the letter of a row below stands: left, or right of it where a column reaches down there."""
        ends = (self.wall[0] - EDGE_MM - LETTER_MM, self.wall[2] + EDGE_MM + LETTER_MM)
        for x in ends:
            box = x - LETTER_MM, at - LETTER_MM, x + LETTER_MM, at + LETTER_MM
            if not any(boxes_overlap(box, taken, gap=0.4) for taken in self._taken):
                return x
        return ends[0]

    def _letter(self, letter: str, centre: ArrayLike) -> None:
        self.marks.append(disc(centre, LETTER_MM, fill=ACCENT))
        self.marks.append(words(letter, centre, size_pt=LETTER_PT, bold=True, ink=WHITE))
        self._taken.append(self.marks[-2].box)

    def _chain(
        self,
        places: Sequence[float],
        stops: Sequence[float],
        at: float,
        size_pt: float,
        *,
        upright: bool = False,
    ) -> None:
        """A dimension line with a stroke at every stop and the lengths between them. [mm and m]"""

        def point(along: float, off: float = 0.0) -> tuple[float, float]:
            return (at - off, along) if upright else (along, at - off)

        bold = size_pt == SPOT_PT
        ink = ACCENT if bold else INK
        self.marks.append(line([point(places[0]), point(places[-1])], ink=ink, width_pt=0.6))
        wall_edge = self.wall[3] if not upright else (self.wall[0] if at < self.wall[0] else self.wall[2])
        for place in places:
            slash = [point(place - 0.9, -0.9), point(place + 0.9, 0.9)]
            self.marks.append(line(slash, ink=ink, width_pt=1.0))
            outer = (at, place) if upright else (place, at)
            inner = (wall_edge, place) if upright else (place, wall_edge)
            self._back.append(line([inner, outer], ink=HAIRLINE, width_pt=0.35))
        spans = [(a, b, q - p) for (a, b), (p, q) in zip(pairwise(places), pairwise(stops), strict=True)]
        spans = [span for span in spans if span[2] > 0.0005]
        texts = [length_figure(length, self.units) for _, _, length in spans]
        sizes = [text_size_mm(text, size_pt, bold=bold) for text in texts]
        middles = [(a + b) / 2.0 for a, b, _ in spans]
        low, high = (self.wall[1], self.wall[3]) if upright else (self.wall[0], self.wall[2])
        homes = spread(middles, [w for w, _ in sizes], low=low, high=high, gap=2.0)
        for text, (width, height), middle, home in zip(texts, sizes, middles, homes, strict=True):
            lift = height / 2.0 + 0.5
            if abs(home - middle) > width / 2.0:
                self.marks.append(
                    line([point(middle), point(home, lift - height / 2.0)], ink=ink, width_pt=0.4)
                )
            figure_mark = words(text, point(home, lift), size_pt=size_pt, bold=bold, turned=upright, ink=ink)
            mark = on_plate(figure_mark)
            self.marks.append(mark)
            self._taken.append(mark.box)

    def _name_spots(self, spots: Sequence[Spot]) -> None:
        """A letter beside each spot, clear of the other spots."""
        for spot in spots:
            (x, y) = self.on_paper(self.view.from_frame(spot.uv))[0]
            others = [self.on_paper(self.view.from_frame(o.uv))[0] for o in spots if o is not spot]
            turns = np.radians(np.arange(-45, 315, 30))
            places = []
            for reach in (6.0, 9.0, 13.0, 18.0):
                ring = [(float(x + reach * np.cos(t)), float(y + reach * np.sin(t))) for t in turns]
                places += sorted(ring, key=lambda p: -min((np.hypot(*(o - p)) for o in others), default=0.0))
            place = self._clear_place(places, (2.0 * LETTER_MM, 2.0 * LETTER_MM)) or places[0]
            self.marks.append(line([(x, y), place], ink=ACCENT, width_pt=0.5))
            self._letter(spot.letter, place)

    def _name_obstacles(self, obstacles: Sequence[Obstacle], spots: Sequence[Spot]) -> None:
        """The name in the obstacle or beside it, off the areas; a number and a key where there is no room."""
        areas = [self._area_box(spot) for spot in spots]
        for obstacle in obstacles:
            ink = INK if obstacle.is_keep_out else MUTED
            corners = self.on_paper(self.view.from_frame(obstacle.outline))
            forms = obstacle.text, obstacle.text.replace(": ", ":\n", 1)
            if any(
                self._place_words(t, self._places_round(corners, t), ink=ink, keep_off=areas) for t in forms
            ):
                continue
            number = str(len(self.keys) + 1)
            self.keys.append(f"{number} in the drawing: {obstacle.text}")
            places = self._places_round(corners, number)
            if not self._place_words(number, places, ink=ink):
                self.marks.append(on_plate(words(number, places[0], size_pt=NAME_PT, ink=ink)))

    def _places_round(self, corners: Floats, text: str) -> list[tuple[float, float]]:
        """Where words for an outline may stand: inside from the middle outwards, then beside it."""
        width, height = text_size_mm(text, NAME_PT)
        low, high = corners.min(axis=0), corners.max(axis=0)
        middle = (low + high) / 2.0
        room = np.maximum((high - low) / 2.0 - np.array([width, height]) / 2.0 - 0.8, 0.0)
        shares = sorted(
            ((a, b) for a in np.linspace(-1, 1, 5) for b in np.linspace(-1, 1, 7)),
            key=lambda s: (abs(s[0]) + abs(s[1]), s),
        )
        fits_inside = width + 1.6 <= high[0] - low[0] and height + 1.6 <= high[1] - low[1]
        inside = (
            [(middle[0] + a * room[0], middle[1] + b * room[1]) for a, b in shares] if fits_inside else []
        )
        above, under = low[1] - height / 2.0 - 1.0, high[1] + height / 2.0 + 1.0
        left, right = low[0] - width / 2.0 - 1.2, high[0] + width / 2.0 + 1.2
        beside = [(middle[0], above), (middle[0], under), (right, middle[1]), (left, middle[1])]
        beside += [(low[0] + width / 2.0, above), (high[0] - width / 2.0, above)]
        beside += [(low[0] + width / 2.0, under), (high[0] - width / 2.0, under)]
        return [(float(x), float(y)) for x, y in (*inside, *beside)]

    def _area_box(self, spot: Spot) -> Box:
        u0, v0, u1, v1 = spot.patch.rect
        corners = self.on_paper(self.view.from_frame([(u0, v0), (u1, v1)]))
        (x0, y0), (x1, y1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
        return x0, y0, x1, y1

    def _place_words(
        self, text: str, places: Sequence[tuple[float, float]], *, ink: str, keep_off: Sequence[Box] = ()
    ) -> bool:
        place = self._clear_place(places, text_size_mm(text, NAME_PT), keep_off)
        if place is None:
            return False
        self.marks.append(on_plate(words(text, place, size_pt=NAME_PT, ink=ink)))
        self._taken.append(self.marks[-1].box)
        return True

    def _clear_place(
        self, places: Sequence[tuple[float, float]], size: tuple[float, float], keep_off: Sequence[Box] = ()
    ) -> tuple[float, float] | None:
        """The first place inside the surface's rectangle where a box of this size touches no other."""
        for x, y in places:
            box = x - size[0] / 2.0, y - size[1] / 2.0, x + size[0] / 2.0, y + size[1] / 2.0
            inside = (
                box[0] > self.wall[0] + 0.5
                and box[1] > self.wall[1] + 0.5
                and box[2] < self.wall[2] - 0.5
                and box[3] < self.wall[3] - 0.5
            )
            if inside and not any(boxes_overlap(box, taken, gap=0.6) for taken in (*self._taken, *keep_off)):
                return x, y
        return None

    def _name_neighbours(self) -> None:
        """What the surface meets on each side, just outside its edges."""
        x, y = (self.wall[0] + self.wall[2]) / 2.0, (self.wall[1] + self.wall[3]) / 2.0
        off = EDGE_MM / 2.0
        places = (
            (self.wall[0] - off, y),
            (self.wall[2] + off, y),
            (x, self.wall[1] - off),
            (x, self.wall[3] + off),
        )
        for side, (name, place) in enumerate(zip(self.view.neighbours, places, strict=True)):
            upright = side in (LEFT, RIGHT)
            width, _ = text_size_mm(name, NAME_PT)
            length = (self.wall[3] - self.wall[1]) if upright else (self.wall[2] - self.wall[0])
            if not name or width > length:
                continue
            spread_to = np.linspace(0.0, 0.5 * (length - width), 7)
            for shift in (s for step in spread_to for s in (step, -step)):
                at = (place[0], place[1] + shift) if upright else (place[0] + shift, place[1])
                mark = on_plate(words(name, at, size_pt=NAME_PT, turned=upright, ink=MUTED))
                if not any(boxes_overlap(mark.box, taken, gap=0.4) for taken in self._taken):
                    self.marks.append(mark)
                    self._taken.append(mark.box)
                    break


def _chains(spot: Spot, near: int, far: int, total_m: float) -> list[tuple[list[float], float, float]]:
    """Stops, type size and row height of a spot's dimension lines from one side to the other. [m, pt, mm]"""
    at = spot.sides_m[near]
    chains = [([0.0, at, total_m], SPOT_PT, SPOT_ROW_MM)]
    to_near, to_far = spot.outline_m[near], spot.outline_m[far]
    if to_near is not None or to_far is not None:
        start = at - (to_near if to_near is not None else at)
        end = at + (to_far if to_far is not None else spot.sides_m[far])
        chains.append(([start, at, end], AREA_PT, AREA_ROW_MM))
    chains.append(
        ([0.0, spot.area_sides_m[near], total_m - spot.area_sides_m[far], total_m], AREA_PT, AREA_ROW_MM)
    )
    return chains

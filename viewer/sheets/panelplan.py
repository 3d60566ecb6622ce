"""The drawing on an installer's sheet: outlines, panels, hooks, joists and dimensions, each on its layer."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace import ACROSS_JOISTS, Joists, Treatment
from viewer.look import HAIRLINE, INK, MUTED, OBJECT, PANEL, WHITE, tinted
from viewer.paper import (
    LETTER_PT,
    NAME_PT,
    SMALL_PT,
    Box,
    Mark,
    WordPlaces,
    area,
    beyond,
    box_round,
    boxes_overlap,
    depth_mm,
    disc,
    hatch,
    line,
    line_breaks,
    on_plate,
    places_beside,
    places_inside,
    run_along,
    text_size_mm,
    words,
)
from viewer.sheets.faceview import LEFT, LOWER, RIGHT
from viewer.sheets.hangwords import outline_gaps
from viewer.sheets.signs import HOOK_MM, OWNED_FILL
from viewer.sheets.treatment import View, foot
from viewer.words import length_figure

Floats = NDArray[np.float64]

LAYERS = (
    "furniture",
    "openings",
    "keep-outs",
    "dimensions",
    "feet",
    "panels",
    "panels owned",
    "rafts",
    "joists",
    "walls",
    "battens",
    "hooks",
    "names",
    "sheet",
)
_BAND_MM = 10.5  # outside the outline: joist numbers and the names of walls
_RUN_MM = 6.5  # from the outline to a dimension line
_EXACT = 9  # digits: files in true millimetres multiply what stands on paper by the scale
_SAME_M = 0.0005
_PANEL_FILL, _OTHER_FILL = tinted(PANEL, 0.45), tinted(PANEL, 0.15)


def stops_m(treatment: Treatment, view: View) -> tuple[list[float], list[float]]:
    """Distances from both datum sides at which something is set out: across the sheet, and along it. [m]"""
    if view.kind == "floor":
        marked = np.concatenate([foot(treatment, k)[:, 1::-1] for k in view.listed])
    else:
        shown = view.listed or tuple(view.panels)
        marked = np.concatenate([view.panels[k] for k in shown]) if shown else np.zeros((0, 2))
    h, w = marked[:, 0], marked[:, 1] if view.datum_on_top else view.height_m - marked[:, 1]
    return _apart([*h.tolist(), view.width_m]), _apart([*w.tolist(), view.height_m])


def _apart(values: Iterable[float]) -> list[float]:
    kept: list[float] = [0.0]
    for value in sorted(values):
        if value - kept[-1] > _SAME_M:
            kept.append(value)
    return kept


def borders_mm(treatment: Treatment, view: View, units: str) -> tuple[float, float, float, float]:
    """What names and dimensions take to the left of the face, above, to the right and below. [mm]"""
    across, along = stops_m(treatment, view)
    left = _RUN_MM + depth_mm([length_figure(x, units) for x in along])
    below = _RUN_MM + depth_mm([length_figure(x, units) for x in across])
    return left, _BAND_MM, _BAND_MM, below


class PanelPlan:
    """Marks of one view at a scale, its upper left corner at 0, 0.

    Attributes
    ----------
    layers : dict of str to list of Mark
    size_mm, datum_mm : (2,) tuple
        What it takes on paper; where both distances are 0.
    keys : list of str
        Names that found no room in the drawing, behind the numbers that stand for them there.
    """

    def __init__(self, treatment: Treatment, view: View, scale: int, units: str) -> None:
        self.treatment, self.view, self.scale, self.units = treatment, view, scale, units
        self.layers: dict[str, list[Mark]] = {name: [] for name in LAYERS}
        self.keys: list[str] = []
        left, top, right, bottom = borders_mm(treatment, view, units)
        across, down = 1000.0 * view.width_m / scale, 1000.0 * view.height_m / scale
        self.face: Box = (left, top, left + across, top + down)
        self.size_mm = (left + across + right, top + down + bottom)
        self.datum_mm = (left, top if view.datum_on_top else top + down)
        self._words = WordPlaces(self.face, self.size_mm)
        self._draw_ground()
        self._draw_panels()
        self._draw_joists()
        self._draw_hooks()
        self._draw_dimensions()
        self._draw_outline_gaps()
        self._name_panels()
        self._draw_level()
        self._name_obstacles()
        self._name_walls()
        self._name_furniture()
        self._name_gaps()
        self._mark_spots()

    def on_paper(self, sheet_m: ArrayLike) -> Floats:
        """h, w in metres (n, 2) to millimetres on paper."""
        places = np.asarray(sheet_m, np.float64).reshape(-1, 2)
        return np.array(self.face[:2]) + places * 1000.0 / self.scale

    def _draw_ground(self) -> None:
        for _, outline in self.view.furniture:
            self.layers["furniture"].append(
                area(self.on_paper(outline), ink=HAIRLINE, width_pt=0.6, dash=(2.0, 1.0), round_to=_EXACT)
            )
        for obstacle in self.view.obstacles:
            outline = self.on_paper(obstacle.outline)
            layer = self.layers["keep-outs" if obstacle.is_keep_out else "openings"]
            if obstacle.is_keep_out:
                layer += hatch(outline, spacing=2.2, ink=MUTED)
            layer.append(area(outline, ink=INK if obstacle.is_keep_out else MUTED, round_to=_EXACT))
        for outline in self.view.outlines:
            self.layers["walls"].append(area(self.on_paper(outline), ink=INK, width_pt=1.6, round_to=_EXACT))
        for _, ends in self.view.gaps:
            # A white bar over the wall and a thin line in it: something opens there.
            places = self.on_paper(ends)
            self.layers["walls"].append(line(places, ink=WHITE, width_pt=2.6))
            self.layers["walls"].append(line(places, ink=MUTED, width_pt=0.8, round_to=_EXACT))
        for hole in self.view.holes:
            self.layers["walls"].append(area(self.on_paper(hole), ink=INK, width_pt=1.2, round_to=_EXACT))

    def _draw_panels(self) -> None:
        for outline in self.view.feet:
            self.layers["feet"].append(
                area(self.on_paper(outline), ink=INK, fill=OBJECT, width_pt=0.6, round_to=_EXACT)
            )
            self._words.taken.append(box_round(self.on_paper(outline)))
        for k, outline in self.view.panels.items():
            own, owned = k in self.view.listed, k in self.treatment.ownership.owned
            self.layers["panels owned" if owned else "panels"].append(
                area(
                    self.on_paper(outline),
                    ink=INK if own else MUTED,
                    fill=(OWNED_FILL if owned else _PANEL_FILL) if own else _OTHER_FILL,
                    width_pt=1.1 if own else 0.6,
                    dash=() if own else (2.4, 1.2),
                    round_to=_EXACT,
                )
            )
            if self.view.kind == "floor":
                ends = self.on_paper(foot(self.treatment, k)[:, 1::-1])
                self.layers["panels"].append(line(ends, ink=INK, width_pt=2.4, round_to=_EXACT))
                self._words.taken.append(box_round(np.concatenate([ends - 0.5, ends + 0.5])))
        for outlines in self.view.rafts.values():
            for outline in outlines:
                corners = self.on_paper(outline)
                self._words.crossed.append(box_round(corners))
                self.layers["rafts"].append(
                    area(corners, ink=MUTED, fill=OBJECT, width_pt=0.5, round_to=_EXACT)
                )
        for ends in self.view.battens:
            start, end = self.on_paper(ends)
            along = (end - start) / np.linalg.norm(end - start)
            half = np.array([-along[1], along[0]]) * 500.0 * ACROSS_JOISTS.depth_m / self.scale
            self.layers["battens"].append(
                area([start + half, end + half, end - half, start - half], ink=INK, fill=OBJECT, width_pt=0.7)
            )

    def _draw_joists(self) -> None:
        for joist in self.view.joists:
            start, end = self.on_paper(joist.ends)
            length = float(np.linalg.norm(end - start))
            if length < 0.1:
                continue
            across = np.array([start[1] - end[1], end[0] - start[0]]) / length
            half = across * 500.0 * joist.entry.width / self.scale
            surveyed = joist.entry.known == "surveyed"
            for side in (half, -half):
                self.layers["joists"].append(
                    line(
                        [start + side, end + side],
                        ink=MUTED,
                        width_pt=0.3,
                        dash=() if surveyed else (1.6, 1.2),
                        round_to=_EXACT,
                    )
                )
            middle = line([start, end], ink=MUTED, width_pt=0.4, dash=(5.0, 1.0, 0.6, 1.0), round_to=_EXACT)
            self.layers["joists"].append(middle)
            self._words.crossed.append(
                box_round(np.array([start + half, start - half, end + half, end - half]))
            )
        pieces: dict[tuple[Joists, int], list[Floats]] = {}
        for joist in self.view.joists:
            pieces.setdefault((joist.entry, joist.number), []).extend(self.on_paper(joist.ends))
        for (_, number), ends in pieces.items():
            self._number_joist(number, np.array(ends))

    def _number_joist(self, number: int, ends: Floats) -> None:
        """Its number outside the upper or the right end of all its pieces, (n, 2)."""
        flat = np.ptp(ends[:, 0]) > np.ptp(ends[:, 1])
        tip = max(ends, key=lambda p: p[0] if flat else -p[1])
        place = tip + (np.array([2.6, 0.0]) if flat else np.array([0.0, -2.4]))
        mark = words(str(number), place, size_pt=LETTER_PT, ink=MUTED)
        if not any(boxes_overlap(mark.box, taken, gap=0.3) for taken in self._words.taken):
            self._write("joists", mark)

    def _draw_hooks(self) -> None:
        places = self.on_paper([place for _, place in self.view.hooks])
        for x, y in places:
            self._words.taken.append((x - 2.1, y - 2.1, x + 2.1, y + 2.1))
        for (hook, _), place in zip(self.view.hooks, places, strict=True):
            x, y = place
            self.layers["hooks"] += [
                disc(place, HOOK_MM, ink=INK, fill=WHITE, width_pt=0.8, round_to=_EXACT),
                line([(x - 2.0, y), (x + 2.0, y)], width_pt=0.5, round_to=_EXACT),
                line([(x, y - 2.0), (x, y + 2.0)], width_pt=0.5, round_to=_EXACT),
            ]
            held = [self.on_paper(self.view.panels[k]) for k in hook.holds]
            towards = np.concatenate(held).mean(axis=0) - place
            # Off both axes, along which joists and battens run; towards the middle of its panel first.
            turns = sorted(
                np.radians(np.arange(45.0, 360.0, 90.0)),
                key=lambda t: -float(np.array([np.cos(t), np.sin(t)]) @ towards),
            )
            ring = [
                (float(x + reach * np.cos(t)), float(y + reach * np.sin(t)))
                for reach in (3.3, 4.2, 5.4)
                for t in turns
            ]
            self._place("hooks", hook.letter, ring, size_pt=LETTER_PT, plate=False)

    def _draw_dimensions(self) -> None:
        across, along = stops_m(self.treatment, self.view)
        x0, y0, x1, y1 = self.face
        step = 1000.0 / self.scale
        bottom, left = y1 + _RUN_MM, x0 - _RUN_MM
        ups = [y0 + s * step if self.view.datum_on_top else y1 - s * step for s in along]
        sides = [x0 + s * step for s in across]
        texts = (
            [length_figure(s, self.units) for s in across[1:]],
            [length_figure(s, self.units) for s in along[1:]],
        )
        layer = self.layers["dimensions"]
        layer += [line([(x, y0), (x, bottom)], ink=HAIRLINE, width_pt=0.3) for x in sides]
        layer += [line([(x1, y), (left, y)], ink=HAIRLINE, width_pt=0.3) for y in ups]
        # Panels are drawn over these lines, so only what is seen of them can strike a word.
        panels = [box_round(self.on_paper(outline)) for outline in self.view.panels.values()]
        strips = [(x - 0.1, y0, x + 0.1, bottom) for x in sides] + [(left, y - 0.1, x1, y + 0.1) for y in ups]
        self._words.crossed += [part for strip in strips for part in beyond(strip, panels)]
        runs = run_along(sides, texts[0], bottom, below=True, low=x0 - 2.0, high=x1 + _BAND_MM)
        # Along the left side the datum may lie at the lower end: places then run upwards.
        runs += run_along(ups, texts[1], left, below=False, low=y0 - _BAND_MM, high=y1 + 3.0)
        for mark in runs:
            self._write("dimensions", mark)
        self._words.taken.append((x0 - 1.0, bottom - 1.0, x1 + 1.0, bottom + 1.0))
        self._words.taken.append((left - 1.0, y0 - 1.0, left + 1.0, y1 + 1.0))

    def _name_panels(self) -> None:
        for k, outline in self.view.panels.items():
            corners = self.on_paper(outline)
            panel = self.treatment.room.panels[k]
            size = f"{length_figure(panel.width_m, self.units)} x {length_figure(panel.height_m, self.units)}"
            short = panel.label or panel.name
            own = k in self.view.listed
            name = f"{panel.name}, owned" if k in self.treatment.ownership.owned else panel.name
            for text in (f"{name}\n{size}", name, panel.name, short):
                if self._place(
                    "names", text, places_inside(corners, text, NAME_PT), ink=INK if own else MUTED
                ):
                    break
            else:
                places = [*places_inside(corners, short, NAME_PT), *places_beside(corners, short, NAME_PT)]
                if not self._place("names", short, places):
                    self._key(panel.name, places)

    def _draw_level(self) -> None:
        if self.view.level is None:
            return
        w, height = self.view.level
        (x0, y), (x1, _) = self.on_paper([(0.0, w), (self.view.width_m, w)])
        self.layers["dimensions"].append(
            line([(x0 - 2.0, y), (x1 + 2.0, y)], ink=INK, width_pt=0.6, dash=(7.0, 1.2, 1.2, 1.2))
        )
        text = f"level line, {length_figure(height, self.units)} above the floor"
        self._words.crossed.append((float(x0), float(y) - 0.3, float(x1), float(y) + 0.3))
        panels = [box_round(self.on_paper(outline)) for outline in self.view.panels.values()]
        # Where the whole text would cover a panel its first words do: the notes beside say how high.
        for words_on, keep_off in ((text, panels), ("level line", panels), (text, [])):
            wide, high = text_size_mm(words_on, SMALL_PT)
            places = [
                (float(x0 + wide / 2.0 + share * (x1 - x0 - wide)), y + side * (high / 2.0 + 0.8))
                for side in (-1.0, 1.0)
                for share in np.linspace(0.02, 0.98, 13)
            ]
            if self._place(
                "names", words_on, places, size_pt=SMALL_PT, ink=MUTED, plate=True, keep_off=keep_off
            ):
                break

    def _draw_outline_gaps(self) -> None:
        """From a panel's edge to an outline that is not upright, at the panel's own middle."""
        for k, sides in outline_gaps(self.view, self.treatment).items():
            low, high = self.view.panels[k].min(axis=0), self.view.panels[k].max(axis=0)
            middle = 0.5 * (low + high)
            for side, gap in sides.items():
                axis = 0 if side in (LEFT, RIGHT) else 1
                start, end = middle.copy(), middle.copy()
                sign = 1.0 if side in (RIGHT, LOWER) else -1.0
                start[axis] = (high if sign > 0 else low)[axis]
                end[axis] = start[axis] + sign * gap
                a, b = self.on_paper([start, end])
                if np.linalg.norm(b - a) < 4.0:
                    continue
                self.layers["dimensions"].append(line([a, b], width_pt=0.5))
                self._words.crossed.append(box_round(np.stack([a, b])))
                stroke = np.array([0.8, -0.8])
                for p in (a, b):
                    self.layers["dimensions"].append(line([p - stroke, p + stroke], width_pt=1.0))
                text = length_figure(gap, self.units)
                off = text_size_mm(text, SMALL_PT)[1 if axis == 0 else 0] / 2.0 + 0.8
                square = np.array([0.0, -off]) if axis == 0 else np.array([off, 0.0])
                places = [
                    (float(p[0]), float(p[1]))
                    for share in (0.5, 0.35, 0.65, 0.2, 0.8)
                    for q in [a + share * (b - a)]
                    for p in (q + square, q - square)
                ]
                self._place("names", text, places, size_pt=SMALL_PT)

    def _name_obstacles(self) -> None:
        """Beside what is kept free or inside it, off the panels if that can be."""
        panels = [box_round(self.on_paper(outline)) for outline in self.view.panels.values()]
        for obstacle in self.view.obstacles:
            corners = self.on_paper(obstacle.outline)
            ink = INK if obstacle.is_keep_out else MUTED
            tries = [
                (text, keep_off) for keep_off in (panels, []) for text in line_breaks(obstacle.text, SMALL_PT)
            ]
            for text, keep_off in tries:
                places = [*places_inside(corners, text, SMALL_PT), *places_beside(corners, text, SMALL_PT)]
                if self._place(
                    "names", text, places, size_pt=SMALL_PT, ink=ink, plate=True, keep_off=keep_off
                ):
                    break
            else:
                self._key(
                    obstacle.text, places_inside(corners, "9", NAME_PT) + places_beside(corners, "9", NAME_PT)
                )

    def _key(self, text: str, places: Sequence[tuple[float, float]]) -> None:
        """A number in the drawing, what it stands for beside it."""
        number = str(len(self.keys) + 1)
        self.keys.append(f"{number} in the drawing: {text}")
        self._place("names", number, places, bold=True, plate=True)

    def _name_walls(self) -> None:
        for name, place, out in self.view.names:
            at = self.on_paper(place)[0]
            turned = bool(abs(out[0]) > abs(out[1]))
            along = np.array([0.0, 1.0]) if turned else np.array([1.0, 0.0])
            high = text_size_mm(name, SMALL_PT)[1]
            places = [
                at + out * (high / 2.0 + off) + along * shift
                for off in (1.2, 5.4)
                for shift in (0.0, 12.0, -12.0, 24.0, -24.0)
            ]
            pairs = [(float(p[0]), float(p[1])) for p in places]
            self._place(
                "names", name, pairs, size_pt=SMALL_PT, ink=MUTED, turned=turned, plate=True, anywhere=True
            )

    def _name_furniture(self) -> None:
        for name in dict.fromkeys(name for name, _ in self.view.furniture):
            outlines = [outline for other, outline in self.view.furniture if other == name]
            corners = self.on_paper(max(outlines, key=lambda o: float(np.ptp(o, axis=0).prod())))
            self._place("names", name, places_inside(corners, name, SMALL_PT), size_pt=SMALL_PT, ink=MUTED)

        panels = [box_round(self.on_paper(outline)) for outline in self.view.panels.values()]
        for name, outline in self.view.labels:
            places = places_inside(self.on_paper(outline), name, SMALL_PT)
            self._place("names", name, places, size_pt=SMALL_PT, ink=MUTED, plate=True, keep_off=panels)

    def _name_gaps(self) -> None:
        for name, ends in self.view.gaps:
            at = self.on_paper(ends).mean(axis=0)
            inwards = (np.array(self.face[:2]) + np.array(self.face[2:])) / 2.0 - at
            turned = bool(abs(inwards[0]) / self.view.width_m > abs(inwards[1]) / self.view.height_m)
            step = np.array([np.sign(inwards[0]), 0.0]) if turned else np.array([0.0, np.sign(inwards[1])])
            along = step[::-1]
            places = [at + off * step + shift * along for off in (2.6, 4.6) for shift in (0.0, 8.0, -8.0)]
            pairs = [(float(p[0]), float(p[1])) for p in places]
            self._place("names", name, pairs, size_pt=SMALL_PT, ink=MUTED, turned=turned, plate=True)

    def _mark_spots(self) -> None:
        for name, place in self.view.spots:
            x, y = self.on_paper(place)[0].tolist()
            self.layers["furniture"].append(disc((x, y), 1.2, fill=HAIRLINE))
            places = [(x, y + 3.2), (x, y - 3.2), (x + 8.0, y), (x - 8.0, y)]
            self._place("names", name, places, size_pt=SMALL_PT, ink=MUTED, plate=True)

    def _write(self, layer: str, mark: Mark) -> None:
        self.layers[layer].append(mark)
        if mark.kind == "text":
            self._words.taken.append(mark.box)

    def _place(
        self,
        layer: str,
        text: str,
        places: Sequence[tuple[float, float]],
        *,
        size_pt: float = NAME_PT,
        plate: bool = False,
        anywhere: bool = False,
        keep_off: Sequence[Box] = (),
        **style: Any,
    ) -> bool:
        """Words where they touch nothing, as `WordPlaces.find` takes them; False where there is no room."""
        name = words(text, (0.0, 0.0), size_pt=size_pt, **style)
        form = on_plate(name) if plate else name
        mark = self._words.find(form, places, anywhere=anywhere, keep_off=keep_off)
        if mark is not None:
            self.layers[layer].append(mark)
        return mark is not None

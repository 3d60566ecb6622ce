"""A panel cut through from the side, to scale: its surface, spacer, frame, slab, cloth and what holds it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from raytrace import WRAP_M, Treatment, is_steep
from viewer.look import INK, MUTED, OBJECT, PANEL, WHITE, tinted
from viewer.paper import (
    SMALL_PT,
    Mark,
    Strip,
    area,
    depth_mm,
    disc,
    hatch,
    heading,
    line,
    paragraph,
    run_along,
    scale_words,
    words_from,
    wrap,
)
from viewer.sheets.treatment import View
from viewer.words import length_figure, listed

Point = tuple[float, float]

_SCALES = {"metric": (5, 10, 20, 50), "imperial": (6, 12, 24, 48)}
_DEEP_MM = 45.0  # what depth may take on paper
_TOP_M, _LOW_M = 0.110, 0.060  # of the panel's height that is drawn at either end
_BREAK_MM, _WALL_MM, _RUN_MM = 4.0, 3.0, 4.0
_SAME_M = 0.0005
_PARALLEL = 0.9999  # cosine
_EYELET_M = 0.050  # from the edge to where a cord hangs, as the hooks are set out
_SPACER_M, _PLATE_M, _PLATE_THICK_M = 0.040, (0.045, 0.075), 0.003  # as usual ones are; no source
_KEY_MM, _ROW_MM, _APART_MM = 44.0, 3.3, 6.0


@dataclass(frozen=True)
class SideSection:
    """Depths of a panel as it is mounted, counted from its surface; of what stands, from its own back. [m]

    Attributes
    ----------
    clear_m : float
        From the surface to the back of what is made; 0 for what stands.
    board_m, cavity_m, slab_m : float
        Solid back, air inside the frame, wool, in this order.
    timber_m : tuple of float
        Thickness and depth of the frame's timber.
    rail_m : tuple of float or None
        Thickness and width of the rail across its back that carries eyelets.
    held : "plate" | "cord" | ""
        What holds it to the surface.
    surface : str
        What that is called.
    overhead : bool
        Whether the surface lies above it.
    bar_m : float
        How far the bars of a raft reach below its slabs; 0 for a panel in a frame of its own.
    """

    clear_m: float
    board_m: float
    cavity_m: float
    slab_m: float
    timber_m: tuple[float, float]
    rail_m: tuple[float, float] | None
    held: str
    surface: str
    overhead: bool
    bar_m: float = 0.0

    @property
    def wool_m(self) -> float:
        """Back of the wool."""
        return self.clear_m + self.board_m + self.cavity_m

    @property
    def front_m(self) -> float:
        """Front of the panel."""
        return self.wool_m + self.slab_m

    @property
    def face_m(self) -> float:
        """What the cloth goes round: the front, of a raft the lower faces of its bars."""
        return self.front_m + self.bar_m

    @property
    def stops_m(self) -> tuple[float, ...]:
        """What is measured: back of what is made, back of the wool, front, bars; each once."""
        stops = [self.clear_m, self.wool_m, self.front_m, self.face_m]
        return tuple(x for k, x in enumerate(stops) if x > _SAME_M and x - ([0.0, *stops][k]) > _SAME_M)


def section_of(treatment: Treatment, index: int) -> SideSection:
    """The side section of one panel.

    Parameters
    ----------
    treatment : Treatment
    index : int
        Into the panels of its room.
    """
    panel = treatment.room.panels[index]
    raft = next((raft for raft in treatment.rafts if index in raft.panels), None)
    kinds = {hook.kind for hook in treatment.hooks if index in hook.holds}
    timbers = {part.name: part.timber for part in treatment.pieces[index].parts}
    timber, rail = timbers["long side"], timbers.get("hanging rail") if raft is None else None
    alone = panel.kind in ("stand", "corner") or panel.surface is None or np.isnan(panel.clear_m)
    return SideSection(
        clear_m=0.0 if alone else max(panel.clear_m, 0.0),
        board_m=panel.depths.board_m,
        cavity_m=panel.depths.cavity_m,
        slab_m=panel.depths.slab_m,
        timber_m=(timber.thickness_m, timber.depth_m),
        rail_m=None if rail is None else (rail.thickness_m, rail.depth_m),
        held="" if alone else "cord" if "cord" in kinds else "plate" if kinds else "",
        surface="" if panel.surface is None else treatment.room.surfaces[panel.surface].name,
        overhead=not is_steep(panel.normal),
        bar_m=0.0 if raft is None else raft.bars.deep_m,
    )


def section_strips(view: View, treatment: Treatment, units: str, width_mm: float) -> list[Strip]:
    """A side section for each way in which the panels of a sheet are made and mounted.

    Parameters
    ----------
    view, treatment : View, Treatment
    units : {"metric", "imperial"}
    width_mm : float
        Of the column.
    """
    groups: dict[tuple[object, ...], list[int]] = {}
    for k in view.listed:
        section = section_of(treatment, k)
        panel = treatment.room.panels[k]
        kind = panel.build_name, round(section.clear_m, 3), section.held, round(section.bar_m, 3)
        groups.setdefault(kind, []).append(k)
    strips = []
    for members in groups.values():
        section = section_of(treatment, members[0])
        drawn = SectionDrawing(section, units)
        title = f"{'Section' if section.overhead else 'Side section'}, {scale_words(drawn.scale, units)}"
        whose = replace(paragraph(_whose(treatment, members), width_mm, ink=MUTED), leads=True)
        strips += [heading(title, width_mm), whose, drawn.strip(width_mm)]
    return strips


def _whose(treatment: Treatment, members: Sequence[int]) -> str:
    """The build, and which panels of it."""
    panels = [treatment.room.panels[k] for k in members]
    names = listed(list(dict.fromkeys(panel.group for panel in panels)))
    tilted = False
    if panels[0].kind == "cloud" and panels[0].surface is not None:
        behind = treatment.room.surfaces[panels[0].surface].frame.n
        tilted = float(panels[0].normal @ behind) < _PARALLEL
    told = "; not parallel to what it hangs from, drawn as at its middle" if tilted else ""
    return f"{panels[0].build_name}: {names}{told}"


class SectionDrawing:
    """Marks of one side section at a scale, from its own upper left corner.

    Attributes
    ----------
    marks : dict of str to list of Mark
        By what they show: "surface", "spacer", "frame", "slab", "bar", "cloth", "board",
        "held", "measures".
    scale : int
        5 for 1:5.
    """

    def __init__(self, section: SideSection, units: str) -> None:
        self.section, self.units = section, units
        fitting = (s for s in _SCALES[units] if 1000.0 * section.face_m / s <= _DEEP_MM)
        self.scale = next(fitting, _SCALES[units][-1])
        self.texts = [length_figure(x, units) for x in section.stops_m]
        self.marks: dict[str, list[Mark]] = {}
        along_mm = 1000.0 * (_TOP_M + _LOW_M) / self.scale + _BREAK_MM
        deep_mm = 1000.0 * section.face_m / self.scale
        run_mm = _RUN_MM + depth_mm(self.texts)
        if section.overhead:
            self._start: Point = (run_mm + 2.0, _WALL_MM + 1.0)
            self.size_mm = (self._start[0] + along_mm + 2.0, self._start[1] + deep_mm + 3.0)
        else:
            self._start = (_WALL_MM + 1.0, 2.0)
            self.size_mm = (self._start[0] + deep_mm + 4.0, self._start[1] + along_mm + run_mm + 2.0)
        self._draw_surface(along_mm)
        self._draw_panel()
        self._draw_cloth()
        self._draw_held()
        self._draw_measures(along_mm)

    def at(self, deep_m: float, along_m: float, *, low: bool = False) -> Point:
        """A point on paper: so far from the surface, so far from the panel's upper or its lower edge. [mm]"""
        k = 1000.0 / self.scale
        end = k * (_TOP_M + _LOW_M) + _BREAK_MM
        along, deep = (end - k * along_m if low else k * along_m), k * deep_m
        x, y = self._start
        return (x + along, y + deep) if self.section.overhead else (x + deep, y + along)

    def _box(
        self, deep: tuple[float, float], along: tuple[float, float], *, low: bool = False
    ) -> list[Point]:
        (a, b), (s, t) = deep, along
        return [self.at(d, x, low=low) for d, x in ((a, s), (b, s), (b, t), (a, t))]

    def _both(self, what: str, deep: tuple[float, float], along: tuple[float, float], fill: str) -> None:
        """The same box at the upper and at the lower end."""
        for low in (False, True):
            self.marks.setdefault(what, []).append(
                area(self._box(deep, along, low=low), ink=INK, fill=fill, width_pt=0.5, round_to=9)
            )

    def _draw_surface(self, along_mm: float) -> None:
        if not self.section.held:
            return
        x, y = self._start
        wall = [
            (x - _WALL_MM, y - 1.0),
            (x, y - 1.0),
            (x, y + along_mm + 1.0),
            (x - _WALL_MM, y + along_mm + 1.0),
        ]
        if self.section.overhead:
            wall = [(x + (v - y), y + (u - x)) for u, v in wall]
        edge = [wall[1], wall[2]]
        self.marks["surface"] = [*hatch(wall, spacing=1.6, ink=MUTED), line(edge, width_pt=1.2)]

    def _draw_panel(self) -> None:
        own = self.section
        thick, deep = own.timber_m
        ends = (_TOP_M, _LOW_M)
        for low, end in zip((False, True), ends, strict=True):
            slab = self._box((own.wool_m, own.front_m), (thick, end), low=low)
            self.marks.setdefault("slab", []).append(
                area(slab, ink=INK, fill=_WOOL, width_pt=0.5, round_to=9)
            )
            if own.board_m:
                board = self._box((own.clear_m, own.clear_m + own.board_m), (0.0, end), low=low)
                self.marks.setdefault("board", []).append(area(board, ink=INK, fill=MUTED, width_pt=0.4))
            if own.bar_m:
                bar = self._box((own.front_m, own.face_m), (0.0, end), low=low)
                self.marks.setdefault("bar", []).append(
                    area(bar, ink=INK, fill=OBJECT, width_pt=0.5, round_to=9)
                )
        self._both("frame", (own.front_m - deep, own.front_m), (0.0, thick), OBJECT)
        if own.held == "plate" and own.clear_m > _SAME_M:
            self._both("spacer", (0.0, own.clear_m), (0.0, _SPACER_M), tinted(OBJECT, 0.4))

    def _draw_cloth(self) -> None:
        """Round the frame and on to its back in front; behind it from edge to edge."""
        own = self.section
        back_m = own.front_m - own.timber_m[1]
        for low, end in ((False, _TOP_M), (True, _LOW_M)):
            wrapped = [(back_m, min(WRAP_M, end)), (back_m, 0.0), (own.face_m, 0.0), (own.face_m, end)]
            round_it = line([self.at(d, s, low=low) for d, s in wrapped], width_pt=1.5)
            behind = line(
                [self.at(back_m, 0.0, low=low), self.at(back_m, end, low=low)], width_pt=0.7, dash=(1.0, 0.6)
            )
            self.marks.setdefault("cloth", []).extend([round_it, behind])

    def _draw_held(self) -> None:
        own = self.section
        if own.bar_m and own.held == "cord":
            thick, deep = own.timber_m
            ends = [self.at(at_m, 0.5 * thick) for at_m in (0.0, own.front_m - deep)]
            eyes = [disc(end, 0.8, ink=INK, fill=WHITE, width_pt=0.7) for end in ends]
            self.marks["held"] = [line(ends, width_pt=0.8), *eyes]
        elif own.held == "cord" and own.rail_m is not None:
            rail_m = max(own.clear_m - own.rail_m[0], 0.0)
            half = 0.5 * own.rail_m[1]
            rail = self._box((rail_m, own.clear_m), (_EYELET_M - half, _EYELET_M + half))
            ends = [self.at(0.0, _EYELET_M), self.at(rail_m, _EYELET_M)]
            eyes = [disc(end, 0.8, ink=INK, fill=WHITE, width_pt=0.7) for end in ends]
            self.marks["held"] = [
                area(rail, ink=INK, fill=OBJECT, width_pt=0.5),
                line(ends, width_pt=0.8),
                *eyes,
            ]
        elif own.held == "plate":
            back_m = own.front_m - own.timber_m[1] - own.board_m
            plate = self._box((back_m - _PLATE_THICK_M, back_m), _PLATE_M)
            screw = [self.at(-0.012, 0.06), self.at(back_m, 0.06)]
            self.marks["held"] = [line(screw, width_pt=1.0), area(plate, ink=INK, fill=INK, width_pt=0.4)]

    def _draw_measures(self, along_mm: float) -> None:
        stops, k = (0.0, *self.section.stops_m), 1000.0 / self.scale
        x, y = self._start
        layer = self.marks.setdefault("measures", [])
        if self.section.overhead:
            places, at = [y + k * stop for stop in stops], x - _RUN_MM
            layer += [line([(at, p), (x - 0.5, p)], ink=MUTED, width_pt=0.25) for p in places]
            layer += run_along(places, self.texts, at, below=False, low=0.0, high=self.size_mm[1] + 4.0)
        else:
            places, at = [x + k * stop for stop in stops], y + along_mm + _RUN_MM
            layer += [line([(p, y + along_mm + 0.5), (p, at)], ink=MUTED, width_pt=0.25) for p in places]
            layer += run_along(places, self.texts, at, below=True, low=0.0, high=self.size_mm[0] + 20.0)

    def strip(self, width_mm: float) -> Strip:
        """The drawing with a key of what its parts are, beside it or below where that is too narrow."""
        marks = [mark for part in _ORDER for mark in self.marks.get(part, [])]
        low = max(mark.box[3] for mark in marks)
        left, y = self.size_mm[0] + _APART_MM, 4.0
        if left + 7.0 + _KEY_MM > width_mm:
            left, y = 0.0, low + 3.0
        for name, text in self._key():
            marks += _swatch(name, left, y)
            for row in wrap(text, min(_KEY_MM, width_mm - left - 7.0), SMALL_PT):
                marks.append(words_from(row, left + 7.0, y, size_pt=SMALL_PT))
                y += _ROW_MM
            y += 0.6
        return Strip(max(low, y) + 1.5, tuple(marks))

    def _key(self) -> list[tuple[str, str]]:
        """What is to be seen, with its measure."""
        own = self.section

        def say(metres: float) -> str:
            return length_figure(metres, self.units)

        thick, deep = own.timber_m
        rows = [("surface", own.surface)] if own.held else []
        if own.held == "plate" and own.clear_m > _SAME_M:
            rows.append(("spacer", f"spacer {say(own.clear_m)}, at both ends"))
        if own.held:
            plate = "hanging plate on the frame, screw in structure"
            rows.append(("held", "cord to an eyelet in the rail") if own.held == "cord" else ("plate", plate))
        frame = "rail or end" if own.bar_m else "frame"
        rows.append(("frame", f"{frame} {say(deep)} deep, {say(thick)} thick"))
        rows += [("board", f"solid back {say(own.board_m)}")] if own.board_m else []
        flush = "on the bars" if own.bar_m else "flush with the frame's front"
        rows.append(("slab", f"slab {say(own.slab_m)}, {flush}"))
        rows += [("bar", f"bar {say(own.bar_m)} deep, from rail to rail")] if own.bar_m else []
        if own.cavity_m > _SAME_M:
            rows.append(("air", f"air inside the frame {say(own.cavity_m)}: it counts beside the gap"))
        rows.append(("cloth", f"cloth round the frame, {say(WRAP_M)} on to its back, stapled"))
        return rows


_WOOL = tinted(PANEL, 0.6)
_ORDER = ("surface", "spacer", "slab", "board", "bar", "frame", "held", "cloth", "measures")
_FILLS = {
    "spacer": tinted(OBJECT, 0.4),
    "frame": OBJECT,
    "bar": OBJECT,
    "board": MUTED,
    "slab": _WOOL,
    "air": WHITE,
}


def _swatch(name: str, left: float, y: float) -> list[Mark]:
    """A small piece of what a line of the key is about."""
    box = [(left, y - 1.1), (left + 5.0, y - 1.1), (left + 5.0, y + 1.1), (left, y + 1.1)]
    if name == "surface":
        return [*hatch(box, spacing=1.4, ink=MUTED), line([box[1], box[2]], width_pt=1.2)]
    if name == "cloth":
        return [line([(left, y), (left + 5.0, y)], width_pt=1.5)]
    if name == "held":
        return [
            line([(left, y), (left + 5.0, y)], width_pt=0.8),
            disc((left + 2.5, y), 0.8, ink=INK, fill=WHITE),
        ]
    if name == "plate":
        return [area([(x, 0.5 * (y + z)) for x, z in box], ink=INK, fill=INK)]
    return [area(box, ink=INK, fill=_FILLS[name], width_pt=0.5)]

"""One finished picture of a study: the drawn room with names, dimensions, key and caption."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace import Study, format_length
from viewer import look
from viewer.look import View
from viewer.pictures.camera import Camera
from viewer.pictures.faces import column, loops_of
from viewer.pictures.framing import listening_end
from viewer.pictures.key import draw_key, draw_scale_bar
from viewer.pictures.labels import Box, Label, Placed, place_labels
from viewer.pictures.layers import choose_camera, layers
from viewer.pictures.meshes import panes
from viewer.pictures.plate import (
    Dimension,
    Layout,
    Plate,
    draw_dimension,
    draw_front_mark,
    draw_labels,
    draw_title,
    free_place,
    lay_out,
    measure_label,
)
from viewer.pictures.stage import Layer, Stage, on_surface, seen_facets
from viewer.words import (
    NEAR,
    TOO_CLOSE,
    Met,
    both_words,
    from_limit,
    hider_words,
    listed,
    met_words,
    named_rows,
    panel_group_words,
    panel_name_words,
    peak_of,
    seat_words,
    speaker_words,
    strong_rows,
    worst_first,
)

if TYPE_CHECKING:
    from PIL.Image import Image

Floats = NDArray[np.float64]
CUT_CAPTION = (
    "The listening end of the room seen from behind the seat, near walls and ceiling taken away; the rest of "
    "the floor behind it is left out."
)
PLAIN_EDGE = 0.03  # of the shorter side
LEVEL_WORDS = "each by itself against the limit, at its strongest"
Raster = Callable[[Sequence[Layer], Camera], "Image"]


@dataclass(frozen=True)
class Picture:
    """A finished picture with its caption, the boxes of its words and the part that holds the room."""

    image: "Image"
    caption: str
    boxes: tuple[Box, ...]
    drawing: Box


def make_picture(stage: Stage, view: View, size: tuple[int, int], *, units: str, raster: Raster) -> Picture:
    """Draw one view of a study.

    Parameters
    ----------
    stage : Stage
        From `set_stage`.
    view : View
        One of `look.VIEWS`.
    size : (width, height)
        In pixels.
    units : str
        "metric" or "imperial".
    raster : callable
        Draws layers as a camera sees them, `look.OVERSAMPLING` times the camera's size.
    """
    layout = lay_out(size)
    if view.surface is not None:
        stage = on_surface(stage, view.surface)
    elif not view.parallel:
        stage = replace(stage, cut_m=listening_end(stage))
    frame = _room_frame(layout, view)
    inside = (round(frame.right - frame.left), round(frame.bottom - frame.top))
    camera = choose_camera(stage, view, inside)
    plate = Plate(size)
    plate.paste(raster(layers(stage, camera), camera), (frame.left, frame.top))
    draw_title(
        plate,
        layout,
        stage.study.scene.title,
        view.title if stage.cut_m is None else "The listening end",
        facts(stage.study, stage.shown.seat, units),
    )

    def measure(label: Label) -> tuple[float, float]:
        return measure_label(plate, layout, label)

    placed = place_labels(
        _labels(stage, camera, frame, layout.unit),
        layout.columns,
        measure=measure,
        gap_px=look.GAP_PX * layout.unit,
    )
    draw_labels(plate, layout, placed)
    if view.parallel:
        _draw_dimensions(plate, layout, stage, camera, frame, placed, units)
    draw_key(plate, layout, LEVEL_WORDS, _signs(stage))
    return Picture(plate.finish(), _caption(stage, view), tuple(plate.boxes), frame)


def _signs(stage: Stage) -> list[str]:
    """What the key of a picture explains: the signs that are in it."""
    bounces = stage.study.arrivals.order[stage.shown.main]
    drawn = {
        "direct": True,
        "one": bool((bounces == 1).any()),
        "more": bool((bounces > 1).any()),
        "over": stage.patches.n_cells > 0,
        "spot": len(stage.spots.row) > 0,
        "faint": len(stage.shown.faint) > 0,
        "panel": bool(stage.study.room.panels),
    }
    return [name for name, is_drawn in drawn.items() if is_drawn]


def make_plain(
    stage: Stage, view: View, size: tuple[int, int], *, raster: Raster, like: Stage | None = None
) -> "Image":
    """The room and its sound alone, without a word, on clear ground.

    Parameters
    ----------
    stage, view, size, raster
        As for `make_picture`.
    like : Stage, optional
        Another state of the room, cut at the same place: the picture is seen from where that one is best.
    """
    from PIL import Image

    if view.surface is not None:
        stage = on_surface(stage, view.surface)
    elif not view.parallel and like is None:
        stage = replace(stage, cut_m=listening_end(stage))
    edge = round(PLAIN_EDGE * min(size))
    camera = choose_camera(like or stage, view, (size[0] - 2 * edge, size[1] - 2 * edge))
    drawn = raster(layers(stage, camera), camera).reduce(look.OVERSAMPLING)
    sheet = Image.new("RGBA", size)
    sheet.paste(drawn, (edge, edge))
    return sheet


def _room_frame(layout: Layout, view: View) -> Box:
    """The part of the drawing that holds the room itself, inside any dimension lines."""
    box, reach = layout.drawing, look.DIMENSION_PX * layout.unit
    if not view.parallel:
        return box
    return Box(
        "room",
        round(box.left + reach),
        round(box.top + reach),
        round(box.right - reach),
        round(box.bottom - reach),
    )


def facts(study: Study, seat: int, units: str) -> str:
    """What holds for a whole picture: size of the room, whose reflections, which limit."""
    low, high = study.room.bounds
    size = " x ".join(format_length(float(side), units=units, style="m") for side in high - low)
    limits = study.scene.limits
    return (
        f"{size} high · reflections at the {seat_words(study, seat)} · "
        f"limit: {limits.below_db:g} dB below the direct sound within {limits.within_ms:g} ms ({limits.name})"
    )


def spot_words(study: Study, rows: Sequence[int]) -> tuple[str, str]:
    """The worst verdict on what some reflections make with all that arrives with them, and its colour."""
    peaks = [peak for row in rows if (peak := peak_of(study, row)) and row in named_rows(study, peak)]
    if not peaks:
        # Too weak beside others to have a peak named after them: what they amount to by themselves.
        margin_db = max(0.0, float(study.arrivals.zone_margin_db[list(rows)].min()))
        return "sends nothing back" if margin_db == np.inf else from_limit(margin_db), look.MUTED
    worst = worst_first(peaks)[0]
    colour = {"over": look.ACCENT, "undecided": look.INK}.get(worst.verdict, look.MUTED)
    return NEAR if worst.verdict == "undecided" else from_limit(worst.margin_db), colour


def _labels(stage: Stage, camera: Camera, frame: Box, unit: float) -> list[Label]:
    def at(point: Floats) -> tuple[float, float]:
        x, y = camera.project(np.asarray(point, np.float64))
        return (float(x + frame.left), float(y + frame.top))

    study = stage.study
    labels, named = _spot_labels(stage, at, camera)
    things = [(speaker_words(study, i), s.position, 16) for i, s in enumerate(study.scene.speakers)]
    things += [(seat_words(study, i), seat.ears, 30) for i, seat in enumerate(study.scene.seats)]
    subs = {speaker_words(study, i) for i, s in enumerate(study.scene.speakers) if s.use == "sub"}
    for name, place, clear_px in things:
        anchor = at(np.array(place))
        same = [
            k
            for k, other in enumerate(labels)
            if not other.value and np.hypot(*np.subtract(other.anchor, anchor)) < 8 * unit
        ]
        if same:
            labels[same[0]] = replace(labels[same[0]], name=both_words(labels[same[0]].name, name))
        else:
            value = "not judged here" if name in subs else ""
            labels.append(Label(name, value, look.MUTED if value else look.INK, anchor, clear_px * unit, 0))
    return labels + _thing_labels(stage, at, camera, named)


At = Callable[[Floats], tuple[float, float]]


def _spot_labels(stage: Stage, at: At, camera: Camera) -> tuple[list[Label], set[str]]:
    """One label per surface or opening that a first reflection meets: its strongest."""
    study, spots = stage.study, stage.spots
    seat = np.array(at(np.array(study.scene.seats[stage.shown.seat].ears)))
    met: dict[tuple[int, int, str], list[int]] = {}
    for i in np.flatnonzero(spots.order == 1):
        place = int(spots.surface[i]), int(spots.opening[i]), int(spots.panel[i])
        name = met_words(study, Met(*place))
        if stage.surface is not None and place[2] >= 0:
            panel = study.room.panels[place[2]]
            name = panel_name_words(panel)
        met.setdefault((*place[:2], name), []).append(int(i))
    labels: list[Label] = []
    named: set[str] = set()
    for (surface, _, name), rows in met.items():
        # Where left and right are as strong as each other, the one that the listener does not cover.
        level = float(spots.level_re_limit_db[rows].max())
        close = [i for i in rows if spots.level_re_limit_db[i] >= level - 0.3]
        strongest = max(close, key=lambda row: float(np.hypot(*(np.array(at(spots.points[row])) - seat))))
        named |= {name, study.room.surfaces[surface].owner or name}
        value, colour = spot_words(study, spots.row[rows].tolist())
        anchor = spots.points[strongest]
        clear = look.SPOT_RING_M * stage.scale * camera.pixels_per_metre(anchor)
        labels.append(Label(name, value, colour, at(anchor), clear, 2 if colour == look.MUTED else 1))
    return labels, named


def _thing_labels(stage: Stage, at: At, camera: Camera, named: set[str]) -> list[Label]:
    """Names of objects, panels, windows and doors that no label names yet."""
    study = stage.study
    labels = []
    seen = seen_facets(stage, camera)[column(stage.faces, "facet")]
    biggest: dict[str, tuple[float, Floats]] = {}
    for loop, surface, is_seen in zip(
        loops_of(stage.faces), column(stage.faces, "surface"), seen, strict=True
    ):
        owner, area = study.room.surfaces[surface].owner, area_px(camera.project(loop))
        is_shown = is_seen and (stage.cut_m is None or loop[:, 0].mean() < stage.cut_m)
        if is_shown and owner not in {None, *named} and area > biggest.get(owner, (-1.0,))[0]:
            biggest[owner] = (area, loop.mean(axis=0))
    labels += [Label(name, "", look.INK, at(middle), 0.0, 4) for name, (_, middle) in biggest.items()]
    groups: dict[str, list[Floats]] = {}
    for panel in study.room.panels:
        if stage.surface in (None, panel.surface):
            name = panel_group_words(panel) if stage.surface is None else panel_name_words(panel)
            groups.setdefault(name, []).append(panel.centre)
    labels += [
        Label(name, "", look.INK, at(np.mean(places, axis=0)), 0.0, 3)
        for name, places in groups.items()
        if name not in named
    ]
    mesh = panes(study)
    on = column(mesh, "surface")
    for loop, index, surface in zip(loops_of(mesh), column(mesh, "opening"), on, strict=True):
        name, middle = study.scene.openings[index].name, loop.mean(axis=0)
        is_shown = stage.cut_m is None or middle[0] < stage.cut_m
        if is_shown and name not in named and stage.surface in (None, surface):
            labels.append(Label(name, "", look.INK, at(middle), 0.0, 3))
    return labels


def area_px(flat: Floats) -> float:
    """Area of an outline (n, 2) in the picture. [px2]"""
    x, y = flat.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def _draw_dimensions(
    plate: Plate,
    layout: Layout,
    stage: Stage,
    camera: Camera,
    frame: Box,
    placed: Sequence[Placed],
    units: str,
) -> None:
    """Overall sizes outside the walls, where the front is, and a scale bar."""
    shift = np.array([frame.left, frame.top])
    flat = camera.project(stage.corners) + shift
    # Square to a slope the walls are foreshortened: only the slope has sizes that a tape finds.
    sized = camera.project(stage.sized) + shift
    (left, top), (right, bottom) = sized.min(axis=0), sized.max(axis=0)
    foot = float(flat[:, 1].max())
    scale = camera.pixels_per_metre(stage.corners[0])
    reach = 0.6 * look.DIMENSION_PX * layout.unit

    def words(pixels: float) -> str:
        return format_length(float(pixels) / scale, units=units, style="m")

    across = Dimension((left, bottom), (right, bottom), words(right - left), True, foot + reach)
    upright = words(bottom - top)
    width, height = plate.measure(upright, look.VALUE_PX * layout.unit)
    sides = [
        Dimension((x, top), (x, bottom), upright, False, x + way * reach)
        for x, way in ((left, -1), (right, 1))
    ]
    free = [free_place([(d.level, top), (d.level, bottom)], (height, width), placed)[1] for d in sides]
    along = sides[1] if free[1] and not free[0] else sides[0]
    draw_dimension(plate, layout, across, placed)
    draw_dimension(plate, layout, along, placed)
    if float(camera.up @ np.array([-1.0, 0.0, 0.0])) > 0.5:
        front = flat[flat[:, 1] < top + 0.1 * (bottom - top), 0]
        middle = float(front.min() + front.max()) / 2
        draw_front_mark(plate, layout, (middle, top - 6 * layout.unit), "up")
    elif abs(float(camera.right[0])) > 0.5:
        place, way = (left, "left") if camera.right[0] > 0.0 else (right, "right")
        draw_front_mark(plate, layout, (place, foot + reach + 42 * layout.unit), way)
    per_unit, name = (scale, "m") if units == "metric" else (scale * 0.3048, "ft")
    draw_scale_bar(plate, layout, per_unit, name)


def _caption(stage: Stage, view: View) -> str:
    study, spots = stage.study, stage.spots
    strong = strong_rows(study)
    places = zip(spots.surface.tolist(), spots.opening.tolist(), spots.panel.tolist(), strict=True)
    of_row = zip(spots.row.tolist(), spots.order.tolist(), places, strict=True)
    names = [met_words(study, Met(*place)) for row, order, place in of_row if order == 1 and row in strong]
    verdicts = [v for v in study.verdicts if v.seat == stage.shown.seat]
    thing = "path" if view.surface is None else "spot"
    shown = view.caption if stage.cut_m is None else CUT_CAPTION
    where = f" at the {seat_words(study, stage.shown.seat)}" if len(study.scene.seats) > 1 else ""
    what = [
        f"{shown} The darker a {thing}, the stronger it arrives by itself; what is written is for all "
        "that arrives at the same moment."
    ]
    if names:
        what.append(
            f"Too strong or {TOO_CLOSE}{where}, the worst first: {', '.join(dict.fromkeys(names[::-1]))}."
        )
    elif any(v.status == "judged" for v in verdicts):
        what.append(f"No reflection off a single surface that was judged is over the limit here{where}.")
    hides = dict.fromkeys(hider_words(v) for v in verdicts if v.status == "hidden")
    if hides:
        what.append(f"Where {listed(list(hides))} hides a speaker, nothing is judged or drawn.")
    return " ".join(what)

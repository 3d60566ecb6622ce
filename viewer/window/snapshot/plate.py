"""The window's view laid out for print: the room as shown, with title, names, figures, key and caption."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace import format_length
from viewer import look
from viewer.pictures import (
    LEVEL_WORDS,
    ROW_PX,
    ROWS,
    Box,
    Camera,
    Label,
    Layer,
    Layout,
    Picture,
    Placed,
    Plate,
    Raster,
    draw_key,
    draw_labels,
    draw_scale_bar,
    draw_title,
    even_levels_db,
    facts,
    loops_of,
    measure_label,
    place_labels,
)
from viewer.window.scenery import (
    UNCUT,
    WALL_M,
    Name,
    Plane,
    bass_floor,
    bass_shape,
    cut_faces,
    find_names,
    joined,
    marks,
    place_names,
    plane_of,
    scenery,
    without,
)
from viewer.window.state import LAYERS, NEAR_M, OnScreen, hidden_words, level_words, view_names
from viewer.words import path_text, speaker_words

Floats = NDArray[np.float64]

WIDTH_PX = 2400
TALLEST_PX = 1700
FIGURE_PX = 27
CAPTION_PX = 29
CUT_SIDES = (("front", "back"), ("left", "right"), ("lower", "upper"))
CULLED = ("walls", "furniture")
# Back to front as they are painted where there is no depth to sort them by.
SEQUENCE = (
    "walls", "bass floor", "bass floor lines", "bass places",
    "edges", "faint panes", "panes", "pane edges", "furniture", "furniture edges", "cords", "panels",
    "faint panels", "panel edges", "areas", "area edges", "speakers", "drivers", "axes",
    "heads", "zones", "zone edges",
    "bass shape", "bass shape lines", "bass hatching", "mark", "cut walls", "cut wall lines", "cut panes",
    "cut faces", "cut hatching", "cut outlines", "weaker", "near misses", "later paths", "paths",
    "direct", "spot rings", "spots", "chosen", "chosen spots", "balls", "dimensions",
)  # fmt: skip


@dataclass(frozen=True)
class Words:
    """What is said of a view.

    Attributes
    ----------
    heading : str
        The view by its name.
    caption : str
        What is seen, what is left out, what is picked out.
    """

    heading: str
    caption: str


def make_view(shown: OnScreen, window_px: tuple[int, int], *, is_before: bool, raster: Raster) -> Picture:
    """Lay out a record as the window shows it, in the colours of print.

    Parameters
    ----------
    shown : OnScreen
    window_px : (width, height)
        Of the window's room, whose share of the room is drawn. [px]
    is_before : bool
        Whether it is the room as its file had it.
    raster : callable
        Draws layers as a camera sees them, `look.OVERSAMPLING` times the camera's size.
    """
    shown = replace(shown, theme="light", pointed=None, wanted=None)
    words = words_of(shown, is_before=is_before)
    names = find_names(shown)
    layout, caption_lines = _lay_out(shown, window_px, words, names)
    frame = layout.drawing
    camera = shown.eye.camera((round(frame.right - frame.left), round(frame.bottom - frame.top)))
    plate = Plate(layout.size)
    plate.paste(raster(layers_of(shown, camera), camera), (frame.left, frame.top))
    title = shown.study.scene.title
    draw_title(plate, layout, title, words.heading, facts(shown.study, shown.seat, shown.units))
    draw_labels(plate, layout, _placed(plate, layout, camera, shown, names))
    _draw_figures(plate, frame, camera, names)
    draw_key(plate, layout, LEVEL_WORDS, signs_of(shown))
    _draw_caption(plate, layout, caption_lines)
    if camera.parallel:
        scale = camera.pixels_per_metre(np.zeros(3))
        per_unit, name = (scale, "m") if shown.units == "metric" else (0.3048 * scale, "ft")
        foot = replace(layout.key, top=layout.key.bottom - 40.0)
        draw_scale_bar(plate, replace(layout, key=foot), per_unit, name)
    return Picture(plate.finish(), words.caption, tuple(plate.boxes), frame)


def layers_of(shown: OnScreen, camera: Camera) -> tuple[Layer, ...]:
    """What the window draws of a record and its section leaves, back to front where it matters."""
    parts = (
        scenery.walls(shown), scenery.edges(shown, camera), scenery.panes(shown, camera),
        scenery.speakers(shown), scenery.seats(shown), scenery.panels(shown, camera), scenery.sound(shown),
        scenery.spots(shown), scenery.areas(shown), scenery.picked_out(shown), scenery.balls(shown),
        scenery.near_misses(shown), scenery.measures(shown), cut_faces(shown), marks(shown),
        bass_floor(shown), bass_shape(shown),
    )  # fmt: skip
    named = {name: layer for part in parts for name, layer in part.items()}
    for name in CULLED:
        named[name] = _facing(named[name], camera)
    plane = plane_of(shown)
    return tuple(_shown_part(name, named[name], plane) for name in SEQUENCE)


def _shown_part(name: str, layer: Layer, plane: Plane | None) -> Layer:
    is_cut = plane is not None and name not in UNCUT
    return without(layer, plane) if plane is not None and is_cut else layer


def _facing(layer: Layer, camera: Camera) -> Layer:
    """Faces that are turned to the eye; the window leaves the others to the graphics card."""
    loops = loops_of(layer.mesh) if layer.mesh.n_cells else []
    middles = np.array([loop.mean(axis=0) for loop in loops]).reshape(-1, 3)
    normals = np.array([np.cross(loop[1] - loop[0], loop[2] - loop[0]) for loop in loops]).reshape(-1, 3)
    seen = camera.sees(middles, normals)
    return layer.only(seen)


def words_of(shown: OnScreen, *, is_before: bool) -> Words:
    """Heading and caption of a record."""
    headings = dict(view_names(shown.study))
    heading = headings.get(shown.view, "Turned by hand" + (", in parallel" if shown.eye.parallel else ""))
    sentences = [
        "The room as it was when its file was opened." if is_before else "",
        "" if shown.settled else "At the ears alone, while something is being moved.",
        _hidden_words(shown),
        _filter_words(shown),
        _left_out_words(shown),
        _cut_words(shown),
        _picked_words(shown),
        _bass_words(shown),
        "The darker a path, the stronger it arrives by itself against the limit."
        if "paths" in shown.layers
        else "",
    ]
    return Words(heading, " ".join(sentence for sentence in sentences if sentence))


def _hidden_words(shown: OnScreen) -> str:
    words = hidden_words(shown.study, shown.seat)
    return f"{words[0].upper()}{words[1:]}." if words else ""


def _filter_words(shown: OnScreen) -> str:
    chosen, study = shown.filter, shown.study
    parts = [
        "" if chosen.speaker is None else f"from the {speaker_words(study, chosen.speaker)}",
        "" if chosen.order is None else f"with {chosen.order} bounce{'s' if chosen.order > 1 else ''}",
        "" if chosen.surface is None else f"by way of {chosen.surface}",
        "over the limit or too close to it to say" if chosen.over_only else "",
    ]
    said = ", ".join(part for part in parts if part)
    return f"Only reflections {said}." if said else ""


def _left_out_words(shown: OnScreen) -> str:
    names = ("paths", "weaker", "spots", "areas", "panels", "furniture")
    off = [LAYERS[name].lower() for name in names if name not in shown.layers]
    return f"Left out: {', '.join(off)}." if off else ""


def _cut_words(shown: OnScreen) -> str:
    plane = plane_of(shown)
    if plane is None:
        return ""
    near, far = CUT_SIDES[plane.axis]
    away_m = plane.at_m - shown.study.room.bounds[0, plane.axis]
    where = format_length(float(away_m), units=shown.units)
    where += " above the floor" if plane.axis == 2 else f" from the {near} wall"
    thick = format_length(WALL_M, units=shown.units)
    return (
        f"Cut {where}; the {near if plane.keeps_far else far} part is taken away. Cut walls are drawn "
        f"{thick} thick, because the scene gives them no thickness; what is cut through is filled."
    )


def _picked_words(shown: OnScreen) -> str:
    row, table = shown.chosen_row, shown.study.arrivals
    words = []
    if row is not None:
        speaker = speaker_words(shown.study, int(table.speaker[row]))
        level = ", ".join(level_words(shown.study, row))
        words.append(
            f"In red: {path_text(shown.study, row)} from the {speaker}, "
            f"{table.delay_s[row] * 1e3:.2f} ms after the direct sound, {level}."
        )
    if shown.time_s is not None:
        when = f"{abs(shown.time_s) * 1e3:.1f} ms {'after' if shown.time_s >= 0 else 'before'}"
        words.append(f"Balls show where the sound is {when} the direct sound arrives.")
    return " ".join(words)


def _bass_words(shown: OnScreen) -> str:
    found = shown.bass if "bass" in shown.layers else None
    if found is None:
        return ""
    if shown.mode is None:
        levels = even_levels_db(found.floor_db)
        return (
            f"The floor by how uneven the bass is with a sub there, from {levels[0]:.1f} dB (darkest) to "
            f"{levels[-1]:.1f} dB and more (palest); numbers are the best places that are free."
        )
    hz = found.modes_hz[shown.mode]
    return f"The mode at {hz:.1f} Hz as high as the ears: hatched and plain parts swing against each other."


def signs_of(shown: OnScreen) -> tuple[str, ...]:
    """Signs of `platekey.SIGNS` for what is drawn."""
    main, weak = scenery.main_rows(shown)
    order = shown.study.arrivals.order
    drawn = {
        "direct": True,
        "one": "paths" in shown.layers and bool((order[main] == 1).any()),
        "more": "paths" in shown.layers and bool((order[main] > 1).any()),
        "over": "areas" in shown.layers and scenery.areas(shown)["areas"].mesh.n_cells > 0,
        "spot": "spots" in shown.layers and bool((order[main] == 1).any()),
        "weaker": "weaker" in shown.layers and len(weak) > 0,
        "near": scenery.near_misses(shown)["near misses"].mesh.n_cells > 0,
        "panel": "panels" in shown.layers and bool(shown.study.room.panels),
        "chosen": shown.chosen_row is not None,
        "cut": shown.cut is not None,
        "sound": shown.time_s is not None,
    }
    return tuple(name for name, is_drawn in drawn.items() if is_drawn)


def _lay_out(
    shown: OnScreen, window_px: tuple[int, int], words: Words, names: Sequence[Name]
) -> tuple[Layout, list[str]]:
    """A sheet whose drawing has the window's proportions, and the lines of the caption below it."""
    edge, gap = look.BORDER_PX, look.GAP_PX
    column = look.COLUMN_PX if any(name.reach is None for name in names) else 0
    inner = WIDTH_PX - 2 * edge
    width = float(inner - 2 * column - (2 * gap if column else 0))
    height = width * window_px[1] / window_px[0]
    if height > TALLEST_PX:
        width, height = width * TALLEST_PX / height, TALLEST_PX
    scale_bar = 560 if shown.eye.parallel else 0
    lines = Plate((8, 8)).wrapped(words.caption, CAPTION_PX, inner - scale_bar)
    rows = max(ROWS, -(-len(signs_of(shown)) // ROWS))
    top = edge + look.HEAD_STRIP_PX
    foot = round(top + height) + gap
    key = Box("key", edge, foot, WIDTH_PX - edge, foot + rows * ROW_PX + gap)
    text_px = max(1.4 * CAPTION_PX * len(lines), 90.0 if scale_bar else 0.0)
    bottom = round(key.bottom + text_px) + edge
    left = round((WIDTH_PX - width) / 2)
    right = round(left + width)
    return Layout(
        (WIDTH_PX, bottom),
        1.0,
        title=Box("title", edge, edge, WIDTH_PX - edge, top),
        drawing=Box("drawing", left, top, right, round(top + height)),
        key=key,
        columns=(
            Box("left", edge, top + gap, left - gap, top + height),
            Box("right", right + gap, top + gap, WIDTH_PX - edge, top + height),
        ),
    ), lines


def _placed(
    plate: Plate, layout: Layout, camera: Camera, shown: OnScreen, names: Sequence[Name]
) -> tuple[Placed, ...]:
    """Names in the columns, with leaders to what they name as far as that is in the picture."""
    frame, labels = layout.drawing, []
    seen = [n for n in names if n.reach is None]
    seen = [n for n in seen if camera.parallel or float(camera.depth(n.point)) > NEAR_M]
    for name in joined(seen, camera):
        x, y = camera.project(name.point)
        if not (0 <= x <= camera.width and 0 <= y <= camera.height):
            continue
        clear = look.SPOT_RING_M * shown.stage.scale * camera.pixels_per_metre(name.point)
        clear = clear if name.over else {"speaker": 16.0, "seat": 30.0}.get(name.kind, 0.0)
        rank = 1 if name.over else 0 if name.kind else 3
        at = (float(x + frame.left), float(y + frame.top))
        labels.append(Label(name.text, name.over, look.ACCENT, at, clear, rank))
    return place_labels(
        labels,
        layout.columns,
        measure=lambda label: measure_label(plate, layout, label),
        gap_px=look.GAP_PX,
    )


def _draw_figures(plate: Plate, frame: Box, camera: Camera, names: Sequence[Name]) -> None:
    """Lengths on their dimension lines."""
    figures = [name for name in names if name.reach is not None]
    placed = place_names(
        figures, camera, lambda text: plate.measure(text, FIGURE_PX)[0], size_px=float(FIGURE_PX)
    )
    for name in placed:
        left, bottom = frame.left + name.left, frame.top + name.bottom
        width, height = plate.measure(name.text, FIGURE_PX)
        top = bottom - height
        plate.area([(left, top), (left + width, top), (left + width, bottom), (left, bottom)], look.WHITE)
        plate.text((left, top), name.text, FIGURE_PX)


def _draw_caption(plate: Plate, layout: Layout, lines: Sequence[str]) -> None:
    for i, line in enumerate(lines):
        at = (layout.key.left, layout.key.bottom + 1.4 * CAPTION_PX * i)
        plate.text(at, line, CAPTION_PX, colour=look.MUTED)

"""Names beside the things of the window's room: which there are, and where each has a place of its own."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace import format_length
from viewer.pictures import Box, Camera, column, loops_of, meshes
from viewer.window.scenery.bassfloor import place_signs, signs_of_shape
from viewer.window.scenery.difference import other_names
from viewer.window.scenery.scenery import dimension_lines, main_rows
from viewer.window.scenery.section import plane_of
from viewer.window.state import NEAR_M, OnScreen, counts_by_itself
from viewer.words import (
    both_words,
    in_sentence,
    panel_group_words,
    peak_of,
    seat_words,
    speaker_words,
    surface_words,
    worst_first,
)

Floats = NDArray[np.float64]

SIZE_PX = 13.0
PAD_PX = 4.0
SHORTEST_PX = 24.0
NEAR_PX = 6.0  # things of one kind that are nearer than this share a name
CLEAR_PX = 13.0  # from what is named to its name
CHOSEN_COUNTS = 5  # so many lines is the selected path worth
HABIT = 0.2  # of a covered line: how much less each next place beside a point is liked
UPRIGHT = 0.3  # tangent: a dimension line no more slanting than this has its figure beside it
DESCENT = 0.25  # share of the size that letters reach below their line


@dataclass(frozen=True)
class Name:
    """A name, what it stands beside (3,) [m], and how it is over the limit or may be, empty where it is not.

    Names of one `kind` that meet in the picture become one. A length stands on its line, which reaches
    half of `reach` (3,) to both sides.
    """

    text: str
    point: Floats
    over: str = ""
    kind: str = ""
    reach: Floats | None = None

    @property
    def words(self) -> str:
        """All that is written."""
        return f"{self.text}, {self.over}" if self.over else self.text


@dataclass(frozen=True)
class PlacedName:
    """A name with its box in pixels from the top left."""

    text: str
    left: float
    bottom: float
    size_px: float
    descent: float
    is_strong: bool


def find_names(shown: OnScreen) -> list[Name]:
    """Names of what is shown, the most telling first."""
    names = [
        Name(format_length(length_m, units=shown.units), (start + end) / 2, reach=end - start)
        for start, end, _, length_m in dimension_lines(shown)
    ]
    names += _measured_name(shown)
    names += [Name(sign, place) for sign, place in signs_of_shape(shown)]
    if "names" not in shown.layers:
        return names
    study, scene = shown.study, shown.study.scene
    if shown.eye.parallel:
        low, high = study.room.bounds
        names.append(Name("front", np.array([low[0], *(low + high)[1:] / 2])))
    names += [Name(words, place) for words, place in place_signs(shown)]
    names += _spot_names(shown)
    for i, speaker in enumerate(scene.speakers):
        names.append(Name(speaker_words(study, i), np.array(speaker.position), kind="speaker"))
    own = shown.seat if shown.view == "seat" else None
    names += [
        Name(seat_words(study, i), np.array(seat.ears), kind="seat")
        for i, seat in enumerate(scene.seats)
        if i != own
    ]
    names += [Name(words, place) for words, place in other_names(shown)]
    plane = plane_of(shown)
    return [name for name in names + _thing_names(shown) if plane is None or plane.keeps(name.point)]


def _measured_name(shown: OnScreen) -> list[Name]:
    """The length of what has been measured, on its line."""
    if shown.measuring is None or not shown.measuring.is_whole:
        return []
    start, end = (np.array(place) for place in shown.measuring.ends)
    length_m = float(np.linalg.norm(end - start))
    return [Name(format_length(length_m, units=shown.units), (start + end) / 2, reach=end - start)]


def _spot_names(shown: OnScreen) -> list[Name]:
    """Of each surface the worst peak that a first reflection off it makes, where it may be over the limit.

    Over the bass of the floor only with the paths.
    """
    if "bass" in shown.layers and "paths" not in shown.layers:
        return []
    study, (main, _) = shown.study, main_rows(shown)
    first = main[study.arrivals.order[main] == 1].tolist()
    of_row = {
        row: peak
        for row in first
        if (peak := peak_of(study, row)) and peak.may_be_over and counts_by_itself(study, row, peak)
    }
    names: dict[str, Name] = {}
    for peak in worst_first(list(of_row.values())):
        for row in (row for row, own in of_row.items() if own is peak):
            (met,) = surface_words(study, row)
            names.setdefault(met, Name(met, study.arrivals.path_points[row, 1], in_sentence(peak)))
    return list(names.values())


def lines_of(shown: OnScreen) -> list[Floats]:
    """What names should leave to be seen: the drawn paths, above all the selected one."""
    table, (main, _) = shown.study.arrivals, main_rows(shown)
    rows = [int(row) for row in main] if "paths" in shown.layers else []
    if shown.chosen_row is not None:
        rows += CHOSEN_COUNTS * [shown.chosen_row]
    return [table.path_points[row][~np.isnan(table.path_points[row, :, 0])] for row in rows]


def _thing_names(shown: OnScreen) -> list[Name]:
    """Names of objects, windows, doors and panels."""
    study, stage = shown.study, shown.stage
    names = []
    owners = {entry.name for entry in study.scene.objects}
    biggest: dict[str, tuple[float, Floats]] = {}
    for loop, surface in zip(loops_of(stage.faces), column(stage.faces, "surface"), strict=True):
        owner = study.room.surfaces[surface].owner
        reach = float(np.linalg.norm(loop.max(axis=0) - loop.min(axis=0)))
        if owner in owners and "furniture" in shown.layers and reach > biggest.get(owner, (0.0,))[0]:
            biggest[owner] = (reach, loop.mean(axis=0))
    names += [Name(owner, middle) for owner, (_, middle) in biggest.items()]
    panes = meshes.panes(study)
    for loop, index in zip(loops_of(panes), column(panes, "opening"), strict=True):
        names.append(Name(study.scene.openings[index].name, loop.mean(axis=0)))
    groups: dict[str, list[Floats]] = {}
    for panel in study.room.panels if "panels" in shown.layers else ():
        groups.setdefault(panel_group_words(panel), []).append(panel.centre)
    return names + [Name(name, np.mean(places, axis=0)) for name, places in groups.items()]


def place_names(
    names: list[Name],
    camera: Camera,
    measure_px: Callable[[str], float],
    *,
    lines: Sequence[Floats] = (),
    size_px: float = SIZE_PX,
) -> list[PlacedName]:
    """Names put beside their points, none over another; one without a free place is left out.

    Parameters
    ----------
    names : list of Name
    camera : Camera
    measure_px : callable
        Width of a text. [px]
    lines : sequence of (k, 3) float
        What is better not covered, one named twice twice as much. [m]
    size_px : float
        Height of the letters. [px]
    """
    placed: list[PlacedName] = []
    taken: list[Box] = []
    seen = [n for n in names if camera.parallel or float(camera.depth(n.point)) > NEAR_M]
    pieces = _pieces_px(lines, camera)
    for name in joined(seen, camera):
        if name.reach is not None and _length_px(camera, name) < SHORTEST_PX:
            continue
        size = measure_px(name.words) * 1.06 + 2 * PAD_PX, size_px + 2 * PAD_PX
        corners = _corners(name, camera, size)
        boxes = [Box(name.words, x, y, x + size[0], y + size[1]) for x, y in corners]
        free = [box for box in boxes if _is_inside(box, camera) and not any(map(box.overlaps, taken))]
        if free:
            habit = HABIT * np.array([boxes.index(box) for box in free])
            box = free[int(np.argmin(habit + _n_covered(pieces, free)))]
            taken.append(box)
            at = box.left + PAD_PX, box.bottom - PAD_PX
            placed.append(PlacedName(name.words, *at, size_px, DESCENT * size_px, bool(name.over)))
    return placed


def _is_inside(box: Box, camera: Camera) -> bool:
    return box.left >= 0 and box.top >= 0 and box.right <= camera.width and box.bottom <= camera.height


def _pieces_px(lines: Sequence[Floats], camera: Camera) -> Floats:
    """Straight pieces of lines in the picture, (n, 2, 2), as far as they are before the eye. [px]"""
    pieces = [np.stack([line[:-1], line[1:]], axis=1) for line in lines]
    ends = np.concatenate(pieces) if pieces else np.empty((0, 2, 3))
    if not camera.parallel:
        ends = ends[(camera.depth(ends) > NEAR_M).all(axis=1)]
    return camera.project(ends)


def _n_covered(pieces: Floats, boxes: Sequence[Box]) -> Floats:
    """How many straight pieces run under each of some boxes, (n_boxes,)."""
    low = np.array([(box.left, box.top) for box in boxes])[:, None]
    high = np.array([(box.right, box.bottom) for box in boxes])[:, None]
    way = pieces[:, 1] - pieces[:, 0]
    way = np.where(np.abs(way) < 1e-9, 1e-9, way)
    one, other = (low - pieces[:, 0]) / way, (high - pieces[:, 0]) / way
    enters = np.maximum(np.minimum(one, other).max(axis=-1), 0.0)
    leaves = np.minimum(np.maximum(one, other).min(axis=-1), 1.0)
    return np.asarray((enters < leaves).sum(axis=-1), np.float64)


def _length_px(camera: Camera, name: Name) -> float:
    """How long a dimension line is in the picture; one seen end-on has no length to be read."""
    half = np.asarray(name.reach) / 2
    return _apart_px(camera, name.point + half, name.point - half)


def _apart_px(camera: Camera, one: Floats, other: Floats) -> float:
    return float(np.hypot(*(camera.project(one) - camera.project(other))))


def joined(names: list[Name], camera: Camera) -> list[Name]:
    """Two things behind each other share one name, as from the side the left and the right speaker."""
    kept: list[Name] = []
    for name in names:
        for i, other in enumerate(kept):
            if name.kind and name.kind == other.kind and _apart_px(camera, name.point, other.point) < NEAR_PX:
                kept[i] = replace(other, text=both_words(other.text, name.text))
                break
        else:
            kept.append(name)
    return kept


def _corners(name: Name, camera: Camera, size: tuple[float, float]) -> list[tuple[float, float]]:
    """Top left corners of a name's box, the best liked first."""
    x, y = (float(part) for part in camera.project(name.point))
    width, height = size
    if name.reach is None:
        return _places(x, y, width, height, CLEAR_PX)
    across, down = np.abs(camera.project(name.point + name.reach / 2) - np.array([x, y]))
    if across > UPRIGHT * down:
        return [(x - width / 2, y - height / 2)]
    # Beside an upright line, on its outer side: over it the figure would reach into the room.
    sides = [(x - width, y - height / 2), (x, y - height / 2)]
    return sides if x < camera.width / 2 else sides[::-1]


def _places(x: float, y: float, width: float, height: float, gap: float) -> list[tuple[float, float]]:
    """Top left corners beside a point, the best liked first."""
    beside = [(x + gap, y - height / 2), (x - gap - width, y - height / 2)]
    stacked = [(x - width / 2, y - gap - height), (x - width / 2, y + gap)]
    corners = [(x + gap, y - gap - height), (x + gap, y + gap), (x - gap - width, y - gap - height)]
    return beside + stacked + [*corners, (x - gap - width, y + gap)]

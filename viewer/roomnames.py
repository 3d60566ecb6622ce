"""Names beside the things of the window's room: which there are, and where each has a place of its own."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace import format_length
from viewer import meshes
from viewer.camera import Camera
from viewer.faces import column, loops_of
from viewer.labels import Box
from viewer.pictures import both_words, met_words, seat_words, speaker_words
from viewer.pointing import NEAR_M
from viewer.scenery import dimension_lines, main_rows
from viewer.section import plane_of
from viewer.shown import OnScreen

Floats = NDArray[np.float64]

SIZE_PX = 13.0
PAD_PX = 4.0
SHORTEST_PX = 24.0
CLEAR_PX = 13.0  # from what is named to its name
DESCENT = 0.25  # share of the size that letters reach below their line


@dataclass(frozen=True)
class Name:
    """A name, what it stands beside (3,) [m], and whether it is over the limit.

    Names of one `kind` that meet in the picture become one. A length stands on its line, which reaches
    half of `reach` (3,) to both sides.
    """

    text: str
    point: Floats
    is_strong: bool = False
    kind: str = ""
    reach: Floats | None = None


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
    if "names" not in shown.layers:
        return names
    study, scene = shown.study, shown.study.scene
    names += _spot_names(shown)
    for i, speaker in enumerate(scene.speakers):
        names.append(Name(speaker_words(study, i), np.array(speaker.position), kind="speaker"))
    names += [
        Name(seat_words(study, i), np.array(seat.ears), kind="seat") for i, seat in enumerate(scene.seats)
    ]
    plane = plane_of(shown)
    return [name for name in names + _thing_names(shown) if plane is None or plane.keeps(name.point)]


def _spot_names(shown: OnScreen) -> list[Name]:
    """The strongest first reflection of each surface that is met."""
    study, (main, _) = shown.study, main_rows(shown)
    first = main[study.arrivals.order[main] == 1]
    levels = meshes.level_re_limit_db(study, first)
    names: dict[str, Name] = {}
    for row, level in sorted(zip(first, levels, strict=True), key=lambda pair: -pair[1]):
        met = met_words(
            study, int(study.arrivals.path_surfaces[row, 0]), int(study.arrivals.path_openings[row, 0])
        )
        if met not in names and level > 0.0:
            names[met] = Name(f"{met}, {level:.1f} dB over", study.arrivals.path_points[row, 1], True)
    return list(names.values())


def _thing_names(shown: OnScreen) -> list[Name]:
    """Names of objects, windows and doors."""
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
    return names


def place_names(names: list[Name], camera: Camera, measure_px: Callable[[str], float]) -> list[PlacedName]:
    """Names put beside their points, none over another; one without a free place is left out."""
    placed: list[PlacedName] = []
    taken: list[Box] = []
    seen = [n for n in names if camera.parallel or float(camera.depth(n.point)) > NEAR_M]
    for name in _joined(seen, camera):
        x, y = camera.project(name.point)
        if name.reach is not None and _length_px(camera, name) < SHORTEST_PX:
            continue
        width, height = measure_px(name.text) * 1.06 + 2 * PAD_PX, SIZE_PX + 2 * PAD_PX
        gap = CLEAR_PX if name.reach is None else 0.0
        for left, top in _places(float(x), float(y), width, height, gap):
            box = Box(name.text, left, top, left + width, top + height)
            inside = left >= 0 and top >= 0 and box.right <= camera.width and box.bottom <= camera.height
            if inside and not any(box.overlaps(other) for other in taken):
                taken.append(box)
                placed.append(
                    PlacedName(
                        name.text,
                        left + PAD_PX,
                        box.bottom - PAD_PX,
                        SIZE_PX,
                        DESCENT * SIZE_PX,
                        name.is_strong,
                    )
                )
                break
    return placed


def _length_px(camera: Camera, name: Name) -> float:
    """How long a dimension line is in the picture; one seen end-on has no length to be read."""
    half = np.asarray(name.reach) / 2
    return float(np.hypot(*(camera.project(name.point + half) - camera.project(name.point - half))))


def _joined(names: list[Name], camera: Camera) -> list[Name]:
    """Two things behind each other share one name, as from the side the left and the right speaker."""
    joined: list[Name] = []
    for name in names:
        flat = camera.project(name.point)
        for i, other in enumerate(joined):
            near = float(np.hypot(*(camera.project(other.point) - flat))) < 6.0
            if near and name.kind and name.kind == other.kind:
                joined[i] = replace(other, text=both_words(other.text, name.text))
                break
        else:
            joined.append(name)
    return joined


def _places(x: float, y: float, width: float, height: float, gap: float) -> list[tuple[float, float]]:
    """Top left corners beside a point, the best liked first."""
    if gap == 0.0:
        return [(x - width / 2, y - height / 2)]
    beside = [(x + gap, y - height / 2), (x - gap - width, y - height / 2)]
    stacked = [(x - width / 2, y - gap - height), (x - width / 2, y + gap)]
    corners = [(x + gap, y - gap - height), (x + gap, y + gap), (x - gap - width, y - gap - height)]
    return beside + stacked + [*corners, (x - gap - width, y + gap)]

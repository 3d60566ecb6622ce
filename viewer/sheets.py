"""Set-out sheets: each surface that needs treatment in true shape, with what an installer measures."""

from collections.abc import Sequence
from dataclasses import dataclass

from raytrace import Study
from viewer.drafting import Mark
from viewer.elevation import Drawing, best_scale, figure, find_obstacles
from viewer.faceview import FaceView, Spot, find_spots
from viewer.wording import way_words

# Page on its side or not, and the most spots on it: the first of those with the finest scale is taken.
PAGES = ((False, 3), (False, 2), (True, 2))


@dataclass(frozen=True)
class Card:
    """What is measured for one spot: name, whose sound it is, its way; label, figure and whether it is big."""

    letter: str
    whose: str
    way: str
    lines: tuple[tuple[str, str, bool], ...]


@dataclass(frozen=True)
class Sheet:
    """One page for the installer.

    Attributes
    ----------
    title, facing : str
        The surface, and how it is drawn.
    surface, scale : int
        Index into the room's surfaces; 20 for 1:20.
    landscape : bool
        Whether the page lies on its side.
    size_mm : (2,) tuple
        Width and height of the drawing. [mm]
    marks : tuple of Mark
        The drawing.
    spots : tuple of Spot
        What is dimensioned, in the order of `cards`.
    cards : tuple of Card
        The same as a list to tick off.
    notes : tuple of str
        What else to know at this surface.
    """

    title: str
    facing: str
    surface: int
    scale: int
    landscape: bool
    size_mm: tuple[float, float]
    marks: tuple[Mark, ...]
    spots: tuple[Spot, ...]
    cards: tuple[Card, ...]
    notes: tuple[str, ...]


def draw_sheets(study: Study, *, units: str = "metric") -> tuple[Sheet, ...]:
    """Sheets of every surface from which something exceeds the limit, in the room's order.

    Parameters
    ----------
    study : Study
        A finished run.
    units : {"metric", "imperial"}
        Millimetres, or feet and inches.

    Returns
    -------
    tuple of Sheet
        A surface with more spots than fit gets several.
    """
    sheets: list[Sheet] = []
    for index in range(len(study.room.surfaces)):
        view = FaceView(study, index)
        spots = find_spots(study, view, index)
        if not spots:
            continue
        landscape, size = _best_page(view, len(spots), units)
        groups = [spots[i : i + size] for i in range(0, len(spots), size)]
        for number, group in enumerate(groups, start=1):
            part = f", {number} of {len(groups)}" if len(groups) > 1 else ""
            sheets.append(_sheet(study, view, group, index, part, landscape=landscape, units=units))
    return tuple(sheets)


def _sheet(
    study: Study, view: FaceView, spots: tuple[Spot, ...], index: int, part: str, *, landscape: bool, units: str
) -> Sheet:
    drawing = Drawing(study, view, spots, landscape=landscape, units=units)
    return Sheet(
        title=view.surface.name[:1].upper() + view.surface.name[1:] + part,
        facing=_facing(view, units),
        surface=index,
        scale=drawing.scale,
        landscape=landscape,
        size_mm=drawing.size_mm,
        marks=tuple(drawing.marks),
        spots=spots,
        cards=tuple(_card(study, view, spot, units) for spot in spots),
        notes=(*drawing.keys, *_notes(study, view, spots, units)),
    )


def _best_page(view: FaceView, n_spots: int, units: str) -> tuple[bool, int]:
    """Whether the page lies on its side, and the most spots on it, for the largest drawing."""
    return min(
        PAGES, key=lambda page: best_scale(view, min(n_spots, page[1]), landscape=page[0], units=units)
    )


def _facing(view: FaceView, units: str) -> str:
    """How the surface is drawn, for someone who stands in front of it."""
    across, along = figure(view.width_m, units), figure(view.height_m, units)
    if view.is_plan and view.is_overhead:
        return f"Ceiling plan as if mirrored in the floor; front wall at the top. {across} wide, {along} long."
    if view.is_plan:
        return f"Plan from above; front wall at the top. {across} wide, {along} long."
    if abs(float(view.frame.n[2])) > 0.02:
        return f"True shape: heights run along the slope. Seen from inside. {across} wide, {along} up the slope."
    return f"As you see it from inside, facing it. {across} wide, {along} high."


def _card(study: Study, view: FaceView, spot: Spot, units: str) -> Card:
    patch = spot.patch
    sides = ("left", "right", "front", "back") if view.is_plan else ("left", "right", "top", "bottom")
    lines = [(f"spot from {side}", figure(d, units), True) for side, d in zip(sides, spot.sides_m, strict=True)]
    lines += [
        (f"spot to outline {side}", figure(d, units), False)
        for side, d in zip(sides, spot.outline_m, strict=True)
        if d is not None
    ]
    lines += [
        (f"area from {side}", figure(d, units), False)
        for side, d in zip(sides, spot.area_sides_m, strict=True)
    ]
    return Card(spot.letter, _whose(study, patch.rows[0]), way_words(study, patch.rows[0]), tuple(lines))


def _whose(study: Study, row: int) -> str:
    arrivals = study.arrivals
    return f"{arrivals.speaker_names[arrivals.speaker[row]]} to {arrivals.seat_names[arrivals.seat[row]]}"


def _notes(study: Study, view: FaceView, spots: Sequence[Spot], units: str) -> tuple[str, ...]:
    """What to know before anything is marked or hung on this surface."""
    notes = []
    if view.is_overhead:
        notes += [caution for caution in study.cautions if caution.startswith("Overhead")]
    drilling = study.scene.job.drilling
    of_room = view.surface.owner == "room"
    if of_room and (drilling is False or (isinstance(drilling, tuple) and view.surface.name not in drilling)):
        notes.append("Nothing may be drilled here: standing or leaning panels only.")
    if not view.is_plan and view.lowest_m > 0.001:
        notes.append(f"The lower edge is {figure(view.lowest_m, units)} above the floor.")
    for spot in spots:
        ways = [f"{_whose(study, row)} by {way_words(study, row)}" for row in spot.caught]
        if ways:
            notes.append(f"Area {spot.letter} also treats: {'; '.join(ways)}.")
    obstacles = find_obstacles(study, view)
    for spot in spots:
        u0, v0, u1, v1 = spot.patch.rect
        for obstacle in obstacles:
            a0, b0, a1, b1 = obstacle.rect
            if a0 < u1 and u0 < a1 and b0 < v1 and v0 < b1:
                notes.append(f"Area {spot.letter} meets {obstacle.text}.")
    return tuple(notes)

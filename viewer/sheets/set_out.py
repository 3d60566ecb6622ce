"""Set-out sheets: each surface that needs treatment in true shape, with what an installer measures."""

from collections.abc import Sequence
from dataclasses import dataclass

from raytrace import LOCAL_CODES_FIRST, Study
from viewer.paper import PAPERS_MM, Mark, text_size_mm
from viewer.sheets.elevation import Drawing, Obstacle, find_obstacles
from viewer.sheets.faceview import FaceView, Spot, Targets, find_spots, target_errors
from viewer.words import (
    CHANGE_FURNITURE,
    HIGH_M,
    Work,
    cautions_beside,
    is_table_top,
    length_figure,
    path_words,
)

# Page on its side or not, and the most spots on it; feet and inches need wider cards. A further sheet has to
# make the drawing half as large again.
PAGES = {
    "metric": ((False, 3), (False, 2), (True, 2), (True, 1)),
    "imperial": ((False, 2), (True, 2), (True, 1)),
}
Printed = tuple[str, str]  # units, paper
CARD_MM = {"metric": 62.0, "imperial": 72.0}
# What margins take of a page across and down, and what the parts of a sheet take of it (see report.typ). [mm]
_MARGINS_MM = (24.0, 29.0)
HEADING_MM = {False: 25.0, True: 20.0}
CARD_GAP_MM, CARD_HEAD_MM, CARD_LINE_MM, NOTE_LINE_MM = 6.0, 17.0, 5.85, 4.5
NOTE_PT = 8.0
_NOTHING_TO_DRILL = "Nothing is drilled here: what covers it {}."
_LIES, _STANDS = "lies loose", "stands before it or is strapped round it"


@dataclass(frozen=True)
class Card:
    """What is measured for one spot: its name, whose sound, its way; label, figure and whether big."""

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


def draw_sheets(study: Study, *, units: str = "metric", paper: str = "A4") -> tuple[Sheet, ...]:
    """Sheets of every surface from which something exceeds the limit, in the room's order.

    Parameters
    ----------
    study : Study
        A finished run.
    units : {"metric", "imperial"}
        Millimetres, or feet and inches.
    paper : {"A4", "Letter"}

    Returns
    -------
    tuple of Sheet
        A surface with more spots than fit gets several.
    """
    sheets: list[Sheet] = []
    targets = target_errors(study)
    for index in range(len(study.room.surfaces)):
        sheets += _surface_sheets(study, index, targets.get(index, ()), (units, paper))
    return tuple(sheets)


def surface_sheets(study: Study, index: int, *, units: str, paper: str) -> tuple[Sheet, ...]:
    """Sheets of one surface; none where nothing from it exceeds the limit."""
    return _surface_sheets(study, index, target_errors(study).get(index, ()), (units, paper))


def _surface_sheets(study: Study, index: int, targets: Targets, printed: Printed) -> tuple[Sheet, ...]:
    view = FaceView(study.room, index)
    spots = find_spots(view, targets)
    options = [_pages(study, view, spots, lies, size, printed) for lies, size in PAGES[printed[0]]]
    costs = [_cost(option) for option in options]
    return options[costs.index(min(costs))]


def _cost(pages: Sequence[Sheet]) -> int:
    """Small for a large drawing on few sheets."""
    return max((sheet.scale for sheet in pages), default=0) * (1 + len(pages))


def _pages(
    study: Study,
    view: FaceView,
    spots: tuple[Spot, ...],
    landscape: bool,
    size: int,
    printed: Printed,
) -> tuple[Sheet, ...]:
    """The sheets of one surface with so many spots on each."""
    groups = [spots[i : i + size] for i in range(0, len(spots), size)]
    pages = []
    for number, group in enumerate(groups, start=1):
        part = f", {number} of {len(groups)}" if len(groups) > 1 else ""
        title = view.surface.name[:1].upper() + view.surface.name[1:] + part
        pages.append(_sheet(study, view, group, title, landscape=landscape, printed=printed))
    return tuple(pages)


def _sheet(
    study: Study,
    view: FaceView,
    spots: tuple[Spot, ...],
    title: str,
    *,
    landscape: bool,
    printed: Printed,
) -> Sheet:
    units, paper = printed
    cards = tuple(_card(study, view, spot, units) for spot in spots)
    notes = _notes(study, view, spots, units)
    page_mm = page_room_mm(paper, landscape=landscape)
    room_mm = _room_mm(cards, notes, page_mm, landscape=landscape, units=units)
    drawing = Drawing(study, view, spots, room_mm, units=units)
    if drawing.keys:
        # Names that found no room in the drawing stand in the notes, which leaves less for the drawing.
        listed = (*drawing.keys, *notes)
        room_mm = _room_mm(cards, listed, page_mm, landscape=landscape, units=units)
        drawing = Drawing(study, view, spots, room_mm, units=units)
    return Sheet(
        title=title,
        facing=_facing(view, units),
        surface=study.room.surfaces.index(view.surface),
        scale=drawing.scale,
        landscape=landscape,
        size_mm=drawing.size_mm,
        marks=tuple(drawing.marks),
        spots=spots,
        cards=cards,
        notes=(*drawing.keys, *notes),
    )


def page_room_mm(paper: str, *, landscape: bool) -> tuple[float, float]:
    """Width and height of a page inside its margins. [mm]"""
    upright = PAPERS_MM[paper]
    wide, high = upright[::-1] if landscape else upright
    return wide - _MARGINS_MM[0], high - _MARGINS_MM[1]


def _room_mm(
    cards: Sequence[Card], notes: Sequence[str], page_mm: tuple[float, float], *, landscape: bool, units: str
) -> tuple[float, float]:
    """What heading, cards and notes leave for the drawing."""
    wide, high = page_mm
    card_mm = [CARD_HEAD_MM + CARD_LINE_MM * len(card.lines) for card in cards]
    if landscape:
        wide -= CARD_MM[units] + CARD_GAP_MM
    elif len(cards) == 1:
        notes = ()  # they stand beside the only card
    n_lines = sum(int(text_size_mm(note, NOTE_PT)[0] / (wide - 4.0)) + 1 for note in notes)
    high -= HEADING_MM[landscape] + NOTE_LINE_MM * n_lines + (3.0 if notes else 0.0)
    if not landscape:
        return wide, high - max(card_mm) - 2.0
    return (wide, high) if sum(card_mm) + 2.0 * len(cards) <= page_mm[1] - HEADING_MM[True] else (wide, 0.0)


def _facing(view: FaceView, units: str) -> str:
    """How the surface is drawn, for someone who stands in front of it."""
    across, along = length_figure(view.width_m, units), length_figure(view.height_m, units)
    if view.is_plan and view.is_overhead:
        return (
            f"Ceiling plan as if mirrored in the floor; front wall at the top. {across} wide, {along} long."
        )
    if view.is_plan:
        return f"Plan from above; front wall at the top. {across} wide, {along} long."
    if view.is_slope:
        return (
            f"True shape: heights run along the slope. Seen from inside. {across} wide, {along} up the slope."
        )
    return f"As you see it from inside, facing it. {across} wide, {along} high."


def _card(study: Study, view: FaceView, spot: Spot, units: str) -> Card:
    patch = spot.patch
    sides = ("left", "right", "front", "back") if view.is_plan else ("left", "right", "top", "bottom")
    lines = [
        (f"spot from {side}", length_figure(d, units), True)
        for side, d in zip(sides, spot.sides_m, strict=True)
    ]
    across, up = (length_figure(off, units) for off in spot.off_m)
    lines.append(("spot may be off", f"±{across} ±{up}", False))
    lines += [
        (f"spot to outline {side}", length_figure(d, units), False)
        for side, d in zip(sides, spot.outline_m, strict=True)
        if d is not None
    ]
    lines += [
        (f"area from {side}", length_figure(d, units), False)
        for side, d in zip(sides, spot.area_sides_m, strict=True)
    ]
    return Card(spot.letter, _whose(study, patch.rows[0]), path_words(study, patch.rows[0]), tuple(lines))


def _whose(study: Study, row: int) -> str:
    arrivals = study.arrivals
    return f"{arrivals.speaker_names[arrivals.speaker[row]]} to {arrivals.seat_names[arrivals.seat[row]]}"


def _obstacle_note(view: FaceView, obstacle: Obstacle, units: str) -> str:
    """Size and place of an opening or of what is kept free, from two edges."""
    corners = view.from_frame(obstacle.outline)
    (h0, w0), (h1, w1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    wide, high, left = (length_figure(x, units) for x in (h1 - h0, w1 - w0, h0))
    from_side, other = ("front", w0) if view.is_plan else ("bottom", view.height_m - w1)
    return (
        f"{obstacle.text}: {wide} x {high}, {left} from left, {length_figure(other, units)} from {from_side}."
    )


def _notes(study: Study, view: FaceView, spots: Sequence[Spot], units: str) -> tuple[str, ...]:
    """What to know before anything is marked or hung on this surface."""
    notes = []
    if is_table_top(view.surface):
        notes.append(f"Before it is covered: {CHANGE_FURNITURE}")
    drilling = study.scene.job.drilling
    forbidden = drilling is False or (isinstance(drilling, tuple) and view.surface.name not in drilling)
    if forbidden and view.surface.owner is None:
        if view.is_overhead:
            notes.append(
                "Nothing may be drilled here, so nothing can hang from it: ask whether it may be, or sit "
                "nearer to the speakers."
            )
        elif not view.is_plan:
            notes.append("Nothing may be drilled here: standing or leaning panels only.")
    if not view.is_plan and view.lowest_m > 0.001:
        notes.append(f"The lower edge is {length_figure(view.lowest_m, units)} above the floor.")
    for spot in spots:
        ways = [f"{_whose(study, row)} by {path_words(study, row)}" for row in spot.caught]
        if ways:
            notes.append(f"Area {spot.letter} also treats: {'; '.join(ways)}.")
    for obstacle in find_obstacles(study.scene, view.surface):
        a0, b0, a1, b1 = obstacle.rect
        met = [
            spot.letter
            for spot in spots
            if a0 < spot.patch.rect[2]
            and spot.patch.rect[0] < a1
            and b0 < spot.patch.rect[3]
            and spot.patch.rect[1] < b1
        ]
        areas = f"Area {met[0]} meets" if len(met) == 1 else f"Areas {' and '.join(met)} meet"
        notes.append(_obstacle_note(view, obstacle, units) + (f" {areas} it." if met else ""))
    notes.append("± on a card: how far errors of the tape may shift the spot.")
    return (*notes, " ".join(("Cautions.", *_cautions(view, spots))))


def _cautions(view: FaceView, spots: Sequence[Spot]) -> list[str]:
    """What belongs beside the work on this surface; nothing is drilled into furniture or floors.

    In few words, which leaves room for the drawing: the page before the sheets has all of them in full.
    """
    loose = view.surface.owner is not None or (view.is_plan and not view.is_overhead)
    tops = [view.lowest_m + spot.patch.rect[3] for spot in spots]
    works = [Work.LAY if loose else Work.MARK_ABOVE if view.is_overhead else Work.MARK]
    works += [Work.HIGH] if not loose and max(tops, default=0.0) > HIGH_M else []
    _, *beside = cautions_beside(works)
    undrilled = _NOTHING_TO_DRILL.format(_LIES if view.is_plan or is_table_top(view.surface) else _STANDS)
    return [LOCAL_CODES_FIRST, *([undrilled] if loose else []), *beside]

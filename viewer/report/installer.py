"""The installer's document as plain data: where things stand, spots, sequence, cautions, sheets, hooks."""

from collections.abc import Sequence
from dataclasses import asdict

from raytrace import CoverToBuy, Study, format_length
from viewer.paper import scale_words
from viewer.report.findings import Contents, Drawn, Findings
from viewer.report.hanging import hanging_pages
from viewer.sheets import Sheet
from viewer.words import cover_step, length_figure

_SPOTS_HEAD = (
    "sheet",
    "mark",
    "surface",
    "from left",
    "from right",
    "from top or front",
    "from bottom or back",
)
_FIRST = "Read the cautions below and on each sheet before anything else."
_CHECKED = "Hang nothing until hooks, cords and loads are checked against the lists behind the sheets."
# The usual way of working with a tape and a hand mirror (common practice, no source).
_SPOT_STEPS = (
    "Tape the whole width and height of the surface against the sheet. More than {far} out: stop and ask.",
    "Mark each spot from both edges. The two marks must meet within {near}.",
    "Hold a hand mirror flat at the spot: from the seat the speaker shows in it, unless the card names more "
    "than one surface.",
    "Mark the dashed rectangle round the spot, leave out what is hatched.",
    "Look for cables, pipes and something to fix to before anything is drilled.",
    "Write what was built beside each figure and tick it off.",
)
_LAST = "Put speakers and seat where the table says, and try the room before the tools are packed."


def installer_pages(found: Findings, drawn: Drawn, *, units: str) -> list[Contents]:
    """Pages in the order of work; none in a room where nothing is marked, hung or stood up.

    Parameters
    ----------
    found : Findings
    drawn : Drawn
    units : {"metric", "imperial"}
        Of every length and mass.
    """
    hung = [] if found.treatment is None else hanging_pages(found.treatment, units=units)
    covers = () if found.treatment is None else found.treatment.bill_of_materials.covers
    if not drawn.sheets and not drawn.drawings and not hung and not covers:
        return []
    hangs = found.treatment is not None and bool(found.treatment.hooks)
    set_out = _set_out(found.study, drawn, units, covers=covers, hangs=hangs)
    return [
        {"kind": "where", **set_out},
        {"kind": "work", **set_out},
        *({"kind": "drawing", **drawing} for drawing in drawn.drawings),
        *hung,
        *sheet_pages(drawn.sheets, units=units),
    ]


def sheet_pages(sheets: Sequence[Sheet], *, units: str) -> list[Contents]:
    """Set-out sheets, a page each."""
    return [_sheet(sheet, number, len(sheets), units) for number, sheet in enumerate(sheets, start=1)]


def _set_out(
    study: Study, drawn: Drawn, units: str, *, covers: Sequence[CoverToBuy], hangs: bool
) -> Contents:
    """Where things stand, then what to do in which order."""
    scene, sheets = study.scene, drawn.sheets
    places = [
        (f"{s.name} ({'sub, not judged here' if s.use == 'sub' else 'speaker'})", s.position)
        for s in scene.speakers
    ]
    places += [(f"{s.name} (ears)", s.ears) for s in scene.seats]
    return {
        "pictures": [drawn.pictures[name][0] for name in ("plan", "section") if name in drawn.pictures],
        "positions": [(name, *(_length(x, units) for x in position)) for name, position in places],
        "spots_title": _spots_title(study, units),
        "spots_head": _SPOTS_HEAD,
        "spots": [
            (
                str(number),
                spot.letter,
                study.room.surfaces[sheet.surface].name,
                *(length_figure(metres, units) for metres in spot.sides_m),
            )
            for number, sheet in enumerate(sheets, start=1)
            for spot in sheet.spots
        ],
        "steps": _steps(drawn, [cover_step(study, own, units) for own in covers], units, hangs=hangs),
        "cautions": study.cautions,
    }


def _spots_title(study: Study, units: str) -> str:
    measure = "mm" if units == "metric" else "feet and inches"
    left = "that stay too strong" if study.room.panels else "to mark"
    return f"Spots {left}, in {measure} from two edges"


def _steps(drawn: Drawn, covering: Sequence[str], units: str, *, hangs: bool) -> list[str]:
    """What to do, in the order of the pages that follow."""
    steps = [_FIRST, *([_CHECKED] if hangs else [])]
    if drawn.drawings:
        drawn_to_scale = dict.fromkeys(drawing["subject"] for drawing in drawn.drawings)
        steps += [f"{subject}: do what its sheet lists, in its order." for subject in drawn_to_scale]
    if drawn.sheets and not drawn.drawings:
        far, near = _length(0.02, units), _length(0.01, units)
        steps += [step.format(far=far, near=near) for step in _SPOT_STEPS]
    return [*steps, *covering, _LAST]


def _sheet(sheet: Sheet, number: int, total: int, units: str) -> Contents:
    return {
        "kind": "sheet",
        "title": sheet.title,
        "number": f"Set-out sheet {number} of {total}",
        "facing": sheet.facing,
        "scale": scale_words(sheet.scale, units),
        "landscape": sheet.landscape,
        "size_mm": sheet.size_mm,
        "marks": [asdict(mark) for mark in sheet.marks],
        "cards": [asdict(card) for card in sheet.cards],
        "notes": sheet.notes,
    }


def _length(metres: float, units: str) -> str:
    return format_length(metres, units=units)

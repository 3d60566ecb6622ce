"""The client's document as plain data: the room, what is wrong, what is proposed, costs, what comes next."""

from collections.abc import Mapping, Sequence

from raytrace import LOCAL_CODES_FIRST
from viewer.pictures import panel_table, surface_pictures
from viewer.report.bass import BASS_TITLE, bass_pages
from viewer.report.blocks import Block, items, page, pair, picture, small, sub
from viewer.report.change import change_pages, changed_client
from viewer.report.findings import Change, Contents, Drawn, Findings
from viewer.report.measured import measured_page
from viewer.report.proposal import mending_lines, moved_lines, remaining_lines, remaining_title
from viewer.report.seats import heard_seats, seat_page
from viewer.tables import cover_words, facts_of
from viewer.words import (
    WHY_TOO_CLOSE,
    headline,
    job_lines,
    judged_how,
    ringing,
    today,
    will_change,
    will_not_change,
)

_MOST_REASONS = 3
# Sentences of page one: more would leave its picture too small to read.
_MOST = {"today": 3, "will": 4, "wont": 3}
_ROWS, _LETTERS = 9, 50  # of the right column, where the left one is shorter; in a row of either
# The usual course of such a job (common practice, no source).
_NEXT = (
    "Settle where seat, desk and speakers stand; whatever moves later moves every spot.",
    "Ask whoever owns the house before anything is drilled, glued or hung, and have fixings and fire "
    "questions looked at by a competent person.",
)
_NEXT_TREATED = (
    "Say yes to what is proposed, or say what may not be: another set is worked out then.",
    "workshop.pdf goes to whoever buys and makes, installer.pdf to whoever hangs.",
    "Measure and listen at the seat before and after: all of this is computed.",
)
_NEXT_BARE = (
    "installer.pdf shows where the marked areas are.",
    "Measure and listen at the seat before anything is bought: all of this is computed.",
)


def client_pages(
    found: Findings, drawn: Drawn, change: Change | None, sheets_of_row: Mapping[int, str], *, units: str
) -> list[Contents]:
    """At most five pages: overview, what the first seat hears, what is put up, the bass if asked for.

    Parameters
    ----------
    found : Findings
    drawn : Drawn
    change : Change or None
        Before and after, in a treated room.
    sheets_of_row : mapping
        The set-out sheet of an arrival.
    units : {"metric", "imperial"}
        Of every length.
    """
    study = found.study
    overview, later = _on_page_one(_overview(found, drawn, change, units))
    pages = [overview, *measured_page(found.measured, drawn.measured)]
    if change is not None:
        pages += change_pages(change, drawn.changes)[:1]
        pages.append(_proposed(found, drawn, later, units))
    else:
        heard = seat_page(study, heard_seats(study)[0], drawn.curves, sheets_of_row)
        next_steps = [sub("What comes next"), items([*_NEXT, *(_NEXT_BARE if drawn.sheets else ())])]
        pages.append(
            heard | {"blocks": [*_later([line for lines in later.values() for line in lines]), *next_steps]}
        )
    return [*pages, *bass_pages(found.bass, drawn.bass, units=units)]


def _overview(found: Findings, drawn: Drawn, change: Change | None, units: str) -> Contents:
    """The page that a client reads, if no other."""
    study = found.study
    n_areas = sum(len(sheet.spots) for sheet in drawn.sheets)
    surfaces = [study.room.surfaces[sheet.surface].name for sheet in drawn.sheets]
    path, caption = drawn.pictures["room"]
    bass = "" if found.bass is None else BASS_TITLE
    today_alone = {
        "kind": "client",
        "job": job_lines(study, units),
        "picture": path,
        "caption": caption,
        "lead": "",
        "headline": headline(study),
        "today": [*today(study, see=bass), *ringing(found.decays)],
        "will_title": "What treatment changes",
        "will": will_change(study, n_areas, surfaces, is_proposed=found.proposal is not None),
        "wont": will_not_change(study, units, see=bass),
        "foot": f"{judged_how(study)} Too close to say: {WHY_TOO_CLOSE}. {LOCAL_CODES_FIRST} page.html shows "
        "the room to turn, in any browser; details.pdf has tables, sources and limits.",
    }
    if change is None:
        return today_alone
    moved = [] if found.proposal is None else moved_lines(found.proposal, units)
    mending = [] if found.proposal is None else mending_lines(found.proposal, units)
    changed = changed_client(change, surfaces, mending, units=units, see=bass)
    return today_alone | changed | {"will": [*moved, *changed["will"]]}


def _on_page_one(overview: Contents) -> tuple[Contents, dict[str, list[str]]]:
    """The page with as many sentences as leave its picture large enough; the others, by what they tell of."""
    kept = {name: overview[name][:most] for name, most in _MOST.items()}
    rows = max(_ROWS, sum(map(_rows, kept["today"])))
    while len(kept["will"]) > 1 and sum(map(_rows, kept["will"])) > rows:
        kept["will"] = kept["will"][:-1]
    return overview | kept, {name: overview[name][len(kept[name]) :] for name in _MOST}


def _rows(line: str) -> int:
    """How many rows a sentence takes in one of the two columns."""
    return -(-len(line) // _LETTERS)


def _proposed(found: Findings, drawn: Drawn, later: Mapping[str, Sequence[str]], units: str) -> Contents:
    """What is put up, what it costs, what it leaves and what comes next."""
    study = found.study
    blocks: list[Block] = []
    listed = panel_table(study, units)
    sides = [drawn.pictures[name] for name in ("before", "after") if name in drawn.pictures]
    if sides:
        blocks.append(pair(sides))
    else:
        for path, caption in (surface_pictures(drawn.pictures) or [drawn.pictures["plan"]])[:1]:
            blocks += [picture(path, caption, shares=True), small(caption)]
    if study.room.panels:
        blocks += [sub("All panels"), listed]
    blocks += _more(found, units)
    if found.treatment is not None:
        blocks += [sub("What it costs and weighs"), items(_costs(found, units))]
    left = [] if found.proposal is None else remaining_lines(found.proposal, units)
    if found.proposal is not None and left:
        more = [f"{len(left) - _MOST_REASONS} more are in details.pdf."] if len(left) > _MOST_REASONS else []
        mending = [line for line in mending_lines(found.proposal, units) if line in later["will"]]
        blocks += [sub(remaining_title(found.proposal)), items([*left[:_MOST_REASONS], *more, *mending])]
        left += mending
    blocks += _later(later["today"], "Also found today")
    blocks += _later([line for name in ("will", "wont") for line in later[name] if line not in left])
    blocks += [sub("What comes next"), items([*_NEXT, *_NEXT_TREATED])]
    title = "What is proposed" if found.proposal is not None else "What is put up"
    return page("Panels, costs, and what comes next", title, blocks)


def _later(lines: Sequence[str], title: str = "Also to know") -> list[Block]:
    return [sub(title), items(lines)] if lines else []


def _more(found: Findings, units: str) -> list[Block]:
    """What goes beside panels: rugs, curtains and the like, and what stands another way."""
    lines = [] if found.proposal is None else moved_lines(found.proposal, units)
    if found.treatment is not None:
        covers = found.treatment.bill_of_materials.covers
        lines += [f"To lay or hang: {cover_words(cover, units)}." for cover in covers]
    return (
        [sub("Beside the panels" if found.study.room.panels else "What changes"), items(lines)]
        if lines
        else []
    )


def _costs(found: Findings, units: str) -> list[str]:
    """Prices where they are stated, mass, what is owned already."""
    assert found.treatment is not None
    making = found.treatment.bill_of_materials
    lines = facts_of(making, units)
    if making.price is None and making.batches:
        lines.append("No prices of panels are stated; workshop.pdf lists everything there is to buy.")
    return lines

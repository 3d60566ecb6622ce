"""The proposal chapter of the report: what is proposed, in steps of the budget, and what it leaves."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from raytrace import BAND_NAMES, Caution, format_length
from viewer import tables
from viewer.report.blocks import Block, Page, items, page, small, sub, table
from viewer.words import (
    ARRANGEMENTS_EXPLAINED,
    COVER_HEAD,
    COVERS_EXPLAINED,
    NEAR,
    STEPS_EXPLAINED,
    VARIANT_HEAD,
    arrangement_title,
    band_tick,
    bounds_words,
    cover_cells,
    cover_left_out,
    decibels,
    furniture_advice,
    in_sentence,
    joined_way,
    limit_side,
    listed,
    none_mends,
    panels_words,
    proposed_covers,
    reason_lines,
    rest_words,
    seconds,
    stand_limits,
    stand_words,
    step_cells,
    steps_leave_out,
    told,
    variant_cells,
    variant_gain,
    variant_words,
)

if TYPE_CHECKING:
    from raytrace import PeakMargin, Proposal, Spending, Step

_LADDER = (
    "Each line is the best that so many panels can do, not the same panels and some more. Remains: of the "
    "energy over the limit today, as far as panels can reach it. Worst: the strongest peak against the "
    "limit. Sides: early sound of the left speaker against the right one."
)
_MARGINS = (
    "How far each peak is over or below the limit, in dB. Estimated when the panels were chosen, "
    "recalculated by the full run with them in place; nothing is measured. A dash: gone, or part of another "
    "peak."
)


def proposal_pages(proposal: "Proposal", *, units: str) -> list[Page]:
    """Pages on a proposal; none where nothing is proposed and nothing is too strong.

    Parameters
    ----------
    proposal : Proposal
    units : {"metric", "imperial"}
    """
    if not proposal.is_new and not proposal.unreached:
        return []
    return [page("What to do", "The proposal", _blocks(proposal, units))]


def _blocks(proposal: "Proposal", units: str) -> list[Block]:
    blocks: list[Block] = []
    if proposal.moved:
        blocks += [sub("What stands another way"), items(moved_lines(proposal, units))]
    if proposal.panels:
        count = panels_words([panel.stacked for panel in proposal.panels])
        each = "it" if len(proposal.panels) == 1 else "each"
        blocks += [sub(f"{count}, and what {each} is for"), _panels(proposal, units)]
        blocks += [small(_set_out_words(proposal))]
    if len(proposal.ladder) > 1:
        blocks += [
            sub("What a smaller budget brings"),
            _ladder(proposal),
            small(_LADDER + steps_leave_out(proposal)),
        ]
    blocks += _covers(proposal, units)
    if proposal.spending is not None:
        blocks += [
            sub("What the rest is spent on"),
            _spending(proposal.spending),
            small(STEPS_EXPLAINED),
            items([*reason_lines(proposal.spending, units), rest_words(proposal.spending, units)]),
            _decay(proposal.spending),
        ]
    if proposal.unreached:
        blocks += [
            sub(remaining_title(proposal)),
            items(remaining_lines(proposal, units)),
            *arrangement_blocks(proposal, units),
        ]
    if proposal.margins:
        blocks += [
            sub("Estimated and recalculated"),
            _margins(proposal.margins),
            small(_MARGINS),
        ]
    if proposal.stability:
        blocks += [sub("Where panels stand"), items(_stands(proposal, units))]
    notes = [*tables.other_seat_lines(proposal), *(told(note, units, hints=False) for note in proposal.notes)]
    return [*blocks, sub("To know"), items(notes)] if notes else blocks


def _panels(proposal: "Proposal", units: str) -> Block:
    rows = []
    for panel in proposal.panels:
        at = " / ".join(format_length(float(x), units=units) for x in panel.centre_uv)
        at += tables.before_words(panel, units)
        why = str(panel.answers)
        build, held = tables.build_words(panel), tables.held_by(panel)
        rows.append([panel.name, build, at, held, why[0].upper() + why[1:]])
    head = ["panel", "build", "its middle at", "held by", "why"]
    return table(head, ["left", "left", "right", "left", "fill"], rows)


def _set_out_words(proposal: "Proposal") -> str:
    words = (
        "Facing the surface, from its left edge / from its bottom edge; under a level ceiling from the front "
        "wall / from the left wall. The sheets of this report give every edge and hook."
    )
    if proposal.is_symmetric and len(proposal.panels) > 1:
        words += " Planned in mirrored pairs."
    return words


def _ladder(proposal: "Proposal") -> Block:
    priced = any(not math.isnan(step.cost) for step in proposal.ladder)
    head = ["panels", "where", "remains", "worst", "sides", *(["cost"] if priced else []), ""]
    columns = ["right", "fill", "right", "right", "right", *(["right"] if priced else []), "left"]
    rows = [
        [
            str(step.n_panels),
            ", ".join(step.panels) or "as the room is",
            tables.remains(step),
            limit_side(step.worst_margin_db, unit=" dB"),
            "" if math.isnan(step.left_right_db) else f"{decibels(abs(step.left_right_db))} dB",
            *([_cost(step)] if priced else []),
            "stop here: more brings little"
            if index == proposal.stop and index < len(proposal.ladder) - 1
            else "",
        ]
        for index, step in enumerate(proposal.ladder)
    ]
    return table(head, columns, rows)


def _spending(spending: "Spending") -> Block:
    priced = any(not math.isnan(step.cost) for step in spending.steps)
    rows = []
    for step in spending.steps:
        cost = ["" if math.isnan(step.cost) else f"{step.cost:.0f}"] if priced else []
        rows.append([*step_cells(step), *cost])
    head = ["for", "panels", "where", "before", "estimated", "recalculated", *(["cost"] if priced else [])]
    columns = ["left", "right", "fill", "right", "right", "right", *(["right"] if priced else [])]
    return table(head, columns, rows, inset_mm=0.8)


def _decay(spending: "Spending") -> Block:
    """Decay per octave band with the fewest panels and with all, beside its target."""
    head = ["decay in s", *(band_tick(name) for name in BAND_NAMES)]
    rows = ("with the fewest panels", "with all of them", "target, at least", "target, at most")
    every = zip(rows, (*spending.decay_s, *spending.target_s), strict=True)
    filled = [[name, *(seconds(float(value)) for value in values)] for name, values in every]
    return table(head, ["fill", *["right"] * len(BAND_NAMES)], filled, inset_mm=0.8)


def _cost(step: "Step") -> str:
    return "" if math.isnan(step.cost) else f"{step.cost:.0f}"


def moved_lines(proposal: "Proposal", units: str) -> list[str]:
    """What stands another way in the new scene and what that brings, a sentence each."""
    moves = [f"{variant_words(variant, units)}; {variant_gain(variant)}" for variant in proposal.moved]
    return [line[0].upper() + line[1:] for line in moves]


def mending_lines(proposal: "Proposal", units: str) -> list[str]:
    """What moving things would do for the peaks that stay, the best for each of them."""
    best = {
        f"{variant_words(found.mending[0], units)}; {variant_gain(found.mending[0])}": found.target.way
        for found in proposal.variants
        if found.mending
    }
    return [f"What would mend {joined_way(way)}: {words}" for words, way in best.items()]


def remaining_title(proposal: "Proposal") -> str:
    """Heading of what stays, which may hold what is too close to the limit to say."""
    stays = {peak.verdict for peak in proposal.unreached}
    parts = [*(["too strong"] if "over" in stays else []), *([NEAR] if "undecided" in stays else [])]
    return f"What stays {' or '.join(parts)}, and why"


def remaining_lines(proposal: "Proposal", units: str) -> list[str]:
    """What stays too strong and why, those alike together; then what to do about furniture."""
    found: dict[tuple[str, str], list[str]] = {}
    for peak in proposal.unreached:
        why = "; ".join(f"{o.surface}: {told(o.reason, units, hints=False)}" for o in peak.obstacles)
        words = f"{joined_way(peak.way)}, {1e3 * peak.delay_s:.1f} ms after the direct sound, "
        words += f"{in_sentence(peak)}. {f'Why no panel there: {why}.' if why else ''}".rstrip()
        found.setdefault((peak.seat, words), []).append(peak.speaker)
    lines = [f"From {listed(who)} at {seat}: {what}" for (seat, what), who in found.items()]
    blocked = dict.fromkeys(obstacle.surface for peak in proposal.unreached for obstacle in peak.obstacles)
    return lines + furniture_advice(proposal.after, list(blocked))


def _covers(proposal: "Proposal", units: str) -> list[Block]:
    """Covers that are proposed, and those that bring too little."""
    blocks: list[Block] = []
    if found := proposed_covers(proposal):
        columns = ["left", "wide", "fill", "right", "right", "right"]
        rows = [cover_cells(cover, units) for cover in found]
        blocks += [sub("Where panels do not go"), table(COVER_HEAD, columns, rows, inset_mm=0.8)]
        blocks.append(small(COVERS_EXPLAINED))
    left_out = [cover_left_out(cover, units) for cover in proposal.covers if not cover.is_proposed]
    return [*blocks, items(left_out)] if left_out else blocks


def arrangement_blocks(proposal: "Proposal", units: str) -> list[Block]:
    """What moving things would do for the peaks that stay."""
    scene = proposal.after.scene
    speakers = [speaker.name for speaker in scene.speakers]
    blocks: list[Block] = []
    for found in proposal.variants:
        title = arrangement_title(found, speakers, scene.seats[found.target.seat].name)
        blocks.append(sub(title[0].upper() + title[1:]))
        if found.mending:
            rows = [variant_cells(variant, units) for variant in found.mending]
            columns = ["wide", "right", "left", "fill", "left"]  # changes and what is elsewhere may be long
            blocks.append(table(VARIANT_HEAD, columns, rows))
        words = [none_mends(found, units), bounds_words(found, units) if found.ranges else ""]
        words += [ARRANGEMENTS_EXPLAINED] if found.mending else []
        blocks.append(small(" ".join(text for text in words if text)))
    return blocks


def _margins(margins: "Sequence[PeakMargin]") -> Block:
    rows = [
        [
            margin.speaker,
            margin.seat,
            joined_way(margin.way),
            f"{1e3 * margin.delay_s:.1f}",
            *(limit_side(value) for value in (margin.before_db, margin.predicted_db, margin.proven_db)),
        ]
        for margin in margins
    ]
    head = ["speaker", "seat", "by way of", "ms", "before", "estimated", "recalculated"]
    return table(head, ["left", "left", "fill", "right", "right", "right", "right"], rows, inset_mm=0.8)


def _stands(proposal: "Proposal", units: str) -> list[str]:
    lines = []
    for stand in proposal.stability:
        lines.append(f"{proposal.after.room.panels[stand.panel].name}: {stand_words(stand, units)}.")
    return [*lines, stand_limits(units), Caution.STANDS]

"""A proposal as others read it: one JSON object, tables for the terminal."""

from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import (
    BAND_NAMES,
    CAUTIONS,
    PeakMargin,
    Proposal,
    ProposedPanel,
    Spending,
    Stability,
    Step,
    Unreached,
    compare,
    format_length,
    headline,
)
from viewer.tables.arrivals import Row, number
from viewer.tables.covers import cover_json, cover_tables
from viewer.tables.grid import grid
from viewer.tables.terminal import notes_text
from viewer.tables.variants import moved_lines, variant_json, variant_tables, variants_json
from viewer.words import (
    STEPS_EXPLAINED,
    TOO_CLOSE,
    band_tick,
    furniture_advice,
    in_sentence,
    joined_way,
    limit_side,
    panels_words,
    reason_lines,
    rest_words,
    seconds,
    size_words,
    stand_words,
    step_cells,
    steps_leave_out,
    told,
)

BAND_NAMES_SHORT = tuple(band_tick(name) for name in BAND_NAMES)

MARGINS_EXPLAINED = (
    "How far each peak is over or below the limit, in dB. Estimated: when the panels were chosen. "
    "Recalculated: the full run on the new scene. A dash: the peak is part of another one, or gone."
)
LADDER_EXPLAINED = (
    "Remains: of today's energy over the limit, as far as panels can reach it. A count of peaks may rise "
    "where sound that is taken away parts one into two; their energy over the limit does not. Strongest: "
    "the strongest peak against the limit, in dB. L/R: early energy of left less right."
)
SET_OUT_EXPLAINED = (
    "Sizes are those of the slab. Set-out: its middle, facing the surface, from the left edge / from the "
    "bottom edge; under a level ceiling, the front wall at the top, from the front wall / from the left "
    "wall; of a stand also how far its back is before the surface."
)


def proposal_json(proposal: Proposal) -> dict[str, Any]:
    """A proposal as plain numbers, None where there is no number.

    Parameters
    ----------
    proposal : Proposal

    Returns
    -------
    dict
        Ready for `json.dumps(..., allow_nan=False)`; delays in milliseconds after the direct sound, lengths
        in metres. "spending" is None where nothing was to be spent; else "steps" in their order, each with
        the goal's figure "before", as "predicted" with its panels and as "proven" with all (decibels, the
        decay in seconds, flutter in pairs), "target", and the "reason" why no more panels are put up for it;
        "money_left", "panels_left", "reason" for what remains; "decay_s" per octave band with the fewest
        panels and with all, and the range that is tolerated.
    """
    return {
        "scene": proposal.before.scene.title,
        "headline": headline(compare(proposal.before, proposal.after)),
        "seats": list(proposal.seats),
        "other_seats": [
            {"seat": seat.name, "peaks_over_limit": list(seat.n_over), "excess_db": list(seat.excess_db)}
            for seat in proposal.others
        ],
        "is_symmetric": proposal.is_symmetric,
        "candidates": proposal.n_candidates,
        "cost": number(proposal.cost),
        "spending": None if proposal.spending is None else _spending(proposal.spending),
        "panels": [_panel(panel) for panel in proposal.panels],
        "ladder": [_step(step) for step in proposal.ladder],
        "stop_at_panels": None if proposal.stop is None else proposal.ladder[proposal.stop].n_panels,
        "margins": [_peak_margin(margin) for margin in proposal.margins],
        "agreement_db": {
            "one_bounce": number(proposal.agreement_db[0]),
            "several_bounces": number(proposal.agreement_db[1]),
        },
        "unreached": [_unreached(peak) for peak in proposal.unreached],
        "covers": [cover_json(cover) for cover in proposal.covers],
        "moved": [variant_json(variant) for variant in proposal.moved],
        "arrangements": [variants_json(proposal.after, found) for found in proposal.variants],
        "stands": [_stand(proposal, stand) for stand in proposal.stability],
        "notes": [str(note) for note in (*proposal.notes, *proposal.after.notes)],
        "cautions": list(CAUTIONS),
    }


def _panel(panel: ProposedPanel) -> Row:
    u, v = panel.centre_uv
    return {
        "name": panel.name,
        "kind": panel.kind,
        "surface": panel.surface,
        "build": panel.build,
        "owned": panel.is_owned,
        "centre_m": [number(u), number(v)],
        "turned": panel.turned,
        "stacked": panel.stacked,
        "before_m": number(panel.before_m),
        "hooks": panel.n_hooks,
        "hooks_on_joists": panel.n_on_joists,
        "hooks_without_joist": panel.n_battens,
        "reason": str(panel.answers),
    }


def _step(step: Step) -> Row:
    return {
        "panels": step.n_panels,
        "where": list(step.panels),
        "peaks_over_limit": step.n_over,
        "worst_margin_db": number(step.worst_margin_db),
        "excess_db": number(step.excess_db),
        "remains": number(step.left),
        "left_right_db": number(step.left_right_db),
        "cost": number(step.cost),
    }


def _spending(spending: Spending) -> Row:
    return {
        "steps": [
            {
                "goal": step.goal.value,
                "panels": step.n_panels,
                "where": list(step.where),
                "cost": number(step.cost),
                "before": number(step.before),
                "predicted": number(step.after),
                "proven": number(step.proven),
                "target": number(step.target),
                "reason": str(step.reason),
            }
            for step in spending.steps
        ],
        "money_left": number(spending.money_left),
        "panels_left": spending.panels_left,
        "reason": str(spending.reason),
        "decay_s": {
            key: [number(float(value)) for value in values]
            for key, values in zip(
                ("fewest", "all", "least", "most"), (*spending.decay_s, *spending.target_s), strict=True
            )
        },
    }


def _peak_margin(margin: PeakMargin) -> Row:
    return {
        "speaker": margin.speaker,
        "seat": margin.seat,
        "by_way_of": list(margin.way),
        "delay_ms": number(1e3 * margin.delay_s),
        "before_db": number(margin.before_db),
        "predicted_db": number(margin.predicted_db),
        "proven_db": number(margin.proven_db),
    }


def _unreached(peak: Unreached) -> Row:
    return {
        "speaker": peak.speaker,
        "seat": peak.seat,
        "by_way_of": list(peak.way),
        "delay_ms": number(1e3 * peak.delay_s),
        "margin_db": number(peak.margin_db),
        "in_the_way": [{"surface": o.surface, "reason": str(o.reason)} for o in peak.obstacles],
    }


def _stand(proposal: Proposal, stand: Stability) -> Row:
    return {
        "name": proposal.after.room.panels[stand.panel].name,
        "mass_kg": number(stand.mass_kg),
        "leans": stand.leans,
        "push_n": number(stand.body.push_n),
        "push_at_least_n": number(stand.body.least_push_n),
        "tips_at_deg": number(stand.body.tips_at_deg),
        "foot_m": number(stand.body.foot_m),
    }


def proposal_tables(proposal: Proposal, *, units: str) -> Group:
    """What is proposed, what fewer panels bring, what was predicted and proven, and what remains.

    Parameters
    ----------
    proposal : Proposal
    units : str
        "metric" or "imperial".
    """
    change = compare(proposal.before, proposal.after)
    parts: list[Table | Text] = [Text(headline(change, only=proposal.seats), style="bold")]
    parts += [Text(why) for why in change.not_compared]
    parts += [Text(line) for line in (*other_seat_lines(proposal), *moved_lines(proposal, units))]
    if proposal.panels:
        parts += [Text(""), _panel_table(proposal, units), Text(SET_OUT_EXPLAINED, style="dim")]
        parts += [
            Text(""),
            _ladder_table(proposal),
            Text(LADDER_EXPLAINED + steps_leave_out(proposal), style="dim"),
        ]
        stop = None if proposal.stop is None else proposal.ladder[proposal.stop].n_panels
        if stop is not None and stop < proposal.ladder[-1].n_panels:
            parts.append(Text(f"After {stop} panels more of them bring little{_to_whom(proposal)}."))
    if proposal.spending is not None:
        parts += _spending_parts(proposal.spending, units)
    parts += cover_tables(proposal, units)
    if proposal.margins and proposal.is_new:
        parts += [Text(""), _margin_table(proposal.margins), Text(MARGINS_EXPLAINED, style="dim")]
        one, more = proposal.agreement_db
        agreed = f"Prediction and proof differ by at most {one:.1f} dB (one bounce), {more:.1f} dB (several)."
        parts.append(Text(agreed, style="dim"))
    if proposal.unreached:
        verdicts = {peak.verdict for peak in proposal.unreached}
        found = [
            *(["over the limit"] if "over" in verdicts else []),
            *([TOO_CLOSE] if "undecided" in verdicts else []),
        ]
        stays = f"Still {' or '.join(found)}, and what stands in the way:"
        parts += [Text(""), Text(stays, style="bold")]
        parts += [Text(line) for line in unreached_lines(proposal.unreached, units)]
        blocked = dict.fromkeys(o.surface for peak in proposal.unreached for o in peak.obstacles)
        parts += [Text(line) for line in furniture_advice(proposal.after, list(blocked))]
        parts += variant_tables(proposal, units)
    parts += _stand_lines(proposal, units)
    notes = (*proposal.notes, *proposal.after.room_notes)
    parts += notes_text((told(note, units) for note in notes), everything=False)
    if proposal.is_new:
        parts += [Text(""), *(Text(caution, style="dim") for caution in CAUTIONS)]
    return Group(*parts)


def _to_whom(proposal: Proposal) -> str:
    """Which seats a step of the ladder is about, where others got panels too."""
    if proposal.spending is not None:
        return " to early reflections; what the rest are for is told below"
    helped = [seat.name for seat in proposal.others if seat.excess_db[1] < seat.excess_db[0]]
    if not (proposal.is_shared and helped):
        return ""
    return f" to {' and '.join(proposal.seats)}; the rest serve {' and '.join(helped)}"


def other_seat_lines(proposal: Proposal) -> list[str]:
    """What became of seats that do not count, a sentence each.

    Parameters
    ----------
    proposal : Proposal
    """
    return [
        f'"{seat.name}" does not count here: {seat.n_over[0]} of its early reflections are over the limit '
        f"now, {seat.n_over[1]} with the panels."
        for seat in proposal.others
    ]


def _panel_table(proposal: Proposal, units: str) -> Table:
    builds = list(dict.fromkeys(build_words(panel) for panel in proposal.panels))
    of_build = f" of {builds[0]}" if len(builds) == 1 else ""
    head = ["panel", *([] if of_build else ["build"]), "wide x high", "set-out", "held by", "answers"]
    count = panels_words([panel.stacked for panel in proposal.panels])
    table = grid(head, title=f"Proposed: {count}{of_build}")
    for panel in proposal.panels:
        u, v = (format_length(float(value), units=units) for value in panel.centre_uv)
        own = proposal.after.room.panels[panel.panel]
        size = size_words((own.width_m, own.height_m), units)
        cells = [
            panel.name,
            *([] if of_build else [build_words(panel)]),
            size,
            f"{u} / {v}{before_words(panel, units)}",
            held_by(panel),
            panel.answers.reflection,
        ]
        table.add_row(*cells)
    return table


def build_words(panel: ProposedPanel) -> str:
    """The build of a proposed panel, and whether it is owned.

    Parameters
    ----------
    panel : ProposedPanel
    """
    made = panel.build if panel.stacked == 1 else f"{panel.stacked} x {panel.build}"
    return f"{made}, owned" if panel.is_owned else made


def before_words(panel: ProposedPanel, units: str) -> str:
    """How far before its surface a stand stands, as the rest of its set-out; nothing for all others.

    Parameters
    ----------
    panel : ProposedPanel
    units : {"metric", "imperial"}
    """
    if panel.kind != "stand" or panel.leans:
        return ""
    return f", {format_length(panel.before_m, units=units)} before it"


def held_by(panel: ProposedPanel) -> str:
    """What holds a proposed panel, in a few words.

    Parameters
    ----------
    panel : ProposedPanel
    """
    if panel.kind == "stand":
        return "leans" if panel.leans else "stands"
    timbers = "joists" if panel.n_hooks > 2 else "studs"  # two points hold what is on a wall
    if panel.n_battens:
        return f"{panel.n_battens} of {panel.n_hooks} hooks on battens"
    return timbers if panel.n_on_joists == panel.n_hooks else f"{timbers} not given"


def _ladder_table(proposal: Proposal) -> Table:
    priced = any(number(step.cost) is not None for step in proposal.ladder)
    figures = ("remains", "strongest", "L/R", *(["cost"] if priced else []))
    numbers = ("panels", *figures)
    table = grid(["panels", "where", *figures], numbers=numbers, title="What fewer panels bring")
    for k, step in enumerate(proposal.ladder):
        cells = [str(step.n_panels), ", ".join(step.panels), *_step_numbers(step)]
        cells += [f"{step.cost:.2f}"] if priced else []
        table.add_row(*cells, style="bold" if k == proposal.stop else None)
    return table


def _spending_parts(spending: Spending, units: str) -> list[Table | Text]:
    """How a budget is spent, what remains of it, and what it makes of the decay."""
    priced = any(number(step.cost) is not None for step in spending.steps)
    figures = ("before", "estimated", "recalculated")
    head = ["for", "panels", "where", *figures, *(["cost"] if priced else [])]
    table = grid(head, numbers=("panels", *figures, "cost"), title="Spent well, step by step")
    for step in spending.steps:
        cost = [f"{step.cost:.2f}" if number(step.cost) is not None else "-"] if priced else []
        table.add_row(*step_cells(step), *cost)
    decay = grid(["decay [s]", *BAND_NAMES_SHORT], numbers=BAND_NAMES_SHORT, title="Decay per octave band")
    rows = ("with the fewest panels", "with all of them", "target, at least", "target, at most")
    for name, values in zip(rows, (*spending.decay_s, *spending.target_s), strict=True):
        decay.add_row(name, *(seconds(float(value)) for value in values))
    why = [Text("Why no more of them:"), *(Text(f"    {line}") for line in reason_lines(spending, units))]
    rest = Text(rest_words(spending, units))
    return [Text(""), table, Text(STEPS_EXPLAINED, style="dim"), *why, rest, Text(""), decay]


def _step_numbers(step: Step) -> list[str]:
    return [remains(step), limit_side(step.worst_margin_db), _db(step.left_right_db)]


def remains(step: Step) -> str:
    """What is left of today's early sound over the limit, in per cent.

    Parameters
    ----------
    step : Step
    """
    return f"{100 * step.left:.0f} %" if not 0.0 < step.left < 0.01 else "< 1 %"


def _margin_table(margins: tuple[PeakMargin, ...]) -> Table:
    figures = ("ms", "before", "estimated", "recalculated")
    head = ("speaker", "seat", "by way of", *figures)
    table = grid(head, numbers=figures, title="Peaks near the limit")
    for margin in margins:
        numbers = [limit_side(value) for value in (margin.before_db, margin.predicted_db, margin.proven_db)]
        ms = f"{1e3 * margin.delay_s:.2f}"
        is_over = (number(margin.proven_db) or 0.0) < 0.0
        cells = (margin.speaker, margin.seat, joined_way(margin.way), ms, *numbers)
        table.add_row(*cells, style="bold" if is_over else None)
    return table


def _db(value: float) -> str:
    return "-" if number(value) is None else f"{value + 0.0:.1f}".replace("-0.0", "0.0")


def unreached_lines(unreached: tuple[Unreached, ...], units: str) -> list[str]:
    """Sentences on the peaks that stay over or near the limit and what stands in the way of panels there.

    Parameters
    ----------
    unreached : tuple of Unreached
    units : {"metric", "imperial"}
    """
    found: dict[str, list[str]] = {}
    for peak in unreached:
        reasons = "".join(f"\n    {o.surface}: {told(o.reason, units)}." for o in peak.obstacles)
        what = (
            f"at {peak.seat}, {', '.join(peak.way)}, {1e3 * peak.delay_s:.1f} ms: "
            f"{in_sentence(peak)}.{reasons}"
        )
        found.setdefault(what, []).append(peak.speaker)
    return [f"{' and '.join(who)} {what}" for what, who in found.items()]


def _stand_lines(proposal: Proposal, units: str) -> list[Text]:
    lines = []
    for stand in proposal.stability:
        name = proposal.after.room.panels[stand.panel].name
        lines.append(Text(f"{name}: {stand_words(stand, units)}."))
    return [Text(""), *lines] if lines else []

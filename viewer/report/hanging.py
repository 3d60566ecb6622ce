"""The installer's pages on hanging as plain data: what points carry, where they are, what tips stands."""

from collections.abc import Sequence

from raytrace import (
    PRACTICE,
    STRAP_N,
    Hook,
    PanelLoad,
    Room,
    Stability,
    Treatment,
    format_length,
    orientation,
)
from viewer.report.blocks import Block, Page, columns, items, jottings, keep, page, small, sub, table
from viewer.tables import name_words
from viewer.words import (
    cautions_beside,
    force_words,
    mass_figure,
    mass_words,
    push_words,
    stand_limits,
    told,
    works_of,
)

_A_LITRE = {
    "metric": "10 N is about what one litre of water weighs",
    "imperial": "2 lbf is about what one quart of water weighs",
}
_COUNTED = {"metric": "1 kg counted as 10 N", "imperial": "1 lb counted as 1.02 lbf"}  # 10 N to the kilogram
_PRACTICE = {
    "metric": "Stated practice, with its sources",
    "imperial": "Stated practice (DGUV, EU: European; local codes come first)",
}
_FIRST = small("Read the cautions behind these lists before anything is drilled or lifted.")
_TRIM_M = 0.003  # common practice, no source
_STRINGS = ("wire rope", "textile cord")


def hanging_pages(treatment: Treatment, *, units: str) -> list[Page]:
    """Loads, points with cords and joists, battens and stands; none where nothing is hung or stood up.

    Parameters
    ----------
    treatment : Treatment
    units : {"metric", "imperial"}
        Of every length and mass.
    """
    room = treatment.room
    blocks = _load_blocks(tuple(treatment.loads.values()), units)
    blocks += _stand_blocks(room, tuple(treatment.stability.values()), units)
    blocks += _hook_blocks(room, treatment.hooks, units) + _batten_blocks(treatment, units)
    if not blocks:
        return []
    if treatment.notes:
        blocks.append(items([told(note, units) for note in treatment.notes]))
    warned = [sub("Cautions"), columns(cautions_beside(works_of(treatment)))]
    if not treatment.hooks:
        return [page("To stand up", "What stands", [*blocks, *warned, jottings()])]
    # Together they are more than a third of a page, should they need one of their own.
    practice = [f"{told(text, units)} ({source})" for text, source in PRACTICE]
    last = keep([*warned, sub(_PRACTICE[units]), items(practice)])
    return [page("To hang", "Loads and hanging", [_FIRST, *blocks, last, jottings()])]


def _load_blocks(loads: Sequence[PanelLoad], units: str) -> list[Block]:
    """Loads per panel, equal ones together."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for load in loads:
        strongest, least = max(load.even_kg), min(load.even_kg)
        even = mass_words(strongest, units)
        if strongest - least > 0.05:
            even = f"{mass_figure(least, units)}–{even}"
        cells = (
            mass_words(load.piece.mass_kg, units),
            str(len(load.hooks)),
            even,
            mass_words(load.worst_kg, units),
            mass_words(load.pull_kg, units) if load.pull_kg else "–",
            mass_words(load.working_load_kg, units),
            *(mass_words(load.breaking_kg[kind], units) for kind in _STRINGS),
        )
        groups.setdefault(cells, []).append(load.name)
    if not groups:
        return []
    return [
        sub("What the hooks carry"),
        table(
            ("panels", "each weighs", "hooks", "shared by all", "worst on one", "pulls off the wall",
             "working load at least", *(f"{kind} breaks above" for kind in _STRINGS)),
            ("fill", *("narrow",) * (6 + len(_STRINGS))),
            [(name_words(names), *cells) for cells, names in groups.items()],
        ),
        small(
            "Each panel for itself. On four cords statics alone does not say what each one carries: a cord a "
            "little too long hangs slack. So the worst case is that two opposite hooks carry all, on a wall "
            "that one does. Working load: twice that, by the halving of “Stated practice”; breaking force: "
            f"where no working load is stated, {_COUNTED[units]}. Figures of statics, not an approval: a "
            "competent person chooses the fixings for what lies behind."
        ),
    ]  # fmt: skip


def _stand_blocks(room: Room, stability: Sequence[Stability], units: str) -> list[Block]:
    if not stability:
        return []
    rows = []
    for found in stability:
        body = found.body
        rests = "leans on blocks" if body.leans else "on feet"
        rows.append(
            (
                room.panels[found.panel].name,
                mass_words(body.mass_kg, units),
                f"{rests}, {format_length(body.foot_m, units=units)}",
                format_length(float(body.centre[1]), units=units),
                push_words(found, units),
                f"{body.tips_at_deg:.0f}°",
                f"{found.n_straps}" if found.n_straps else "–",
            )
        )
    return [
        sub("When standing panels tip"),
        table(
            ("stand", "weighs", "stands", "middle up", "tips at a push of", "turned by", "straps"),
            ("fill", "right", "left", "right", "left", "right", "right"),
            rows,
        ),
        small(
            f"Panels, legs and feet together, on a level and rough floor; {_A_LITRE[units]}. Straps: to "
            f"structure in the wall, each for {force_words(STRAP_N, units)}. {stand_limits(units)}"
        ),
    ]


def _hook_blocks(room: Room, hooks: Sequence[Hook], units: str) -> list[Block]:
    """Every point with its place, cord and joist: ceilings one by one, walls and slopes together."""
    tables: dict[str, list[Hook]] = {}
    for hook in hooks:
        surface = room.surfaces[hook.surface]
        is_level = orientation(surface.frame.n).is_level
        tables.setdefault(surface.name if is_level else "", []).append(hook)
    blocks: list[Block] = []
    for name, own in tables.items():
        corded = any(hook.kind == "cord" for hook in own)
        title = f"Hooks on the {name}" if name else "Hooks on walls and slopes, facing each"
        edges = ("from front wall", "from left wall") if name else ("from left edge", "from bottom")
        head = ("hook", *(() if name else ("on",)), *edges, *(("cord",) if corded else ()), "holds in")
        columns = ("fill", *(() if name else ("left",)), "right", "right", *(("right",) if corded else ()))
        rows = [_hook_row(room, hook, units, corded=corded, placed=not name) for hook in own]
        listed = table((*head, "as built", ""), (*columns, "left", "write", "tick"), rows)
        blocks += [sub(title), listed]
    if any(hook.kind == "cord" for hook in hooks):
        blocks.append(
            small(
                "Cord: from the eyelet on the panel's back to the surface straight above, nothing added for "
                f"knots. Cut each for its own hook, trim level to {format_length(_TRIM_M, units=units)} "
                "(common practice)."
            )
        )
    return blocks


def _hook_row(room: Room, hook: Hook, units: str, *, corded: bool, placed: bool) -> tuple[str, ...]:
    u, v = (format_length(float(x), units=units) for x in hook.anchor_uv)
    cord = format_length(hook.cord_m, units=units) if hook.kind == "cord" else "–"
    where = (room.surfaces[hook.surface].name,) if placed else ()
    return (hook.name, *where, u, v, *((cord,) if corded else ()), _structure(hook, units), "", "")


def _batten_blocks(treatment: Treatment, units: str) -> list[Block]:
    """Where battens run across joists, and what each carries."""
    rows = []
    for batten in treatment.battens:
        surface = treatment.room.surfaces[batten.surface]
        is_level = orientation(surface.frame.n).is_level
        names = ("from front wall", "from left wall") if is_level else ("from left edge", "from bottom")
        ends = [[format_length(float(x), units=units) for x in end] for end in batten.ends_uv]
        first, second = (
            f"{low} {name}" if low == high else f"{low} to {high} {name}"
            for low, high, name in zip(*ends, names, strict=True)
        )
        length = format_length(batten.length_m, units=units)
        held = name_words([hook.name for hook in batten.hooks])
        rows.append((surface.name, f"{first}, {second}", length, held, ""))
    if not rows:
        return []
    columns = ("left", "left", "right", "fill", "tick")
    return [
        sub("Battens across joists"),
        table(("on", "from end to end, middle line", "length", "carries", ""), columns, rows),
        small("Screwed to each joist they cross; section and screws for a competent person to choose."),
    ]


def _structure(hook: Hook, units: str) -> str:
    if hook.joist is not None:
        return f"joist {hook.joist + 1}"
    if hook.batten:
        return f"batten across joists, {format_length(hook.to_joist_m, units=units)} off the nearest"
    return "structure to be found"

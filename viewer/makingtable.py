"""What to buy, cut and hang, as others read it: one JSON object, one CSV table, tables for the terminal."""

import csv
import io
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import (
    CAUTIONS,
    LOCAL_CODES_FIRST,
    Batten,
    Hook,
    Making,
    PanelLoad,
    Room,
    Scene,
    Stability,
    TimberCut,
    find_battens,
    find_hooks,
    find_loads,
    find_stability,
    format_length,
    hook_notes,
    list_making,
)

Row = dict[str, Any]


@dataclass(frozen=True)
class Worklist:
    """What a workshop and an installer need of one scene; `notes` are those on hooks."""

    scene: Scene
    room: Room
    making: Making
    hooks: tuple[Hook, ...]
    battens: tuple[Batten, ...]
    loads: tuple[PanelLoad, ...]
    stability: tuple[Stability, ...]
    notes: tuple[str, ...]


def make_worklist(scene: Scene, room: Room) -> Worklist:
    """Everything there is to make and to hang in a scene."""
    hooks = find_hooks(scene, room)
    return Worklist(
        scene,
        room,
        list_making(scene, room, hooks),
        hooks,
        find_battens(scene, room, hooks),
        find_loads(room, hooks),
        find_stability(room),
        hook_notes(scene, room, hooks),
    )


def mass_words(kilograms: float, units: str) -> str:
    """A mass for people: kilograms to a tenth, or pounds."""
    return f"{kilograms:.1f} kg" if units == "metric" else f"{kilograms / 0.45359237:.1f} lb"


def size_words(size: Sequence[float], units: str) -> str:
    """Sides of something, the unit said once where it can be."""
    if units == "imperial":
        return " x ".join(format_length(side, units=units) for side in size)
    return " x ".join(f"{1000 * side:.0f}" for side in size) + " mm"


def name_words(names: Sequence[str]) -> str:
    """Names with what neighbours share said once: "cloud A1, A2, left"."""
    shown: list[str] = []
    before = ""
    for name in names:
        group, _, last = name.rpartition(" ")
        shown.append(last if group and group == before else name)
        before = group
    return ", ".join(shown)


def stick_rows(timber: TimberCut, units: str) -> list[tuple[int, float, str, float]]:
    """Equal sticks together: how many, stock length [m], the cuts in words, offcut [m]."""
    lengths = timber.lengths
    kinds: Counter[tuple[float, str, float]] = Counter()
    for stick in timber.nesting.sticks:
        cuts = Counter(format_length(lengths[k][1], units=units).removesuffix(" mm") for k in stick.parts)
        words = " + ".join(f"{count} x {cut}" if count > 1 else cut for cut, count in cuts.items())
        kinds[stick.stock_m, words, round(stick.offcut_m, 4)] += 1
    return [(count, stock, words, offcut) for (stock, words, offcut), count in kinds.items()]


def bought(timber: TimberCut) -> dict[float, int]:
    """How many of each stock length to buy, longest first."""
    counter = Counter(stick.stock_m for stick in timber.nesting.sticks)
    return dict(sorted(counter.items(), reverse=True))


def making_json(worklist: Worklist) -> Row:
    """Everything as plain numbers, lengths in metres, masses in kilograms, null where there is no number."""
    room, making = worklist.room, worklist.making
    return {
        "scene": worklist.scene.title,
        "panels": [
            {
                "build": batch.build_name,
                "hung": batch.hung,
                "names": list(batch.names),
                "outer_m": list(batch.piece.outer_m),
                "mass_kg": batch.piece.mass_kg,
            }
            for batch in making.batches
        ],
        "timber": [_timber_json(timber) for timber in making.timber],
        "slabs": [
            {
                "what": slabs.text,
                "size_m": list(slabs.size_m),
                "needed": slabs.needed,
                "per_pack": slabs.per_pack,
                "packs": slabs.packs,
            }
            for slabs in making.slabs
        ],
        "cloth": [
            {"what": c.label, "size_m": list(c.size_m), "count": c.count, "roll_m": c.roll_m}
            for c in making.cloth
        ],
        "boards": [{"what": what, "count": count} for what, count in making.boards],
        "fixings": [{"what": what, "how_much": much} for what, much in making.fixings],
        "tools": list(making.tools),
        "protection": list(making.protection),
        "mass_kg": making.mass_kg,
        "price": making.price,
        "fits_access": making.fits_access,
        "hooks": [_hook_json(room, hook) for hook in worklist.hooks],
        "battens": [
            {
                "surface": room.surfaces[batten.surface].name,
                "ends_uv_m": batten.ends_uv.tolist(),
                "length_m": batten.length_m,
                "hooks": list(batten.hooks),
            }
            for batten in worklist.battens
        ],
        "loads": [_load_json(room, load) for load in worklist.loads],
        "stands": [
            {
                "panel": room.panels[found.panel].name,
                "mass_kg": found.mass_kg,
                "leans": found.leans,
                "to_wall_m": _number(found.to_wall_m),
                "off_wall_n": _number(found.off_wall_n),
                "push_n": found.push_n,
                "tips_at_deg": found.tips_at_deg,
                "foot_m": found.foot_m,
            }
            for found in worklist.stability
        ],
        "notes": [*making.notes, *worklist.notes],
        "cautions": list(CAUTIONS),
    }


def _timber_json(timber: TimberCut) -> Row:
    lengths = timber.lengths
    return {
        "name": timber.timber.name,
        "thickness_m": timber.timber.thickness_m,
        "depth_m": timber.timber.depth_m,
        "parts": [{"what": p.label, "length_m": p.length_m, "count": p.count} for p in timber.parts],
        "sticks": [
            {
                "stock_m": stick.stock_m,
                "cuts_m": [lengths[k][1] for k in stick.parts],
                "offcut_m": stick.offcut_m,
            }
            for stick in timber.nesting.sticks
        ],
        "too_long_m": [lengths[k][1] for k in timber.nesting.too_long],
    }


def _hook_json(room: Room, hook: Hook) -> Row:
    return {
        "name": hook.name,
        "kind": hook.kind,
        "surface": room.surfaces[hook.surface].name,
        "u_m": float(hook.anchor_uv[0]),
        "v_m": float(hook.anchor_uv[1]),
        "anchor_m": [float(x) for x in hook.anchor],
        "eyelet_m": [float(x) for x in hook.eyelet],
        "cord_m": _number(hook.cord_m),
        "joist": None if hook.joist is None else hook.joist + 1,
        "to_joist_m": _number(hook.to_joist_m),
        "batten": hook.batten,
    }


def _load_json(room: Room, load: PanelLoad) -> Row:
    return {
        "panel": room.panels[load.panel].name,
        "mass_kg": load.piece.mass_kg,
        "hooks": [hook.name for hook in load.hooks],
        "even_kg": [float(x) for x in load.even_kg],
        "worst_kg": load.worst_kg,
        "pull_kg": load.pull_kg,
        "working_load_limit_at_least_kg": load.working_load_kg,
        "breaking_force_at_least_kg": load.breaking_kg,
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


CSV_HEAD = (
    "section",
    "what",
    "for",
    "count",
    "length_mm",
    "width_mm",
    "thickness_mm",
    "from_stock_mm",
    "text",
)


def making_csv(making: Making) -> str:
    """Shopping and cut list with one line each; lengths in millimetres.

    Sections: panel, buy timber, cut (one line per equal parts), stick (how one length is cut), buy wool,
    buy cloth, buy board, fixing, tool, protection.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(CSV_HEAD)
    for row in _csv_rows(making):
        writer.writerow([row.get(key, "") for key in CSV_HEAD])
    return text.getvalue()


def _csv_rows(making: Making) -> list[Row]:
    rows: list[Row] = []
    for batch in making.batches:
        words = f"{batch.piece.mass_kg:.2f} kg each"
        rows.append(
            {"section": "panel", "what": batch.build_name, "for": "; ".join(batch.names)}
            | {"count": len(batch.names), "text": words, **_sides(batch.piece.outer_m)}
        )
    for timber in making.timber:
        section = {"width_mm": _mm(timber.timber.depth_m), "thickness_mm": _mm(timber.timber.thickness_m)}
        name = timber.timber.name
        for stock, count in bought(timber).items():
            rows.append(
                {"section": "buy timber", "what": name, "count": count, "length_mm": _mm(stock), **section}
            )
        for part in timber.parts:
            rows.append(
                {"section": "cut", "what": name, "for": part.label, "count": part.count}
                | {"length_mm": _mm(part.length_m), **section}
            )
        for count, stock, cuts, offcut in stick_rows(timber, "metric"):
            rows.append(
                {"section": "stick", "what": name, "count": count, "from_stock_mm": _mm(stock)}
                | {"text": f"{cuts}; offcut {_mm(offcut)}"}
            )
    for slabs in making.slabs:
        words = f"{slabs.needed} slabs, {slabs.per_pack} in a pack"
        rows.append(
            {"section": "buy wool", "what": slabs.text, "count": slabs.packs, "text": words}
            | _sides(slabs.size_m)
        )
    for cloth in making.cloth:
        rows.append(
            {"section": "buy cloth", "what": cloth.label, "count": cloth.count}
            | {"text": f"{cloth.roll_m:.2f} m of roll", **_sides(cloth.size_m)}
        )
    rows += [{"section": "buy board", "what": what, "count": count} for what, count in making.boards]
    rows += [{"section": "fixing", "what": what, "text": much} for what, much in making.fixings]
    rows += [{"section": "tool", "what": tool} for tool in making.tools]
    rows += [{"section": "protection", "what": what} for what in making.protection]
    return rows


def _mm(metres: float) -> str:
    return f"{1000 * metres:.1f}".removesuffix(".0")


def _sides(size: Sequence[float]) -> Row:
    return dict(zip(("length_mm", "width_mm", "thickness_mm"), map(_mm, size), strict=False))


def making_tables(worklist: Worklist, *, units: str) -> Group:
    """What to buy and to cut, loads per panel, notes below."""
    room, making, loads = worklist.room, worklist.making, worklist.loads
    if not making.batches:
        return Group(Text("The scene holds no panels, stands or clouds: there is nothing to make."))
    panels = _table("Panels", "build", "count", "outer size", "each", "all")
    for batch in making.batches:
        panels.add_row(
            f"{batch.build_name}{', on cords' if batch.hung else ''}",
            str(len(batch.names)),
            size_words(batch.piece.outer_m, units),
            mass_words(batch.piece.mass_kg, units),
            mass_words(batch.mass_kg, units),
        )
    timber = _table("Timber", "buy", "length", "cuts, in mm" if units == "metric" else "cuts", "offcut")
    for cut in making.timber:
        for count, stock, words, offcut in stick_rows(cut, units):
            timber.add_row(
                f"{count} x {cut.timber.name}",
                format_length(stock, units=units),
                words,
                format_length(offcut, units=units),
            )
    rest = _table("Also", "what", "how much")
    for what, much in shopping_rows(making, units):
        rest.add_row(what, much)
    hung = _table("Loads", "panel", "mass", "points", "worst on one", "working load limit at least")
    for load in loads:
        hung.add_row(
            room.panels[load.panel].name,
            mass_words(load.piece.mass_kg, units),
            str(len(load.hooks)),
            mass_words(load.worst_kg, units),
            mass_words(load.working_load_kg, units),
        )
    parts: list[Table | Text] = [panels, Text(""), timber, Text(""), rest]
    if loads:
        parts += [Text(""), hung]
    stands = _table(
        "Stands", "panel", "mass", "upright, tips at a push of", "turned by", "foot for 10 degrees"
    )
    for found in worklist.stability:
        stands.add_row(
            room.panels[found.panel].name,
            mass_words(found.mass_kg, units),
            f"{found.push_n:.0f} N",
            f"{found.tips_at_deg:.1f} degrees",
            format_length(found.foot_m, units=units),
        )
    if worklist.stability:
        parts += [Text(""), stands]
    parts += [Text(""), Text(f"All panels together: {mass_words(making.mass_kg, units)}.")]
    parts += [Text(line) for line in money_and_access(making, units)]
    lines = [*making.notes, *worklist.notes, LOCAL_CODES_FIRST]
    return Group(*parts, Text(""), *(Text(f"Note: {note}", style="dim") for note in lines))


def _table(title: str, *columns: str) -> Table:
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    for column in columns:
        table.add_column(column)
    return table


def shopping_rows(making: Making, units: str) -> list[tuple[str, str]]:
    """Everything to buy that is not timber."""
    rows = [
        (
            f"{slabs.text}, {size_words(slabs.size_m, units)}",
            f"{slabs.packs} {'pack' if slabs.packs == 1 else 'packs'} of {slabs.per_pack}, "
            f"{slabs.needed} needed",
        )
        for slabs in making.slabs
    ]
    for cloth in making.cloth:
        length = format_length(math.ceil(10 * cloth.roll_m - 1e-6) / 10, units=units, style="m")
        rows.append((f"cloth, {cloth.label}: {cloth.count} of {size_words(cloth.size_m, units)}", length))
    rows += [(what, str(count)) for what, count in making.boards]
    return [*rows, *making.fixings]


def money_and_access(making: Making, units: str) -> list[str]:
    """What it costs as far as prices are given, and whether the largest panel goes in."""
    lines = []
    if making.price is not None:
        without = f", without {', '.join(making.unpriced)}" if making.unpriced else ""
        lines.append(f"Price of the panels as the scene states it: {making.price:g}{without}.")
    if making.largest is not None:
        size = size_words(making.largest.piece.outer_m, units)
        line = f"Largest piece: {making.largest.build_name}, {size}"
        if making.fits_access is None:
            line += "; the way in is not stated."
        elif making.fits_access:
            line += "; it goes lengthways through the stated way in. Try the turn behind it with a lath."
        else:
            line += "; it does not go through the stated way in: make it inside, or of two parts."
        lines.append(line)
    return lines

"""What to buy, cut and hang, as others read it: one JSON object, one CSV table."""

import math
from collections.abc import Sequence
from typing import Any

from raytrace import (
    CAUTIONS,
    TAKE_UP_M,
    Batten,
    BillOfMaterials,
    Hook,
    PanelLoad,
    Raft,
    Room,
    Stability,
    TimberCut,
    Treatment,
    rail_span_m,
)
from viewer.tables.csvtext import csv_text
from viewer.tables.worklist import NOTHING_TO_MAKE, bought, stick_rows
from viewer.words import cautions_beside, works_of

Row = dict[str, Any]


def making_json(treatment: Treatment) -> Row:
    """Everything as plain numbers, lengths in metres, masses in kilograms, null where there is no number."""
    room, making = treatment.room, treatment.bill_of_materials
    return {
        "scene": treatment.scene.title,
        **_goods_json(making),
        "hooks": [_hook_json(room, hook) for hook in treatment.hooks],
        "battens": [_batten_json(room, batten) for batten in treatment.battens],
        **({"rafts": [_raft_json(treatment, raft) for raft in treatment.rafts]} if treatment.rafts else {}),
        "loads": [_load_json(load) for load in treatment.loads.values()],
        "stands": [_stand_json(room, found) for found in treatment.stability.values()],
        "notes": [str(note) for note in (*making.notes, *treatment.notes)],
        "cautions": list(CAUTIONS),
    }


def _goods_json(making: BillOfMaterials) -> Row:
    """What is made, bought and carried."""
    return {
        "panels": [
            {
                "build": batch.build_name,
                "hung": batch.hung,
                "owned": batch.owned,
                "names": list(batch.names),
                "outer_m": list(batch.piece.outer_m),
                "mass_kg": batch.piece.mass_kg,
            }
            | ({} if batch.raft is None else {"raft": batch.raft.name})
            for batch in making.batches
        ],
        "left_over": dict(making.left_over),
        "timber": [_timber_json(timber) for timber in making.timber],
        "slabs": [
            {"what": str(slabs.text), "size_m": list(slabs.size_m), "needed": slabs.needed}
            | {"per_pack": slabs.per_pack, "packs": slabs.packs}
            for slabs in making.slabs
        ],
        "cloth": [
            {"what": c.label, "size_m": list(c.size_m), "count": c.count, "roll_m": c.roll_m}
            for c in making.cloth
        ],
        "boards": [{"what": str(what), "count": count} for what, count in making.boards],
        "fixings": [{"what": str(what), "how_much": str(much)} for what, much in making.fixings],
        "covers": [
            {"what": own.cover, "for": own.place, "size_m": list(own.size_m), "price": own.price}
            for own in making.covers
        ],
        "tools": [str(tool) for tool in making.tools],
        "protection": [str(item) for item in making.protection],
        "mass_kg": making.mass_kg,
        "price": making.price,
        "fits_access": making.fits_access,
    }


def _batten_json(room: Room, batten: Batten) -> Row:
    return {
        "surface": room.surfaces[batten.surface].name,
        "ends_uv_m": batten.ends_uv.tolist(),
        "length_m": batten.length_m,
        "hooks": [hook.name for hook in batten.hooks],
    }


def _stand_json(room: Room, found: Stability) -> Row:
    body = found.body
    return {
        "panel": room.panels[found.panel].name,
        "mass_kg": found.mass_kg,
        "leans": found.leans,
        "to_wall_m": _number(found.to_wall_m),
        "centre_m": {"ahead": float(body.centre[0]), "up": float(body.centre[1])},
        "push_n": body.push_n,
        "push_at_least_n": body.least_push_n,
        "push_height_m": body.push_height_m,
        "tips_at_deg": body.tips_at_deg,
        "foot_m": body.foot_m,
        "foot_ahead_m": list(body.foot),
        "top_m": body.top_m,
        "straps": found.n_straps,
        "parts": [{"what": p.name, "length_m": p.length_m, "count": p.count} for p in body.timber],
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


def _raft_json(treatment: Treatment, raft: Raft) -> Row:
    """One frame for many slabs: its timbers and what they span, beside what their stiffness allows."""
    own = [hook for hook in treatment.hooks if hook.raft is not None and hook.raft.name == raft.name]
    return {
        "name": raft.name,
        "slabs": [treatment.room.panels[k].name for k in raft.panels],
        "outer_m": list(raft.piece.outer_m),
        "mass_kg": raft.piece.mass_kg,
        "rail_m": raft.rail_m,
        "rail_span_m": rail_span_m(raft, own),
        "rail_span_at_most_m": raft.most_rail_m,
        "bars_from_slab_edge_m": list(raft.bars.along_m),
        "bars_on_edge": raft.bars.on_edge,
        "bar_span_m": raft.bar_span_m,
        "bar_span_at_most_m": raft.bars.most_m,
        "hooks": [hook.name for hook in own],
        "take_up_at_least_m": TAKE_UP_M,
    }


def _load_json(load: PanelLoad) -> Row:
    return {
        "panel": load.name,
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


def making_csv(treatment: Treatment) -> str:
    """Shopping and cut list with one line each; lengths in millimetres.

    Sections: panel, buy timber, cut (one line per equal parts), stick (how one length is cut), buy wool,
    buy cloth, buy board, fixing, buy cover, tool, protection, caution.
    """
    rows = _csv_rows(treatment.bill_of_materials)
    rows += [{"section": "caution", "text": text} for text in cautions_beside(works_of(treatment))]
    return csv_text([CSV_HEAD, *([row.get(key) for key in CSV_HEAD] for row in rows)])


def _csv_rows(making: BillOfMaterials) -> list[Row]:
    rows: list[Row] = []
    for batch in making.batches:
        words = f"{NOTHING_TO_MAKE}; " * batch.owned + f"{batch.piece.mass_kg:.2f} kg each"
        words += "" if batch.raft is None else f", one raft of {len(batch.names)} slabs"
        rows.append(
            {"section": "panel", "what": batch.build_name, "for": "; ".join(batch.names)}
            | {"count": batch.n_made, "text": words, **_sides(batch.piece.outer_m)}
        )
    for timber in making.timber:
        rows += _timber_rows(timber)
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
    rows += [
        {"section": "buy cover", "what": own.cover, "for": own.place, "count": 1}
        | {"length_mm": round(1e3 * own.size_m[0], 1), "width_mm": round(1e3 * own.size_m[1], 1)}
        for own in making.covers
    ]
    rows += [{"section": "tool", "what": tool} for tool in making.tools]
    rows += [{"section": "protection", "what": what} for what in making.protection]
    return rows


def _timber_rows(timber: TimberCut) -> list[Row]:
    rows: list[Row] = []
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
    return rows


def _mm(metres: float) -> str:
    return f"{1000 * metres:.1f}".removesuffix(".0")


def _sides(size: Sequence[float]) -> Row:
    return dict(zip(("length_mm", "width_mm", "thickness_mm"), map(_mm, size), strict=False))

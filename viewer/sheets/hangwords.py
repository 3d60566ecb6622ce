"""What an installer reads beside a drawing: panels and hooks as tables, what to know and do, cautions."""

import math
from collections.abc import Sequence

import numpy as np

from raytrace import (
    ACROSS_JOISTS,
    TAKE_UP_M,
    Hook,
    PlacedPanel,
    Raft,
    Treatment,
    feet_notes,
    format_length,
    hook_notes,
    owned_notes,
)
from viewer.paper import Cell, Strip, bullet, heading, paragraph, table, tick_line
from viewer.sheets.elevation import Obstacle
from viewer.sheets.faceview import LEFT, LOWER, RIGHT, UPPER
from viewer.sheets.treatment import View, foot
from viewer.words import (
    Work,
    cautions_beside,
    first_of_all,
    is_high,
    length_figure,
    mass_figure,
    mass_unit,
    stand_limits,
    stand_words,
    told,
)

_TABLE_MM = {"metric": 132.0, "imperial": 129.0}  # two of them stand side by side on A4 and on Letter
CAUTIONS_TITLE = "Cautions"

# The usual way of working (common practice, no source).
_HANG = (
    "Tape width and length of the room against the plan. More than {far} out: stop and ask.",
    "{joists}",
    "Mark every hook from both datum walls; the four marks of a panel have equal diagonals within {near}.",
    "Chalk the outline on the floor and plumb the marks up with a line or laser: both ways must meet.",
    "Fix battens and hooks in structure only; a competent person checks them before anything hangs.",
    "Cut the cords before climbing: the length in the list is from eyelet to hook; add what the knots take.",
    "Lift with two persons, hang, fit the second, independent support.",
    "Check the underside against its height above the floor at all corners.",
    "Write what was built beside each figure and tick it off.",
)
_MOUNT = (
    "Tape the whole width and height of the surface against the sheet. More than {far} out: stop and ask.",
    "Strike the level line; measure heights from it, floors are seldom level.",
    "{joists}",
    "Mark the edges of each panel and its hooks from both datum edges; the marks must meet within {near}.",
    "Fix the hooks in what can hold them, hang the panel, check that nobody lifts it off by accident.",
    "Write what was built beside each figure and tick it off.",
)
_STAND = (
    "Clear the floor and tape the room against the plan. More than {far} out: stop and ask.",
    "Mark both ends of each lower front edge from both datum walls, and where the feet reach.",
    "Put each stand together as drawn, upright where it is to stand: legs with their feet first, then the "
    "panels from the lowest up; pads under both ends of every foot or block.",
    "Set it on its marks; it must not rock, and doors, ways out and heaters stay clear.",
    "Strap it to structure where the list says so; push at its top by hand before anyone sits near it.",
    "Write what was built beside each figure and tick it off.",
)


def table_mm(units: str) -> float:
    """Width of every table beside a drawing. [mm]"""
    return _TABLE_MM[units]


def tables(view: View, treatment: Treatment, units: str) -> list[Strip]:
    """Tables of the panels and hooks of one drawing."""
    strips: list[Strip] = []
    wide = table_mm(units)
    if view.kind == "floor":
        return [heading("Stands", wide), *_feet(view, treatment, units)]
    if view.listed:
        rows = [_panel_row(view, treatment, k, units) for k in view.listed]
        rows += [_raft_row(view, treatment, raft, units) for raft in _rafts_of(view, treatment)]
        strips += [heading("Panels", wide), *table(_panel_cells(view, units), rows)]
    if view.hooks:
        rows = [_hook_row(view, treatment, hook, units) for hook, _ in view.hooks]
        strips += [heading("Hooks", wide), *table(_hook_cells(view, units), rows)]
    rows = [_obstacle_row(view, obstacle, units) for obstacle in view.obstacles if not obstacle.is_keep_out]
    if rows:
        strips += [heading("Windows and doors", wide), *table(_obstacle_cells(view, wide), rows)]
    return strips


def datum_words(view: View, *, what: str = "") -> tuple[str, str]:
    """From where the first and the second figure of `what` are measured: "from left wall"."""
    start = f"{what} from" if what else "from"
    if view.kind != "face":
        return f"{start} front wall", f"{start} left wall"
    assert view.face is not None
    neighbours = view.face.neighbours
    if view.face.is_plan:
        return f"{start} front side", f"{start} left side"
    left = f"{start} {neighbours[LEFT] or 'left edge'}"
    if view.face.is_overhead:
        return left, "up the slope"
    return left, f"{start} {'floor' if neighbours[LOWER] == 'floor' else 'lower edge'}"


def place_of(view: View, hook: Hook) -> tuple[float, float]:
    """Distances of a hook from both datum walls or edges. [m]"""
    a, b = hook.anchor[:2] if view.kind == "ceiling" else hook.anchor_uv
    return float(a), float(b)


def edges_of(view: View, index: int) -> tuple[float, float]:
    """Distances of a panel's near edges from both datum walls or edges. [m]"""
    low, high = view.panels[index].min(axis=0), view.panels[index].max(axis=0)
    if view.datum_on_top:
        return float(low[1]), float(low[0])
    return float(low[0]), float(view.height_m - high[1])


def _panel_cells(view: View, units: str) -> list[Cell]:
    unit = mass_unit(units)
    first, second = datum_words(view, what="edge")
    if view.kind == "ceiling":
        under = Cell("underside above floor", 20.0 if units == "metric" else 17.0, "figure")
        height = [under, Cell("gap behind", 11, "figure")]
        last = [Cell("tilt", 9, "figure"), Cell(unit, 8, "figure"), Cell(f"{unit} on one hook", 11, "figure")]
    else:
        height = [Cell("gap behind", 14, "figure"), Cell("", 2)]
        last = [Cell(unit, 11, "figure"), Cell(f"{unit} on one hook", 14, "figure")]
        last += [] if _is_overhead(view) else [Cell(f"{unit} pull out", 12, "figure")]
    edge = 12.5 if units == "metric" else 16.0
    named = table_mm(units) - 26.0 - 2.0 * edge - sum(cell.width_mm for cell in (*height, *last))
    return [
        Cell("panel", named),
        Cell("w x h x deep", 26),
        Cell(first, edge, "figure"),
        Cell(second, edge, "figure"),
        *height,
        *last,
    ]


def _panel_row(view: View, treatment: Treatment, index: int, units: str) -> list[str]:
    panel = treatment.room.panels[index]
    load = None if panel.in_raft else treatment.loads.get(index)
    row = [panel.name, _size(panel, units), *(length_figure(x, units) for x in edges_of(view, index))]
    mass = "" if load is None else mass_figure(load.piece.mass_kg, units)
    worst = "" if load is None else mass_figure(load.worst_kg, units)
    gap = "" if math.isnan(panel.gap_m) else length_figure(panel.clear_m, units)
    if view.kind == "ceiling":
        under, tilt = _under_and_tilt(treatment, panel.corners, panel, units)
        return [*row, under, gap, tilt, mass, worst]
    pull = "" if load is None else mass_figure(load.pull_kg, units)
    return [*row, gap, "", mass, worst, *([] if _is_overhead(view) else [pull])]


def _under_and_tilt(
    treatment: Treatment, underside: np.ndarray, panel: PlacedPanel, units: str
) -> tuple[str, str]:
    """How high the corners of an underside (n, 3) are above the floor [m], and how far it is tilted."""
    heights = underside[:, 2] - treatment.room.bounds[0][2]
    low, high = length_figure(float(heights.min()), units), length_figure(float(heights.max()), units)
    tilt = math.degrees(math.acos(min(1.0, -float(panel.normal[2]))))
    return low if low == high else f"{low} – {high}", f"{tilt:.1f}°" if tilt > 0.05 else "0"


def _rafts_of(view: View, treatment: Treatment) -> list[Raft]:
    """The rafts that are set out on a sheet."""
    return [raft for raft in treatment.rafts if raft.panels[0] in view.listed]


def _raft_row(view: View, treatment: Treatment, raft: Raft, units: str) -> list[str]:
    """All of a raft as a row below its slabs: outer size, outer edges, what it weighs."""
    load, whole = treatment.loads[raft.panels[0]], raft.whole
    outline = np.concatenate(view.rafts[raft.panels[0]])
    low = outline.min(axis=0)
    sides = [length_figure(x, units) for x in raft.piece.outer_m]
    size = " ".join((side + (" x" if k < 2 else "")).replace(" ", "\u00a0") for k, side in enumerate(sides))
    under, tilt = _under_and_tilt(treatment, raft.underside, whole, units)
    edges = (length_figure(float(x), units) for x in low[::-1])
    masses = mass_figure(load.piece.mass_kg, units), mass_figure(load.worst_kg, units)
    return [f"{raft.name}, the raft", size, *edges, under, length_figure(whole.clear_m, units), tilt, *masses]


def _size(panel: PlacedPanel, units: str) -> str:
    """Width and height of the wool, depth as made, of a bare slab in a raft its own.

    Lines break between them, never inside a figure.
    """
    deep_m = panel.thickness_m if panel.in_raft else panel.depths.outer_m
    sides = (panel.width_m, panel.height_m, deep_m)
    return " ".join(
        (length_figure(x, units) + (" x" if k < 2 else "")).replace(" ", "\u00a0")
        for k, x in enumerate(sides)
    )


def _hook_cells(view: View, units: str) -> list[Cell]:
    first, second = datum_words(view)
    hangs = any(hook.kind == "cord" for hook, _ in view.hooks)
    return [
        Cell("hook", 27),
        Cell(first, 15, "figure"),
        Cell(second, 15, "figure"),
        Cell("cord" if hangs else "gap", 14, "figure"),
        Cell("", 3),
        Cell("held by", 25),
        Cell(mass_unit(units), 7, "figure"),
        Cell("", 2),
        Cell("as built", table_mm(units) - 114.0, "empty"),
        Cell("", 6, "tick"),
    ]


def _hook_row(view: View, treatment: Treatment, hook: Hook, units: str) -> list[str]:
    load = treatment.loads.get(hook.panel)
    off = hook.cord_m if hook.kind == "cord" else float(np.linalg.norm(hook.anchor - hook.eyelet))
    even = ""
    if load is not None:
        keys = [other.key for other in load.hooks]
        even = mass_figure(load.even_kg[keys.index(hook.key)], units)
    places = (length_figure(x, units) for x in place_of(view, hook))
    held = _held_by(treatment, hook, units)
    return [hook.name, *places, length_figure(off, units), "", held, even, "", "", ""]


def _held_by(treatment: Treatment, hook: Hook, units: str) -> str:
    if hook.joist is not None:
        return f"joist {hook.joist + 1}"
    if not hook.batten:
        return "find structure"
    carried = {other.key for batten in treatment.battens for other in batten.hooks}
    return f"batten, {length_figure(hook.to_joist_m, units)} off" if hook.key in carried else "beyond joists"


def _obstacle_cells(view: View, wide: float) -> list[Cell]:
    first, second = datum_words(view, what="edge")
    size = "w x h in plan" if view.kind == "ceiling" else "w x h"  # a slope's are shorter there
    return [Cell("what", wide - 84.0), Cell(size, 40), Cell(first, 22, "figure"), Cell(second, 22, "figure")]


def _obstacle_row(view: View, obstacle: Obstacle, units: str) -> list[str]:
    """Size and near edges of an opening."""
    low, high = obstacle.outline.min(axis=0), obstacle.outline.max(axis=0)
    size = " x ".join(length_figure(float(x), units) for x in high - low)
    places = (low[1], low[0]) if view.datum_on_top else (low[0], view.height_m - high[1])
    return [obstacle.text, size, *(length_figure(float(x), units) for x in places)]


def _feet(view: View, treatment: Treatment, units: str) -> list[Strip]:
    edge = 13.0 if units == "metric" else 16.5
    cells = [
        Cell("panel", 23),
        Cell("w x h x deep", 22),
        Cell("end", 10),
        Cell("from front wall", edge, "figure"),
        Cell("from left wall", edge, "figure"),
        Cell("lower edge up", 12, "figure"),
        Cell("leans", 8, "figure"),
        Cell(mass_unit(units), 8, "figure"),
        Cell("", 2),
        Cell("as built", table_mm(units) - 91.0 - 2.0 * edge, "empty"),
        Cell("", 6, "tick"),
    ]
    rows = []
    for index in view.listed:
        panel = treatment.room.panels[index]
        size = _size(panel, units)
        leans = math.degrees(math.asin(max(0.0, float(panel.normal[2]))))
        mass = mass_figure(treatment.stability[index].mass_kg, units)
        texts = (panel.name, size), ("", "")
        for end, spot, (name, its_size) in zip(("left", "right"), foot(treatment, index), texts, strict=True):
            places = [length_figure(float(x), units) for x in spot]
            once = [f"{leans:.1f}°" if leans > 0.05 else "0", mass] if name else ["", ""]
            rows.append([name, its_size, end, *places, *once, "", "", ""])
    return table(cells, rows)


def to_know(sentences: Sequence[str], width_mm: float) -> list[Strip]:
    """What to know at a surface, as wide as given."""
    return [heading("To know", width_mm), *(bullet(text, width_mm) for text in sentences)]


def sequence(view: View, units: str, width_mm: float) -> list[Strip]:
    """What to do, step by step with boxes to tick, as wide as given."""
    known = {joist.entry.known for joist in view.joists}
    find = "Find every joist that is used: they are assumed, not surveyed."
    if not known:
        find = "Find what can hold the hooks: no joists or studs are given here."
    elif known == {"surveyed"}:
        find = "Find two of the joists as drawn, to check the survey."
    far, near = format_length(0.02, units=units), format_length(0.005, units=units)
    steps = [step.format(far=far, near=near, joists=find) for step in _steps(view)]
    return [heading("Sequence", width_mm), *(tick_line(step, width_mm) for step in steps)]


def cautions(view: View, treatment: Treatment, width_mm: float) -> list[Strip]:
    """The cautions that belong beside what is done here, as wide as given."""
    texts = cautions_beside(_works(view, treatment))
    return [heading(CAUTIONS_TITLE, width_mm), *(bullet(text, width_mm) for text in texts)]


def cautions_in_short(view: View, treatment: Treatment, width_mm: float) -> list[Strip]:
    """What hurts at once, for a drawing whose cautions stand on its lists."""
    texts = first_of_all(cautions_beside(_works(view, treatment)))
    return [paragraph(" ".join([f"{CAUTIONS_TITLE}, in full on the lists that follow.", *texts]), width_mm)]


def _works(view: View, treatment: Treatment) -> list[Work]:
    works = [Work.HANG if _is_overhead(view) else Work.STAND if view.kind == "floor" else Work.MOUNT]
    return works + ([Work.HIGH] if is_high(treatment.room, view.listed) else [])


def _steps(view: View) -> tuple[str, ...]:
    if view.kind == "floor":
        return _STAND
    return _HANG if any(hook.kind == "cord" for hook, _ in view.hooks) else _MOUNT


def _is_overhead(view: View) -> bool:
    return view.kind == "ceiling" or (view.face is not None and view.face.is_overhead)


def know(view: View, treatment: Treatment, units: str) -> list[str]:
    """Sentences that an installer must know at this surface."""
    hooks = [hook for hook, _ in view.hooks]
    notes = [told(note, units) for note in hook_notes(treatment.scene, treatment.room, hooks)]
    notes += _frame_notes(view, treatment, units)
    notes += _owned_words(view, treatment, units)
    if view.kind == "floor":
        feet = feet_notes(treatment.scene, treatment.room)
        return [*notes, *_tipping(view, treatment, units), *(told(note, units) for note in feet)]
    if view.hooks:
        notes.append(
            f"Hooks, {mass_unit(units)}: if all carry alike. A cord a little too long hangs slack: then two "
            "opposite ones carry all, and the panel list shows what one of them takes."
            if any(hook.kind == "cord" for hook in hooks)
            else f"Hooks, {mass_unit(units)}: if all carry alike. The panel list shows what one takes in the "
            "worst case."
        )
    if any(hook.kind == "cord" for hook in hooks):
        notes.append("Cord: from eyelet to hook, plumb; nothing added for knots.")
        notes += _strings(view, treatment, units)
        notes += _raft_words(view, treatment, units)
    if view.battens:
        notes.append(_batten_words(hooks, units))
    if view.face is not None:
        notes += _face_notes(view, treatment, units)
    for panel in (treatment.room.panels[k] for k in view.listed):
        if panel.kind == "corner":
            other = treatment.scene.panels[int(panel.key[1])].across_corner
            notes.append(f"{panel.name} stands across the corner with {other}, as far from it on both.")
    if view.level is not None:
        height = format_length(view.level[1], units=units)
        up = format_length(view.height_m - view.level[0], units=units)
        notes.append(
            f"Level line: {height} above the floor."
            if abs(view.height_m - view.level[0] - view.level[1]) < 0.001
            else f"Level line: {height} above the floor, {up} up this sheet."
        )
    return notes


def _owned_words(view: View, treatment: Treatment, units: str) -> list[str]:
    """Which panels of a sheet are owned already, and what they need all the same."""
    n_owned = treatment.ownership.n_owned
    owned = {k: treatment.room.panels[k] for k in view.listed if k in n_owned}
    if not owned:
        return []
    names = (p.name + _of_stack(n_owned[k], p.stacked) for k, p in owned.items())
    notes = (told(note, units) for note in owned_notes(list(owned.values())))
    return [f"Owned already, nothing to make: {', '.join(names)}.", *notes]


def _of_stack(count: int, stacked: int) -> str:
    """How many of a stack, where it is not all of it."""
    return "" if count == stacked else f" ({count} of {stacked} panels)"


def _batten_words(hooks: Sequence[Hook], units: str) -> str:
    """What battens take off cords and spacers."""
    thick = format_length(ACROSS_JOISTS.thickness_m, units=units)
    if not any(hook.kind == "cord" for hook in hooks):
        return f"Where a batten lies behind a panel, its spacers are {thick} shorter than the gap there."
    return (
        f"Cords under battens end at the batten, {thick} below the surface: take the difference where yours "
        "is thinner or thicker."
    )


def _raft_words(view: View, treatment: Treatment, units: str) -> list[str]:
    """How a raft is levelled."""
    either_way = format_length(0.5 * TAKE_UP_M, units=units)
    return [
        f"Raft {raft.name}: cords begin at the upper edge of its rails. Hang it with the turnbuckles "
        f"half-way, {either_way} either way, and turn them until it is level and every cord is tight: what a "
        "slack one does not carry the others do."
        for raft in _rafts_of(view, treatment)
    ]


def _strings(view: View, treatment: Treatment, units: str) -> list[str]:
    """What each string must at least be stated for, per build."""
    least: dict[str, float] = {}
    for k in view.listed or {hook.panel for hook, _ in view.hooks}:
        load, build = treatment.loads.get(k), treatment.room.panels[k].build_name
        if load is not None:
            least[build] = max(least.get(build, 0.0), load.working_load_kg)
    abroad = "; European practice: local codes come first" if units == "imperial" else ""
    return [
        f"{build}: every part of a string has a stated working load of {_whole_mass(kg, units)} or more, "
        f"twice the worst case above people (DGUV Information 215-313, 1.4{abroad})."
        for build, kg in least.items()
    ]


def _whole_mass(kilograms: float, units: str) -> str:
    """A mass rounded up to whole units."""
    return f"{math.ceil(float(mass_figure(kilograms, units)))} {mass_unit(units)}"


def _frame_notes(view: View, treatment: Treatment, units: str) -> list[str]:
    """How far frames reach beyond the drawn edges, which are those of the slabs."""
    beyond: dict[str, float] = {}
    for k in view.listed:
        load = treatment.loads.get(k)
        if load is not None and not treatment.room.panels[k].in_raft:
            outer, slab = load.piece.outer_m[0], load.piece.slab_m[0]
            beyond[treatment.room.panels[k].build_name] = 0.5 * (outer - slab)
    return [
        f"{build}: edges are those of the slab; its frame reaches {format_length(reach, units=units)} beyond "
        "them all round."
        for build, reach in beyond.items()
        if reach > 0.0005
    ]


def _face_notes(view: View, treatment: Treatment, units: str) -> list[str]:
    face = view.face
    assert face is not None
    notes = []
    if any(treatment.room.panels[k].kind == "cloud" for k in view.panels):
        notes.append(
            "Clouds hang below this surface: their outline here is plumbed up onto it. Sizes, edges and "
            "heights stand on the ceiling plan; the hooks are the same."
        )
    if not face.is_plan and face.lowest_m - float(treatment.room.bounds[0][2]) > 0.001:
        low = face.lowest_m - float(treatment.room.bounds[0][2])
        notes.append(f"The lower edge is {format_length(low, units=units)} above the floor.")
    for k, sides in outline_gaps(view, treatment).items():
        words = {LEFT: "left", RIGHT: "right", UPPER: "above", LOWER: "below"}
        gaps = [f"{format_length(d, units=units)} {words[s]}" for s, d in sides.items()]
        name = treatment.room.panels[k].name
        notes.append(f"{name}: from its edges to the outline at its own middle: {', '.join(gaps)}.")
    return notes


def outline_gaps(view: View, treatment: Treatment) -> dict[int, dict[int, float]]:
    """From a panel's edges to an outline that is not the side of the sheet, by panel and side. [m]"""
    face = view.face
    if face is None:
        return {}
    found: dict[int, dict[int, float]] = {}
    for k in view.listed:
        u0, v0, u1, v1 = treatment.room.panels[k].rect
        half = (0.5 * (v1 - v0), 0.5 * (u1 - u0)) if face.is_plan else (0.5 * (u1 - u0), 0.5 * (v1 - v0))
        sides = face.outline_sides((0.5 * (u0 + u1), 0.5 * (v0 + v1)))
        own = {
            side: distance - half[0 if side in (LEFT, RIGHT) else 1]
            for side, distance in enumerate(sides)
            if distance is not None
        }
        if own:
            found[k] = own
    return found


def _tipping(view: View, treatment: Treatment, units: str) -> list[str]:
    found = [(treatment.room.panels[k].name, treatment.stability[k]) for k in view.listed]
    return [*(f"{name}: {stand_words(at, units)}." for name, at in found), stand_limits(units)]

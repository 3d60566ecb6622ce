"""What became of a scan, as others read it: one JSON object, tables for the terminal."""

from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import CleanRoom, FloorPlan, ScanBlock, ScanHole, SetAside
from viewer.tables.grid import grid


def clean_json(room: CleanRoom, notes: tuple[str, ...] = ()) -> dict[str, Any]:
    """Surfaces with how far the scan lies off them, objects, what was set aside, holes, how it was read."""
    return {
        "file": room.file,
        "surfaces": [
            {
                "name": surface.name,
                "area_m2": surface.area_m2,
                "triangles": surface.triangles,
                "median_mm": surface.median_mm,
                "p95_mm": surface.p95_mm,
                "max_mm": surface.max_mm,
            }
            for surface in room.surfaces
        ],
        "objects": [_block(block) for block in room.objects],
        "set_aside": [_aside(thing) for thing in room.set_aside],
        "holes": [_hole(hole) for hole in room.holes],
        "unit": room.reading.unit,
        "up": room.reading.up,
        "other_readings": [{"unit": unit, "up": up} for unit, up in room.reading.others],
        "shape": room.shape.kind,
        "level": None if room.level is None else room.level.tolist(),
        "turn_deg": room.turn_deg,
        "move_m": list(room.move),
        "noise_mm": room.noise_mm,
        "report": [*room.doubts, *room.report, *notes],
    }


def floorplan_json(plan: FloorPlan, notes: tuple[str, ...] = ()) -> dict[str, Any]:
    """Walls, doors and windows of a plan, and how it was read."""
    return {
        "file": plan.file,
        "layer": plan.layer,
        "surfaces": [{"name": name, "area_m2": plan.shape.area_m2(name)} for name, _ in plan.shape.faces()],
        "openings": [
            {
                "kind": own.kind,
                "surface": plan.shape.walls[own.wall],
                "width_m": own.end_m - own.start_m,
                "told_by": own.told_by,
            }
            for own in plan.openings
        ],
        "unit": plan.unit,
        "shape": plan.shape.kind,
        "turn_deg": plan.turn_deg,
        "move_m": list(plan.move),
        "report": [*plan.report, *notes],
    }


def floorplan_tables(plan: FloorPlan, notes: tuple[str, ...] = ()) -> Group:
    """Walls of a plan with their lengths, doors and windows, then what was done."""
    walls = grid(["wall", "length m", "doors and windows"], numbers=["length m"], title="The room as drawn")
    corners = plan.shape.corners
    for k, name in enumerate(plan.shape.walls):
        step = corners[(k + 1) % len(corners)] - corners[k]
        own = [f"{o.kind} {o.end_m - o.start_m:.2f} m ({o.told_by})" for o in plan.openings if o.wall == k]
        walls.add_row(name, f"{float((step @ step) ** 0.5):.3f}", ", ".join(own))
    said = f"{plan.file}, layer {plan.layer}: {plan.unit}, floor {plan.shape.area_m2('floor'):.1f} m², "
    told = [*plan.report, *notes]
    return Group(Text(said + f"shape {plan.shape.kind}"), walls, *(Text(f"- {line}") for line in told))


def _block(block: ScanBlock) -> dict[str, Any]:
    centre, size = list(block.centre), list(block.size)
    return {"name": block.name, "shape": "box", "centre_m": centre, "size_m": size, "yaw_deg": block.yaw_deg}


def _aside(thing: SetAside) -> dict[str, Any]:
    at = None if thing.at is None else list(thing.at)
    return {"what": thing.what, "at_m": at, "area_m2": thing.area_m2, "triangles": thing.triangles}


def _hole(hole: ScanHole) -> dict[str, Any]:
    at_m = hole.corners.mean(axis=0).tolist()
    return {"name": hole.name, "area_m2": hole.area_m2, "surface": hole.surface, "at_m": at_m}


def clean_tables(room: CleanRoom, notes: tuple[str, ...] = (), *, patch: str | None = None) -> Group:
    """How the scan was read, what to look at first, surfaces, what stands in it, then what was done."""
    surfaces = grid(
        ["surface", "m²", "triangles", "median mm", "p95 mm", "max mm"],
        numbers=["m²", "triangles", "median mm", "p95 mm", "max mm"],
        title="How far the scan lies off the fitted room",
    )
    for s in room.surfaces:
        figures = (f"{s.median_mm:.1f}", f"{s.p95_mm:.1f}", f"{s.max_mm:.1f}")
        surfaces.add_row(s.name, f"{s.area_m2:.2f}", str(s.triangles), *figures)
    doubts = (Text(f"- {line}") for line in room.doubts)
    parts: list[Table | Text] = [Text(_read_as(room)), *doubts, surfaces]
    if room.objects:
        things = grid(
            ["cut off as", "length m", "width m", "height m", "top m"],
            numbers=["length m", "width m", "height m", "top m"],
            title="What stands in it",
        )
        for block in room.objects:
            top_m = block.centre[2] + block.size[2] / 2
            things.add_row(block.name, *(f"{size:.2f}" for size in block.size), f"{top_m:.2f}")
        parts.append(things)
    done = scan_lines(room, patch=patch)[len(room.doubts) :]
    return Group(*parts, *(Text(f"- {line}") for line in (*done, *notes)))


def scan_lines(room: CleanRoom, *, patch: str | None = None) -> list[str]:
    """What to look at first, holes, what was set aside, what was done; `patch` is what closes holes."""
    done = "sound leaves by it until it is closed" if patch is None else f"closed with {patch}"
    return [
        *room.doubts,
        *(f"hole {k}, {own.name}, {own.area_m2:.2f} m²: {done}" for k, own in enumerate(room.holes, 1)),
        *(_aside_words(thing) for thing in room.set_aside),
        *room.report,
    ]


def _read_as(room: CleanRoom) -> str:
    reading = room.reading
    others = " or ".join(f"--unit {unit} --up {up}" for unit, up in reading.others)
    asked = "as asked" if reading.asked else "proposed from its size"
    if reading.by_format:
        asked = "unit proposed from its size, axis by its format"
    floor_m2 = room.shape.area_m2("floor")
    said = (
        f"{room.file}: read as {reading.unit} with {reading.up} upwards ({asked}): "
        f"{reading.height_m:.2f} m from lowest to highest point, floor {floor_m2:.1f} m², noise "
        f"{room.noise_mm:.0f} mm, "
        f"shape {room.shape.kind}"
    )
    return said + (f". If that is wrong: {others}" if others else "")


def _aside_words(thing: SetAside) -> str:
    # + 0.0: no minus before what rounds to nothing.
    where = (
        ""
        if thing.at is None
        else " at ({:.2f}, {:.2f}, {:.2f}) m".format(*(round(x, 2) + 0.0 for x in thing.at))
    )
    counted = f", {thing.triangles} triangles" if thing.triangles else ""
    return f"set aside: {thing.what}{where}, {thing.area_m2:.2f} m²{counted}"

"""A room of a floor plan -> the text of a scene that a person can correct."""

from pathlib import Path

import numpy as np

from raytrace.facts import plain
from raytrace.room import MeshError, build_room
from raytrace.scan.floorplan import FloorPlan, PlanOpening
from raytrace.scan.scenetext import SceneDraft, find_places, quoted, room_text, tape_mm
from raytrace.scene import SceneError, load_scene

# A plan shows no heights: usual ones (common practice, no source).
_LOW_M = {"door": 0.0, "window": 0.9}
_TOP_M = {"door": 2.0, "window": 2.1}
_MATERIAL = {"door": "wood door", "window": "window"}
_HEAD_ROOM_M = 0.05
_DRAWN_ERROR_MM = 20
_SURE_DIGITS = 2  # of a millimetre; arcs of doors are flat strips, turned and moved


def draft_floorplan(plan: FloorPlan, path: Path) -> SceneDraft:
    """The scene of a floor plan.

    Parameters
    ----------
    plan : FloorPlan
    path : Path
        Where the scene file is to stand; nothing is written.

    Raises
    ------
    MeshError
        If no scene takes a room like that.
    """
    places, notes = find_places(plan.shape, ())
    openings = "".join(_opening(plan, own, number) for number, own in enumerate(_numbered(plan.openings)))
    text = _head(plan, path.stem) + room_text(plan.shape, "") + _surfaces() + openings + places
    try:
        build_room(load_scene(path, text))
    except SceneError as problem:
        if problem.at[:1] == ("room",):
            raise MeshError(f"{plan.file}: as {plan.unit} its outline makes no room: {problem.why}") from None
        notes += (f"the scene does not read yet, mend it there: {problem}",)
    return SceneDraft(text, None, notes)


def _head(plan: FloorPlan, title: str) -> str:
    x, y = (round(length, 3) + 0.0 for length in plan.move[:2])  # no minus before nought
    return (
        f"# Made from the floor plan {plain(plan.file)}, layer {quoted(plan.layer)}, by hitspot clean.\n"
        "# A plan is no survey: measure lengths, height and a diagonal; speakers and seat are suggestions.\n"
        f"# Read as {plan.unit}; turned {plan.turn_deg:.2f} degrees, then moved {x:.3f}, {y:.3f} m.\n\n"
        f"title = {quoted(title)}\n\n"
        "# Rooms are built so far off their plans, or more (common practice, no source): measure, and put\n"
        f'# in the error of your tape.\n[job]\nsurvey_error = "{_DRAWN_ERROR_MM} mm"\n\n'
    )


def _surfaces() -> str:
    return (
        "# A plan shows no materials: say what each surface is made of (hitspot materials).\n[surfaces]\n"
        'default = "plasterboard"\nfloor = "laminate floor"\n\n'
    )


def _numbered(openings: tuple[PlanOpening, ...]) -> list[tuple[str, PlanOpening]]:
    kinds = [own.kind for own in openings]
    return [(f"{own.kind} {1 + kinds[:k].count(own.kind)}", own) for k, own in enumerate(openings)]


def _opening(plan: FloorPlan, named: tuple[str, PlanOpening], number: int) -> str:
    """A door or window with the height that is usual; seen from inside u runs against the outline."""
    name, own = named
    shape = plan.shape
    start, end = shape.corners[own.wall], shape.corners[(own.wall + 1) % len(shape.corners)]
    length = float(np.linalg.norm(end - start))
    # Inward to the millimetre; a drawing's own millimetres come back as they are.
    left_m = np.ceil(np.round(1e3 * (length - own.end_m), _SURE_DIGITS)) / 1e3
    right_m = np.floor(np.round(1e3 * (length - own.start_m), _SURE_DIGITS)) / 1e3
    height_m = min(plane.height for plane in shape.roof)
    low_m = _LOW_M[own.kind]
    high_m = min(_TOP_M[own.kind], height_m - _HEAD_ROOM_M)
    said = "# Heights of doors and windows are usual ones: no plan shows them.\n" if number == 0 else ""
    return (
        f"{said}# Told by {own.told_by}.\n[[openings]]\nname = {quoted(name)}\n"
        f'surface = {quoted(shape.walls[own.wall])}\nkind = "{own.kind}"\n'
        f"material = {quoted(_MATERIAL[own.kind])}\n"
        f"at = [{tape_mm(left_m)}, {tape_mm(low_m)}]\n"
        f"size = [{tape_mm(right_m - left_m)}, {tape_mm(high_m - low_m)}]\n\n"
    )

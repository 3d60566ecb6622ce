"""The command that makes a scene of a scan or a floor plan."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from viewer.cli.commandline import (
    Flag,
    MaybeWhole,
    Mistake,
    check_drawing,
    check_file,
    mistakes,
    showing_progress,
    write_files,
)
from viewer.cli.printing import print_json, say, show

if TYPE_CHECKING:
    from viewer.files import Content

ScanFile = Annotated[Path, Parameter(help="Scan of a room (OBJ, GLB, PLY, STL) or floor plan (DXF).")]


@Parameter(name="*")
@dataclass(frozen=True)
class Fit:
    """How the scan is read and fitted.

    Parameters
    ----------
    unit
        What its numbers count; proposed from the sizes of rooms where it is not given.
    up
        Which of its axes points up; likewise z or y. Of a scan that lies on its side or on its head the
        others: x, or --up=-x.
    turn
        Further turn about the upright axis in degrees, after the walls lie along the axes: 90, 180 or -90
        make another wall the front wall.
    angle
        How far the surface round a point may turn from its plane, in degrees.
    distance
        How far a point may lie off its plane, in mm.
    tolerance
        How far corners may be moved to make the room a box or another simple shape, in mm.
    room
        Which of several rooms in a scan, the largest first; 0 takes all of it as one room. Of a floor plan,
        which of those that walls with both their faces drawn enclose.
    patch
        Material to close the holes of the scan with, and a wall that was not scanned; without it holes are
        openings that sound leaves by.
    """

    unit: Literal["mm", "cm", "m", "in", "ft"] | None = None
    up: Literal["z", "y", "x", "-z", "-y", "-x"] | None = None
    turn: float = 0.0
    angle: float = 10.0
    distance: float = 30.0
    tolerance: float = 15.0
    room: MaybeWhole = None
    patch: str | None = None

    def check(self) -> None:
        """Refuse figures that fit no plane."""
        for name, value, low, high in (
            ("--angle", self.angle, 1.0, 45.0),
            ("--distance", self.distance, 1.0, 200.0),
            ("--tolerance", self.tolerance, 0.0, 200.0),
            ("--turn", self.turn, -360.0, 360.0),
        ):
            if not low <= value <= high:
                raise Mistake(f"{name} must lie between {low:g} and {high:g}, not {value:g}")
        if self.room is not None and self.room < 0:
            raise Mistake(f"--room must be 0 or more, not {self.room}")
        if self.patch is not None:
            _check_material(self.patch)


def _check_material(name: str) -> None:
    """Refuse a material that no scene could name."""
    from raytrace import load_library, nearest_name

    library = load_library()
    if name not in library:
        nearest = nearest_name(name, library)
        meant = "" if nearest is None else f', did you mean "{nearest}"?'
        raise Mistake(
            f'--patch: no material is called "{name}"{meant or ";"} hitspot materials lists them all'
        )


AS_FOUND = Fit()


@Parameter(name="*")
@dataclass(frozen=True)
class Drawn:
    """Which room of a floor plan is meant.

    Parameters
    ----------
    layer
        Layer of a floor plan on which the room is drawn as a closed outline.
    outline
        Which closed outline of that layer, the largest first; proposed where it is not given.
    height
        Height of the room of a floor plan, as a scene has lengths: "2440 mm".
    """

    layer: str | None = None
    outline: MaybeWhole = None
    height: str | None = None


AS_DRAWN = Drawn()


def clean(
    file: ScanFile,
    *,
    out: Path | None = None,
    fit: Fit = AS_FOUND,
    drawn: Drawn = AS_DRAWN,
    picture: Path | None = None,
    json: Flag = False,
    replace: Flag = False,
) -> None:
    """Make a scene of a scan: planes out of its noise, furniture cut off, everything that was done explained.

    Where a scan holds several rooms, or a plan several outlines, one is taken and the others are named.
    Beside the scene an import report is written, NAME-import.json, and an OBJ of flat faces where the room
    has no simple shape. Of a floor plan (DXF) a closed outline and a height become the room.

    Parameters
    ----------
    out
        Scene file to write (TOML); the default is named after the scan, in the current folder.
    picture
        File to draw into which triangles of a scan (OBJ, GLB, PLY, STL) became which surface: .png, .svg or
        .pdf. A floor plan (DXF) gets none.
    json
        The import report as one JSON object in full precision.
    replace
        Overwrite files that are there.
    """
    import json as jsonlib

    from raytrace import MeshError, ScanSettings, clean_scan, draft_scene
    from viewer.tables import clean_json, clean_tables

    fit.check()
    scene = out or Path(f"{file.stem or 'scan'}.toml")
    report, mesh = _beside(scene, file, replace=replace)
    check_drawing(picture, "--picture", replace=replace)
    if file.suffix.lower() == ".dxf":
        _clean_plan(file, scene, (fit, drawn), as_json=json, picture=picture)
        return
    settings = ScanSettings(
        unit=fit.unit,
        up=fit.up,
        turn_deg=fit.turn,
        angle_deg=fit.angle,
        distance_m=fit.distance / 1e3,
        tolerance_m=fit.tolerance / 1e3,
        patch_wall=fit.patch is not None,
        room=fit.room,
    )
    with mistakes(MeshError), showing_progress() as progress:
        room = clean_scan(file, settings, progress=progress)
        draft = draft_scene(room, scene, patch=fit.patch)
    told = clean_json(room, draft.notes)
    written: dict[Path, Content] = {scene: draft.text, report: jsonlib.dumps(told, indent=1) + "\n"}
    if draft.mesh is not None:
        written[mesh] = draft.mesh
    if picture is not None:
        from viewer.charts import draw_scan

        written[picture] = lambda path: draw_scan(room, path)
    write_files(written)
    if json:
        print_json(told)
        return
    show(clean_tables(room, draft.notes, patch=fit.patch))
    _say_written(written)


def _clean_plan(
    file: Path, scene: Path, asked: tuple[Fit, Drawn], *, as_json: bool, picture: Path | None
) -> None:
    """Make a scene of an outline in a floor plan."""
    import json as jsonlib

    from raytrace import MeshError, PlanSettings, draft_floorplan, read_floorplan
    from viewer.tables import floorplan_json, floorplan_tables

    fit, drawn = asked
    if picture is not None:
        raise Mistake("--picture shows how a scan was fitted; for a floor plan: hitspot stills, of the scene")
    settings = PlanSettings(
        height_m=_height_m(drawn.height),
        layer=drawn.layer,
        outline=drawn.outline,
        room=fit.room,
        unit=fit.unit,
        turn_deg=fit.turn,
        tolerance_m=fit.tolerance / 1e3,
    )
    with mistakes(MeshError):
        plan = read_floorplan(file, settings)
        draft = draft_floorplan(plan, scene)
    told = floorplan_json(plan, draft.notes)
    report = scene.with_name(f"{scene.stem}-import.json")
    written: dict[Path, Content] = {scene: draft.text, report: jsonlib.dumps(told, indent=1) + "\n"}
    write_files(written)
    if as_json:
        print_json(told)
        return
    show(floorplan_tables(plan, draft.notes))
    _say_written(written)


def _say_written(written: Iterable[Path]) -> None:
    """Name every file, the scene first, and what in it nobody measured."""
    scene, *others = written
    beside = f", with {', '.join(path.name for path in others)}" if others else ""
    say(
        f"Written: {scene}{beside}. Speakers, seat and materials in it are suggestions: put in yours "
        f"before a verdict counts. Then: hitspot check {scene}"
    )


def _height_m(text: str | None) -> float:
    """The height of a room that no plan shows. [m]"""
    from raytrace import parse_length

    if text is None:
        raise Mistake('--height: no floor plan shows how high a room is; give it, --height "2440 mm"')
    try:
        height_m = parse_length(text)
    except ValueError as problem:
        raise Mistake(f"--height: {problem}") from None
    if not 1.5 <= height_m <= 12.0:
        raise Mistake(f"--height must lie between 1.5 m and 12 m, not {height_m:g} m")
    return height_m


def _beside(scene: Path, file: Path, *, replace: bool) -> tuple[Path, Path]:
    """Where import report and mesh go; refuses places that cannot be written to, before the scan is read."""
    if scene.suffix.lower() != ".toml":
        raise Mistake(f'{scene}: a scene file ends in ".toml"')
    report, mesh = scene.with_name(f"{scene.stem}-import.json"), scene.with_name(f"{scene.stem}-room.obj")
    for path in (scene, report, mesh):
        check_file(path, "--out", replace=replace, reads=(file,))
    return report, mesh

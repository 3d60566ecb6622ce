"""A cleaned room -> the text of a scene that a person can correct, with places for speakers and a seat."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import counted, plain
from raytrace.room import MeshError, Room, build_room
from raytrace.scan.cleanroom import CleanRoom
from raytrace.scan.furniture import ScanBlock
from raytrace.scan.holes import ScanHole
from raytrace.scan.shapes import RoomShape, within_outline
from raytrace.scene import SceneError, load_scene, seated_heights_m

Floats = NDArray[np.float64]

# What to try where nobody said: common practice, no source.
_SEAT_SHARES = (0.38, 0.42, 0.34, 0.45, 0.30, 0.56, 0.62, 0.68)  # never half the length
_SPREADS_M = (1.4, 1.2, 1.0, 0.8)
_ASIDE_M = (0.0, 0.15, -0.15, 0.3, -0.3, 0.5, -0.5, 0.8, -0.8)
_LOW_EARS_M = (1.05, 0.9)  # under a roof that is too low to sit upright
_CLEAR_M = 0.3
_STAND_M, _ALIKE_M = 0.2, 0.25  # half a stand; what speakers may differ by in their distance to the side
_NARROW_M = 0.02  # an opening is no narrower
_LEAST_ERROR_MM = 3.0  # no scan is surer, however little it scatters (common practice, no source)
_MOST_OPENINGS = 40  # more than that nobody looks over, and each is tried in the scene
_P95 = 1.96  # 95 % of a normal distribution lie within so many of its standard deviations
Places = tuple[Floats, Floats, Floats]


@dataclass(frozen=True)
class SceneDraft:
    """The files of a scene, and what could not be put into it.

    Attributes
    ----------
    text : str
        Of the scene file.
    mesh : str or None
        Of the OBJ beside it, where the room is one of flat faces.
    notes : tuple of str
    """

    text: str
    mesh: str | None
    notes: tuple[str, ...]


def draft_scene(room: CleanRoom, path: Path, *, patch: str | None = None) -> SceneDraft:
    """The scene of a cleaned room.

    Parameters
    ----------
    room : CleanRoom
    path : Path
        Where the scene file is to stand; the mesh is named after it. Nothing is written.
    patch : str, optional
        Material to close the holes with; without one they are openings that sound leaves by.

    Raises
    ------
    MeshError
        If the flat faces of the cleaned room make none.
    """
    mesh_name = f"{path.stem}-room.obj"
    head = _head(room, path.stem) + room_text(room.shape, mesh_name, room.patched) + _surfaces(room, patch)
    places, notes = find_places(room.shape, room.objects)
    objects = _objects(room)
    if room.shape.kind == "mesh":
        text, mesh = head + objects + places, _mesh(room)
        notes += _mesh_notes(room) + _read_back(room, path, text, mesh)
        return SceneDraft(text, mesh, notes)
    built = _tried(path, head + places)
    openings = ""
    for hole in room.holes[:_MOST_OPENINGS]:
        opening = _opening(built, hole, patch)
        if opening and _tried(path, head + openings + opening + places):
            openings += opening
        else:
            notes += (f"the {hole.name} of {hole.area_m2:.2f} m² found no place in the scene",)
    notes += _torn_words(room.holes[_MOST_OPENINGS:])
    text = head + openings + objects + places
    return SceneDraft(text, None, notes + _read_back(room, path, text))


def _torn_words(holes: Sequence[ScanHole]) -> tuple[str, ...]:
    """What is said of holes that are too many for a person to look over."""
    if not holes:
        return ()
    area_m2 = sum(hole.area_m2 for hole in holes)
    holes_words = counted(len(holes), "smallest hole")
    return (
        f"the {holes_words}, {area_m2:.2f} m² together, left out of the scene: the scan is torn; have "
        "the program that wrote it close small holes, or scan again",
    )


def _read_back(room: CleanRoom, path: Path, text: str, mesh: str | None = None) -> tuple[str, ...]:
    """What a reader of the scene is refused, as a note; faces that are no room nobody can mend by hand."""
    try:
        if mesh is None:
            build_room(load_scene(path, text))
        else:
            with TemporaryDirectory() as place:
                Path(place, f"{path.stem}-room.obj").write_text(mesh, encoding="utf-8")
                build_room(load_scene(Path(place, path.name), text))
    except SceneError as problem:
        if mesh is not None and problem.at[:1] == ("room",):
            raise MeshError(
                f"{room.file}: the flat faces that fit it make no room: {_sunk(room) or problem.why}; "
                "try other figures for --angle, --distance and --tolerance"
            ) from None
        said = str(problem).replace(str(problem.path), path.name)
        return (f"the scene does not read yet, mend it there: {said}",)
    return ()


def _sunk(room: CleanRoom) -> str:
    """Which part of a roof comes down below the floor; empty where none does."""
    lowest_m, name = min((float(outline[:, 2].min()), name) for name, outline in room.shape.faces())
    return f"{name} comes down to {-lowest_m:.2f} m below the floor" if lowest_m < 0.0 else ""


def _tried(path: Path, text: str) -> Room | None:
    """The room of a text, None where it is refused."""
    try:
        return build_room(load_scene(path, text))
    except SceneError:
        return None


def tape_mm(length_m: float) -> str:
    """A length as a tape gives it."""
    return f'"{round(1000.0 * length_m) + 0} mm"'


def quoted(text: str) -> str:
    """A text as TOML has it."""
    return '"' + plain(text).replace("\\", "\\\\").replace('"', '\\"') + '"'


def _head(room: CleanRoom, title: str) -> str:
    reading = room.reading
    x, y, z = (round(length, 3) + 0.0 for length in room.move)  # no minus before nought
    return (
        f"# Made from the scan {plain(room.file)} by hitspot clean. Look over every number: sizes are\n"
        "# fitted to the scan; materials, names of furniture, speakers and seat are suggestions.\n"
        f"# Read as {reading.unit}, {reading.up} upwards; {_level_words(room)}turned "
        f"{room.turn_deg:.2f} degrees, then moved {x:.3f}, {y:.3f}, {z:.3f} m.\n\ntitle = {quoted(title)}\n\n"
        "# One standard error of a length: so far the scan lies off the planes fitted to it, at least "
        f"{_LEAST_ERROR_MM:.0f} mm.\n# A wrong scale does not show in it: tape the longest wall, and put "
        f'in more where that is off by more.\n[job]\nsurvey_error = "{_scan_error_mm(room):.0f} mm"\n\n'
    )


def _level_words(room: CleanRoom) -> str:
    if room.level is None:
        return ""
    return f"put level by {np.degrees(np.arccos(min(room.level[2, 2], 1.0))):.1f} degrees, "


def _scan_error_mm(room: CleanRoom) -> float:
    """One standard error of a length in a scan, from how far it lies off all of its surfaces. [mm]

    A plane fitted to many points scatters less than they do, but what is next to each other in a scan is
    off together: so no more is claimed than for one point.
    """
    areas_m2 = [surface.area_m2 for surface in room.surfaces]
    scatter_mm = np.average([surface.p95_mm for surface in room.surfaces], weights=areas_m2) / _P95
    return float(max(np.ceil(scatter_mm), _LEAST_ERROR_MM))


def room_text(shape: RoomShape, mesh_name: str, assumed: Sequence[str] = ()) -> str:
    """The table [room] of a shape; `assumed`: walls that nobody scanned."""
    written = {k: f'"{own}"' if isinstance(own, str) else tape_mm(own) for k, own in shape.numbers}
    lines = ["[room]", f'shape = "{shape.kind}"']
    if shape.kind == "mesh":
        lines += [f"file = {quoted(mesh_name)}", 'unit = "m"']
    if shape.kind == "plan":
        corners = ",\n".join(f"    [{tape_mm(x)}, {tape_mm(y)}]" for x, y in shape.corners)
        lines += [f"corners = [\n{corners},\n]"]
        lines += ["walls = [" + ", ".join(quoted(name) for name in shape.walls) + "]"]
    if shape.kind == "section":
        profile = ",\n".join(f"    [{tape_mm(across)}, {tape_mm(up)}]" for across, up in shape.profile())
        lines += [f"profile = [\n{profile},\n]"]
    if "eaves left" in written:
        written["eaves"] = f"[{written.pop('eaves left')}, {written.pop('eaves right')}]"
    lines += [f"{key} = {value}" for key, value in written.items()]
    if assumed:
        lines += ["# Not scanned: put where the floor ends. Take the line out when you have measured it."]
        lines += ["assumed = [" + ", ".join(quoted(name) for name in assumed) + "]"]
    return "\n".join(lines) + "\n\n"


def _surfaces(room: CleanRoom, patch: str | None) -> str:
    fits = "".join(
        f"#   {surface.name}: {surface.median_mm:.0f} mm median, {surface.p95_mm:.0f} mm for 95 % of points\n"
        for surface in room.surfaces
    )
    patched = "".join(f"{quoted(name)} = {quoted(patch or 'plasterboard')}\n" for name in room.patched)
    return (
        "# A scan shows no materials: say what each surface is made of (hitspot materials).\n[surfaces]\n"
        f'default = "plasterboard"\nfloor = "laminate"\n{patched}\n'
        f"# How far the scan lies off each:\n{fits}\n"
    )


def _opening(built: Room | None, hole: ScanHole, patch: str | None) -> str:
    """A hole as an opening of the same area, empty where its surface is not in the scene."""
    surfaces = {} if built is None else {surface.name: surface for surface in built.surfaces}
    if hole.surface not in surfaces:
        return ""
    frame = surfaces[hole.surface].frame
    uv = frame.to_plane(hole.corners)
    low, high = uv.min(axis=0), uv.max(axis=0)
    if (high - low).min() < _NARROW_M:
        return ""
    # A rectangle round a ragged hole is larger than the hole: the same middle and shape, the hole's own area.
    size = (high - low) * np.sqrt(min(hole.area_m2 / float(np.prod(high - low)), 1.0))
    at = np.maximum(0.5 * (low + high - size), 0.0)
    lines = [
        "[[openings]]",
        f"name = {quoted(f'closed {hole.name}' if patch else hole.name)}",
        f"surface = {quoted(hole.surface)}",
    ]
    lines += ['kind = "cover"', f"material = {quoted(patch)}"] if patch else ['kind = "opening"']
    lines += [
        f"at = [{tape_mm(at[0])}, {tape_mm(at[1])}]",
        f"size = [{tape_mm(size[0])}, {tape_mm(size[1])}]",
    ]
    said = (
        "closed" if patch else "open: close it if there is none, with --patch MATERIAL or by leaving this out"
    )
    return f"# An open place of {hole.area_m2:.2f} m² in the scan, {said}.\n" + "\n".join(lines) + "\n\n"


def _objects(room: CleanRoom) -> str:
    text = ""
    for block in room.objects:
        text += f'[[objects]]\nname = {quoted(block.name)}\nshape = "box"\n'
        text += "centre = [" + ", ".join(tape_mm(x) for x in block.centre) + "]\n"
        text += "size = [" + ", ".join(tape_mm(x) for x in block.size) + "]\n"
        if abs(block.yaw_deg) > 0.05:
            text += f"yaw = {block.yaw_deg:.1f}\n"
        text += 'material = "wood"\n\n'
    return text


def find_places(shape: RoomShape, objects: Sequence[ScanBlock]) -> tuple[str, tuple[str, ...]]:
    """Two speakers and a seat where there is air round all three, and what to know about them."""
    free = [places for places in _tries(shape) if all(_is_free(shape, objects, place) for place in places)]
    clear = [places for places in free if _stands_clear(objects, places)]
    alike = [places for places in clear if _unlike_m(shape, places) <= _ALIKE_M]
    if alike or clear:
        return _places((alike or clear)[0]), ()
    if free:
        note = "the suggested speakers stand over furniture: put them where they are before a verdict counts"
        return _places(free[0]), (note,)
    low, high = shape.corners.min(axis=0), shape.corners.max(axis=0)
    middle = np.array([*(0.5 * (low + high)), _ear_heights_m(shape)[0]])
    ahead, beside = np.array([0.4, 0.0, 0.0]), np.array([0.0, 0.3, 0.0])
    note = "no place for two speakers and a seat was found: put them where they are, then hitspot check"
    return _places((middle - ahead - beside, middle - ahead + beside, middle)), (note,)


def _tries(shape: RoomShape) -> Iterator[Places]:
    """Left speaker, right speaker and ears, in the order they are tried: symmetrical and well apart first."""
    low, high = shape.corners.min(axis=0), shape.corners.max(axis=0)
    length, width = high - low
    for ears_m, aside, spread, share in product(_ear_heights_m(shape), _ASIDE_M, _SPREADS_M, _SEAT_SHARES):
        x, y = low[0] + share * length, low[1] + 0.5 * width + aside
        front = x - 0.866 * spread  # a triangle of equal sides
        left, right = np.array([front, y - spread / 2, ears_m]), np.array([front, y + spread / 2, ears_m])
        yield left, right, np.array([x, y, ears_m])


def _ear_heights_m(shape: RoomShape) -> tuple[float, ...]:
    """Heights of ears and tweeters, in the order they are tried."""
    level = len(shape.roof) == 1 and shape.roof[0].rise == (0.0, 0.0)
    return (*seated_heights_m(shape.roof[0].height if level else None), *_LOW_EARS_M)


def _is_free(shape: RoomShape, objects: Sequence[ScanBlock], place: Floats) -> bool:
    """Whether a place has air all round it, walls, roof and furniture looked at."""
    corners = shape.corners
    ends = np.roll(corners, -1, axis=0)
    along = ends - corners
    shares = np.clip(((place[:2] - corners) * along).sum(axis=1) / (along**2).sum(axis=1), 0.0, 1.0)
    off_m = np.linalg.norm(corners + shares[:, None] * along - place[:2], axis=1).min()
    inside = bool(within_outline(corners, place[None, :2])[0])
    roof_m = min(float(np.asarray(plane.rise) @ place[:2]) + plane.height for plane in shape.roof)
    if not inside or off_m < _CLEAR_M or roof_m < place[2] + _CLEAR_M:
        return False
    return not any(
        np.linalg.norm(place[:2] - block.centre[:2]) < 0.5 * np.hypot(*block.size[:2])
        and abs(place[2] - block.centre[2]) < 0.5 * block.size[2] + 0.1
        for block in objects
    )


def _stands_clear(objects: Sequence[ScanBlock], places: Places) -> bool:
    """Whether neither speaker is over furniture, where no stand can be."""
    return not any(_over_m(block, place) < _STAND_M for block in objects for place in places[:2])


def _over_m(block: ScanBlock, place: Floats) -> float:
    """How far a place is from the foot of a piece of furniture, in plan; 0 over it. [m]"""
    cosine, sine = np.cos(np.radians(block.yaw_deg)), np.sin(np.radians(block.yaw_deg))
    off = np.array([[cosine, sine], [-sine, cosine]]) @ (place[:2] - block.centre[:2])
    return float(np.linalg.norm(np.maximum(np.abs(off) - 0.5 * np.array(block.size[:2]), 0.0)))


def _unlike_m(shape: RoomShape, places: Places) -> float:
    """How much farther one speaker is from the wall on its side than the other from its own. [m]"""
    left, right = places[:2]
    return abs(_to_wall_m(shape, left, -1.0) - _to_wall_m(shape, right, 1.0))


def _to_wall_m(shape: RoomShape, place: Floats, side: float) -> float:
    """How far it is from a place across the room to the wall on that side, -1 to the left. [m]"""
    start, end = shape.corners, np.roll(shape.corners, -1, axis=0)
    crossed = (start[:, 0] <= place[0]) != (end[:, 0] <= place[0])
    start, end = start[crossed], end[crossed]
    share = (place[0] - start[:, 0]) / (end[:, 0] - start[:, 0])
    off_m = side * (start[:, 1] + share * (end[:, 1] - start[:, 1]) - place[1])
    return float(off_m[off_m > 0.0].min())


def _places(places: Places) -> str:
    left, right, ears = ("[" + ", ".join(tape_mm(x) for x in place) + "]" for place in places)
    return (
        f'[[speakers]]\nname = "left"\nposition = {left}\n\n'
        f'[[speakers]]\nname = "right"\nposition = {right}\n\n'
        f'[[seats]]\nname = "mix"\nears = {ears}\n'
    )


def _mesh(room: CleanRoom) -> str:
    """The room's flat faces as an OBJ in metres, z upwards, a group for each surface."""
    corners: list[str] = []
    faces: list[str] = []

    def add(name: str, outline: Floats) -> None:
        first = len(corners) + 1
        corners.extend(f"v {x:.4f} {y:.4f} {z:.4f}" for x, y, z in outline + 0.0)
        faces.append(f"g {name}\nf " + " ".join(str(first + k) for k in range(len(outline))))

    for name, outline in room.shape.faces():
        add(name, outline)
    return "\n".join([f"# Flat faces fitted to {plain(room.file)}", *corners, *faces]) + "\n"


def _mesh_notes(room: CleanRoom) -> tuple[str, ...]:
    notes = ["the room is one of flat faces: look at them with hitspot view before anything else"]
    if room.holes:
        are = "is" if len(room.holes) == 1 else "are"
        notes.append(f"{counted(len(room.holes), 'hole')} {are} closed by the faces they lie in")
    return tuple(notes)

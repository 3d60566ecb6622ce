"""OBJ files -> named polygons, with a report of what was met on the way. The only reader of meshes."""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import plain
from raytrace.room.polygons import area_vector
from raytrace.room.setout import cos_sin

Floats = NDArray[np.float64]

# Metres are numbers times the first over the second, so that 4200 mm is 4.2 m to the last bit.
_UNITS = {"mm": (1.0, 1000.0), "cm": (1.0, 100.0), "m": (1.0, 1.0), "in": (0.0254, 1.0), "ft": (0.3048, 1.0)}

_SMALLEST_FACE_M2 = 1e-10


class MeshError(ValueError):
    """A mesh file that cannot be used; the text says where and what to do."""


@dataclass(frozen=True)
class MeshPolygon:
    """One face of a mesh file.

    Attributes
    ----------
    name : str
        Of its group, object or material in the file.
    corners : (n, 3) float
        In the order of the file, in the room's frame. [m]
    line : int
        Line of the file it stands in, counted from 1.
    """

    name: str
    corners: Floats
    line: int


@dataclass(frozen=True)
class MeshFile:
    """The faces of a mesh file, and what a person should know about the reading."""

    polygons: tuple[MeshPolygon, ...]
    report: tuple[str, ...]


def read_obj(
    path: Path,
    *,
    unit: Literal["mm", "cm", "m", "in", "ft"],
    up: Literal["z", "y"] = "z",
    turn_deg: float = 0.0,
    move: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> MeshFile:
    """The faces of an OBJ file in the room's frame.

    Parameters
    ----------
    path : Path
        The file.
    unit : str
        What its numbers count.
    up : str
        Which of its axes points up.
    turn_deg : float
        Turn about the upright axis, x towards y. [deg]
    move : (3,) float
        Shift after the turn. [m]

    Returns
    -------
    MeshFile
        Names are those of `g` or `o` (whichever stands nearer above the face); of `usemtl` where all
        faces share one group.

    Raises
    ------
    MeshError
        If the file is no OBJ, holds no faces or writes decimals with a comma.
    """
    text, report = _decoded(path)
    contents = _parse(text, path.name)
    if not contents.faces:
        raise MeshError(f"{path.name} holds no faces" + (", only lines" if contents.skipped["l"] else ""))
    points = _in_room(np.array(contents.vertices), unit, up, turn_deg, move)
    groups = {face.group for face in contents.faces}
    materials = {face.material for face in contents.faces}
    by_material = len(groups) == 1 and len(materials) > 1
    polygons, empty = [], []
    for face in contents.faces:
        corners = points[face.corners]
        if np.abs(corners).max(initial=0.0) > _FARTHEST_M:
            reach_m = np.abs(corners).max()
            raise MeshError(
                f"{path.name}: the face in line {face.line} reaches {reach_m:.3g} m away; is the unit right?"
            )
        if len(corners) < 3 or np.linalg.norm(area_vector(corners)) < _SMALLEST_FACE_M2:
            if _spread_m2(corners) > _SMALLEST_FACE_M2:
                raise MeshError(f"{path.name}: {crossing_face(face.group or face.material, face.line)}")
            empty.append(face.line)
            continue
        name = face.material if by_material else (face.group or face.material)
        polygons.append(MeshPolygon(name or plain(path.stem), corners, face.line))
    if not polygons:
        raise MeshError(f"{path.name}: none of the {len(empty)} faces has an area; is the unit right?")
    report += _report(contents, polygons, empty, by_material=by_material)
    return MeshFile(tuple(polygons), tuple(plain(f"{path.name}: {line}") for line in report))


def crossing_face(name: str, line: int) -> str:
    """What is wrong with a face whose corners do not run round it."""
    return f'the face in line {line} ("{name}") crosses itself: list its corners in order round it'


def _spread_m2(corners: Floats) -> float:
    """Area of the largest triangle from the first corner of a face, 0 where all lie on a line. [m2]"""
    spokes = corners[1:] - corners[:1]
    fan = np.cross(spokes[:, None], spokes[None])
    return 0.5 * float(np.linalg.norm(fan, axis=-1).max(initial=0.0))


@dataclass(frozen=True)
class _Face:
    corners: list[int]
    group: str
    material: str
    line: int


@dataclass
class _Contents:
    """What has been read of a file so far."""

    vertices: list[tuple[float, float, float]] = field(default_factory=list)
    faces: list[_Face] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)


_FARTHEST_M = 1e5  # no room and no site plan is so large
_SILENT = {"vt", "vn", "vp", "s", "mtllib", "usemap", "lod", "shadow_obj", "trace_obj", "mg", "bevel"}


def _decoded(path: Path) -> tuple[str, list[str]]:
    try:
        raw = path.read_bytes()
    except OSError as problem:
        raise MeshError(f"{path.name} cannot be read: {problem.strerror}") from None
    if not raw.strip():
        raise MeshError(f"{path.name} is empty")
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace"), ["read as UTF-16"]
    if b"\0" in raw[:4096]:
        raise MeshError(f"{path.name} is not a text file; export the room as OBJ")
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return raw.decode("latin-1"), ["read as latin-1, because it is not UTF-8"]


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Lines with their numbers from 1; a backslash at the end joins the next one on."""
    joined, start = "", 0
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), 1):
        start = start or number
        if line.rstrip().endswith("\\"):
            joined += line.rstrip()[:-1] + " "
            continue
        yield start, joined + line
        joined, start = "", 0
    if joined:
        yield start, joined


def _parse(text: str, file: str) -> _Contents:
    contents = _Contents()
    group, material = "", ""
    for number, line in _lines(text):
        word, _, rest = line.replace("\t", " ").strip().partition(" ")
        if not word or word.startswith("#"):
            continue
        if word == "v":
            contents.vertices.append(_vertex(rest, f"{file} line {number}"))
        elif word == "f":
            corners = _corners(rest, len(contents.vertices), f"{file} line {number}")
            contents.faces.append(_Face(corners, group, material, number))
        elif word in ("o", "g"):
            group = plain(" ".join(rest.split()))
        elif word == "usemtl":
            material = plain(" ".join(rest.split()))
        elif word not in _SILENT:
            contents.skipped[word] += 1
    for face in contents.faces:
        if face.corners and max(face.corners) >= len(contents.vertices):
            n_vertices = len(contents.vertices)
            raise MeshError(
                f"{file} line {face.line}: there is no vertex {max(face.corners) + 1}, only {n_vertices}"
            )
    return contents


def _vertex(rest: str, where: str) -> tuple[float, float, float]:
    words = rest.partition("#")[0].split()
    try:
        x, y, z = (float(word) for word in words[:3])
    except ValueError:
        if any("," in word for word in words):
            raise MeshError(
                f"{where}: decimal comma in {rest.strip()!r}; export with decimal points"
            ) from None
        raise MeshError(f"{where}: three coordinates are needed, found {rest.strip()!r}") from None
    if not (math.isfinite(x) and math.isfinite(y) and math.isfinite(z)):
        raise MeshError(f"{where}: a coordinate is not a finite number: {rest.strip()!r}")
    return x, y, z


def _corners(rest: str, n_vertices: int, where: str) -> list[int]:
    """Vertex numbers from 0 of a face; repeats of the corner before left out."""
    corners: list[int] = []
    for word in rest.partition("#")[0].split():
        try:
            index = int(word.partition("/")[0])
        except ValueError:
            raise MeshError(f"{where}: {word!r} is not a corner; accepted: 3, 3/1, 3//2 or -1") from None
        if index == 0 or index < -n_vertices:
            raise MeshError(f"{where}: there is no vertex {index}; they count from 1, or back from -1")
        corners.append(index - 1 if index > 0 else n_vertices + index)
    return [corner for k, corner in enumerate(corners) if corner != corners[k - 1]]


def _in_room(points: Floats, unit: str, up: str, turn_deg: float, move: tuple[float, float, float]) -> Floats:
    times, over = _UNITS[unit]
    metres = points * times / over
    if up == "y":
        metres = np.column_stack([metres[:, 0], -metres[:, 2], metres[:, 1]]) + 0.0
    cosine, sine = cos_sin(turn_deg)
    x, y, z = metres.T
    turned: Floats = np.column_stack([cosine * x - sine * y, sine * x + cosine * y, z]) + np.array(move)
    return turned


def _report(
    contents: _Contents, polygons: list[MeshPolygon], empty: list[int], *, by_material: bool
) -> list[str]:
    """What a person should know about the reading."""
    counts = Counter(polygon.name for polygon in polygons)
    source = "materials, since all faces are in one group" if by_material else "groups, objects or materials"
    named = ", ".join(f'"{name}" {count}' for name, count in list(counts.items())[:20])
    more = f" and {len(counts) - 20} more" if len(counts) > 20 else ""
    report = [f"{len(polygons)} faces in {len(counts)} parts named by {source}: {named}{more}"]
    if empty:
        report.append(f"{len(empty)} faces without area left out (the first in line {empty[0]})")
    labels = {"l": "line elements", "p": "point elements"}
    for word, count in contents.skipped.items():
        report.append(f"{count} {labels.get(word, f'entries of kind {word!r}')} ignored: they are no faces")
    return report

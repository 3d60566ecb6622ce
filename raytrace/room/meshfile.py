"""Mesh files -> named polygons, with a report of what was met on the way. The only reader of meshes."""

import os
import stat
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import counted, plain
from raytrace.room.filekinds import refuse_other_kind
from raytrace.room.polygons import area_vector
from raytrace.room.rawmesh import MeshError, RawMesh
from raytrace.room.setout import cos_sin

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# Metres are numbers times the first over the second, so that 4200 mm is 4.2 m to the last bit.
_UNITS = {"mm": (1.0, 1000.0), "cm": (1.0, 100.0), "m": (1.0, 1.0), "in": (0.0254, 1.0), "ft": (0.3048, 1.0)}
UNITS = tuple(_UNITS)
# Which axes of a file become x, y and z where each points up, and which of them are turned round.
_UPWARDS = {
    "z": ([0, 1, 2], (1.0, 1.0, 1.0)),
    "y": ([0, 2, 1], (1.0, -1.0, 1.0)),
    "x": ([1, 2, 0], (1.0, 1.0, 1.0)),
    "-z": ([0, 1, 2], (1.0, -1.0, -1.0)),
    "-y": ([0, 2, 1], (1.0, 1.0, -1.0)),
    "-x": ([2, 1, 0], (1.0, 1.0, -1.0)),
}
UPS = tuple(_UPWARDS)

LARGEST_BYTES = 256_000_000
MOST_FACES = 2_000_000
_SMALLEST_FACE_M2 = 1e-10
_FARTHEST_M = 1e5  # no room and no site plan is so large


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
        Line of the file it stands in, counted from 1; of formats without lines, the number of the face.
    """

    name: str
    corners: Floats
    line: int


@dataclass(frozen=True)
class MeshFile:
    """The faces of a mesh file, and what a person should know about the reading."""

    polygons: tuple[MeshPolygon, ...]
    report: tuple[str, ...]


def read_mesh(
    path: Path,
    *,
    unit: Literal["mm", "cm", "m", "in", "ft"],
    up: Literal["z", "y"] = "z",
    turn_deg: float = 0.0,
    move: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> MeshFile:
    """The faces of a mesh file in the room's frame.

    Parameters
    ----------
    path : Path
        The file: glTF, GLB, STL or PLY by its ending, OBJ in all other cases.
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
        Names of an OBJ file are those of `g` or `o` (whichever stands nearer above the face); of `usemtl`
        where all faces share one group.

    Raises
    ------
    MeshError
        If the file does not read, holds no faces, is no file or too large.
    """
    raw = read_raw(path)
    points = in_room(raw.points, unit, up, turn_deg, move)
    _refuse_far(raw, points, path.name)
    bad = _without_area(raw, points)
    polygons, empty = [], []
    for index, name in enumerate(raw.name_of_face):
        line = int(raw.lines[index])
        if bad[index]:
            corners = points[raw.face(index)]
            if len(corners) and _spread_m2(corners) > _SMALLEST_FACE_M2:
                raise MeshError(f"{path.name}: {crossing_face(raw.names[name], line)}")
            empty.append(line)
            continue
        polygons.append(MeshPolygon(raw.names[name], points[raw.face(index)], line))
    if not polygons:
        raise MeshError(f"{path.name}: none of the {len(empty)} faces has an area; is the unit right?")
    report = (*_report(raw, polygons, empty), *raw.report)
    return MeshFile(tuple(polygons), tuple(plain(f"{path.name}: {line}") for line in report))


def read_raw(path: Path) -> RawMesh:
    """The faces of a mesh file in its own numbers and axes.

    Raises
    ------
    MeshError
        As `read_mesh`.
    """
    from raytrace.room.meshformats import FORMATS, parse_format
    from raytrace.room.objtext import parse_obj

    raw = regular_bytes(path)
    suffix, unnamed = path.suffix.lower(), plain(path.stem)
    refuse_other_kind(raw, suffix=suffix, file=path.name)
    if suffix in FORMATS:
        mesh = parse_format(raw, suffix=suffix, file=path.name, unnamed=unnamed)
    else:
        text, said = _decoded(raw, path.name)
        parsed = parse_obj(text, file=path.name, unnamed=unnamed)
        mesh = RawMesh(**{**vars(parsed), "report": (*said, *parsed.report)})
    if len(mesh.lines) > MOST_FACES:
        raise MeshError(f"{path.name} holds {len(mesh.lines)} faces; at most {MOST_FACES} are taken")
    return mesh


def crossing_face(name: str, line: int) -> str:
    """What is wrong with a face whose corners do not run round it."""
    return f'the face in line {line} ("{name}") crosses itself: list its corners in order round it'


def in_room(
    points: Floats,
    unit: str,
    up: str,
    turn_deg: float = 0.0,
    move: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> Floats:
    """Points of a file in metres, its axis `up` upwards, turned about that and moved. (n, 3)"""
    times, over = _UNITS[unit]
    order, signs = _UPWARDS[up]
    metres = (points * times / over)[:, order] * signs + 0.0
    cosine, sine = cos_sin(turn_deg)
    x, y, z = metres.T
    turned: Floats = np.column_stack([cosine * x - sine * y, sine * x + cosine * y, z]) + np.array(move)
    return turned


def _refuse_far(raw: RawMesh, points: Floats, file: str) -> None:
    """Refuse what no unit makes a room, before products of its numbers overflow."""
    reach_m = np.abs(points[raw.corners]).max(axis=1, initial=0.0)
    if (reach_m > _FARTHEST_M).any():
        row = int(np.argmax(reach_m > _FARTHEST_M))
        line = raw.lines[np.searchsorted(raw.starts, row, side="right") - 1]
        far_m = reach_m[row]
        raise MeshError(f"{file}: the face in line {line} reaches {far_m:.3g} m away; is the unit right?")


def _without_area(raw: RawMesh, points: Floats) -> Bools:
    """Which faces have no area to speak of; triangles all at once. (n_faces,)"""
    counts = np.diff(raw.starts)
    bad = counts < 3
    three = np.flatnonzero(counts == 3)
    a, b, c = points[raw.corners[raw.starts[three][:, None] + np.arange(3)]].transpose(1, 0, 2)
    bad[three] = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1) < _SMALLEST_FACE_M2
    for index in np.flatnonzero(counts > 3):
        bad[index] = np.linalg.norm(area_vector(points[raw.face(int(index))])) < _SMALLEST_FACE_M2
    return bad


def _spread_m2(corners: Floats) -> float:
    """Area of the largest triangle from the first corner of a face, 0 where all lie on a line. [m2]"""
    spokes = corners[1:] - corners[:1]
    fan = np.cross(spokes[:, None], spokes[None])
    return 0.5 * float(np.linalg.norm(fan, axis=-1).max(initial=0.0))


def regular_bytes(path: Path) -> bytes:
    """All of a file; nothing is read of what is no file or too large."""
    try:
        # Without waiting: a pipe that nobody writes into would hold the program up for ever.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except (OSError, ValueError) as problem:
        why = problem.strerror if isinstance(problem, OSError) else "it is no name of a file"
        raise MeshError(f"{path.name} cannot be read: {why}") from None
    try:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            raise MeshError(f"{path.name} cannot be read: it is no file but a folder, pipe or device")
        if found.st_size > LARGEST_BYTES:
            size, most = found.st_size / 1e6, LARGEST_BYTES / 1e6
            raise MeshError(
                f"{path.name} is {size:.0f} MB; at most {most:.0f} MB are read: thin the scan out"
            )
        with open(handle, "rb", closefd=False) as stream:
            raw = stream.read(LARGEST_BYTES)
    finally:
        os.close(handle)
    if not raw.strip():
        raise MeshError(f"{path.name} is empty")
    return raw


def _decoded(raw: bytes, file: str) -> tuple[str, list[str]]:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace"), ["read as UTF-16"]
    if b"\0" in raw[:4096]:
        raise MeshError(
            f"{file} is not a text file, as an OBJ is: export the room anew, as OBJ, GLB, PLY or STL"
        )
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return raw.decode("latin-1"), ["read as latin-1, because it is not UTF-8"]


def _report(raw: RawMesh, polygons: list[MeshPolygon], empty: list[int]) -> list[str]:
    """What a person should know about the faces."""
    counts = Counter(polygon.name for polygon in polygons)
    named = ", ".join(f'"{name}" {count}' for name, count in list(counts.items())[:20])
    more = f" and {len(counts) - 20} more" if len(counts) > 20 else ""
    whole, parts = counted(len(polygons), "face"), counted(len(counts), "part")
    report = [f"{whole} in {parts} named by {raw.named_by}: {named}{more}"]
    if empty:
        report.append(f"{counted(len(empty), 'face')} without area left out (the first in line {empty[0]})")
    return report

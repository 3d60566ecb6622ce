"""glTF, GLB, STL and PLY -> raw faces, through trimesh: names where the format has them, no other files."""

import io
import json
import logging
import re
from typing import Any

import numpy as np

from raytrace.facts import plain
from raytrace.room.rawmesh import MeshError, RawMesh, no_faces

# What a reader of broken files logs is no message of ours, and would reach the terminal with its traceback.
logging.getLogger("trimesh").addHandler(logging.NullHandler())

FORMATS = (".glb", ".gltf", ".ply", ".stl")
# Bytes of the number kinds of PLY, under both their names (from memory).
_SIZES = {
    "char": 1, "uchar": 1, "int8": 1, "uint8": 1, "short": 2, "ushort": 2, "int16": 2, "uint16": 2,
    "int": 4, "uint": 4, "int32": 4, "uint32": 4, "float": 4, "float32": 4, "double": 8, "float64": 8,
}  # fmt: skip


def parse_format(raw: bytes, *, suffix: str, file: str, unnamed: str) -> RawMesh:
    """The faces of a file in one of `FORMATS`, in its own numbers and axes.

    Parameters
    ----------
    raw : bytes
        All of it.
    suffix : str
        One of `FORMATS`.
    file, unnamed : str
        Its name, for messages; what faces are called that have no name.

    Raises
    ------
    MeshError
        If it does not read, holds no triangles, or asks for other files.
    """
    import trimesh

    _refuse_cut_off(raw, suffix, file)
    if suffix in (".gltf", ".glb"):
        _refuse_links(raw, suffix, file)
    _refuse_empty_promises(raw, suffix, file)
    try:
        scene = trimesh.load_scene(
            io.BytesIO(raw), file_type=suffix[1:], process=False, skip_materials=True, resolver=None
        )
        parts = _parts(scene, unnamed)
    except MemoryError:
        raise MeshError(f"{file} asks for more memory than there is") from None
    except Exception as problem:  # readers of broken files raise whatever they stumble over
        said = plain(" ".join(str(problem).split()))[:120]
        raise MeshError(f"{file} does not read as {suffix[1:].upper()}: {said or 'it is broken'}") from None
    if not parts:
        raise MeshError(f"{file} {no_faces(_n_points(scene))}")
    return _joined(parts, file, suffix)


def _parts(scene: Any, unnamed: str) -> list[tuple[str, Any, Any]]:
    """Name, points and triangles of every placed mesh; a node's own name before that of its geometry."""
    import trimesh

    parts = []
    for node in scene.graph.nodes_geometry:
        transform, geometry = scene.graph[node]
        mesh = scene.geometry[geometry]
        if not isinstance(mesh, trimesh.Trimesh) or not len(mesh.faces):
            continue
        points = np.asarray(mesh.vertices, np.float64) @ transform[:3, :3].T + transform[:3, 3]
        name = node if not node.startswith("geometry_") else geometry
        is_made_up = name.startswith(("geometry_", "unnamed_scene")) or not name.strip()
        parts.append((unnamed if is_made_up else plain(name), points, np.asarray(mesh.faces, np.int64)))
    return parts


def _n_points(scene: Any) -> int:
    """How many points there are in a file without faces."""
    return sum(len(getattr(geometry, "vertices", ())) for geometry in scene.geometry.values())


def _joined(parts: list[tuple[str, Any, Any]], file: str, suffix: str) -> RawMesh:
    points = np.concatenate([points for _, points, _ in parts])
    first = np.cumsum([0, *(len(points) for _, points, _ in parts)])
    faces = np.concatenate([faces + start for (_, _, faces), start in zip(parts, first[:-1], strict=True)])
    if faces.min() < 0 or faces.max() >= len(points):
        raise MeshError(f"{file}: a face names a vertex that is not there")
    if not np.isfinite(points).all():
        raise MeshError(f"{file}: a coordinate is not a finite number")
    number = {name: k for k, name in enumerate(dict.fromkeys(name for name, _, _ in parts))}
    is_gltf = suffix in (".glb", ".gltf")
    return RawMesh(
        points=points,
        corners=faces.reshape(-1),
        starts=3 * np.arange(len(faces) + 1),
        names=tuple(number),
        name_of_face=np.repeat([number[name] for name, _, _ in parts], [len(f) for _, _, f in parts]),
        lines=np.arange(1, len(faces) + 1),
        named_by="the parts of the file" if is_gltf else "the file",
        up="y" if is_gltf else "",  # glTF 2.0, section 3.4 (from memory)
    )


def _refuse_cut_off(raw: bytes, suffix: str, file: str) -> None:
    """Refuse a file that is shorter than its head says (glTF 2.0, section 4.4; STL and PLY from memory)."""
    says, has, what = 0, len(raw), "bytes"
    if suffix == ".ply":
        says, has, what = _least_of_ply(raw)
    elif suffix == ".glb" and raw[:4] == b"glTF" and len(raw) >= 12:
        says = int.from_bytes(raw[8:12], "little")
    elif suffix == ".stl" and raw[:5].lower() != b"solid" and len(raw) >= 84:
        says = 84 + 50 * int.from_bytes(raw[80:84], "little")
    if has < says:
        raise MeshError(
            f"{file} ends early: {has} of the {says} {what} that its head names; copy or export it again"
        )


def _least_of_ply(raw: bytes) -> tuple[int, int, str]:
    """How long a PLY is at least by its head, how long it is, and in what: faces are triangles or more."""
    head, mark, body = raw.partition(b"end_header")
    if not mark:
        return 0, len(raw), "bytes"
    is_text = b"format ascii" in head
    total, count = 0, 0
    for line in head[:65536].decode("latin-1").splitlines():
        words = line.split()
        if words[:1] == ["element"] and len(words) == 3 and words[2].isdigit():
            count = int(words[2])
        elif words[:2] == ["property", "list"] and len(words) == 5:
            # Other lists than those of corners may be empty.
            n = 3 if words[4].startswith("vertex_ind") else 0
            sizes = _SIZES.get(words[2], 1), _SIZES.get(words[3], 1)
            total += count * (1 + n if is_text else sizes[0] + n * sizes[1])
        elif words[:1] == ["property"] and len(words) == 3:
            total += count * (1 if is_text else _SIZES.get(words[1], 1))
    return (total, len(body.split()), "numbers") if is_text else (total, len(body) - 1, "bytes")


def _refuse_empty_promises(raw: bytes, suffix: str, file: str) -> None:
    """Refuse a file that says it holds more than its bytes can: readers would make room for it first."""
    if suffix == ".ply":
        head = raw[: 1 + raw.find(b"end_header")] if b"end_header" in raw[:65536] else b""
        counts = [int(count) for count in re.findall(rb"element\s+\w+\s+(\d{1,18})\b", head)]
        if not head.startswith(b"ply") or sum(counts) > len(raw):
            raise MeshError(f"{file} does not read as PLY: its head does not fit what follows")
    elif suffix != ".stl":
        counts = [int(count) for count in re.findall(rb'"count"\s*:\s*(\d{1,18})', raw[:1_000_000])]
        if max(counts, default=0) > len(raw):
            raise MeshError(f"{file} does not read as {suffix[1:].upper()}: it promises more than it holds")


def _refuse_links(raw: bytes, suffix: str, file: str) -> None:
    """Refuse a glTF that keeps its numbers in other files: they may lie anywhere."""
    text = raw if suffix == ".gltf" else raw[20 : 20 + int.from_bytes(raw[12:16], "little")]
    try:
        contents = json.loads(text)
        buffers = contents.get("buffers", [])
        links = [
            str(entry["uri"]) for entry in buffers if not str(entry.get("uri", "data:")).startswith("data:")
        ]
    except (ValueError, AttributeError, TypeError, RecursionError):
        raise MeshError(f"{file} does not read as {suffix[1:].upper()}: its description is broken") from None
    if links:
        raise MeshError(
            f'{file} keeps its numbers in another file, "{plain(links[0])[:60]}"; export it as one file (GLB)'
        )

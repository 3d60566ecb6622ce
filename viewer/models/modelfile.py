"""Parts of a model -> the bytes of a GLB, OBJ, PLY or STL file; all but GLB exact to the last bit."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from viewer.models.parts import Part

if TYPE_CHECKING:
    from trimesh import Trimesh
    from trimesh.path import Path3D

Floats = NDArray[np.float64]

MODEL_FORMATS = (".glb", ".obj", ".ply", ".stl")
_SOLID = {"surface", "object", "panel"}  # what makes sense without colours


def model_bytes(parts: Sequence[Part], suffix: str, *, title: str) -> bytes:
    """A model as a file.

    Parameters
    ----------
    parts : sequence of Part
    suffix : str
        One of `MODEL_FORMATS`.
    title : str
        What it is a model of.

    Notes
    -----
    GLB turns y upwards and rounds to 32 bits, as its standard has it (Khronos glTF 2.0). PLY has no names.
    STL has neither colours nor lines: it holds surfaces, objects and panels alone.
    """
    if suffix == ".glb":
        return _glb(parts, title)
    texts = {".obj": lambda: _obj(parts, title), ".ply": lambda: _ply(parts), ".stl": lambda: _stl(parts)}
    return texts[suffix]().encode("utf-8")


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _obj(parts: Sequence[Part], title: str) -> str:
    """Groups with their faces or lines, colours behind the coordinates."""
    lines = [f"# {title}", "# metres, z upwards; x from the front wall, y from the left wall"]
    first = 1
    for part in parts:
        red, green, blue = (channel / 255.0 for channel in _rgb(part.colour))
        lines.append(f"g {part.name}")
        lines += [f"v {x!r} {y!r} {z!r} {red:.3f} {green:.3f} {blue:.3f}" for x, y, z in part.points.tolist()]
        lines += [f"f {a} {b} {c}" for a, b, c in (part.triangles + first).tolist()]
        if not len(part.triangles):
            lines.append("l " + " ".join(str(first + k) for k in range(len(part.points))))
        first += len(part.points)
    return "\n".join(lines) + "\n"


def _ply(parts: Sequence[Part]) -> str:
    """Vertices with colours, faces, and paths as edges."""
    vertices, faces, edges = list[str](), list[str](), list[str]()
    for part in parts:
        first = len(vertices)
        rgb = " ".join(str(channel) for channel in _rgb(part.colour))
        vertices += [f"{x!r} {y!r} {z!r} {rgb}" for x, y, z in part.points.tolist()]
        faces += [f"3 {a} {b} {c}" for a, b, c in (part.triangles + first).tolist()]
        if not len(part.triangles):
            edges += [f"{first + k} {first + k + 1} {rgb}" for k in range(len(part.points) - 1)]
    colours = [f"property uchar {channel}" for channel in ("red", "green", "blue")]
    head = ["ply", "format ascii 1.0", f"element vertex {len(vertices)}"]
    head += [*(f"property double {axis}" for axis in "xyz"), *colours]
    head += [f"element face {len(faces)}", "property list uchar int vertex_indices"]
    head += [f"element edge {len(edges)}", "property int vertex1", "property int vertex2", *colours]
    return "\n".join([*head, "end_header", *vertices, *faces, *edges]) + "\n"


def _stl(parts: Sequence[Part]) -> str:
    """A solid for each part with faces of its own, under its name."""
    lines = []
    for part in parts:
        if part.kind not in _SOLID:
            continue
        corners = part.points[part.triangles]
        normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
        lines.append(f"solid {part.name}")
        for (x, y, z), triangle in zip(normals.tolist(), corners.tolist(), strict=True):
            lines += [f"facet normal {x!r} {y!r} {z!r}", "outer loop"]
            lines += [f"vertex {x!r} {y!r} {z!r}" for x, y, z in triangle]
            lines += ["endloop", "endfacet"]
        lines.append(f"endsolid {part.name}")
    return "\n".join(lines) + "\n"


def _glb(parts: Sequence[Part], title: str) -> bytes:
    """A node for each part, under its name."""
    import trimesh

    scene = trimesh.Scene(metadata={"title": title})
    taken: set[str] = set()
    for part in parts:
        name = _free_name(part.name, taken)
        scene.add_geometry(_shape(part), node_name=name, geom_name=name)
    exported: bytes = scene.export(file_type="glb")
    return exported


def _shape(part: Part) -> "Trimesh | Path3D":
    """A part's faces or its line with their colour, y upwards as GLB has it."""
    from trimesh import Trimesh
    from trimesh.path import Path3D
    from trimesh.path.entities import Line
    from trimesh.visual import TextureVisuals
    from trimesh.visual.material import PBRMaterial

    points = np.column_stack([part.points[:, 0], part.points[:, 2], -part.points[:, 1]])
    colour = [*_rgb(part.colour), 255]
    if not len(part.triangles):
        return Path3D([Line(np.arange(len(points)))], points, colors=[colour], process=False)
    mesh = Trimesh(points, part.triangles, process=False)
    material = PBRMaterial(baseColorFactor=colour, metallicFactor=0.0, doubleSided=True)
    mesh.visual = TextureVisuals(material=material)
    return mesh


def _free_name(name: str, taken: set[str]) -> str:
    """A name that no other part has."""
    free, number = name, 2
    while free in taken:
        free, number = f"{name} ({number})", number + 1
    taken.add(free)
    return free

"""Entities of a DXF file -> closed outlines by layer, and the blocks that are doors or windows."""

import io
import logging
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import plain
from raytrace.room import MeshError, refuse_other_kind, regular_bytes
from raytrace.scan.planfaces import SAME, Ring, rings_of

if TYPE_CHECKING:
    from ezdxf.document import Drawing

Floats = NDArray[np.float64]

# What a reader of broken files logs is no message of ours, and would reach the terminal.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

MOST_CORNERS = 400
_DOOR = re.compile(r"door|t(ü|ue?)r|porte|puerta|porta", re.IGNORECASE)
_WINDOW = re.compile(r"window|fenster|fen[eê]tre|ventana|finestra|janela", re.IGNORECASE)
_ROUND = 0.002  # of the outline's size: how far flat strips may lie off an arc
_MOST_ENTITIES = 200_000
# What the library stumbles over in a file that is no drawing any more: it checks little, and asserts some.
_STUMBLES = (OSError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError, AssertionError)


@dataclass(frozen=True)
class Insert:
    """A block that by its name or layer is a door or window: kind, name, corners of what it covers (4, 2)."""

    kind: str
    name: str
    corners: Floats


def open_drawing(path: Path) -> "Drawing":
    """The drawing in a file, mended where that can be done."""
    from ezdxf import recover
    from ezdxf.lldxf.const import DXFError

    raw = regular_bytes(path)
    refuse_other_kind(raw, suffix=".dxf", file=path.name)
    if b"SECTION" not in raw:
        raise MeshError(f"{path.name} is no DXF drawing: nothing in it starts a section")
    try:
        document, _ = recover.read(io.BytesIO(raw))
    except (DXFError, *_STUMBLES) as problem:
        raise MeshError(f"{path.name} does not read as DXF: {plain(str(problem))[:120]}") from None
    if len(document.entitydb) > _MOST_ENTITIES:
        raise MeshError(
            f"{path.name} holds {len(document.entitydb)} entities; at most {_MOST_ENTITIES} are read"
        )
    return document


def rings_by_layer(document: "Drawing") -> tuple[dict[str, list[Ring]], dict[str, list[Floats]]]:
    """Closed outlines by layer, the largest first, and where lines of a layer stay open, as ends (2, 2)."""
    rings: dict[str, list[Ring]] = {}
    lines: dict[str, list[Floats]] = {}
    for entity in document.modelspace():
        kind, layer = entity.dxftype(), str(entity.dxf.layer)
        if kind in ("LWPOLYLINE", "POLYLINE"):
            points, is_closed = _flat(entity)
            if len(points) >= 3 and is_closed:
                rings.setdefault(layer, []).append(Ring(points))
            elif len(points) >= 2:
                lines.setdefault(layer, []).extend(np.stack([points[:-1], points[1:]], axis=1))
        elif kind == "LINE":
            ends = np.array([tuple(entity.dxf.start)[:2], tuple(entity.dxf.end)[:2]], np.float64)
            if np.isfinite(ends).all():
                lines.setdefault(layer, []).append(ends)
    gaps = {}
    for layer, own in lines.items():
        closed, gaps[layer] = rings_of(own)
        rings.setdefault(layer, []).extend(closed)
    kept = {layer: [ring for ring in own if ring.area > 0.0] for layer, own in rings.items()}
    found = {layer: sorted(own, key=lambda ring: -ring.area) for layer, own in kept.items() if own}
    return found, gaps


def _flat(entity: Any) -> tuple[Floats, bool]:
    """Corners of a polyline (n, 2), arcs as flat strips, and whether it closes; none where it has none."""
    from ezdxf import path as paths

    try:
        drawn = paths.make_path(entity)
        ends = np.array([tuple(v)[:2] for v in drawn.control_vertices()], np.float64).reshape(-1, 2)
        size = float(np.ptp(ends, axis=0).max()) if len(ends) else 0.0
        if not (np.isfinite(ends).all() and size > 0.0):
            return np.zeros((0, 2)), False
        points = np.array([tuple(v)[:2] for v in drawn.flattening(_ROUND * size)], np.float64)
    except (ValueError, TypeError, ZeroDivisionError, AttributeError):
        return np.zeros((0, 2)), False
    same = bool(np.linalg.norm(points[0] - points[-1]) <= SAME * size)
    return (points[:-1] if same else points), same or bool(getattr(entity, "is_closed", False))


def named_inserts(document: "Drawing") -> Iterator[Insert]:
    """Blocks that are doors or windows by their names or layers."""
    from ezdxf import bbox

    for entity in document.modelspace().query("INSERT"):
        name, layer = str(entity.dxf.name), str(entity.dxf.layer)
        kind = next(
            (kind for kind, word in (("door", _DOOR), ("window", _WINDOW)) if word.search(f"{name} {layer}")),
            "",
        )
        if not kind:
            continue
        try:
            parts = entity.virtual_entities()  # type: ignore[attr-defined]  # only blocks come here
            box = bbox.extents(parts, fast=True)
        except (ValueError, TypeError, AttributeError, ZeroDivisionError):
            continue
        if box.has_data:
            (x0, y0, _), (x1, y1, _) = box.extmin, box.extmax
            corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], np.float64)
            if np.isfinite(corners).all():
                yield Insert(kind, plain(name), corners)

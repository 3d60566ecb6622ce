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
from raytrace.room import MeshError, regular_bytes

if TYPE_CHECKING:
    from ezdxf.document import Drawing

Floats = NDArray[np.float64]

# What a reader of broken files logs is no message of ours, and would reach the terminal.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

MOST_CORNERS = 400
_DOOR = re.compile(r"door|t(ü|ue?)r|porte|puerta|porta", re.IGNORECASE)
_WINDOW = re.compile(r"window|fenster|fen[eê]tre|ventana|finestra|janela", re.IGNORECASE)
_WIDEST_GAP = 0.45  # of the outline's size; a wider one is no door
_SAME = 1e-4  # of the outline's size: ends that meet
_IN_LINE = np.cos(np.radians(3.0))
_ROUND = 0.002  # of the outline's size: how far flat strips may lie off an arc
_MOST_ENTITIES = 200_000
# What the library stumbles over in a file that is no drawing any more: it checks little, and asserts some.
_STUMBLES = (OSError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError, AssertionError)


@dataclass(frozen=True)
class Ring:
    """A closed outline in the file's numbers, with the gaps of its walls, as rows of ends (2, 2)."""

    corners: Floats
    gaps: tuple[Floats, ...] = ()

    @property
    def area(self) -> float:
        """In the square of the file's numbers."""
        x, y = self.corners.T
        return float(abs(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1))))


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
    try:
        document, _ = recover.read(io.BytesIO(raw))
    except (DXFError, *_STUMBLES) as problem:
        raise MeshError(f"{path.name} does not read as DXF: {plain(str(problem))[:120]}") from None
    if len(document.entitydb) > _MOST_ENTITIES:
        raise MeshError(
            f"{path.name} holds {len(document.entitydb)} entities; at most {_MOST_ENTITIES} are read"
        )
    return document


def rings_by_layer(document: "Drawing") -> dict[str, list[Ring]]:
    """Closed outlines by layer, the largest first; polylines, and single lines end to end."""
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
    for layer, own in lines.items():
        rings.setdefault(layer, []).extend(_joined(own))
    kept = {layer: [ring for ring in own if ring.area > 0.0] for layer, own in rings.items()}
    return {layer: sorted(own, key=lambda ring: -ring.area) for layer, own in kept.items() if own}


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
    same = bool(np.linalg.norm(points[0] - points[-1]) <= _SAME * size)
    return (points[:-1] if same else points), same or bool(getattr(entity, "is_closed", False))


def _joined(lines: list[Floats]) -> list[Ring]:
    """Rings that single lines make, end to end; a gap between two in one line is a door or window."""
    rings, left = [], [line for line in lines if np.linalg.norm(line[1] - line[0]) > 0.0]
    while len(left) >= 3 and len(left) <= MOST_CORNERS * 4:
        left.sort(key=lambda line: float(np.linalg.norm(line[1] - line[0])))
        size = float(np.ptp(np.concatenate(left), axis=0).max())
        chain = [left.pop()]
        gaps: list[Floats] = []
        while True:
            step = _next(chain, left, size)
            if step is None:
                break
            row, line, gap = step
            if gap is not None:
                gaps.append(gap)
            if row < 0:
                rings.append(Ring(_corners(chain), tuple(gaps)))
                break
            left.pop(row)
            chain.append(line)
    return rings


def _next(chain: list[Floats], left: list[Floats], size: float) -> tuple[int, Floats, Floats | None] | None:
    """Which line goes on where a chain ends, turned so, and the gap before it; -1 for its start."""
    end = chain[-1][1]
    ahead = [(k, line[::way]) for k, line in enumerate(left) for way in (1, -1)]
    if len(chain) >= 3:
        ahead.append((-1, chain[0]))
    touching = [(k, line) for k, line in ahead if np.linalg.norm(line[0] - end) <= _SAME * size]
    if touching:
        row, line = min(touching, key=lambda one: one[0])
        return row, line, None
    across = [
        (float(np.linalg.norm(line[0] - end)), k, line)
        for k, line in ahead
        if _goes_on(chain[-1], line) and np.linalg.norm(line[0] - end) <= _WIDEST_GAP * size
    ]
    if not across:
        return None
    _, row, line = min(across, key=lambda one: one[0])
    return row, line, np.array([end, line[0]])


def _goes_on(before: Floats, after: Floats) -> bool:
    """Whether one line lies in the same straight line as another, ahead of it."""
    ways = [
        step / max(float(np.linalg.norm(step)), 1e-300)
        for step in (before[1] - before[0], after[1] - after[0])
    ]
    gap = after[0] - before[1]
    gap = gap / max(float(np.linalg.norm(gap)), 1e-300)
    return bool(ways[0] @ ways[1] > _IN_LINE and ways[0] @ gap > _IN_LINE)


def _corners(chain: list[Floats]) -> Floats:
    """Corners of a closed chain of lines; where two go on in one line, none."""
    corners = [
        line[0]
        for before, line in zip(chain[-1:] + chain[:-1], chain, strict=True)
        if not _goes_on_or_touches(before, line)
    ]
    return np.array(corners, np.float64).reshape(-1, 2)


def _goes_on_or_touches(before: Floats, after: Floats) -> bool:
    first, second = before[1] - before[0], after[1] - after[0]
    return bool(first @ second > _IN_LINE * np.linalg.norm(first) * np.linalg.norm(second))


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

"""Faces of a mesh -> flat pieces: coplanar faces of one name merged, corners shared, normals into the air."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Amount, Sentence, Unit, metres, sentence
from raytrace.room.crossings import odd_crossings, sides_of
from raytrace.room.meshfile import MeshPolygon, crossing_face
from raytrace.room.polygons import Loop, area_vector, join, plane_axes, triangulate, with_touching_corners
from raytrace.room.rawmesh import MeshError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_FACETS = 500
_FLAT_M = 0.002  # faces this near to a plane belong to it
_SAME_DIRECTION = math.cos(math.radians(1.0))
_SLIVER_M = 0.005  # faces narrower than this have no direction of their own
_SAME_CORNER_M = 1e-4
_ON_EDGE_M = 5e-4
_HAIRS = "{count} slivers narrower than {width} left out"
_CURVED_DEG, _CURVED_STRIPS = 25.0, 6  # so many planes of a name that turn by less: a curve, drawn in pieces


@dataclass(frozen=True)
class FlatPiece:
    """A connected flat piece: name, outline (n, 3) anticlockwise seen from the air, holes. [m]"""

    name: str
    outline: Floats
    holes: tuple[Floats, ...]


@dataclass(frozen=True)
class Mended:
    """Flat pieces of a mesh, and what was done to it."""

    pieces: tuple[FlatPiece, ...]
    notes: tuple[Sentence, ...]


@dataclass(frozen=True)
class _Mesh:
    """Polygons as rows of shared corners; `faces[k]` is anticlockwise about `normals[k]`."""

    corners: Floats
    faces: list[Loop]
    names: list[str]
    vectors: Floats  # normal times area
    lines: list[int]

    @property
    def areas(self) -> Floats:
        areas: Floats = np.linalg.norm(self.vectors, axis=1)
        return areas


def flat_pieces(polygons: Sequence[MeshPolygon], *, air_inside: bool, number_all: bool = False) -> Mended:
    """Merge the coplanar faces of each name and turn them towards the air.

    Parameters
    ----------
    polygons : sequence of MeshPolygon
    air_inside : bool
        True for a room, False for an object.
    number_all : bool
        Number the faces of a name even where there is only one.

    Returns
    -------
    Mended
        A name that is not flat becomes "name 1", "name 2", ... by size.

    Raises
    ------
    MeshError
        If a face is bent by more than 2 mm, faces of one name lie over each other, or more than 500 flat
        pieces remain.
    """
    notes: list[Sentence] = []
    mesh = _shared(polygons, notes)
    planes = _planes(mesh)
    planes = _towards_air(mesh, planes, air_inside, notes)
    outlines = _outlines(mesh, planes)
    n_pieces = sum(len(pieces) for pieces in outlines)
    if n_pieces > MOST_FACETS:
        raise MeshError(_scan_message(n_pieces))
    corners = _onto_planes(mesh, planes, outlines, notes)
    outlines = _without_hairs(mesh, planes, corners, outlines, notes)
    _report_open_edges(corners, outlines, notes)
    names = _plane_names(mesh, planes, notes, number_all=number_all)
    _report_curved(mesh, planes, notes)
    order = {name: k for k, name in enumerate(dict.fromkeys(mesh.names))}
    ranked = sorted(
        range(len(planes)), key=lambda k: (order[mesh.names[planes[k].faces[0]]], *_by_size(planes[k]))
    )
    pieces = tuple(
        FlatPiece(names[k], corners[outline], tuple(corners[hole] for hole in holes))
        for k in ranked
        for outline, holes in outlines[k]
    )
    _refuse_tangled(pieces)
    return Mended(pieces, tuple(notes))


@dataclass(frozen=True)
class _Plane:
    """Faces of one name in one plane; `signs` turns each face's own normal into the plane's."""

    faces: Ints
    signs: Ints
    normal: Floats
    offset: float
    area_m2: float


def _shared(polygons: Sequence[MeshPolygon], notes: list[Sentence]) -> _Mesh:
    """Corners that stand within a tenth of a millimetre of each other made one; repeated faces left out."""
    points = np.concatenate([polygon.corners for polygon in polygons])
    number, corners = _same_corners(points)
    ends = np.cumsum([len(polygon.corners) for polygon in polygons])
    loops = np.split(number, ends[:-1])
    faces: list[Loop] = []
    kept: list[MeshPolygon] = []
    seen: set[tuple[int, ...]] = set()
    repeated, hairs = 0, 0
    for polygon, loop in zip(polygons, loops, strict=True):
        face = [int(k) for k, before in zip(loop, np.roll(loop, 1), strict=True) if k != before]
        same = tuple(sorted(face))
        is_hair = len(face) < 3 or _is_hair(corners[face])
        if is_hair or same in seen:
            hairs, repeated = hairs + is_hair, repeated + (not is_hair)
            continue
        seen.add(same)
        faces.append(face)
        kept.append(polygon)
    if repeated:
        notes.append(sentence("{count} repeated faces left out", count=repeated))
    if hairs:
        notes.append(sentence(_HAIRS, count=hairs, width=_hair(_ON_EDGE_M)))
    vectors = np.array([area_vector(corners[face]) for face in faces])
    mesh = _Mesh(corners, faces, [p.name for p in kept], vectors, [p.line for p in kept])
    _refuse_bent(mesh)
    return mesh


def _width_m(outline: Floats) -> float:
    """How wide a polygon (n, 3) is across its longest edge. [m]"""
    longest_m = float(np.linalg.norm(outline - np.roll(outline, 1, axis=0), axis=1).max())
    return 2.0 * float(np.linalg.norm(area_vector(outline))) / longest_m if longest_m else 0.0


def _is_hair(outline: Floats) -> bool:
    """Whether a face is too narrow to make anything of, or to tell in which order its corners lie."""
    width_m = _width_m(outline)
    return width_m < _SAME_CORNER_M or (width_m < _SLIVER_M and _crosses_itself(outline))


def _crosses_itself(outline: Floats, holes: Sequence[Floats] = ()) -> bool:
    try:
        triangulate(outline, holes)
    except ValueError:
        return True
    return False


def _same_corners(points: Floats) -> tuple[Ints, Floats]:
    """Number of each point among the distinct ones, and those."""
    distinct, inverse = np.unique(points, axis=0, return_inverse=True)
    cells = np.floor(distinct / _SAME_CORNER_M).astype(np.int64)
    # Two points in touching cells may be one corner: look into the 26 neighbours as well.
    by_cell: dict[tuple[int, int, int], list[int]] = {}
    number = np.empty(len(distinct), np.int64)
    corners: list[Floats] = []
    steps = [(i, j, k) for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1)]
    for row, (point, (i, j, k)) in enumerate(zip(distinct, cells.tolist(), strict=True)):
        near = [c for p, q, r in steps for c in by_cell.get((i + p, j + q, k + r), ())]
        match = next((c for c in near if np.abs(corners[c] - point).max() <= _SAME_CORNER_M), None)
        if match is None:
            match = len(corners)
            corners.append(point)
            by_cell.setdefault((i, j, k), []).append(match)
        number[row] = match
    return number[inverse.reshape(-1)], np.array(corners)


def _refuse_bent(mesh: _Mesh) -> None:
    """Refuse faces that no flat piece can be made of: bent, or crossing themselves."""
    for face, vector, name, line in zip(mesh.faces, mesh.vectors, mesh.names, mesh.lines, strict=True):
        if len(face) > 3:
            heights = mesh.corners[face] @ (vector / max(float(np.linalg.norm(vector)), 1e-12))
            bend_m = 0.5 * float(np.ptp(heights))
            if bend_m > _FLAT_M:
                raise MeshError(
                    f'the face in line {line} ("{name}") is bent: its corners lie {bend_m * 1000:.0f} mm'
                    " off one plane; 2 mm are let pass, so export it as triangles"
                )
            if _crosses_itself(mesh.corners[face]):
                raise MeshError(crossing_face(name, line))


def _refuse_tangled(pieces: Sequence[FlatPiece]) -> None:
    """Refuse what neighbouring faces make together where they lie over each other in part."""
    for piece in pieces:
        if _crosses_itself(piece.outline, piece.holes):
            raise MeshError(
                f'the faces of "{piece.name}" make no outline together: some lie over each other or share '
                "only part of an edge; draw them side by side, with common corners"
            )


def _planes(mesh: _Mesh) -> list[_Plane]:
    """Faces of each name gathered into planes, the largest face first."""
    sizes = np.array([len(face) for face in mesh.faces])
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    corners = mesh.corners[np.concatenate(mesh.faces)]
    edges = np.concatenate(
        [np.linalg.norm(mesh.corners[f] - mesh.corners[np.roll(f, 1)], axis=1) for f in mesh.faces]
    )
    narrow = 2 * mesh.areas / np.maximum.reduceat(edges, first) < _SLIVER_M
    directions = mesh.vectors / mesh.areas[:, None]
    names = np.array(mesh.names)
    free = np.ones(len(mesh.faces), bool)
    planes: list[_Plane] = []
    for seed in np.argsort(-mesh.areas, kind="stable"):
        if not free[seed]:
            continue
        normal, offset = (
            directions[seed],
            float(directions[seed] @ mesh.corners[mesh.faces[seed]].mean(axis=0)),
        )
        own = np.flatnonzero(free & (names == names[seed]))
        members = np.array([seed])
        for _ in range(2):  # once about the seed, once about the plane of all it gathered
            off = np.maximum.reduceat(np.abs(corners @ normal - offset), first)[own]
            cosine = directions[own] @ normal
            members = own[(off <= _FLAT_M) & ((np.abs(cosine) >= _SAME_DIRECTION) | narrow[own])]
            if seed not in members:
                members = np.append(members, seed)
            signs = np.where(directions[members] @ normal >= 0, 1, -1)
            total = (mesh.vectors[members] * signs[:, None]).sum(axis=0)
            normal = total / np.linalg.norm(total)
            used = np.unique(np.concatenate([mesh.faces[k] for k in members]))
            heights = mesh.corners[used] @ normal
            offset = 0.5 * float(heights.min() + heights.max())
        free[members] = False
        planes.append(_Plane(members, signs, normal + 0.0, offset, float(mesh.areas[members].sum())))
        if len(planes) > MOST_FACETS:
            raise MeshError(_scan_message(len(planes)))
    return planes


def _scan_message(n_pieces: int) -> str:
    return (
        f"this is a scan, not a drawing: more than {min(n_pieces, MOST_FACETS)} flat pieces remain after"
        f" merging (at most {MOST_FACETS}, flat within 2 mm); draw its walls as flat faces over it"
    )


def _towards_air(mesh: _Mesh, planes: list[_Plane], air_inside: bool, notes: list[Sentence]) -> list[_Plane]:
    """Planes whose normals point into the air, found by counting what rays cross on either side."""
    cut = [triangulate(mesh.corners[face]) for face in mesh.faces]
    sides = sides_of(np.concatenate(cut))
    areas, normals = mesh.areas, np.array([plane.normal for plane in planes])
    largest = [plane.faces[np.argmax(areas[plane.faces])] for plane in planes]
    probes = np.array([_middle_of_largest(cut[face]) for face in largest])
    ahead, behind = (odd_crossings(probes, way, sides) for way in (normals, -normals))
    signs = np.sign(ahead - behind) * (1 if air_inside else -1)
    turned: list[_Plane] = []
    n_turned, two_sided = 0, []
    for plane, face, sign in zip(planes, largest, signs.tolist(), strict=True):
        if sign == 0:
            two_sided.append(mesh.names[face])
            sign = int(plane.signs[np.argmax(areas[plane.faces])])
        n_turned += int(np.count_nonzero(plane.signs != sign))
        turned.append(
            _Plane(
                plane.faces, plane.signs * sign, plane.normal * sign + 0.0, plane.offset * sign, plane.area_m2
            )
        )
    if n_turned:
        notes.append(sentence("{count} faces turned round to look into the air", count=n_turned))
    for name, count in Counter(two_sided).items():
        drawn = '"{name}": air on both sides of {count} of its faces; they reflect on the drawn side only'
        notes.append(sentence(drawn, name=name, count=count))
    return turned


def _middle_of_largest(triangles: Floats) -> Floats:
    """The middle of the largest of some triangles (n, 3, 3). [m]"""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    middle: Floats = triangles[np.argmax(np.linalg.norm(across, axis=1))].mean(axis=0)
    return middle


def _outlines(mesh: _Mesh, planes: list[_Plane]) -> list[list[tuple[Loop, list[Loop]]]]:
    """Outlines and holes of each plane's pieces, without corners at which no outline turns."""
    result = []
    for plane in planes:
        near = np.flatnonzero(np.abs(mesh.corners @ plane.normal - plane.offset) <= 2 * _FLAT_M)
        row = {int(corner): k for k, corner in enumerate(near)}
        points = mesh.corners[near][:, list(plane_axes(plane.normal))]
        loops = []
        for k, sign in zip(plane.faces, plane.signs, strict=True):
            loop = [row[corner] for corner in mesh.faces[k][:: int(sign)]]
            loops.append(with_touching_corners(loop, points, _ON_EDGE_M))
        pieces = join(loops, points)
        result.append(
            [
                ([int(near[c]) for c in outline], [[int(near[c]) for c in h] for h in holes])
                for outline, holes in pieces
            ]
        )
    all_loops = [loop for pieces in result for outline, holes in pieces for loop in (outline, *holes)]
    needed = _turning(mesh.corners, all_loops)
    return [
        [
            ([c for c in outline if c in needed], [[c for c in h if c in needed] for h in holes])
            for outline, holes in pieces
        ]
        for pieces in result
    ]


def _turning(corners: Floats, loops: Sequence[Loop]) -> set[int]:
    """Corners that lie off the straight line between their neighbours in some outline."""
    needed: set[int] = set()
    for loop in loops:
        points = corners[loop]
        before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
        along = after - before
        length = np.maximum(np.linalg.norm(along, axis=1), 1e-12)
        off = np.linalg.norm(np.cross(along, points - before), axis=1) / length
        back = np.sum((points - before) * (after - points), axis=1) < 0
        needed.update(k for k, turns in zip(loop, (off > _SAME_CORNER_M) | back, strict=True) if turns)
    for loop in loops:
        needed.update(_bulges(corners, loop, needed))
    return needed


def _bulges(corners: Floats, loop: Loop, needed: set[int]) -> set[int]:
    """Corners without which a loop would lose a bulge: many that turn by a hair each are a curve."""
    kept = [i for i, corner in enumerate(loop) if corner in needed]
    if len(kept) < 2:
        first = kept[0] if kept else 0
        kept = [first, int(np.argmax(np.linalg.norm(corners[loop] - corners[loop[first]], axis=1)))]
    arcs = [(a, b if b > a else b + len(loop)) for a, b in zip(kept, kept[1:] + kept[:1], strict=True)]
    found = {loop[i] for i in kept}
    while arcs:
        a, b = arcs.pop()
        if b - a < 2:
            continue
        start, chord = corners[loop[a]], corners[loop[b % len(loop)]] - corners[loop[a]]
        within = corners[[loop[i % len(loop)] for i in range(a + 1, b)]] - start
        along = np.clip(within @ chord / max(float(chord @ chord), 1e-24), 0.0, 1.0)
        off = np.linalg.norm(within - along[:, None] * chord, axis=1)
        if off.max() > _SAME_CORNER_M:
            farthest = a + 1 + int(np.argmax(off))
            found.add(loop[farthest % len(loop)])
            arcs += [(a, farthest), (farthest, b)]
    return found


Outlines = list[list[tuple[Loop, list[Loop]]]]


def _without_hairs(
    mesh: _Mesh, planes: list[_Plane], corners: Floats, outlines: Outlines, notes: list[Sentence]
) -> Outlines:
    """Outlines and holes that are wider than the distance at which two corners are one."""

    def is_wide(loop: Loop) -> bool:
        return len(loop) >= 3 and _width_m(corners[loop]) >= _SAME_CORNER_M

    kept = [
        [(outline, list(filter(is_wide, holes))) for outline, holes in pieces if is_wide(outline)]
        for pieces in outlines
    ]
    lost = Counter(
        mesh.names[plane.faces[0]]
        for plane, old, new in zip(planes, outlines, kept, strict=True)
        for _ in range(max(len(old) - len(new), 0 if new else 1))
    )
    for name, count in lost.items():
        notes.append(sentence(f'"{{name}}": {_HAIRS}', name=name, count=count, width=_hair(_ON_EDGE_M)))
    return kept


def _onto_planes(
    mesh: _Mesh, planes: list[_Plane], outlines: list[list[tuple[Loop, list[Loop]]]], notes: list[Sentence]
) -> Floats:
    """Corners moved to where the planes of their faces meet, so that neighbours fit without a gap."""
    planes_at: dict[int, list[int]] = {}
    for k, pieces in enumerate(outlines):
        for corner in {c for outline, holes in pieces for loop in (outline, *holes) for c in loop}:
            planes_at.setdefault(corner, []).append(k)
    corners = mesh.corners.copy()
    moved_m, gap_m = 0.0, 0.0
    for corner, meeting in planes_at.items():
        normals = np.array([planes[k].normal for k in meeting])
        heights = np.array([planes[k].offset for k in meeting]) - normals @ corners[corner]
        if np.abs(heights).max() <= 1e-12:
            continue
        # Planes that are nearly parallel (6 degrees) fix no line: the corner stays near where it was drawn.
        step = np.linalg.pinv(normals, rcond=0.05) @ heights
        corners[corner] += step
        moved_m = max(moved_m, float(np.linalg.norm(step)))
        gap_m = max(gap_m, float(np.abs(heights - normals @ step).max()))
    if moved_m > 1e-5:
        moved = "corners moved by up to {moved} to where the planes of their faces meet"
        notes.append(sentence(moved, moved=_hair(moved_m)))
    if gap_m > 1e-5:
        missed = "faces miss their common corners by up to {gap}: gaps of that width remain"
        notes.append(sentence(missed, gap=_hair(gap_m)))
    return corners


def _hair(length_m: float) -> Amount:
    """A small length in millimetres, to two figures."""
    return Amount((float(f"{1000.0 * length_m:.2g}"),), Unit.MM)


def _report_open_edges(
    corners: Floats, outlines: list[list[tuple[Loop, list[Loop]]]], notes: list[Sentence]
) -> None:
    uses: Counter[tuple[int, int]] = Counter()
    for pieces in outlines:
        for outline, holes in pieces:
            for loop in (outline, *holes):
                uses.update((min(e), max(e)) for e in zip(loop, loop[1:] + loop[:1], strict=True))
    open_edges = [edge for edge, count in uses.items() if count == 1]
    if open_edges:
        length_m = sum(float(np.linalg.norm(corners[a] - corners[b])) for a, b in open_edges)
        told = (
            "open along {length} of edges ({count}): sound that meets a hole is lost, and the volume is only "
            "as good as the holes are small"
        )
        notes.append(sentence(told, length=metres(length_m, 2), count=len(open_edges)))


def _by_size(plane: _Plane) -> tuple[float, int]:
    """Large ones first, those of one size (to 10 cm2) as the file has them."""
    return -round(plane.area_m2, 3), int(plane.faces[0])


def _report_curved(mesh: _Mesh, planes: list[_Plane], notes: list[Sentence]) -> None:
    """Tell of names whose planes turn little by little: a curve that was cut into strips to be drawn."""
    names = [mesh.names[plane.faces[0]] for plane in planes]
    for name in dict.fromkeys(names):
        normals = np.array(
            [plane.normal for plane, other in zip(planes, names, strict=True) if other == name]
        )
        turned = np.degrees(np.arccos(np.clip(normals @ normals.T, -1.0, 1.0)))
        n_strips = np.count_nonzero(((turned > 0.1) & (turned < _CURVED_DEG)).any(axis=1))
        if n_strips >= _CURVED_STRIPS:
            curve = (
                '"{name}" is a curve cut into {count} flat pieces: each reflects as a mirror of its own, so '
                "where the real curve gathers or spreads sound, its levels are a guide only"
            )
            notes.append(sentence(curve, name=name, count=int(n_strips)))


def _plane_names(mesh: _Mesh, planes: list[_Plane], notes: list[Sentence], *, number_all: bool) -> list[str]:
    """Name of each plane: the name of its faces, numbered by size where there are several."""
    taken = set(mesh.names)
    names = [mesh.names[plane.faces[0]] for plane in planes]
    result = list(names)
    for name in dict.fromkeys(names):
        own = sorted((k for k, other in enumerate(names) if other == name), key=lambda k: _by_size(planes[k]))
        if len(own) == 1 and not number_all:
            continue
        number = 0
        for k in own:
            number += 1
            while f"{name} {number}" in taken:
                number += 1
            result[k] = f"{name} {number}"
            taken.add(result[k])
        if len(own) > 1:
            numbered = '"{name}" became "{first}" to "{last}", the largest first'
            notes.append(sentence(numbered, name=name, first=result[own[0]], last=result[own[-1]]))
    return result

"""Whether what a scene puts into its room fits: openings on faces, ears and speakers in the air."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, from_to, millimetres, sentence
from raytrace.room.cabinets import cabinet_name
from raytrace.room.facets import Facet, facet_distance_m, turns_around
from raytrace.room.polygons import leaves_polygon, locate
from raytrace.room.setout import orientation, shared_size_m
from raytrace.room.surfaces import PlacedOpening, Surface
from raytrace.scene import KeyPath, Scene

Floats = NDArray[np.float64]

_OVERHANG_M = 0.0005  # half a millimetre: what people round to when they write a length down


def place_openings(
    scene: Scene, surfaces: Sequence[Surface], facets: Sequence[Facet]
) -> tuple[PlacedOpening, ...]:
    """The openings of a scene on their surfaces.

    Raises
    ------
    SceneError
        If one leaves its surface or covers another.
    """
    names = [surface.name for surface in surfaces]
    placed: list[PlacedOpening] = []
    for index, opening in enumerate(scene.openings):
        surface = names.index(opening.surface)
        rect = np.array([*opening.at, opening.at[0] + opening.size[0], opening.at[1] + opening.size[1]])
        refuse_overhang(scene, ("openings", index, "at"), rect, surfaces[surface], facets)
        for other in placed:
            shared = shared_size_m(rect, other.rect)
            if other.surface == surface and (shared > _OVERHANG_M).all():
                raise scene.error(
                    ("openings", index, "at"),
                    sentence(
                        'overlaps "{other}" by {wide} x {high}; every spot of a surface has one material',
                        other=other.name,
                        wide=millimetres(shared[0]),
                        high=millimetres(shared[1]),
                    ),
                )
        material = scene.material(scene.covering(opening))
        placed.append(PlacedOpening(opening.name, opening.kind, surface, rect, material, index))
    return tuple(placed)


def check_keep_outs(scene: Scene, surfaces: Sequence[Surface], facets: Sequence[Facet]) -> None:
    """Refuse a keep-out that is not on its surface."""
    by_name = {surface.name: surface for surface in surfaces}
    for index, keep_out in enumerate(scene.keep_outs):
        surface = by_name[keep_out.surface]
        if keep_out.at is not None and keep_out.size is not None:
            rect = np.array([*keep_out.at, *np.add(keep_out.at, keep_out.size)])
            refuse_overhang(scene, ("keep_outs", index, "at"), rect, surface, facets)
        elif keep_out.centre is not None:
            # A clearance may reach past the edge; what it is kept around may not.
            rect = np.array([*keep_out.centre, *keep_out.centre])
            refuse_overhang(scene, ("keep_outs", index, "centre"), rect, surface, facets)


def refuse_overhang(
    scene: Scene, key: KeyPath, rect: Floats, surface: Surface, facets: Sequence[Facet]
) -> None:
    """Refuse a rectangle (u0, v0, u1, v1) [m], or a point where u0 = u1, that leaves its surface."""
    corners = rect[[[0, 1], [2, 1], [2, 3], [0, 3]]]
    pieces = [
        [surface.frame.to_plane(loop) for loop in (facets[k].outline, *facets[k].holes)]
        for k in surface.facets
    ]
    for loops in pieces:
        if rect[0] == rect[2]:
            fits = locate(corners[:1], loops, _OVERHANG_M)[0] >= 0
        else:
            fits = not leaves_polygon(corners, loops, _OVERHANG_M)
        if fits:
            return
    raise scene.error(key, _overhang(corners, pieces, surface))


def _overhang(corners: Floats, pieces: Sequence[Sequence[Floats]], surface: Surface) -> Sentence:
    """Which side of its surface a rectangle leaves, and by how much."""
    (u0, v0), (u1, v1) = corners[0], corners[2]
    outlines = np.concatenate([loops[0] for loops in pieces])
    (low_u, low_v), (high_u, high_v) = outlines.min(axis=0), outlines.max(axis=0)
    level = orientation(surface.frame.n).is_level
    sides = (
        ("the front side", "the back side", "the left side", "the right side")
        if level
        else ("the left edge", "the right edge", "the bottom edge", "the top edge")
    )
    along, up = (
        ("from the front", "from the left") if level else ("from its left edge", "from its bottom edge")
    )
    runs = f"it runs {{wide}} {along} and {{high}} {up}"
    size = sentence(runs, wide=from_to(low_u, high_u), high=from_to(low_v, high_v))
    past = dict(zip(sides, (low_u - u0, u1 - high_u, low_v - v0, v1 - high_v), strict=True))
    side, most = max(past.items(), key=lambda item: item[1])
    if most > _OVERHANG_M:
        past_it = f'reaches {{most}} past {side} of "{{surface}}"; {{size}}: check at and size'
        return sentence(past_it, most=millimetres(most), surface=surface.name, size=size)
    leaves = 'leaves the outline of "{surface}", whose edges are not all upright and level; {size}'
    return sentence(leaves, surface=surface.name, size=size)


def check_positions(
    scene: Scene, skins: dict[str | None, Floats], surfaces: Sequence[Surface], facets: Sequence[Facet]
) -> None:
    """Refuse a speaker or a seat outside the room or inside an object; a speaker may be built into a wall.

    Parameters
    ----------
    scene : Scene
    skins : dict
        Triangles (n, 3, 3) of the room and of each object, by owner; None for the room. [m]
    surfaces, facets : sequence of Surface, of Facet
    """
    bounds = np.array([skins[None].min(axis=(0, 1)), skins[None].max(axis=(0, 1))])
    placed: list[tuple[KeyPath, tuple[float, float, float]]] = [
        (("speakers", k, "position"), speaker.position) for k, speaker in enumerate(scene.speakers)
    ]
    placed += [(("seats", k, "ears"), seat.ears) for k, seat in enumerate(scene.seats)]
    tolerance_m = 1e-9 * float(np.linalg.norm(bounds[1] - bounds[0]))
    in_doubt = _in_doubt(np.array([position for _, position in placed]), skins, facets, tolerance_m)
    for key, position in (placed[k] for k in np.flatnonzero(in_doubt)):
        point = np.array(position)
        for owner, skin in skins.items():
            inside = abs(turns_around(point[None], skin)[0]) > 0.5
            if key[0] == "speakers" and owner == cabinet_name(scene.speakers[int(key[1])]):
                continue
            distance_m, wall = _nearest_face(point, owner, surfaces, facets)
            if distance_m <= tolerance_m and owner is None and key[0] == "speakers":
                continue  # built into the wall
            if distance_m <= tolerance_m:
                raise scene.error(key, f'lies exactly on "{wall}"; it must stand in the air of the room')
            if owner is None and not inside:
                told = '{far} outside the room, beyond "{wall}"; {span}'
                off = sentence(told, far=millimetres(distance_m), wall=wall, span=_span(bounds))
                raise scene.error(key, off)
            if owner is not None and inside:
                told = 'inside the object "{owner}", {deep} below its face "{wall}"'
                raise scene.error(key, sentence(told, owner=owner, deep=millimetres(distance_m), wall=wall))


def _in_doubt(
    points: Floats, skins: dict[str | None, Floats], facets: Sequence[Facet], tolerance_m: float
) -> NDArray[np.bool_]:
    """Which points (n, 3) are not plainly in the air: out of the room, in an object or about on a face."""
    normals = np.array([facet.normal for facet in facets])
    heights = points @ normals.T - np.array([facet.offset for facet in facets])
    in_doubt = np.zeros(len(points), np.bool_)
    for row, k in np.argwhere(np.abs(heights) <= 2.0 * tolerance_m).tolist():
        low, high = facets[k].outline.min(axis=0), facets[k].outline.max(axis=0)
        beyond_m = np.maximum(low - points[row], points[row] - high)
        in_doubt[row] |= bool((beyond_m <= 2.0 * tolerance_m).all())
    for owner, skin in skins.items():
        in_doubt |= (np.abs(turns_around(points, skin)) > 0.5) == (owner is not None)
    return in_doubt


def _nearest_face(
    point: Floats, owner: str | None, surfaces: Sequence[Surface], facets: Sequence[Facet]
) -> tuple[float, str]:
    """Distance to the nearest face of an owner, and its name; of equals the one it is farther behind."""
    near = []
    for facet in facets:
        surface = surfaces[facet.surface]
        if surface.owner == owner:
            height = float(facet.normal @ point - facet.offset)
            near.append((round(facet_distance_m(point, facet), 9), height, surface.name))
    distance_m, _, name = min(near)
    return distance_m, name


def _span(bounds: Floats) -> Sentence:
    x, y, z = (from_to(low, high) for low, high in bounds.T)
    return sentence("the room spans x {x}, y {y}, z {z}", x=x, y=y, z=z)

"""Named surfaces: their plane, set-out frame, material and flat pieces."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import is_
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import Material
from raytrace.facts import Sentence, sentence
from raytrace.room.facets import Facet
from raytrace.room.polygons import NamedPolygon, area_vector
from raytrace.room.setout import Frame, object_frame, orientation, room_frame
from raytrace.scene import ALONG_LEVEL, ALONG_UPRIGHT, BoxRoom, PlanRoom, Scene, did_you_mean

Floats = NDArray[np.float64]

CABINET_MATERIAL = "wood"
"""What a cabinet is made of whose faces [surfaces] does not name."""


@dataclass(frozen=True)
class PlacedOpening:
    """A window, door, hole or cover in its surface.

    Attributes
    ----------
    name : str
    kind : str
        "window", "door", "opening" (sound leaves) or "cover" (only another material).
    surface : int
        Index of its surface.
    rect : (4,) float
        u0, v0, u1, v1 in the surface's set-out frame. [m]
    material : Material
    index : int
        Its place in `scene.openings`.
    """

    name: str
    kind: str
    surface: int
    rect: Floats
    material: Material
    index: int


@dataclass(frozen=True)
class Surface:
    """One named face of the room or of an object; its pieces lie in one plane.

    Attributes
    ----------
    name : str
    owner : str or None
        Name of the object, or of the panels that hang free; None for the room itself.
    frame : Frame
        Set-out frame.
    material : Material
    facets : tuple of int
        Its pieces, largest first.
    openings : tuple of PlacedOpening
    area_m2 : float
        Holes taken off, openings not.
    """

    name: str
    owner: str | None
    frame: Frame
    material: Material
    facets: tuple[int, ...]
    openings: tuple[PlacedOpening, ...]
    area_m2: float


class Gathered(NamedTuple):
    """Faces by the surface that they are of, those surfaces without their openings, and the flat pieces."""

    pieces: tuple[tuple[NamedPolygon, ...], ...]
    surfaces: tuple[Surface, ...]
    facets: tuple[Facet, ...]


def gather_surfaces(
    scene: Scene, polygons: Sequence[NamedPolygon], lengths: dict[str, Floats], known: Gathered | None = None
) -> Gathered:
    """Surfaces without their openings, and the flat pieces of all of them.

    Parameters
    ----------
    scene : Scene
    polygons : sequence of NamedPolygon
        In the order that the surfaces take.
    lengths : dict
        Direction of each object's own length (3,), by its name.
    known : Gathered, optional
        Of a scene with the same materials: what the same faces became there stays what it is.

    Raises
    ------
    SceneError
        If one name stands for faces that are not in one plane, or a face has no material.
    """
    groups: dict[str, list[NamedPolygon]] = {}
    for polygon in polygons:
        groups.setdefault(polygon.name, []).append(polygon)
    surfaces: list[Surface] = []
    facets: list[Facet] = []
    for index, (name, pieces) in enumerate(groups.items()):
        if known is not None and _is_known(known, index, len(facets), pieces):
            surfaces.append(known.surfaces[index])
            facets += [known.facets[k] for k in known.surfaces[index].facets]
            continue
        owner = pieces[0].owner
        if any(piece.owner != owner for piece in pieces):
            raise scene.error(
                pieces[-1].key, f'"{name}" is a face of the {_both(pieces)}; rename one of them'
            )
        normal, offset, area_m2 = _plane(pieces)
        own = [Facet(len(surfaces), piece.outline, piece.holes, normal, offset) for piece in pieces]
        outlines = [piece.outline for piece in pieces]
        if owner is None:
            frame = room_frame(normal, offset, outlines)
        else:
            frame = object_frame(normal, lengths[owner], outlines)
        material = scene.material(_material_name(scene, pieces[0]))
        indices = tuple(range(len(facets), len(facets) + len(own)))
        facets += own
        surfaces.append(Surface(name, owner, frame, material, indices, (), area_m2))
    return Gathered(tuple(map(tuple, groups.values())), tuple(surfaces), tuple(facets))


def _is_known(known: Gathered, index: int, n_facets: int, pieces: Sequence[NamedPolygon]) -> bool:
    """Whether the surface at a place was made of these very faces, its first facet at the same place."""
    return (
        index < len(known.pieces)
        and len(known.pieces[index]) == len(pieces)
        and all(map(is_, known.pieces[index], pieces))
        and known.surfaces[index].facets[0] == n_facets
    )


def _both(pieces: Sequence[NamedPolygon]) -> str:
    owners = dict.fromkeys(piece.owner for piece in pieces)
    return " and of the ".join("room" if owner is None else f'object "{owner}"' for owner in owners)


def _plane(pieces: Sequence[NamedPolygon]) -> tuple[Floats, float, float]:
    """Plane through all pieces, and their area."""
    vectors = [area_vector(loop) for piece in pieces for loop in (piece.outline, *piece.holes)]
    total = np.sum(vectors, axis=0)
    area_m2 = float(np.linalg.norm(total))
    normal: Floats = total / area_m2 + 0.0
    heights = np.concatenate([piece.outline for piece in pieces]) @ normal
    return normal, float(0.5 * (heights.min() + heights.max())), area_m2


def _material_name(scene: Scene, piece: NamedPolygon) -> str | None:
    """Name of a face's material: its own, its object's, the default."""
    if piece.name in scene.surfaces:
        return scene.surfaces[piece.name]
    for entry in scene.objects:
        if entry.name == piece.owner and entry.material is not None:
            return entry.material
    if piece.key[0] == "speakers":
        return CABINET_MATERIAL
    if "default" in scene.surfaces:
        return scene.surfaces["default"]
    if piece.owner is not None:
        raise scene.error(
            piece.key, f'no material for "{piece.name}": give the object a material, or [surfaces] a default'
        )
    raise scene.error(
        ("surfaces",),
        f'no material for "{piece.name}": name it, or give a default = "plasterboard" for all the rest',
    )


def assumed_notes(scene: Scene) -> list[Sentence]:
    """Surfaces whose place nobody measured."""
    return [
        sentence(
            "The {surface} was not measured, its place is assumed: what is told of it and of reflections on "
            "it is no better. Measure it before anything is cut or hung.",
            surface=name,
        )
        for name in scene.room.assumed
    ]


def check_surface_names(scene: Scene, surfaces: Sequence[Surface]) -> None:
    """Refuse a name of a surface, anywhere in the scene, that no surface has."""
    names = [surface.name for surface in surfaces]
    uses: list[tuple[tuple[str | int, ...], str]] = [
        (("surfaces", name), name) for name in scene.surfaces if name != "default"
    ]
    for kind in ("openings", "keep_outs", "joists", "panels", "clouds"):
        uses += [((kind, k, "surface"), entry.surface) for k, entry in enumerate(getattr(scene, kind))]
    uses += [(("room", "assumed", k), name) for k, name in enumerate(scene.room.assumed)]
    uses += [
        (("panels", k, "across_corner"), panel.across_corner)
        for k, panel in enumerate(scene.panels)
        if panel.across_corner is not None
    ]
    uses += [
        (("clouds", k, "tilt", "towards"), cloud.tilt.towards)
        for k, cloud in enumerate(scene.clouds)
        if cloud.tilt is not None
    ]
    if not isinstance(scene.job.drilling, bool | None):
        # A whole object can be named here, not only one of its faces.
        objects = {surface.owner for surface in surfaces} - {None}
        uses += [(("job", "drilling", k), w) for k, w in enumerate(scene.job.drilling) if w not in objects]
    for key, name in uses:
        if name not in names:
            message = f'no surface "{name}"{did_you_mean(name, names)}{_covered_ceiling(scene, name)}'
            raise scene.error(key, message, at="key" if key[0] == "surfaces" else "value")


def check_joist_words(scene: Scene, surfaces: Sequence[Surface]) -> None:
    """Refuse a way of joists that their surface does not have: "across" a level ceiling says nothing."""
    is_level = {surface.name: orientation(surface.frame.n).is_level for surface in surfaces}
    for k, joists in enumerate(scene.joists):
        own, other = ALONG_LEVEL, ALONG_UPRIGHT
        if not is_level[joists.surface]:
            own, other = other, own
        if joists.along in other:
            what = "is level" if is_level[joists.surface] else "is not level"
            message = f'the {joists.surface} {what}; joists run "{own[0]}" or "{own[1]}"'
            raise scene.error(("joists", k, "along"), message)


def _covered_ceiling(scene: Scene, name: str) -> str:
    """Why a room with slopes has no ceiling."""
    room = scene.room
    if name != "ceiling" or not isinstance(room, BoxRoom | PlanRoom) or not room.slopes:
        return ""
    own = " and ".join(f"{slope.pitch:g}" for slope in room.slopes)
    return (
        f"; the slopes cover the whole roof and nothing of it reaches the height of {room.height:g} m: is a "
        f"pitch of {own} degrees meant?"
    )


def with_openings(surfaces: Sequence[Surface], openings: Sequence[PlacedOpening]) -> tuple[Surface, ...]:
    """Surfaces that know their openings."""
    return tuple(
        replace(surface, openings=tuple(o for o in openings if o.surface == index))
        for index, surface in enumerate(surfaces)
    )

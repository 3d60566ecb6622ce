"""Skins of a room and its objects: their triangles by owner, the air inside, and what lies outside it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, sentence
from raytrace.room.facets import Facet, turns_around
from raytrace.room.surfaces import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def triangles_of(facets: Sequence[Facet]) -> tuple[Floats, Ints]:
    """Triangles (n, 3, 3) of facets, and which facet each is of, (n,)."""
    pieces = [facet.triangles for facet in facets]
    return np.concatenate(pieces), np.repeat(np.arange(len(facets)), [len(piece) for piece in pieces])


def skins_of(surfaces: Sequence[Surface], facets: Sequence[Facet]) -> dict[str | None, Floats]:
    """Triangles (n, 3, 3) of the room and of each object, by owner."""
    triangles, facet = triangles_of(facets)
    owners = np.array([surfaces[f.surface].owner for f in facets])[facet]
    return {owner: triangles[owners == owner] for owner in dict.fromkeys(s.owner for s in surfaces)}


def volume_m3(skin: Floats) -> float:
    """Volume inside triangles whose normals point inwards, by the divergence theorem."""
    a, b, c = np.moveaxis(skin - skin.mean(axis=(0, 1)), 1, 0)
    return float(-np.sum(a * np.cross(b, c)) / 6.0)


def outside_notes(skins: dict[str | None, Floats]) -> list[Sentence]:
    """Objects that no part of the room's air touches."""
    notes = []
    for owner, skin in skins.items():
        if owner is None or _any_inside(skin.reshape(-1, 3), skins[None]):
            continue
        # All corners are outside; a beam may still run right through the room.
        steps = np.linspace(0.0, 1.0, 13)
        weights = np.array([(p, q, 1.0 - p - q) for p in steps for q in steps if p + q <= 1.0])
        if not _any_inside((weights @ skin).reshape(-1, 3), skins[None]):
            outside = 'The object "{thing}" lies outside the room and has no effect.'
            notes.append(sentence(outside, thing=owner))
    return notes


def _any_inside(points: Floats, skin: Floats) -> bool:
    return bool((np.abs(turns_around(points, skin)) > 0.5 + 1e-6).any())

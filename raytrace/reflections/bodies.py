"""The objects of a room as bodies in the way of sound: convex pieces of their faces."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace.room import Facet, Room

if TYPE_CHECKING:
    from raytrace.kernels.shadows import Bodies

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def find_bodies(room: Room, open_edges: Sequence[Bools]) -> "Bodies":
    """The objects and cabinets of a room.

    Parameters
    ----------
    room : Room
    open_edges : sequence of (n_corners,) bool
        Per facet, outline and holes in a row: whether the air goes round the edge.
    """
    from raytrace.kernels.shadows import Bodies

    by_owner: dict[str, list[int]] = {}
    for k, facet in enumerate(room.facets[: room.n_solid_facets]):
        owner = room.surfaces[facet.surface].owner
        if owner is not None:
            by_owner.setdefault(owner, []).append(k)
    pieces = [
        [(k, piece) for k in own for piece in room.facets[k].convex_pieces] for own in by_owner.values()
    ]
    flat = [pair for own in pieces for pair in own]
    numbers = np.array([k for k, _ in flat], np.int64)
    # So that there is an array without any, too.
    corners = np.concatenate([np.zeros((0, 3)), *(piece for _, piece in flat)])
    whole = [np.concatenate([piece for _, piece in own]) for own in pieces]
    boxes = np.array([(own.min(axis=0), own.max(axis=0)) for own in whole]).reshape(-1, 2, 3)
    return Bodies(
        corners=corners,
        piece_start=np.cumsum([0, *(len(piece) for _, piece in flat)]),
        edge=np.array([kind for own in _edges(room.facets, open_edges, pieces) for kind in own], np.int64),
        normals=room.facet_arrays.normals[numbers],
        offsets=room.facet_arrays.offsets[numbers],
        facet=numbers,
        body_start=np.cumsum([0, *map(len, pieces)]),
        middle=boxes.mean(axis=1),
        radius=0.5 * np.linalg.norm(boxes[:, 1] - boxes[:, 0], axis=1),
    )


def _edges(
    facets: Sequence[Facet], open_edges: Sequence[Bools], pieces: Sequence[Sequence[tuple[int, Floats]]]
) -> Iterator[list[int]]:
    """For each piece, of its edge from each corner to the next: held, free, or the piece across it and 2."""
    from raytrace.kernels.shadows import FREE, HELD

    first = 0
    for own in pieces:
        ends = [[(a.tobytes(), b.tobytes()) for a, b in _pairs(piece)] for _, piece in own]
        piece_of = {edge: first + k for k, edges in enumerate(ends) for edge in edges}
        for (number, _), edges in zip(own, ends, strict=True):
            loops = facets[number].outline, *facets[number].holes
            outline = (pair for loop in loops for pair in _pairs(loop))
            held = {
                (a.tobytes(), b.tobytes())
                for (a, b), is_open in zip(outline, open_edges[number], strict=True)
                if not is_open
            }
            yield [HELD if (a, b) in held else piece_of.get((b, a), FREE - 2) + 2 for a, b in edges]
        first += len(own)


def _pairs(loop: Floats) -> Iterator[tuple[Floats, Floats]]:
    """Both ends of every edge of a loop (n, 3)."""
    return zip(loop, np.roll(loop, -1, axis=0), strict=True)

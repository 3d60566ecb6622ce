"""Slow, independent answers that the fast code must agree with."""

from itertools import pairwise, product

import numpy as np

from raytrace.room import Room


def brute_force_paths(room: Room, source, listener, *, up_to_order: int, within_m: float):
    """Every specular path by trying every sequence of facets; {sequence: (order + 2, 3) points}.

    Bounce points come from one straight line between image and listener, folded back from the
    listener's end; a spot is inside its facet by its winding angle, and a leg is clear when no triangle
    of the room cuts it. No pruning. For positions off every edge (random ones), so it needs no tie rule.
    """
    source, listener = np.asarray(source, float), np.asarray(listener, float)
    planes = [(facet.normal, facet.offset) for facet in room.facets]
    found = {}
    for order in range(1, up_to_order + 1):
        for sequence in product(range(len(planes)), repeat=order):
            if any(a == b for a, b in pairwise(sequence)):
                continue
            images = [source]
            for facet in sequence:
                normal, offset = planes[facet]
                images.append(images[-1] - 2 * (normal @ images[-1] - offset) * normal)
            if np.linalg.norm(images[-1] - listener) > within_m:
                continue
            points = folded(images, sequence, planes, listener)
            if points is not None and _stands(room, sequence, points):
                found[sequence] = points
    return found


def folded(images, sequence, planes, listener):
    points = [listener]
    for image, facet in zip(images[:0:-1], sequence[::-1], strict=True):
        normal, offset = planes[facet]
        a, b = normal @ points[0] - offset, normal @ image - offset
        if a <= 0 or b >= 0:
            return None
        points.insert(0, points[0] + (image - points[0]) * a / (a - b))
    points.insert(0, images[0])
    return np.array(points)


def _stands(room, sequence, points):
    if not all(
        winds_round(room.facets[facet], spot) for facet, spot in zip(sequence, points[1:-1], strict=True)
    ):
        return False
    normal, offset = room.facets[sequence[0]].normal, room.facets[sequence[0]].offset
    if normal @ points[0] <= offset:
        return False
    return not any(is_cut(room.triangles, a, b) for a, b in pairwise(points))


def winds_round(facet, spot):
    """Whether the outline winds round the spot and no hole does."""
    total = 0.0
    for loop in (facet.outline, *facet.holes):
        rays = loop - spot
        turns = np.roll(rays, -1, axis=0)
        sine = np.cross(rays, turns) @ facet.normal
        cosine = np.sum(rays * turns, axis=1)
        total += abs(np.sum(np.arctan2(sine, cosine))) * (1 if loop is facet.outline else -1)
    return total > np.pi


def is_cut(triangles, start, end):
    """Whether a triangle cuts the open segment (signed volumes)."""
    direction = end - start
    length = np.linalg.norm(direction)
    start, end = start + 1e-7 * direction / length, end - 1e-7 * direction / length
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]

    def volume(p, q, r, s):
        return np.einsum("ij,ij->i", np.cross(q - p, r - p), s - p)

    ends = np.broadcast_to(start, a.shape), np.broadcast_to(end, a.shape)
    crosses = np.sign(volume(a, b, c, ends[0])) != np.sign(volume(a, b, c, ends[1]))
    sides = [np.sign(volume(ends[0], ends[1], p, q)) for p, q in ((a, b), (b, c), (c, a))]
    return bool(np.any(crosses & (sides[0] == sides[1]) & (sides[1] == sides[2])))


def lattice_lengths(size, source, listener, *, up_to_order: int):
    """Image lattice of a cuboid: (lengths, orders), direct sound included.

    J. B. Allen, D. A. Berkley, J. Acoust. Soc. Am. 65 (1979) 943 (from memory): image coordinate
    (1 - 2p) s + 2 m L, bounces |m - p| on the wall at 0 and |m| on the wall at L.
    """
    reach = range(-up_to_order, up_to_order + 1)
    axes = []
    for s, r, length in zip(source, listener, size, strict=True):
        axes.append(
            [((1 - 2 * p) * s + 2 * m * length - r, abs(m - p) + abs(m)) for m in reach for p in (0, 1)]
        )
    lengths, orders = [], []
    for x, y, z in product(*axes):
        order = x[1] + y[1] + z[1]
        if order <= up_to_order:
            lengths.append(np.sqrt(x[0] ** 2 + y[0] ** 2 + z[0] ** 2))
            orders.append(order)
    return np.array(lengths), np.array(orders)


def kuttruff_s(room, length_variance):
    """Eyring's time of a `DiffuseRoom` corrected for unequal free paths, (n_bands,). [s]

    a = -ln(1 - mean alpha) (1 + g / 2 ln(1 - mean alpha)), g the variance of the free path over its squared
    mean. H. Kuttruff, Room Acoustics, chapter 5 (from memory); it diverges for large absorption.
    """
    exponent = -np.log1p(-room.mean_absorption)
    return room.decay_s(exponent * (1.0 - 0.5 * length_variance * exponent))

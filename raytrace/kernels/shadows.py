"""What the edges of bodies in its way leave of a straight leg.

A body leaves 1 - K, K the Kirchhoff weight of its outline as the leg's image source sees it (Babinet's
principle, kernels/edges.py). The outline is that of the faces turned towards the image, as far as they lie
between the two ends of the leg. Edges between two such faces cancel; where the body is cut off, or stands on
something, nothing is bent. A face that the image sees at less than 3 degrees counts in part, so that the
outline does not step from one edge to the next where the image comes round a corner.
"""

import math
from typing import NamedTuple

import numpy as np

from raytrace.kernels.edges import CHUNK, RULE_SIZES, add_edge, turn_and_miss
from raytrace.kernels.jit import kernel

FREE, HELD = 0, 1  # round an edge the air goes, or it does not; from 2 on: the piece across it, and 2
_ZONES = 1.5  # of an edge this many Fresnel zones to each side of where it is nearest count
_GRAZING = 0.05  # sine of the angle from which on a face counts whole
_NEAREST_M = 0.02  # so near the image source, and the receiver, nothing is drawn


class Bodies(NamedTuple):
    """Convex pieces of the faces of objects, those of one object in a row.

    corners (n_corners, 3), piece_start (n_pieces + 1,) [m]; edge (n_corners,): FREE, HELD or the piece on the
    other side and 2, of the edge from each corner to the next; normals (n_pieces, 3), offsets (n_pieces,)
    [m], facet (n_pieces,); body_start (n_bodies + 1,) first piece of each; middle (n_bodies, 3), radius
    (n_bodies,) of a sphere round each [m]
    """

    corners: np.ndarray
    piece_start: np.ndarray
    edge: np.ndarray
    normals: np.ndarray
    offsets: np.ndarray
    facet: np.ndarray
    body_start: np.ndarray
    middle: np.ndarray
    radius: np.ndarray


class Legs(NamedTuple):
    """Straight legs of paths, unfolded.

    row (n,): path of each; images, receivers (n, 3): source mirrored in the bounces before, listener in the
    later ones [m]; span (n, 2): where the leg begins and ends on the line between them [m]; walls (n, 2, 4):
    normal and offset of the facets it begins and ends at, 0 and -1 for none
    """

    row: np.ndarray
    images: np.ndarray
    receivers: np.ndarray
    span: np.ndarray
    walls: np.ndarray


@kernel
def pass_bodies(legs, bodies, is_own, wavenumber, wavelength, fades, factor):
    """Multiply factor (n_paths, f) complex by what all bodies leave of all legs.

    is_own (n_pieces,): pieces that are not there; wavenumber (f,) [1/m]; wavelength [m] of the Fresnel zones
    in which bodies are looked at. `fades`: they count whole up to half a zone beyond the outline and not at
    all from one on, and what is left behind them fades alike; without it they count up to one and two zones,
    and what is left behind them is left at any depth.
    """
    most = 8
    for piece in range(bodies.piece_start.size - 1):
        most = max(most, bodies.piece_start[piece + 1] - bodies.piece_start[piece] + 8)
    most_pieces = 1
    for body in range(bodies.body_start.size - 1):
        most_pieces = max(most_pieces, bodies.body_start[body + 1] - bodies.body_start[body])
    polygon, kind = np.empty((2, most, 3)), np.empty((2, most), np.int64)
    edges = np.empty((most_pieces * most, 2, 3))
    # Of each edge how much it counts in the outline, and where air goes round it.
    weights = np.empty((2, most_pieces * most))
    seen = np.empty(bodies.facet.size)
    nodes, sums, axis = np.empty((2, RULE_SIZES[-1])), np.empty((4, CHUNK)), np.empty(3)
    lowest, half = 2.0 * math.pi / wavelength, 2.0 if fades else 1.0
    for leg in range(legs.row.size):
        image, receiver = legs.images[leg], legs.receivers[leg]
        straight = _distance(image, receiver)
        for j in range(3):
            axis[j] = (receiver[j] - image[j]) / straight
        low = max(legs.span[leg, 0], _NEAREST_M)
        high = min(legs.span[leg, 1], straight - _NEAREST_M)
        widest = 0.5 * math.sqrt(wavelength * straight)
        for body in range(bodies.radius.size):
            if _is_far(
                bodies.middle[body], bodies.radius[body] + 2.0 * widest / half, image, axis, low, high
            ):
                continue
            _see_pieces(bodies, body, is_own, image, seen)
            walls = legs.walls[leg]
            count, plane = _outline(
                bodies, body, seen, image, axis, low, high, walls, polygon, kind, edges, weights
            )
            if count == 0:
                continue
            zone = math.sqrt(wavelength * plane * (straight - plane) / straight)
            turns, miss, open_miss = _turns_and_misses(edges, weights, count, image, receiver)
            is_inside = abs(turns) > math.pi
            left = _falling(half * open_miss / zone) if is_inside and fades else 1.0
            share = 1.0 if is_inside else _falling(half * miss / zone)
            if share > 0.0:
                row = factor[legs.row[leg]]
                ends = image, receiver
                _pass_outline(
                    edges[:count],
                    weights[1],
                    turns,
                    ends,
                    share,
                    left,
                    zone,
                    lowest,
                    wavenumber,
                    nodes,
                    sums,
                    row,
                )


@kernel
def _pass_outline(edges, bends, turns, ends, share, left, zone, lowest, wavenumber, nodes, sums, row):
    """Multiply row (f,) by `left` (1 - share K) of an outline of edges whose turn about the line is `turns`.

    `bends`: how much each edge does. Of each the part near the line counts, by the octave: what is bent
    farther out cancels itself.
    """
    image, receiver = ends
    start, end = np.empty(3), np.empty(3)
    real, imag = sums[0], sums[1]
    for first in range(0, wavenumber.size, CHUNK):
        last = min(first + CHUNK, wavenumber.size)
        octave, total = wavenumber[first:last], sums[2:, : last - first]
        total[:], lit = 0.0, -turns / (2.0 * math.pi)
        within = _ZONES * zone * math.sqrt(lowest / octave[0])
        for i in range(edges.shape[0] if left > 0.0 else 0):
            if bends[i] > 0.0 and _near_part(edges[i], image, receiver, within, start, end):
                lit += bends[i] * turn_and_miss(start, end, image, receiver)[0] / (2.0 * math.pi)
                real[:], imag[:] = 0.0, 0.0
                add_edge(
                    start, end, image, receiver, octave, nodes, real[: last - first], imag[: last - first]
                )
                # Faces turned towards the image run clockwise as the receiver sees them.
                for f in range(last - first):
                    total[0, f] -= bends[i] * real[f] / (4.0 * math.pi)
                    total[1, f] -= bends[i] * imag[f] / (4.0 * math.pi)
        for f in range(last - first):
            row[first + f] *= left * (1.0 - share * complex(lit + total[0, f], total[1, f]))


@kernel
def _near_part(edge, image, receiver, within, start, end):
    """The part of an edge (2, 3) no farther along it than `within` [m] from where it is nearest the line."""
    straight = _distance(image, receiver)
    along_a, along_d = 0.0, 0.0
    for j in range(3):
        along_a += (edge[0, j] - image[j]) * (receiver[j] - image[j]) / straight
        along_d += (edge[1, j] - edge[0, j]) * (receiver[j] - image[j]) / straight
    dot, square = 0.0, 0.0
    for j in range(3):
        step = (receiver[j] - image[j]) / straight
        a = edge[0, j] - image[j] - along_a * step
        d = edge[1, j] - edge[0, j] - along_d * step
        dot += a * d
        square += d * d
    if square == 0.0:
        return False
    foot = min(1.0, max(0.0, -dot / square))
    reach = within / math.sqrt(square)
    low, high = max(0.0, foot - reach), min(1.0, foot + reach)
    for j in range(3):
        start[j] = edge[0, j] + low * (edge[1, j] - edge[0, j])
        end[j] = edge[0, j] + high * (edge[1, j] - edge[0, j])
    return True


@kernel
def _falling(zones):
    """1 up to one, 0 from two on, smoothly between."""
    share = min(1.0, max(0.0, 2.0 - zones))
    return share * share * (3.0 - 2.0 * share)


@kernel
def _is_far(middle, reach, image, axis, low, high):
    """Whether a sphere is nowhere near a leg."""
    along, square = 0.0, 0.0
    for j in range(3):
        away = middle[j] - image[j]
        along += away * axis[j]
        square += away * away
    beyond = max(low - along, along - high, 0.0)
    return square - along * along + beyond * beyond > reach * reach


@kernel
def _see_pieces(bodies, body, is_own, image, seen):
    """How much each piece of a body counts for an image: 1, or less where it is seen at a grazing angle."""
    distance = _distance(bodies.middle[body], image)
    for piece in range(bodies.body_start[body], bodies.body_start[body + 1]):
        height = -bodies.offsets[piece]
        for j in range(3):
            height += image[j] * bodies.normals[piece, j]
        seen[piece] = 0.0 if is_own[piece] else 1.0 - _falling(1.0 + height / (_GRAZING * distance))


@kernel
def _outline(bodies, body, seen, image, axis, low, high, walls, polygon, kind, edges, weights):
    """Outline of a body as an image sees it: edges and their weights, how many; how far ahead it lies."""
    count, nearest, farthest = 0, np.inf, -np.inf
    start = 0.0
    for j in range(3):
        start += image[j] * axis[j]
    for piece in range(bodies.body_start[body], bodies.body_start[body + 1]):
        if seen[piece] == 0.0:
            continue
        first = bodies.piece_start[piece]
        n = bodies.piece_start[piece + 1] - first
        for i in range(n):
            polygon[0, i] = bodies.corners[first + i]
            kind[0, i] = bodies.edge[first + i]
        n = _cut(polygon, kind, n, axis[0], axis[1], axis[2], start + low)
        n = _cut(polygon, kind, n, -axis[0], -axis[1], -axis[2], -start - high)
        for end in range(2):
            n = _cut(polygon, kind, n, walls[end, 0], walls[end, 1], walls[end, 2], walls[end, 3])
        for i in range(n):
            along = -start
            for j in range(3):
                along += polygon[0, i, j] * axis[j]
            nearest, farthest = min(nearest, along), max(farthest, along)
            # An edge between two pieces counts once, from the one that counts more.
            across = kind[0, i] - 2
            weight = seen[piece] - (seen[across] if across >= 0 else 0.0)
            if weight > 0.0:
                edges[count, 0] = polygon[0, i]
                edges[count, 1] = polygon[0, i + 1 if i + 1 < n else 0]
                weights[0, count] = weight
                weights[1, count] = 0.0 if kind[0, i] == HELD else weight
                count += 1
    return count, 0.5 * (nearest + farthest)


@kernel
def _cut(polygon, kind, count, x, y, z, offset):
    """Cut a convex polygon (2, n, 3) in place: (x, y, z) . p >= offset stays; returns how many corners."""
    n_out = 0
    for i in range(count):
        n_out += x * polygon[0, i, 0] + y * polygon[0, i, 1] + z * polygon[0, i, 2] < offset
    if n_out == 0:
        return count
    if n_out == count:
        return 0
    kept = 0
    for i in range(count):
        j = i + 1 if i + 1 < count else 0
        here = x * polygon[0, i, 0] + y * polygon[0, i, 1] + z * polygon[0, i, 2] - offset
        there = x * polygon[0, j, 0] + y * polygon[0, j, 1] + z * polygon[0, j, 2] - offset
        if here >= 0.0:
            polygon[1, kept] = polygon[0, i]
            kind[1, kept] = kind[0, i]
            kept += 1
        if (here >= 0.0) != (there >= 0.0):
            t = here / (here - there)
            for k in range(3):
                polygon[1, kept, k] = polygon[0, i, k] + t * (polygon[0, j, k] - polygon[0, i, k])
            # Where the polygon leaves the kept side its cut begins.
            kind[1, kept] = HELD if here >= 0.0 else kind[0, i]
            kept += 1
    for i in range(kept):
        polygon[0, i] = polygon[1, i]
        kind[0, i] = kind[1, i]
    return kept if kept > 2 else 0


@kernel
def _turns_and_misses(edges, weights, count, image, receiver):
    """Turn about the line of all edges, distances [m] of the nearest one and of the nearest open one."""
    turns, miss, open_miss = 0.0, np.inf, np.inf
    for i in range(count):
        turn, off = turn_and_miss(edges[i, 0], edges[i, 1], image, receiver)
        turns += weights[0, i] * turn
        miss = min(miss, off)
        if weights[1, i] > 0.0:
            open_miss = min(open_miss, off)
    return turns, miss, open_miss


@kernel
def _distance(a, b):
    return math.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2)

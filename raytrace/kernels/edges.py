"""The Kirchhoff weight of a flat polygon, as a line integral along its edges.

Let phi be the angle about the line from image source to receiver, gamma the bend of the path over an
edge point, delta its detour over the straight line. The edge integral of Miyamoto and Wolf (J. Opt. Soc.
Am. 52 (1962) 615, from memory) then reads K = I - 1/(4 pi) sum of int (1 + cos gamma) e^{-jk delta} dphi.
Where an edge nears the line dphi blows up; but there (1 + cos gamma) e^{-jk delta} tends to 2, and 2 dphi
once round the polygon is 4 pi I. So

    K = 1/(4 pi) sum of int [2 - (1 + cos gamma) e^{-jk delta}] dphi,

which is smooth through every edge and corner, knows no special case, and suits Gauss's rules.
"""

import math
from pathlib import Path

import numpy as np

from raytrace.kernels.jit import kernel

CHUNK = 24  # wavenumbers that share one set of nodes: the frequencies of one octave
RULE_SIZES = np.array([4, 6, 8, 10, 12, 14, 16, 20, 24, 28, 32, 40, 48, 56, 64, 80, 96, 128])
RULE_STARTS = np.concatenate([[0], np.cumsum(RULE_SIZES)])
# Nodes above the middle and their weights, from numpy's leggauss, which takes longer than most rooms.
_HALF_RULES = np.split(np.load(Path(__file__).with_name("gauss_rules.npy")), RULE_STARTS[1:-1] // 2, axis=1)
RULE_NODES = np.concatenate([part for half, _ in _HALF_RULES for part in (-half[::-1], half)])
RULE_WEIGHTS = np.concatenate([part for _, half in _HALF_RULES for part in (half[::-1], half)])
DEEPEST = 24  # halvings of an edge: a source standing on it must not halve it for ever
TINY = 1e-280  # keeps 0/0 away; every term it touches is multiplied by something smaller


# Series in y^2 for |y| <= 1/2 within 1e-9, from Chebyshev's interpolation: sin(pi y) / y and cos(pi y).
S0, S1, S2 = 3.141592653536129, -5.1677127645927206, 2.550163317932369
S3, S4, S5 = -0.5992521864819006, 0.08205035003144684, -0.007028303652380903
C0, C1, C2 = 0.9999999997791529, -4.934802136928833, 4.058709154760502
C3, C4, C5 = -1.335211949366169, 0.23493706849740192, -0.0243959319559508


@kernel
def edge_weights(corners, loop_start, is_open, images, receivers, wavenumber, tolerance, weights):
    """Fill weights (m, f) complex: K of the open edges of a polygon for m pairs of points.

    corners (c, 3) [m]: all loops one after another; loop_start (l + 1,); is_open (c,): whether the edge
    from this corner to the next is free; images, receivers (m, 3) [m]; wavenumber (f,) [1/m];
    tolerance [m]: what counts as on a closed edge.
    """
    following = np.empty(corners.shape[0], np.int64)
    for loop in range(loop_start.size - 1):
        for i in range(loop_start[loop], loop_start[loop + 1]):
            following[i] = i + 1 if i + 1 < loop_start[loop + 1] else loop_start[loop]
    every_edge = is_open.all()
    real, imag = np.empty(wavenumber.size), np.empty(wavenumber.size)
    nodes = np.empty((2, RULE_SIZES[-1]))
    for m in range(images.shape[0]):
        image, receiver = images[m], receivers[m]
        shown = _side_seen(corners, following, image, receiver)
        real[:], imag[:] = 0.0, 0.0
        for i in range(corners.shape[0]):
            if is_open[i]:
                add_edge(corners[i], corners[following[i]], image, receiver, wavenumber, nodes, real, imag)
        lit = 0.0
        if not every_edge:
            lit = _lit_share(corners, following, is_open, image, receiver, shown, tolerance)
        scale = shown / (4.0 * math.pi)
        for f in range(wavenumber.size):
            weights[m, f] = complex(lit + scale * real[f], scale * imag[f])


@kernel
def _side_seen(corners, following, image, receiver):
    """1.0 if the receiver sees the loops anticlockwise, else -1.0 (Newell's area vector)."""
    seen = 0.0
    for j in range(3):
        p, q = (j + 1) % 3, (j + 2) % 3
        area = 0.0
        for i in range(corners.shape[0]):
            a, b = corners[i], corners[following[i]]
            area += (a[p] - corners[0, p]) * (b[q] - corners[0, q])
            area -= (a[q] - corners[0, q]) * (b[p] - corners[0, p])
        seen += area * (receiver[j] - image[j])
    return 1.0 if seen >= 0.0 else -1.0


@kernel
def _lit_share(corners, following, is_open, image, receiver, shown, tolerance):
    """I less the open edges' share of the turn: 1 within tolerance of a closed edge, as found once."""
    whole_turn, open_turn = 0.0, 0.0
    touches = False
    for i in range(corners.shape[0]):
        turn, miss = turn_and_miss(corners[i], corners[following[i]], image, receiver)
        whole_turn += turn
        if is_open[i]:
            open_turn += turn
        elif miss <= tolerance:
            touches = True
    inside = 1.0 if touches else shown * whole_turn / (2.0 * math.pi)
    return inside - shown * open_turn / (2.0 * math.pi)


@kernel
def turn_and_miss(start, end, image, receiver):
    """Angle an edge turns about the line image-receiver; 0 if they meet. Distance between the two [m]."""
    straight = _distance(image, receiver)
    a, b, d = np.empty(3), np.empty(3), np.empty(3)
    along_a, along_b = 0.0, 0.0
    for j in range(3):
        d[j] = (receiver[j] - image[j]) / straight
        a[j], b[j] = start[j] - image[j], end[j] - image[j]
        along_a += a[j] * d[j]
        along_b += b[j] * d[j]
    dot, aa, ab = 0.0, 0.0, 0.0
    for j in range(3):
        a[j] -= along_a * d[j]
        b[j] -= along_b * d[j]
        dot += a[j] * b[j]
        aa += a[j] * a[j]
        ab += (b[j] - a[j]) * (b[j] - a[j])
    t = min(1.0, max(0.0, (aa - dot) / (ab + TINY)))
    miss2 = 0.0
    for j in range(3):
        miss2 += (a[j] + t * (b[j] - a[j])) ** 2
    cross = (
        (a[1] * b[2] - a[2] * b[1]) * d[0]
        + (a[2] * b[0] - a[0] * b[2]) * d[1]
        + (a[0] * b[1] - a[1] * b[0]) * d[2]
    )
    # On the edge itself the turn is half a turn either way: its mean, nothing.
    on_edge = cross * cross <= 1e-24 * ab * straight * straight
    return (0.0 if on_edge and dot <= 0.0 else math.atan2(cross, dot)), math.sqrt(miss2)


@kernel
def add_edge(start, end, image, receiver, wavenumber, nodes, real, imag):
    """Add an edge's integral to real, imag (f,), halving the edge until a rule fits each piece."""
    length = _distance(start, end)
    if length == 0.0:
        return
    along, base = np.empty(3), np.empty(3)
    for j in range(3):
        along[j] = (end[j] - start[j]) / length
    highest = wavenumber.max()
    waiting_from, waiting_depth = np.zeros(DEEPEST + 2), np.zeros(DEEPEST + 2, np.int64)
    waiting = 1
    while waiting > 0:
        waiting -= 1
        offset, depth = waiting_from[waiting], waiting_depth[waiting]
        piece = length / 2.0**depth
        for j in range(3):
            base[j] = start[j] + offset * along[j]
        rate = _phase_rate(base, along, piece, image, receiver)
        closeness = _closeness(base, along, piece, image, receiver)
        if _nodes_needed(highest * rate, closeness) > RULE_SIZES[-1] and depth < DEEPEST:
            for half in range(2):
                waiting_from[waiting] = offset + 0.5 * half * piece
                waiting_depth[waiting] = depth + 1
                waiting += 1
        else:
            _add_piece(base, along, piece, image, receiver, rate, closeness, wavenumber, nodes, real, imag)


@kernel
def _add_piece(base, along, length, image, receiver, rate, closeness, wavenumber, nodes, real, imag):
    """Add one piece's integral, each chunk of wavenumbers with as few nodes as it needs."""
    placed, steady = -1, 0.0
    for low in range(0, wavenumber.size, CHUNK):
        high = min(low + CHUNK, wavenumber.size)
        needed = _nodes_needed(wavenumber[low:high].max() * rate, closeness)
        rule = 0
        while rule + 1 < RULE_SIZES.size and RULE_SIZES[rule] < needed:
            rule += 1
        detour, swing = nodes[0, : RULE_SIZES[rule]], nodes[1, : RULE_SIZES[rule]]
        if rule != placed:
            steady = _place_nodes(base, along, length, image, receiver, RULE_STARTS[rule], detour, swing)
            placed = rule
        add_phases(wavenumber[low:high], detour, swing, real[low:high], imag[low:high])
        for f in range(low, high):
            real[f] += steady


@kernel
def _nodes_needed(phase, closeness):
    """Gauss nodes that leave less than about 1e-7 of K, fitted to 400 random edges.

    Half a node per radian of phase, the width of a Bessel function's turning zone, and what the slowly
    varying part needs: ln(1e7) over twice the size of its Bernstein ellipse, less the fit's share.
    """
    return 0.55 * phase + 2.0 * phase ** (1.0 / 3.0) + 5.6 / max(closeness, 1e-9) + 2.0


@kernel
def _phase_rate(base, along, length, image, receiver):
    """Largest change of the detour per unit of Gauss angle along a piece. [m]"""
    rate = 0.0
    for i in range(-3, 4):
        x = 0.3 * i
        s = 0.5 * length * (1.0 + x)
        step1, step2, square1, square2 = 0.0, 0.0, TINY, TINY
        for j in range(3):
            p = base[j] + s * along[j]
            step1 += (p - image[j]) * along[j]
            step2 += (p - receiver[j]) * along[j]
            square1 += (p - image[j]) ** 2
            square2 += (p - receiver[j]) ** 2
        slope = abs(step1 / math.sqrt(square1) + step2 / math.sqrt(square2))
        rate = max(rate, slope * math.sqrt(1.0 - x * x))
    return 0.5 * length * rate


@kernel
def _closeness(base, along, length, image, receiver):
    """Size (acosh of the half axis) of the Bernstein ellipse through the nearer zero of r1 or r2."""
    end = np.empty(3)
    for j in range(3):
        end[j] = base[j] + length * along[j]
    round_image = _distance(base, image) + _distance(end, image)
    round_receiver = _distance(base, receiver) + _distance(end, receiver)
    return math.acosh(max(1.0, min(round_image, round_receiver) / length))


@kernel
def _place_nodes(base, along, length, image, receiver, first, detour, swing):
    """Fill detour (n,) [m] and the factor swing (n,) of 1 - e^{-jk detour}; return what has no phase."""
    straight = _distance(image, receiver)
    ax, ay, az = base[0] - image[0], base[1] - image[1], base[2] - image[2]
    bx, by, bz = receiver[0] - base[0], receiver[1] - base[1], receiver[2] - base[2]
    tx, ty, tz = along[0], along[1], along[2]
    # (r1 x r2) . along is the same all along an edge.
    triple = (ay * bz - az * by) * tx + (az * bx - ax * bz) * ty + (ax * by - ay * bx) * tz
    scale = -0.5 * length * straight * triple
    steady = 0.0
    for i in range(detour.size):
        s = 0.5 * length * (1.0 + RULE_NODES[first + i])
        ux, uy, uz = ax + s * tx, ay + s * ty, az + s * tz
        vx, vy, vz = bx - s * tx, by - s * ty, bz - s * tz
        r1 = math.sqrt(ux * ux + uy * uy + uz * uz)
        r2 = math.sqrt(vx * vx + vy * vy + vz * vz)
        product, dot = r1 * r2 + TINY, ux * vx + uy * vy + uz * vz
        cx, cy, cz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        cross2 = cx * cx + cy * cy + cz * cz + TINY
        # r1 r2 - r1 . r2 loses all its digits beside the straight line; the quotient keeps them.
        less = cross2 / (product + dot) if dot > 0.0 else product - dot
        turn = RULE_WEIGHTS[first + i] * scale / cross2
        detour[i] = 2.0 * less / (r1 + r2 + straight)
        swing[i] = turn * (1.0 + dot / product)
        steady += turn * less / product
    return steady


@kernel
def add_phases(wavenumber, detour, swing, real, imag):
    """Add swing (1 - e^{-jk detour}) of all nodes (n,) to real, imag (f,).

    1 - cos x = 2 sin^2(x/2) and sin x = 2 sin(x/2) cos(x/2) keep their digits down to x = 0. The sine and
    cosine are series without a branch, so that the inner loop runs on vector registers.
    """
    for i in range(detour.size):
        turns_m = detour[i] / (2.0 * math.pi)
        twice = 2.0 * swing[i]
        for f in range(wavenumber.size):
            y = wavenumber[f] * turns_m
            y -= math.floor(y + 0.5)
            t = y * y
            sine = y * (S0 + t * (S1 + t * (S2 + t * (S3 + t * (S4 + t * S5)))))
            cosine = C0 + t * (C1 + t * (C2 + t * (C3 + t * (C4 + t * C5))))
            real[f] += twice * sine * sine
            imag[f] += twice * sine * cosine


@kernel
def _distance(a, b):
    """Distance between two points (3,). [m]"""
    return math.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2)

"""What crossing two screens one after the other has in common, along one axis, edge by edge.

Along one axis the sound that passes an edge of a first screen and one of a second is, in the paraxial
form, Phi2(h, g; rho), the normal distribution of two variables at arguments turned by 45 degrees: h^2/2 is
jk times the detour over the first edge, g^2/2 over the second, rho is real. R. L. Plackett, Biometrika 41
(1954) 351 (from memory): its derivative by rho is the density, so that

    Phi2(h, g; rho) - Phi(h) Phi(g) = 1/(2 pi) int_0^{artanh rho} sech w e^{-jk q(w)} dw,
    q(w) = (h^2 + g^2)/4 + [(h - g)^2 e^{2w} + (h + g)^2 e^{-2w}]/8,

here with h and g without sqrt(jk); q(artanh rho) is the detour over both edges. The phase has no pole and
one stationary point at most.
"""

import math

import numpy as np

from raytrace.kernels.edges import CHUNK, RULE_NODES, RULE_SIZES, RULE_STARTS, RULE_WEIGHTS, add_phases
from raytrace.kernels.jit import kernel

LONGEST = 0.7  # of a piece in w: sech w is smooth within it, its poles are pi/2 away
MOST_PHASE = 100.0  # of half a piece, in radians: the largest rule holds it
TOO_FAST = 1e4  # radians per unit of w: what turns faster all along a piece leaves under 1 / (pi 1e4)


@kernel
def shared_edges(first, second, end, wavenumber, shared):
    """Fill shared (m, a, b, f) complex: what edge a of a first and edge b of a second screen share.

    first (m, a), second (m, b): h, g of the edges [m^0.5]; end (m, a, b): artanh of their correlation;
    wavenumber (f,) [1/m].
    """
    nodes = np.empty((2, RULE_SIZES[-1]))
    real, imag = np.empty(wavenumber.size), np.empty(wavenumber.size)
    for m in range(first.shape[0]):
        for a in range(first.shape[1]):
            for b in range(second.shape[1]):
                real[:], imag[:] = 0.0, 0.0
                for low in range(0, wavenumber.size, CHUNK):
                    high = min(low + CHUNK, wavenumber.size)
                    some = (wavenumber[low:high], real[low:high], imag[low:high])
                    _add_pieces(first[m, a], second[m, b], end[m, a, b], nodes, *some)
                for f in range(wavenumber.size):
                    shared[m, a, b, f] = complex(real[f], imag[f]) / (2.0 * math.pi)


@kernel
def _add_pieces(h, g, end, nodes, wavenumber, real, imag):
    """Add the integral from 0 to end to real, imag (f,), in pieces that a rule fits."""
    n_long = max(1, math.ceil(abs(end) / LONGEST))
    highest = wavenumber.max()
    for i in range(n_long):
        start, stop = end * i / n_long, end * (i + 1) / n_long
        # The slope of the phase rises all along, so its largest size is at an end, the least one too.
        slopes = _phase_slope(h, g, start), _phase_slope(h, g, stop)
        if slopes[0] * slopes[1] > 0.0 and wavenumber.min() * min(abs(slopes[0]), abs(slopes[1])) > TOO_FAST:
            continue
        slope = max(abs(slopes[0]), abs(slopes[1]))
        half = 0.5 * (stop - start)
        n_short = max(1, math.ceil(highest * slope * abs(half) / MOST_PHASE))
        half /= n_short
        phase = highest * slope * abs(half)
        needed = 0.55 * phase + 2.0 * phase ** (1.0 / 3.0) + 7.0
        rule = 0
        while rule + 1 < RULE_SIZES.size and RULE_SIZES[rule] < needed:
            rule += 1
        detour, weight = nodes[0, : RULE_SIZES[rule]], nodes[1, : RULE_SIZES[rule]]
        for part in range(n_short):
            middle = start + (2 * part + 1) * half
            steady = _place_nodes(h, g, middle, half, RULE_STARTS[rule], detour, weight)
            add_phases(wavenumber, detour, weight, real, imag)
            for f in range(wavenumber.size):
                real[f] += steady


@kernel
def _phase_slope(h, g, w):
    """Derivative of q by w. [m]"""
    return 0.25 * ((h - g) ** 2 * math.exp(2.0 * w) - (h + g) ** 2 * math.exp(-2.0 * w))


@kernel
def _place_nodes(h, g, middle, half, first, detour, weight):
    """Fill detour q (n,) [m] and the factor weight (n,) of 1 - e^{-jk detour}; return what has no phase."""
    steady = 0.0
    for i in range(detour.size):
        w = middle + half * RULE_NODES[first + i]
        rising = math.exp(2.0 * w)
        detour[i] = 0.25 * (h * h + g * g) + 0.125 * ((h - g) ** 2 * rising + (h + g) ** 2 / rising)
        share = half * RULE_WEIGHTS[first + i] / math.cosh(w)
        weight[i] = -share
        steady += share
    return steady

"""Spectra at many places of a head zone: pressures between known pitches, images with exact delays."""

import numpy as np

from raytrace.kernels.jit import kernel


@kernel
def carry_on(known, below, share, carried):
    """Fill carried (n, f) complex with pressures between known ones.

    known (n, k) complex: at rising frequencies; below, share (f,): which of them is the last below each
    frequency, and how far it is from there to the next. Magnitude and phase are carried on linearly, the
    phase the shorter way round.
    """
    for i in range(known.shape[0]):
        last = -1
        size, rise, turn, start = 0.0, 0.0, 0.0, 1.0 + 0.0j
        for f in range(below.size):
            if below[f] != last:
                last = below[f]
                low, high = known[i, last], known[i, last + 1]
                size = np.sqrt(low.real * low.real + low.imag * low.imag)
                rise = np.sqrt(high.real * high.real + high.imag * high.imag) - size
                turned = high * low.conjugate()
                turn = np.arctan2(turned.imag, turned.real)
                start = low / size if size > 0.0 else 1.0 + 0.0j
            angle, level = share[f] * turn, size + share[f] * rise
            carried[i, f] = start * complex(level * np.cos(angle), level * np.sin(angle))


@kernel
def add_images(nodes, corner, weight, delay, until, first, step, spectrum):
    """Add to spectrum (2, f, p), real and imaginary, what some images send to each place.

    nodes (m, k, f) complex: pressure of each image at each node, without the phase of its delay, nought
    where it is not heard; corner (p, 8), weight (8, p): nodes about each place and their shares, alike for
    places in a row as far as can be, which then go together; delay (m, p) [s]: what is later than until [s]
    is left out; first, step: the first line and the distance of lines, in radians a second. The phase turns
    from line to line by one complex factor.
    """
    n_places = weight.shape[1]
    turns = np.empty((4, n_places))
    real, imag, real_turn, imag_turn = turns[0], turns[1], turns[2], turns[3]
    own = np.empty(8, np.complex128)
    start = 0
    while start < n_places:
        stop = start + 1
        while stop < n_places and np.all(corner[stop] == corner[start]):
            stop += 1
        for i in range(nodes.shape[0]):
            for p in range(start, stop):
                size = 1.0 if delay[i, p] <= until else 0.0
                real[p], imag[p] = size * np.cos(first * delay[i, p]), -size * np.sin(first * delay[i, p])
                real_turn[p], imag_turn[p] = np.cos(step * delay[i, p]), -np.sin(step * delay[i, p])
            for f in range(spectrum.shape[1]):
                for c in range(8):
                    own[c] = nodes[i, corner[start, c], f]
                _add_line(own, weight, start, stop, real, imag, real_turn, imag_turn, spectrum[:, f])
        start = stop


@kernel
def _add_line(own, weight, start, stop, real, imag, real_turn, imag_turn, sums):
    """Add to sums (2, p) one line of one image at places start to stop, and turn its phase to the next.

    own (8,) complex: at the nodes about these places; real, imag: its phase there; the rest as above.
    """
    a, b, c, d, e, f, g, h = own[0], own[1], own[2], own[3], own[4], own[5], own[6], own[7]
    for p in range(start, stop):
        x = a.real * weight[0, p] + b.real * weight[1, p] + c.real * weight[2, p] + d.real * weight[3, p]
        x += e.real * weight[4, p] + f.real * weight[5, p] + g.real * weight[6, p] + h.real * weight[7, p]
        y = a.imag * weight[0, p] + b.imag * weight[1, p] + c.imag * weight[2, p] + d.imag * weight[3, p]
        y += e.imag * weight[4, p] + f.imag * weight[5, p] + g.imag * weight[6, p] + h.imag * weight[7, p]
        sums[0, p] += x * real[p] - y * imag[p]
        sums[1, p] += x * imag[p] + y * real[p]
        re = real[p] * real_turn[p] - imag[p] * imag_turn[p]
        imag[p] = real[p] * imag_turn[p] + imag[p] * real_turn[p]
        real[p] = re

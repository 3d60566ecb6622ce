"""Spectra at many places of a head zone: pressures between known pitches, images with exact delays."""

import numpy as np

from raytrace.kernels.jit import kernel

ABREAST = 16  # places that are summed at once


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
    n_places, n_lines = weight.shape[1], spectrum.shape[1]
    heard = _heard_at(nodes)
    # Of places that go together: their shares, then phase and turn, both real and imaginary; and their sums.
    shares, sums = np.zeros(12 * ABREAST), np.empty(2 * n_lines * ABREAST)
    own = np.empty(8, np.complex128)
    start = 0
    while start < n_places:
        n = 1
        while n < ABREAST and start + n < n_places and np.all(corner[start + n] == corner[start]):
            n += 1
        shares[:], sums[:] = 0.0, 0.0
        for c in range(8):
            shares[c * ABREAST : c * ABREAST + n] = weight[c, start : start + n]
        for line in range(2 * n_lines):
            sums[line * ABREAST : line * ABREAST + n] = spectrum[line % 2, line // 2, start : start + n]
        for i in range(nodes.shape[0]):
            if not _set_out(delay[i, start : start + n], until, first, step, shares):
                continue
            is_heard = False
            for c in range(8):
                is_heard |= heard[i, corner[start, c]]
            for f in range(n_lines if is_heard else 0):
                for c in range(8):
                    own[c] = nodes[i, corner[start, c], f]
                _add_line(own, shares, sums[2 * f * ABREAST : 2 * (f + 1) * ABREAST])
        for line in range(2 * n_lines):
            spectrum[line % 2, line // 2, start : start + n] = sums[line * ABREAST : line * ABREAST + n]
        start += n


@kernel
def _heard_at(nodes):
    """Whether each image (m, k, f) is anything at each node, (m, k)."""
    heard = np.zeros(nodes.shape[:2], np.bool_)
    for i in range(nodes.shape[0]):
        for k in range(nodes.shape[1]):
            for f in range(nodes.shape[2]):
                if nodes[i, k, f] != 0.0:
                    heard[i, k] = True
                    break
    return heard


@kernel
def _set_out(delay, until, first, step, shares):
    """Put phases at the first line and their turns from line to line into shares; whether any is in time."""
    in_time = False
    for p in range(delay.size):
        size = 0.0
        if delay[p] <= until:
            size, in_time = 1.0, True
        shares[8 * ABREAST + p] = size * np.cos(first * delay[p])
        shares[9 * ABREAST + p] = -size * np.sin(first * delay[p])
        shares[10 * ABREAST + p] = np.cos(step * delay[p])
        shares[11 * ABREAST + p] = -np.sin(step * delay[p])
    return in_time


@kernel
def _add_line(own, shares, sums):
    """Add to sums one line of one image at places that go together, and turn its phase to the next.

    own (8,) complex: at the nodes about these places. As many places as there are lanes, in one array at
    fixed distances: so the loop runs on vector registers.
    """
    a, b, c, d, e, f, g, h = own[0], own[1], own[2], own[3], own[4], own[5], own[6], own[7]
    for p in range(ABREAST):
        s, t, u, v = shares[p], shares[ABREAST + p], shares[2 * ABREAST + p], shares[3 * ABREAST + p]
        x = a.real * s + b.real * t + c.real * u + d.real * v
        y = a.imag * s + b.imag * t + c.imag * u + d.imag * v
        s, t, u, v = (
            shares[4 * ABREAST + p],
            shares[5 * ABREAST + p],
            shares[6 * ABREAST + p],
            shares[7 * ABREAST + p],
        )
        x += e.real * s + f.real * t + g.real * u + h.real * v
        y += e.imag * s + f.imag * t + g.imag * u + h.imag * v
        real, imag = shares[8 * ABREAST + p], shares[9 * ABREAST + p]
        real_turn, imag_turn = shares[10 * ABREAST + p], shares[11 * ABREAST + p]
        sums[p] += x * real - y * imag
        sums[ABREAST + p] += x * imag + y * real
        shares[8 * ABREAST + p] = real * real_turn - imag * imag_turn
        shares[9 * ABREAST + p] = real * imag_turn + imag * real_turn

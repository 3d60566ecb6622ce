"""Spectra at many places of a head zone: images with exact delays, and pressures between nodes."""

import numpy as np

from raytrace.kernels.jit import kernel


@kernel
def add_images(nodes, corner, weight, delay, until, first, step, spectrum):
    """Add to spectrum (p, f) complex what some images send to each place.

    nodes (m, k, f) complex: pressure of each image at each node, without the phase of its delay, nought
    where it is not heard; corner (p, 8), weight (p, 8): nodes about each place and their shares; delay
    (p, m) [s]: what is later than until [s] is left out; first, step: the first line and the distance of
    lines, in radians a second. The phase turns from line to line by one complex factor.
    """
    for i in range(nodes.shape[0]):
        own = nodes[i]
        for p in range(corner.shape[0]):
            if delay[p, i] > until:
                continue
            turned = np.exp(-1j * first * delay[p, i])
            turn = np.exp(-1j * step * delay[p, i])
            for f in range(spectrum.shape[1]):
                real, imag = 0.0, 0.0
                for c in range(corner.shape[1]):
                    at = own[corner[p, c], f]
                    real += weight[p, c] * at.real
                    imag += weight[p, c] * at.imag
                spectrum[p, f] += complex(real, imag) * turned
                turned *= turn

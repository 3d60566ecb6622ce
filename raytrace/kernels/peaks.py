"""Peaks of many arrivals: what a measurement could not tell apart, from the strongest down."""

from raytrace.kernels.jit import kernel


@kernel
def peak_energies(
    rest, spot_start, factors, share, heard_start, delay, width, floor, pressure, energy, peaks
):
    """Fill energy (n,) of each arrival and peaks (n,): of each peak its energy, at its strongest arrival.

    rest (n, f) complex: pressure of each arrival apart from its spots, with the phase of its delay;
    spot_start (n + 1,): which rows of factors (s, f) complex are its spots; share (f,): weight of each
    frequency; heard_start (h + 1,): arrivals of each listening point; delay (n,) [s]; width [s];
    floor: energy below which no peak is looked for; pressure (n, f) complex: filled too. Peaks are -1
    where an arrival leads none.
    """
    for i in range(rest.shape[0]):
        total = 0.0
        for f in range(rest.shape[1]):
            p = rest[i, f]
            for s in range(spot_start[i], spot_start[i + 1]):
                p *= factors[s, f]
            pressure[i, f] = p
            total += share[f] * (p.real * p.real + p.imag * p.imag)
        energy[i] = total
        peaks[i] = -1.0
    for h in range(heard_start.size - 1):
        _lead(pressure, share, heard_start[h], heard_start[h + 1], delay, width, floor, energy, peaks)


@kernel
def _lead(pressure, share, start, stop, delay, width, floor, energy, peaks):
    """Peaks of the arrivals start to stop of one listening point, in order of delay."""
    # -1 not yet in a peak, -2 in one that another leads.
    while True:
        leader = -1
        for i in range(start, stop):
            if peaks[i] == -1.0 and energy[i] >= floor and (leader < 0 or energy[i] > energy[leader]):
                leader = i
        if leader < 0:
            break
        first, last = leader, leader
        while first > start and delay[leader] - delay[first - 1] < width:
            first -= 1
        while last < stop - 1 and delay[last + 1] - delay[leader] < width:
            last += 1
        total = 0.0
        for f in range(share.size):
            real, imag = 0.0, 0.0
            for i in range(first, last + 1):
                if peaks[i] == -1.0:
                    real += pressure[i, f].real
                    imag += pressure[i, f].imag
            total += share[f] * (real * real + imag * imag)
        for i in range(first, last + 1):
            if peaks[i] == -1.0:
                peaks[i] = -2.0
        peaks[leader] = total
    for i in range(start, stop):
        if peaks[i] == -2.0:
            peaks[i] = -1.0

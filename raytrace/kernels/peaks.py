"""Peaks of many arrivals: what a measurement could not tell apart, from the strongest down."""

from raytrace.kernels.jit import kernel


@kernel
def lead_peaks(strength, delay, width, floor, leader):
    """Fill leader (n,): which arrival leads the peak that each belongs to, itself or a stronger one; -1 none.

    strength (n,): of any kind that rises with the level; delay (n,) rising [s]; width [s]: what is less far
    from a leader belongs to it, unless a stronger one has it; floor: strength below which none leads. From
    the strongest down, so that a chain of weak ones does not grow into one long peak; of two alike the
    earlier leads.
    """
    leader[:] = -1
    while True:
        strongest = -1
        for i in range(strength.size):
            is_free = leader[i] < 0 and strength[i] >= floor
            if is_free and (strongest < 0 or strength[i] > strength[strongest]):
                strongest = i
        if strongest < 0:
            break
        first, last = strongest, strongest
        while first > 0 and delay[strongest] - delay[first - 1] < width:
            first -= 1
        while last < strength.size - 1 and delay[last + 1] - delay[strongest] < width:
            last += 1
        for i in range(first, last + 1):
            if leader[i] < 0:
                leader[i] = strongest


@kernel
def peak_energies(
    rest, spot_start, factors, share, heard_start, delay, width, floor, pressure, energy, leader, peaks
):
    """Fill energy (n,) of each arrival, its peak's leader (n,) and peaks (n,): energy of the peak it leads.

    rest (n, f) complex: pressure of each arrival apart from its spots, with the phase of its delay;
    spot_start (n + 1,): which rows of factors (s, f) complex are its spots; share (f,): weight of each
    frequency; heard_start (h + 1,): arrivals of each listening point; delay (n,) [s]; width [s];
    floor: energy below which no peak is looked for; pressure (n, f) complex: filled too. Leaders and peaks
    are -1 where there is none.
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
        start, stop = heard_start[h], heard_start[h + 1]
        lead_peaks(energy[start:stop], delay[start:stop], width, floor, leader[start:stop])
        _sum_peaks(pressure[start:stop], share, leader[start:stop], peaks[start:stop])
        for i in range(start, stop):
            if leader[i] >= 0:
                leader[i] += start


@kernel
def change_peaks(
    changed,
    rest,
    spot_start,
    factors,
    idle,
    place,
    others,
    share,
    heard_start,
    delay,
    width,
    floor,
    known,
    found,
):
    """The same where the factors of a few spots are others.

    changed (c,): arrivals that have such spots, in order; factors (s, f): as they were; idle (s,) bool:
    which of them are 1; place (s,): which row of others (o, f) complex each has now, -1 as it was; known:
    pressure, energy, leader, peaks as `peak_energies` filled them; found: the same to be filled, but
    pressure (c, f) of the changed arrivals alone.
    """
    pressure, energy, leader, peaks = found
    energy[:], leader[:], peaks[:] = known[1], known[2], known[3]
    for c in range(changed.size):
        i, total = changed[c], 0.0
        pressure[c] = rest[i]
        for s in range(spot_start[i], spot_start[i + 1]):
            if place[s] >= 0:
                for f in range(share.size):
                    pressure[c, f] *= others[place[s], f]
            elif not idle[s]:
                for f in range(share.size):
                    pressure[c, f] *= factors[s, f]
        for f in range(share.size):
            p = pressure[c, f]
            total += share[f] * (p.real * p.real + p.imag * p.imag)
        energy[i] = total
    first = 0
    for h in range(heard_start.size - 1):
        start, stop = heard_start[h], heard_start[h + 1]
        last = first
        while last < changed.size and changed[last] < stop:
            last += 1
        if last > first:
            peaks[start:stop] = -1.0
            lead_peaks(energy[start:stop], delay[start:stop], width, floor, leader[start:stop])
            now = known[0][start:stop].copy()
            for c in range(first, last):
                now[changed[c] - start] = pressure[c]
            _sum_peaks(now, share, leader[start:stop], peaks[start:stop])
            for i in range(start, stop):
                if leader[i] >= 0:
                    leader[i] += start
        first = last


@kernel
def _sum_peaks(pressure, share, leader, peaks):
    """Energy of the summed pressure (n, f) of each peak among the arrivals of one listening point."""
    for lead in range(leader.size):
        if leader[lead] != lead:
            continue
        first, last = lead, lead
        for i in range(leader.size):
            if leader[i] == lead:
                first, last = min(first, i), max(last, i)
        total = 0.0
        for f in range(share.size):
            real, imag = 0.0, 0.0
            for i in range(first, last + 1):
                if leader[i] == lead:
                    real += pressure[i, f].real
                    imag += pressure[i, f].imag
            total += share[f] * (real * real + imag * imag)
        peaks[lead] = total


@kernel
def find_makers(place, delay, image_delay, heard, width, between, made_by):
    """Fill made_by (n, m) bool: which images make each maximum.

    place, delay (n,): of the maxima; image_delay (p, m), heard (p, m) bool: of the images at each place. [s]
    They are those that are less than width away, without any the nearest, if it is less than between away.
    """
    for i in range(place.size):
        nearest = between
        for image in range(heard.shape[1]):
            if heard[place[i], image]:
                nearest = min(nearest, abs(image_delay[place[i], image] - delay[i]))
        for image in range(heard.shape[1]):
            away = abs(image_delay[place[i], image] - delay[i])
            is_near = away < width or (away == nearest and nearest < between)
            made_by[i, image] = heard[place[i], image] and is_near


@kernel
def lead_images(made_by, level, judged, maximum, leader):
    """Fill leader (m,): the stronger image to whose peak each belongs, or itself; -1 without a maximum.

    made_by (n, m) bool: which images make each maximum, the strongest image first; maximum (p, m): the
    highest maximum of each image at each place, -1 for none, level (p, m) its level; judged (m,): only
    places where an image is at least so loud decide. It belongs to the first leader that makes half of its
    maxima there with it.
    """
    for image in range(judged.size):
        leader[image] = -1
        n_own = 0
        for p in range(maximum.shape[0]):
            if maximum[p, image] >= 0:
                leader[image] = image
                if level[p, image] >= judged[image]:
                    n_own += 1
        for lead in range(image if leader[image] >= 0 else 0):
            if leader[lead] != lead:
                continue
            n_shared = 0
            for p in range(maximum.shape[0]):
                own = maximum[p, image]
                if own >= 0 and level[p, image] >= judged[image] and made_by[own, lead]:
                    n_shared += 1
            if 2 * n_shared >= n_own:
                leader[image] = lead
                break

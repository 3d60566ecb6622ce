"""Energy that rays carry through the room to the seats: one pass over rays, bounces and bands."""

import math

import numpy as np

from raytrace.kernels.bands import N_BANDS, add_scaled, is_any_above, scale_row, set_scaled
from raytrace.kernels.flight import LANES, draw_sphere, random_words
from raytrace.kernels.jit import kernel
from raytrace.kernels.packets import DX, meet_pieces
from raytrace.kernels.settle import settle_hits

LEFT_OVER, ESCAPED, INCIDENT = 0, 1, 2  # rows of the ledger, from INCIDENT on as those of Walls.kept
COPIES = 4  # of each row while a step is booked: sums into one row wait for each other
CHOICE, DIRECTION = 0, 1  # uses of random numbers at a bounce

# Fields of a tuple are taken out before every loop: within it, each access would count a reference up and
# down again, which costs more than the arithmetic. Loops without a branch run in SIMD: what is rare is
# marked or listed by one of them and done by another.


@kernel
def _look(position, direction, n, pieces, slack, packet):
    """First pieces on `n` rays (3, n) within the reach that stands in the packet's `best`."""
    rays, middle = packet.rays, pieces.middle
    for axis in range(3):
        here, way, x, dx, origin = position[axis], direction[axis], rays[axis], rays[DX + axis], middle[axis]
        for lane in range(n):
            x[lane] = here[lane] - origin
            dx[lane] = way[lane]
    meet_pieces(packet, n, pieces, np.float32(slack))


@kernel
def _find_walls(facets, pieces, flight, n, bounds, packet):
    """The wall that each ray meets next, and how far it is."""
    best, which, facet, facet_of_piece = packet.best, packet.which, flight.facet, pieces.facet
    best[:n] = np.inf
    _look(flight.position, flight.direction, n, pieces, bounds.slack, packet)
    for lane in range(n):
        facet[lane] = facet_of_piece[int(which[lane])] if which[lane] >= 0 else -1
    settle_hits(
        facets, flight.position.T, flight.direction.T, facet[:n], packet.edge,
        bounds.slack, bounds.tolerance, bounds.rounding, flight.plane, flight.reach,
    )  # fmt: skip


@kernel
def _listen(flight, n, seats, bounds, n_bins, heard):
    """Legs that began with a mirror bounce and pierce a seat's sphere leave energy there.

    A chord's share of the sphere's volume estimates the energy density. The arrival time is that of the
    ray's image source as seen from the centre, so that mirrored energy arrives when it does exactly.
    """
    px, py, pz = flight.position[0], flight.position[1], flight.position[2]
    dx, dy, dz = flight.direction[0], flight.direction[1], flight.direction[2]
    reach, energy, is_near = flight.reach, flight.energy, flight.is_near
    travelled, bounces, is_pure, is_heard = flight.travelled, flight.bounces, flight.is_pure, flight.is_heard
    for seat in range(seats.radius.size):
        x, y, z = seats.positions[seat, 0], seats.positions[seat, 1], seats.positions[seat, 2]
        direct_m, exact_m, square = seats.direct_m[seat], seats.exact_m[seat], seats.radius[seat] ** 2
        scale = 3.0 * direct_m**2 / seats.radius[seat] ** 3
        for lane in range(n):
            away_x, away_y, away_z = x - px[lane], y - py[lane], z - pz[lane]
            along = away_x * dx[lane] + away_y * dy[lane] + away_z * dz[lane]
            beside = away_x * away_x + away_y * away_y + away_z * away_z - along * along
            is_near[lane] = (beside < square) & is_heard[lane] & (along > 0.0) & (along < reach[lane])
        for lane in range(n):
            if not is_near[lane]:
                continue
            away_x, away_y, away_z = x - px[lane], y - py[lane], z - pz[lane]
            along = away_x * dx[lane] + away_y * dy[lane] + away_z * dz[lane]
            beside = away_x * away_x + away_y * away_y + away_z * away_z - along * along
            length = math.sqrt((travelled[lane] + along) ** 2 + beside)
            known = bounces[lane] <= bounds.up_to_order and length <= exact_m
            place = max(0, int((length - direct_m) / bounds.bin_m))
            if not (is_pure[lane] and known) and place < n_bins:
                weight = scale * 2.0 * math.sqrt(square - beside)
                add_scaled(heard, seat * n_bins + place, weight, energy, lane)


@kernel
def _mirror(flight, n):
    """Carry rays to their walls and mirror them there."""
    px, py, pz = flight.position[0], flight.position[1], flight.position[2]
    dx, dy, dz = flight.direction[0], flight.direction[1], flight.direction[2]
    reach, normal_x, normal_y, normal_z = flight.reach, flight.plane[0], flight.plane[1], flight.plane[2]
    for lane in range(n):
        nx, ny, nz = normal_x[lane], normal_y[lane], normal_z[lane]
        x, y, z, way = dx[lane], dy[lane], dz[lane], reach[lane]
        px[lane] += way * x
        py[lane] += way * y
        pz[lane] += way * z
        twice = 2.0 * (nx * x + ny * y + nz * z)
        x, y, z = x - twice * nx, y - twice * ny, z - twice * nz
        # Rounding would build up over a hundred mirrorings: one Newton step keeps the length 1.
        unit = 1.5 - 0.5 * (x * x + y * y + z * z)
        dx[lane], dy[lane], dz[lane] = unit * x, unit * y, unit * z


@kernel
def _bounce(walls, flight, n, bounds, seed, page, tally):
    """At the walls: choose mirror or scatter, absorb, end what is over; how many rays are to scatter."""
    reach, facets, scattered = flight.reach, flight.facet, flight.scattered
    travelled, number, bounces, word = flight.travelled, flight.number, flight.bounces, flight.word
    energy, is_heard, is_done = flight.energy, flight.is_heard, flight.is_done
    own, chance, kept, start = walls.material, walls.chance, walls.kept, walls.cover_start
    n_scattered, has_covers, n_rows = 0, walls.cover_material.size > 0, page.shape[0] // COPIES
    for lane in range(n):
        bounces[lane] += 1
        travelled[lane] += reach[lane]
    for lane in range(n):
        word[lane] = random_words(seed, number[lane], bounces[lane], CHOICE)[0]
    for lane in range(n):
        facet, copy = facets[lane], (lane % COPIES) * n_rows
        if facet < 0:
            is_done[lane] = True
            add_scaled(page, copy + ESCAPED, 1.0, energy, lane)
            continue
        material = own[facet]
        if has_covers and start[facet] < start[facet + 1]:
            material = _covering(walls, facet, flight.position, lane)
        is_scattered = word[lane] < chance[material] * 4294967296.0
        is_heard[lane] = not is_scattered
        row = 2 * material + is_scattered
        add_scaled(page, copy + INCIDENT + row, 1.0, energy, lane)
        scale_row(energy, lane, kept, row)
        is_over = bounces[lane] >= bounds.n_bounces or travelled[lane] > bounds.longest_m
        if not is_over and not is_any_above(energy, lane, bounds.quiet):
            # Half of the quiet rays end, the others take over what they carried: right on average.
            is_over = word[lane] % 2 == 0  # the last digit of the draw says nothing of mirror or scatter
            if not is_over:
                add_scaled(page, copy + LEFT_OVER, -1.0, energy, lane)
                set_scaled(energy, lane, 2.0, energy, lane)
        if is_over:
            is_done[lane] = True
            tally[0] += bounces[lane]
            tally[1] += travelled[lane]
            add_scaled(page, copy + LEFT_OVER, 1.0, energy, lane)
        scattered[n_scattered] = lane
        n_scattered += is_scattered and not is_done[lane]
    return n_scattered


@kernel
def _covering(walls, facet, position, lane):
    """Material of the last opening that covers a ray's spot, else the surface's own."""
    x, y, z = position[0, lane], position[1, lane], position[2, lane]
    material = walls.material[facet]
    along, up, offset, size = walls.cover_u, walls.cover_v, walls.cover_offset, walls.cover_size
    for cover in range(walls.cover_start[facet], walls.cover_start[facet + 1]):
        u = x * along[cover, 0] + y * along[cover, 1] + z * along[cover, 2] - offset[cover, 0]
        v = x * up[cover, 0] + y * up[cover, 1] + z * up[cover, 2] - offset[cover, 1]
        if 0.0 <= u <= size[cover, 0] and 0.0 <= v <= size[cover, 1]:
            material = walls.cover_material[cover]
    return material


@kernel
def _gather_rain(flight, n_scattered, seats, seat, bounds, n_bins, rain, entry):
    """Queue what a seat receives of the scattered rays, cos / pi spread over the distance; entries in use."""
    position, direction, plane, energy = flight.position, flight.direction, flight.plane, flight.energy
    travelled, scattered = flight.travelled, flight.scattered
    start, ways, distances, rows, sent = rain.position, rain.direction, rain.distance, rain.row, rain.energy
    x, y, z = seats.positions[seat, 0], seats.positions[seat, 1], seats.positions[seat, 2]
    direct_m = seats.direct_m[seat]
    for k in range(n_scattered):
        lane = scattered[k]
        px, py, pz = position[0, lane], position[1, lane], position[2, lane]
        dx, dy, dz = x - px, y - py, z - pz
        distance = math.sqrt(dx * dx + dy * dy + dz * dz)
        inverse = 1.0 / distance
        dx, dy, dz = dx * inverse, dy * inverse, dz * inverse
        nx, ny, nz = plane[0, lane], plane[1, lane], plane[2, lane]
        cosine = nx * dx + ny * dy + nz * dz
        # Mirrored already: a ray that flies against the normal came from behind the facet.
        if nx * direction[0, lane] + ny * direction[1, lane] + nz * direction[2, lane] < 0.0:
            cosine = -cosine
        place = max(0, int((travelled[lane] + distance - direct_m) / bounds.bin_m))
        if cosine <= 0.0 or place >= n_bins:
            continue
        start[0, entry], start[1, entry], start[2, entry] = px, py, pz
        ways[0, entry], ways[1, entry], ways[2, entry] = dx, dy, dz
        distances[entry], rows[entry] = distance, seat * n_bins + place
        set_scaled(sent, entry, 4.0 * cosine * (direct_m * inverse) ** 2, energy, lane)
        entry += 1
    return entry


@kernel
def _let_fall(rain, n, pieces, bounds, packet, heard):
    """Add the first `n` entries of the queue to the histogram, those with nothing in the way."""
    best, which, distance, row, energy = packet.best, packet.which, rain.distance, rain.row, rain.energy
    for entry in range(n):
        best[entry] = distance[entry]
    _look(rain.position, rain.direction, n, pieces, bounds.slack, packet)
    for entry in range(n):
        if which[entry] < 0:
            add_scaled(heard, row[entry], 1.0, energy, entry)


@kernel
def _scatter(flight, n_scattered, seed):
    """Turn the scattered rays by Lambert's law: the normal plus a point of the unit sphere."""
    direction, plane, scattered = flight.direction, flight.plane, flight.scattered
    is_pure, sphere = flight.is_pure, flight.sphere
    draw_sphere(flight, n_scattered, seed, DIRECTION)
    for k in range(n_scattered):
        lane = scattered[k]
        is_pure[lane] = False
        nx, ny, nz = plane[0, lane], plane[1, lane], plane[2, lane]
        side = nx * direction[0, lane] + ny * direction[1, lane] + nz * direction[2, lane]
        sign = -1.0 if side < 0.0 else 1.0
        dx, dy, dz = sign * nx + sphere[0, k], sign * ny + sphere[1, k], sign * nz + sphere[2, k]
        inverse = 1.0 / math.sqrt(dx * dx + dy * dy + dz * dz)
        direction[0, lane], direction[1, lane] = dx * inverse, dy * inverse
        direction[2, lane] = dz * inverse


@kernel
def _refill(flight, n, source, directions, energies, first_ray, n_started):
    """Put new rays in the place of those that are over, then the last ones; rays in flight, rays started."""
    position, direction, energy, travelled = (
        flight.position,
        flight.direction,
        flight.energy,
        flight.travelled,
    )
    number, bounces = flight.number, flight.bounces
    is_pure, is_heard, is_done = flight.is_pure, flight.is_heard, flight.is_done
    lane, n_rays = 0, directions.shape[0]
    while lane < n:
        if not is_done[lane]:
            lane += 1
        elif n_started < n_rays:
            for axis in range(3):
                position[axis, lane] = source[axis]
                direction[axis, lane] = directions[n_started, axis]
            set_scaled(energy, lane, 1.0, energies, n_started)
            travelled[lane] = 0.0
            number[lane], bounces[lane] = first_ray + n_started, 0
            is_pure[lane], is_heard[lane], is_done[lane] = True, False, False
            n_started += 1
        else:
            n -= 1
            for axis in range(3):
                position[axis, lane] = position[axis, n]
                direction[axis, lane] = direction[axis, n]
            set_scaled(energy, lane, 1.0, energy, n)
            travelled[lane], number[lane], bounces[lane] = travelled[n], number[n], bounces[n]
            is_pure[lane], is_heard[lane], is_done[lane] = is_pure[n], is_heard[n], is_done[n]
    return n, n_started


@kernel
def trace_rays(
    facets, pieces, walls, seats, bounds, source, directions, energy, seed, first_ray, workspace, histogram,
    ledger, tally,
):  # fmt: skip
    """Follow rays until they are over; add what reaches the seats to the histogram.

    source (3,) [m]; directions (n, 3) unit; energy (n, 8) at the start; seed and number of the first ray
    for the random numbers; workspace of new_workspace; histogram (n_seats, n_bins, 8), bins from the direct
    sound on, 1 = what a source that sends energy 1 evenly into all directions sends to the seat directly;
    ledger (INCIDENT + 2 n_materials, 8) energy left over, escaped, and what met the walls; tally (2,)
    bounces and metres of all rays. Air is left out: it belongs to the bins.
    """
    flight, rain, packet, page = workspace
    n_bins, n_seats = histogram.shape[1], seats.radius.size
    heard = histogram.reshape(-1, N_BANDS)
    n, n_started, queued = LANES, 0, 0
    flight.is_done[:] = True
    while n > 0:
        n, n_started = _refill(flight, n, source, directions, energy, first_ray, n_started)
        _find_walls(facets, pieces, flight, n, bounds, packet)
        _listen(flight, n, seats, bounds, n_bins, heard)
        _mirror(flight, n)
        # Each step is booked apart: adding small to large a million times would lose the last digits.
        for row in range(page.shape[0]):
            set_scaled(page, row, 0.0, page, row)
        n_scattered = _bounce(walls, flight, n, bounds, seed, page, tally)
        for row in range(page.shape[0]):
            add_scaled(ledger, row % ledger.shape[0], 1.0, page, row)
        for seat in range(n_seats):
            queued = _gather_rain(flight, n_scattered, seats, seat, bounds, n_bins, rain, queued)
            # What is queued falls when no other seat's share would fit in, and at the end.
            if queued > LANES or n == 0:
                _let_fall(rain, queued, pieces, bounds, packet, heard)
                queued = 0
        _scatter(flight, n_scattered, seed)

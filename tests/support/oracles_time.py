"""A slow independent answer about sound in rooms: pressure and velocity stepped through time."""

from dataclasses import dataclass

import numpy as np

STEP = 0.8  # of the longest stable step in a grid of whole cells; cells cut in half take a tenth less


@dataclass(frozen=True)
class Air:
    """Bricks of one size, some of them cut in half by a roof along their diagonal.

    `share` (nx, ny, nz) is how much of each is air; `open_y` is 1 where the way to the next brick along y is
    open; `loss` [m2] is admittance times area of its walls. The pressure is that in the middle of the brick,
    which lies on the roof where it is cut.
    """

    size: np.ndarray
    share: np.ndarray
    open_y: np.ndarray
    loss: np.ndarray


def gable(length, width, eaves, ridge, n, beta):
    """A gable, its ridge along x in the middle: `n` bricks across half of it, the roof along their diagonals.

    `beta` is the admittance of all its walls re that of air, real and the same at all frequencies.
    """
    dy, dz = 0.5 * width / n, (ridge - eaves) / n
    below = round(eaves / dz)
    assert abs(below * dz - eaves) < 1e-9
    nx = round(length / dy)
    dx = length / nx
    across = np.minimum(np.arange(2 * n), np.arange(2 * n)[::-1])[:, None]
    height = np.arange(below + n)[None] - below
    share = np.where(height < across, 1.0, np.where(height == across, 0.5, 0.0))
    is_half = share == 0.5
    any_air = share > 0
    # Past the side of a half brick that the roof cuts off there is no air, but at the ridge two of them meet.
    open_y = (any_air[:-1] & any_air[1:]).astype(float)
    loss = np.where(is_half, dx * np.hypot(dy, dz), 0.0)
    loss[:, 0] += dx * dy * any_air[:, 0]
    loss[0] += dx * dz * (np.arange(below + n) < below)
    loss[-1] += dx * dz * (np.arange(below + n) < below)
    whole = np.repeat(loss[None], nx, axis=0)
    whole[[0, -1]] += dy * dz * share
    share, open_y = (np.repeat(a[None], nx, axis=0) for a in (share, open_y))
    return Air(np.array([dx, dy, dz]), share, open_y, beta * whole)


def box(sizes, cell_m, beta_at):
    """A box in bricks of about a size; `beta_at(axis, end, u, v)` is the admittance on a wall, (n, m).

    `axis` is across the wall, `end` 0 or 1; u and v are along the other two axes in their order. [m]
    """
    counts = [round(side / cell_m) for side in sizes]
    d = np.array(sizes) / counts
    share = np.ones(counts)
    loss = np.zeros(counts)
    middles = [(np.arange(n) + 0.5) * step for n, step in zip(counts, d, strict=True)]
    for axis in range(3):
        a, b = (k for k in range(3) if k != axis)
        u, v = np.meshgrid(middles[a], middles[b], indexing="ij")
        for end in (0, 1):
            where = tuple(-end if k == axis else slice(None) for k in range(3))
            loss[where] += d[a] * d[b] * beta_at(axis, end, u, v)
    return Air(d, share, np.ones_like(share[:, 1:]), loss)


def greens(air, source, ears, hz, *, c, until_s, sheet=None):
    """Green's function from a source to ears at frequencies, (n_frequencies, n_ears), e^(+jwt). [1/m]

    `sheet` (nx - 1, ny, nz) is what the way along x through the faces between bricks resists, re air.

    Notes
    -----
    Source and ears are taken at the middle of the brick that holds them. dp/dt = -c^2 div v + q and
    dv/dt = -grad p where the density is 1; on a wall the velocity into it is beta p / c, through a sheet it
    is the jump of pressure over r c (K. S. Yee, 1966, for the staggering; from memory). What still rings at
    the end is missing: `until_s` has to be long.
    """
    d, (nx, ny, nz) = air.size, air.share.shape
    dt = STEP / (c * np.sqrt(np.sum(1.0 / d**2)))
    volume = np.prod(d) * np.where(air.share > 0, air.share, 1.0)
    g = 0.5 * dt * c * air.loss / volume
    keep, gain = (1.0 - g) / (1.0 + g), dt * c * c / volume / (1.0 + g)
    p = np.zeros((nx, ny, nz))
    vx, vy, vz = np.zeros((nx - 1, ny, nz)), np.zeros((nx, ny - 1, nz)), np.zeros((nx, ny, nz - 1))
    # Velocities times the open part of each face.
    push_x = dt / d[0] * d[1] * d[2] * np.minimum(air.share[1:], air.share[:-1])
    push_y = dt / d[1] * d[0] * d[2] * air.open_y
    push_z = dt / d[2] * d[0] * d[1] * (air.share[..., 1:] > 0)
    drag = 0.5 * dt * c / d[0] * (np.zeros_like(vx) if sheet is None else sheet)
    slow, push_x = (1.0 - drag) / (1.0 + drag), push_x / (1.0 + drag)
    at = [tuple((np.asarray(place) / d).astype(int)) for place in (source, *ears)]
    sigma, middle = 1.0 / (2 * np.pi * 60.0), 5.0 / (2 * np.pi * 60.0)
    steps = int(until_s / dt)
    time = (np.arange(steps) + 0.5) * dt
    click = -(time - middle) / sigma * np.exp(-0.5 * ((time - middle) / sigma) ** 2)
    heard = np.empty((steps, len(ears)))
    flow = np.empty_like(p)
    for n in range(steps):
        vx *= slow
        vx -= push_x * (p[1:] - p[:-1])
        vy -= push_y * (p[:, 1:] - p[:, :-1])
        vz -= push_z * (p[..., 1:] - p[..., :-1])
        flow[:] = 0.0
        flow[:-1] -= vx
        flow[1:] += vx
        flow[:, :-1] -= vy
        flow[:, 1:] += vy
        flow[..., :-1] -= vz
        flow[..., 1:] += vz
        flow[at[0]] += click[n]
        p *= keep
        flow *= gain
        p += flow
        heard[n] = [p[ear] for ear in at[1:]]
    w = 2 * np.pi * np.asarray(hz)[:, None]
    sent = np.exp(-1j * w * time) @ click
    found = np.exp(-1j * w * (time + 0.5 * dt)) @ heard
    return found / (1j * w * sent[:, None])

"""How much of what the desk's room differs by from its full-wave solution is legs that pass the desk's edges.

A path is there today or hidden, as its legs miss the desk or meet it. Here each path of the bare room keeps
1 - K of the desk's outline on every leg that crosses its plane (Babinet's principle, as for direct sound),
and what the desk itself reflects is added as it is found: `python -m tests.bench.bench_legs`, 45 s CPU.
"""

from dataclasses import replace

import numpy as np

from raytrace import build_room, load_scene
from raytrace.reflections import decibels, outline_weight, path_ends
from tests.support.full_waves import (
    WAVES,
    heard_at_receivers,
    load_waves,
    peak_delays_s,
    summed_transfer,
    without_paths,
)

REACH_M = 0.6  # from the desk to a leg that passes it


def past_desk(room, at_point, box):
    """Paths of the bare room with what the desk leaves of their legs."""
    low, high = np.subtract(box.centre, np.divide(box.size, 2)), np.add(box.centre, np.divide(box.size, 2))
    z = box.centre[2]
    corners = (low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])
    outline = np.array([(*corner, z) for corner in corners])
    points, images_receivers = at_point.paths.points, path_ends(room, at_point.paths)
    factor = np.ones_like(at_point.pressure)
    for leg in range(points.shape[1] - 1):
        start, stop = points[:, leg], points[:, leg + 1]
        rows = np.flatnonzero((at_point.paths.order >= leg) & ((start[:, 2] - z) * (stop[:, 2] - z) < 0.0))
        share = (start[rows, 2] - z) / (start[rows, 2] - stop[rows, 2])
        met = start[rows] + share[:, None] * (stop[rows] - start[rows])
        beyond = np.maximum(np.maximum(low - met, met - high), 0.0)[:, :2]
        rows = rows[np.linalg.norm(beyond, axis=1) < REACH_M]
        if len(rows):
            image, receiver = (ends[rows, leg] for ends in images_receivers)
            factor[rows] *= 1.0 - outline_weight(room, outline, image, receiver)
    return replace(at_point, pressure=at_point.pressure * factor)


def of_desk(room, at_point):
    """What the desk reflects of what a place hears."""
    owned = np.array([room.surfaces[facet.surface].owner is not None for facet in room.facets])
    facets = at_point.paths.facets
    met = (owned[facets] & (facets >= 0)).any(axis=1)
    return replace(at_point, pressure=np.where(met[:, None, None], at_point.pressure, 0.0))


def main() -> None:
    """Print both differences over all peaks at the nine places."""
    waves, scene = load_waves("desk"), load_scene(WAVES / "desk.toml")
    room, bare = build_room(scene), build_room(load_scene(WAVES / "bare.toml"))
    solved = waves.transfer()
    places = zip(*heard_at_receivers("desk"), heard_at_receivers("bare")[0], strict=True)
    rows = []
    for k, (ears, missed, clear) in enumerate(places):
        nothing = without_paths(ears)
        now = summed_transfer(waves, ears, missed)
        then = summed_transfer(waves, past_desk(bare, clear, scene.objects[0]), nothing)
        then += summed_transfer(waves, of_desk(room, ears), of_desk(room, missed))
        then -= summed_transfer(waves, nothing, nothing)  # the direct sound is in both
        told, *found = (waves.energy(transfer) for transfer in (solved[:, k], now, then))
        for delay_s in peak_delays_s(ears):
            wanted = waves.window_energy(told, delay_s)
            rows.append([float(decibels(waves.window_energy(own, delay_s) / wanted)) for own in found])
    for name, own in zip(("as it is", "legs past the desk"), np.abs(rows).T, strict=True):
        print(f"{name:20s} median {np.median(own):.2f}, nine in ten {np.quantile(own, 0.9):.2f}, ", end="")
        print(f"worst {own.max():.2f} dB of {len(own)}")


if __name__ == "__main__":
    main()

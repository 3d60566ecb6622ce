"""Rays against closed forms: image lattice, integral over Lambert walls, mean free path, energy balance."""

import os
import subprocess
import sys

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from raytrace import build_room, load_scene
from raytrace.decay.energy import BIN_S, N_GROUPS, Ears, Ends, Sampling, trace_energy
from raytrace.kernels.flight import random_words
from tests.support.oracles import lattice_lengths
from tests.support.scenes import BOX, SCENES

SIZE = np.array([5.0, 4.0, 2.6])
SOURCE = np.array([1.0, 1.3, 1.2])
SEAT = np.array([3.2, 2.0, 1.2])
FROM_THE_START = Ears(SEAT[None], np.zeros(1), 0)  # nothing is known exactly but the direct sound


def evenly(directions):
    return np.ones((len(directions), 8))


def with_walls(absorption, scattering):
    return BOX.replace("absorption = [0, 0, 0, 0, 0, 0, 0, 0]", f"absorption = {[absorption] * 8}").replace(
        "scattering = 0", f"scattering = {scattering}"
    )


def total_and_error(rays, bins=slice(None)):
    """Energy at the first seat in some bins, (8,), and its standard error from the groups."""
    per_group = rays.energy[:, 0, bins].sum(axis=1)
    return per_group.mean(axis=0), per_group.std(axis=0, ddof=1) / np.sqrt(N_GROUPS)


@pytest.fixture
def box_of(scene_of):
    return lambda absorption, scattering: build_room(scene_of(with_walls(absorption, scattering)))


def test_the_generator_gives_its_authors_numbers():
    # Known-answer vectors of philox2x32-10 as published with the paper (from memory).
    assert random_words(0, 0, 0, 0) == (0xFF1DAE59, 0x6CD10DF2)


def test_mirrored_energy_is_that_of_the_image_lattice(box_of):
    # 25 ms windows to 100 ms. Four standard errors and 0.6 % for the mean of 1/d^2 over the sphere.
    room = box_of(0.1, 0)
    rays = trace_energy(room, SOURCE, evenly, FROM_THE_START, Ends(0.1), Sampling(100_000))
    length_m, order = lattice_lengths(SIZE, SOURCE, SEAT, up_to_order=24)
    direct_m = np.linalg.norm(SEAT - SOURCE)
    delay_s = (length_m - direct_m) / room.speed_of_sound_m_s
    for start in (0, 25, 50, 75):
        here = (order > 0) & (delay_s >= start * BIN_S) & (delay_s < (start + 25) * BIN_S)
        expected = np.sum(0.9 ** order[here] * (direct_m / length_m[here]) ** 2)
        energy, error = total_and_error(rays, slice(start, start + 25))
        assert np.all(error < 0.03 * expected)
        assert_allclose(energy, expected, atol=4 * error.max() + 0.006 * expected)


def test_mirrored_energy_arrives_when_its_images_say(box_of):
    # The sphere is a metre across, and the floor's image lies a millimetre behind the edge of a bin.
    room = box_of(0.1, 0)
    bin_m = BIN_S * room.speed_of_sound_m_s
    seats = SEAT + np.linspace(-0.5, 0.0, 5001)[:, None] * [1.0, 0.0, 0.0]
    direct_m = np.linalg.norm(seats - SOURCE, axis=1)
    detour_m = np.sqrt(direct_m**2 + (2 * SOURCE[2]) ** 2) - direct_m
    seat = seats[np.argmin(np.abs(np.mod(detour_m, bin_m) - 0.001))]
    ears = Ears(seat[None], np.zeros(1), 0)
    rays = trace_energy(room, SOURCE, evenly, ears, Ends(0.02), Sampling(100_000))
    length_m, order = lattice_lengths(SIZE, SOURCE, seat, up_to_order=16)
    bins = np.unique(((length_m - np.linalg.norm(seat - SOURCE))[order > 0] / bin_m).astype(int))
    assert np.min(np.abs(detour_m - bins[0] * bin_m - 0.001)) < 1e-4
    assert_array_equal(np.flatnonzero(rays.energy.sum(axis=(0, 1, 3))), bins[bins < 20])


def test_a_ray_that_was_mirrored_forty_times_still_points_where_its_image_is(box_of):
    # Sound is sent into a narrow cone about one far image only; its rays make some 300 hits on the sphere.
    room = box_of(0.1, 0)
    period = np.array([4, 6, 10])  # pairs of walls crossed along x, y, z: forty bounces
    image = SEAT + 2.0 * SIZE * period / 2.0
    length_m, direct_m = np.linalg.norm(image - SOURCE), np.linalg.norm(SEAT - SOURCE)
    towards = (image - SOURCE) / length_m

    def narrowly(directions):
        return np.repeat((directions @ towards > np.cos(0.02))[:, None], 8, axis=1).astype(float)

    rays = trace_energy(room, SOURCE, narrowly, FROM_THE_START, Ends(0.2), Sampling(1_000_000))
    place = int((length_m - direct_m) / room.speed_of_sound_m_s / BIN_S)
    energy, error = total_and_error(rays, slice(place - 2, place + 3))
    expected = 0.9 ** int(period.sum()) * (direct_m / length_m) ** 2
    assert error.max() < 0.2 * expected
    assert_allclose(energy, expected, atol=4 * error.max())


OPENING = """
[[openings]]
name = "window"
surface = "back wall"
kind = "opening"
at = [1.0, 0.5]
size = [1.2, 1.5]
material = "air"
[materials.air]
absorption = [1, 1, 1, 1, 1, 1, 1, 1]
source = "sound leaves"
"""


def test_an_opening_takes_the_solid_angle_it_fills(scene_of):
    # Facing the back wall of a box 4 m wide, u = 1.0 is y = 3.0: the window spans y 1.8-3.0, z 0.5-2.0.
    room = build_room(scene_of(BOX + OPENING))
    rays = trace_energy(room, SOURCE, evenly, FROM_THE_START, Ends(0.1, n_bounces=1), Sampling(64_000))

    def corner(a, b, d):  # of a rectangle a x b seen from above one corner at distance d
        return np.arctan(a * b / (d * np.sqrt(a * a + b * b + d * d)))

    y = np.array([1.8, 3.0]) - SOURCE[1]
    z = np.array([0.5, 2.0]) - SOURCE[2]
    solid = sum(
        sign_y * sign_z * corner(b, c, 4.0)
        for sign_y, b in zip((-1, 1), y, strict=True)
        for sign_z, c in zip((-1, 1), z, strict=True)
    )
    # 64 000 rays spread evenly: a few in a hundred of the 570 that hit.
    assert_allclose(rays.absorbed, solid / (4 * np.pi), rtol=0.05)
    assert_allclose(rays.absorbed + rays.left_over, 1.0, atol=1e-12)


def lambert_wall_integral(room, n=60):
    """Energy of the single scattering at all facets re direct, by midpoints over the walls of the box."""
    total = 0.0
    for axis in range(3):
        a, b = (axis + 1) % 3, (axis + 2) % 3
        for side in (0.0, SIZE[axis]):
            step_a, step_b = SIZE[a] / n, SIZE[b] / n
            grid = np.meshgrid((np.arange(n) + 0.5) * step_a, (np.arange(n) + 0.5) * step_b, indexing="ij")
            spots = np.full((n * n, 3), side)
            spots[:, a], spots[:, b] = grid[0].ravel(), grid[1].ravel()
            seen = room.is_clear(np.broadcast_to(SOURCE, spots.shape), spots)
            seen &= room.is_clear(spots, np.broadcast_to(SEAT, spots.shape))
            to_source, to_seat = SOURCE - spots, SEAT - spots
            r, d = np.linalg.norm(to_source, axis=1), np.linalg.norm(to_seat, axis=1)
            arrives = np.abs(to_source[:, axis]) / r / (4 * np.pi * r**2)
            leaves = np.abs(to_seat[:, axis]) / d / (np.pi * d**2)
            total += np.sum((arrives * leaves)[seen]) * step_a * step_b
    return total * 4 * np.pi * np.sum((SEAT - SOURCE) ** 2)


SCREEN = """
[[objects]]
name = "screen"
shape = "box"
centre = [2.1, 1.65, 1.3]
size = [0.05, 1.2, 1.8]
material = "black"
[materials.black]
absorption = [1, 1, 1, 1, 1, 1, 1, 1]
scattering = 1
source = "invented for the test"
"""


@pytest.mark.parametrize("things", ["", SCREEN], ids=["empty", "screen"])
def test_the_first_scattering_is_the_integral_over_the_walls(scene_of, things):
    # A black screen sends nothing itself and casts its shadow on both legs.
    room = build_room(scene_of(with_walls(0.3, 1) + things))
    rays = trace_energy(room, SOURCE, evenly, FROM_THE_START, Ends(0.1, n_bounces=2), Sampling(30_000))
    energy, error = total_and_error(rays)
    expected = 0.7 * lambert_wall_integral(room)
    assert np.all(error < 0.01 * expected)
    # The grid's own error is below 0.3 % with the screen's edges.
    assert_allclose(energy, expected, atol=4 * error.max() + 0.003 * expected)


def test_the_mean_free_path_is_4_v_over_s(box_of):
    # C. W. Kosten, Acustica 10 (1960) 245 (from memory). 0.5 %: scatter 0.05 %, first leg 0.1 %.
    rays = trace_energy(
        box_of(0.0, 1), SOURCE, evenly, FROM_THE_START, Ends(6.0, n_bounces=400, quiet=0.0), Sampling(3200)
    )
    assert rays.mean_free_path_m == pytest.approx(4 * 52.0 / 86.8, rel=0.005)


BANDWISE = [0.1, 0.1, 0.12, 0.14, 0.15, 0.16, 0.18, 0.2]


@pytest.mark.parametrize("scattering", [0, 0.3, 1, BANDWISE], ids=["mirror", "mixed", "lambert", "bandwise"])
def test_no_energy_is_lost_from_the_books(box_of, scattering):
    rays = trace_energy(box_of(0.2, scattering), SOURCE, evenly, FROM_THE_START, Ends(0.3), Sampling(3200))
    booked = rays.absorbed + rays.evened + rays.left_over + rays.escaped
    assert_allclose(booked / rays.sent, 1.0, rtol=0, atol=1e-12)  # rounding of half a million sums
    assert_array_equal(rays.escaped, 0.0)
    if scattering is not BANDWISE:
        assert_allclose(rays.evened, 0.0, atol=1e-13)  # bands that scatter alike lend each other nothing


def test_where_quiet_rays_end_takes_nothing_from_what_is_heard(box_of):
    # From window to window the sound falls by 13 dB: at 1e-2 the second would miss half, the others all.
    room = box_of(0.2, 0.3)
    windows = []
    for quiet in (1e-2, 1e-4, 1e-7, 1e-9, 0.0):
        rays = trace_energy(room, SOURCE, evenly, FROM_THE_START, Ends(0.4, quiet=quiet), Sampling(20_000))
        found = [total_and_error(rays, slice(start, start + 100)) for start in (0, 100, 200, 300)]
        windows.append(([energy[0] for energy, _ in found], [error[0] for _, error in found]))
        assert_allclose(rays.absorbed + rays.left_over, rays.sent, rtol=1e-12)
    exact, own_error = (np.array(values) for values in windows[-1])
    assert exact[3] < 1e-4 * exact.sum()
    for (energy, error), share in zip(windows[:-1], (0.4, 0.04, 0.02, 0.02), strict=True):
        assert np.all(np.array(error) < share * exact)
        assert np.all(np.abs(energy - exact) < 4 * np.hypot(error, own_error))


def test_bands_that_share_rays_lend_each_other_nothing_on_average(box_of):
    alike = trace_energy(box_of(0.2, 0.1), SOURCE, evenly, FROM_THE_START, Ends(0.3), Sampling(50_000))
    shared = trace_energy(box_of(0.2, BANDWISE), SOURCE, evenly, FROM_THE_START, Ends(0.3), Sampling(50_000))
    assert abs(shared.evened[0]) < 0.01  # a hundredth of what was sent: several standard errors
    assert abs(shared.evened[0]) > 1e-6
    energy, error = total_and_error(shared, slice(20, 200))
    expected, own_error = total_and_error(alike, slice(20, 200))
    assert abs(energy[0] - expected[0]) < 4 * np.hypot(error[0], own_error[0])


def test_a_mirror_band_is_not_disturbed_by_a_scattering_one(box_of):
    unlike = trace_energy(
        box_of(0.2, [0.0] * 3 + [0.9] * 5), SOURCE, evenly, FROM_THE_START, Ends(0.2), Sampling(6400)
    )
    mirror = trace_energy(box_of(0.2, 0), SOURCE, evenly, FROM_THE_START, Ends(0.2), Sampling(6400))
    assert_array_equal(unlike.energy[..., :3], mirror.energy[..., :3])


def test_any_number_of_threads_gives_the_same_bits(box_of):
    room = box_of(0.2, 0.3)
    results = [
        trace_energy(room, SOURCE, evenly, FROM_THE_START, Ends(0.2), Sampling(3200, seed=7, threads=threads))
        for threads in (1, 2, 5)
    ]
    for other in results[1:]:
        assert_array_equal(results[0].energy, other.energy)
        assert_array_equal(results[0].absorbed, other.absorbed)


PLAIN = """
import sys
import numpy as np
from raytrace import build_room, load_scene
from raytrace.decay.energy import Ears, Ends, Sampling, trace_energy
room = build_room(load_scene(sys.argv[1]))
ears = Ears(np.array([[3.2, 2.0, 1.2]]), np.zeros(1), 0)
rays = trace_energy(room, (1.0, 1.3, 1.2), lambda d: np.ones((len(d), 8)), ears, Ends(0.03), Sampling(32))
sys.stdout.write(" ".join(x.hex() for x in rays.energy.ravel().tolist()))
"""


def test_plain_python_computes_the_same(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(with_walls(0.2, 0.3) + SCREEN, encoding="utf-8")
    outputs = []
    for switch in ("0", "1"):
        done = subprocess.run(
            # numpy warns of overflows that compiled code passes over.
            [sys.executable, "-W", "ignore::RuntimeWarning", "-c", PLAIN, str(path)],
            env={**os.environ, "NUMBA_DISABLE_JIT": switch},
            cwd=SCENES.parent,
            capture_output=True,
            text=True,
            check=True,
        )
        outputs.append(np.array([float.fromhex(x) for x in done.stdout.split()]))
    # The order of a sum of three may differ in the last digit.
    assert outputs[0].any()
    assert_allclose(outputs[0], outputs[1], rtol=1e-9, atol=0)


def test_another_seed_gives_other_rays(box_of):
    room = box_of(0.2, 0.3)
    one, other = (
        trace_energy(room, SOURCE, evenly, FROM_THE_START, Ends(0.1), Sampling(320, seed=seed))
        for seed in (0, 1)
    )
    assert not np.array_equal(one.energy, other.energy)


def test_the_error_falls_with_the_root_of_the_number_of_rays(box_of):
    room = box_of(0.2, 0.5)
    numbers = np.array([1600, 6400, 25_600, 102_400])
    errors = []
    for n_rays in numbers:
        rays = trace_energy(room, SOURCE, evenly, FROM_THE_START, Ends(0.15), Sampling(int(n_rays)))
        # Relative errors of five windows of 20 ms; one band, for all scatter alike.
        windows = rays.energy[:, 0, 50:, 0].reshape(N_GROUPS, 5, -1).sum(axis=2)
        errors.append(np.mean(windows.std(axis=0, ddof=1) / windows.mean(axis=0)))
    slope = np.polyfit(np.log(numbers), np.log(errors), 1)[0]
    # Each error is known to 6 %, over a range of 64 in numbers: the slope to 0.02.
    assert slope == pytest.approx(-0.5, abs=0.06)


@pytest.mark.parametrize("path", sorted(SCENES.glob("*.toml")), ids=lambda p: p.stem)
def test_no_ray_leaves_a_closed_room(path):
    scene = load_scene(path)
    room = build_room(scene)
    ears = Ears(np.array([scene.seats[0].ears]), np.zeros(1), 0)
    rays = trace_energy(room, scene.speakers[0].position, evenly, ears, Ends(0.1, quiet=0.0), Sampling(640))
    assert_array_equal(rays.escaped, 0.0)

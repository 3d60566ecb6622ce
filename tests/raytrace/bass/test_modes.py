"""Modes of rooms by finite cells, against closed forms and meshes that fit the walls."""

import numpy as np
import pytest

from raytrace.bass import find_modes, reachable_hz
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support.body_fitted import along, between_lines, frequencies_hz, refined, upright
from tests.support.rooms import room_text
from tests.support.scenes import SCENES


def built(text):
    return build_room(load_scene("room.toml", text))


def box(length, width, height):
    room = f'shape = "box"\nlength = {length}\nwidth = {width}\nheight = {height}'
    return built(room_text(room, speaker="[0.4, 0.5, 0.6]", seat="[0.8, 0.7, 0.9]"))


def box_hz(size, up_to_hz, c):
    """Rayleigh, Theory of Sound, 1877: (c / 2) sqrt(sum (n / L)^2)."""
    n = [np.arange(int(2 * side * up_to_hz / c) + 1) for side in size]
    index = np.stack(np.meshgrid(*n, indexing="ij"), -1).reshape(-1, 3)
    found = np.sort(0.5 * c * np.linalg.norm(index / size, axis=1))
    return found[(found > 0) & (found <= up_to_hz)]


def check(modes, expected, first_ten, all_of_them):
    found = modes.frequencies_hz[1:]
    expected = expected[(expected > 1.0) & (expected <= 200.0)]
    error = np.abs(found[: len(expected)] / expected - 1)
    assert error[:10].max() < first_ten
    assert error.max() < all_of_them
    # As many below the top, but for those within the error of it.
    low, high = np.searchsorted(expected, [200.0 * (1 - all_of_them), 200.0])
    assert low <= modes.is_complete.sum() <= high


def random_box(seed):
    rng = np.random.default_rng(seed)
    return np.round(rng.uniform([2.2, 1.9, 1.9], [5.5, 4.2, 3.0]), 4)


@pytest.mark.parametrize("seed", range(6))
def test_modes_of_boxes_are_those_of_the_closed_form(seed):
    size = random_box(seed)
    modes = find_modes(box(*size))
    # Figures asked of the method: what a tape's error of 2 mm in 4 m makes, and six times as much at the top.
    check(modes, box_hz(size, 200.5, modes.speed_of_sound_m_s), 5e-4, 3e-3)


def test_the_table_of_a_worked_room():
    # 5 x 4 x 2.6 m at 343.2 m/s, and how many there are up to 200 Hz with the constant one: Rayleigh.
    modes = find_modes(box(5.0, 4.0, 2.6))
    expected = [34.32, 42.90, 54.94, 66.00, 68.64, 74.39, 78.72, 80.94, 85.80, 85.87]
    assert np.abs(modes.frequencies_hz[1:11] - expected).max() < 0.05  # two digits, and 0.05 %
    assert modes.is_complete.sum() in (66, 67, 68)  # one lies within 0.3 % of the top


@pytest.mark.parametrize("name", ["box", "gable with flat", "elbow", "hip", "section"])
def test_modes_are_orthonormal_and_the_first_is_constant(name):
    modes = find_modes(built(room_text(name)), top_hz=120.0)
    product = modes.shapes.T @ (modes.mass @ modes.shapes)
    assert np.abs(product - np.eye(len(product))).max() < 1e-10  # rounding of a thousand terms, with room
    assert abs(modes.eigenvalues[0]) < 1e-9 * modes.eigenvalues[1]
    # Its value is 1 / sqrt(volume); the fictitious stiffness of cut cells leaves it as it is.
    assert np.ptp(modes.shapes[:, 0]) < 1e-6 * modes.shapes[0, 0]


def test_a_gable_against_a_mesh_that_fits_it():
    room = built(room_text("gable"))
    modes = find_modes(room)
    points, triangles = refined(*between_lines([0, 2.2, 4.4], [0, 1], 0.22, lambda _x, _y: True), 1)
    points[:, 1] = np.round(points[:, 1], 12) * (1.1 + 1.5 * (1 - np.abs(points[:, 0] / 2.2 - 1)))
    flat = frequencies_hz(points, triangles, 40, room.speed_of_sound_m_s)
    check(modes, along(flat, 5.6, 70, room.speed_of_sound_m_s), 5e-4, 2e-3)


def test_beams_against_a_mesh_that_fits_them():
    beams = "".join(
        f'[[objects]]\nname = "beam {k}"\nshape = "box"\ncentre = [{x}, 1.5, 2.275]\n'
        'size = [0.2, 3.0, 0.25]\nmaterial = "wood"\n'
        for k, x in enumerate((1.13, 2.71))
    )
    room = built(room_text("box", beams))
    modes = find_modes(room)
    xs, zs = [0, 1.03, 1.23, 2.61, 2.81, 4.2], [0, 2.15, 2.4]

    def is_air(x, z):
        return z < 2.15 or min(abs(x - 1.13), abs(x - 2.71)) > 0.1

    mesh = refined(*between_lines(xs, zs, 0.2, is_air), 1)
    flat = frequencies_hz(*mesh, 40, room.speed_of_sound_m_s)
    check(modes, along(flat, 3.0, 60, room.speed_of_sound_m_s), 2e-3, 2e-3)


def test_the_elbow_against_a_mesh_that_fits_it():
    room = build_room(load_scene(SCENES / "elbow.toml"))
    modes = find_modes(room)
    plan = between_lines([0, 3.4, 6.0], [0, 3.4, 5.2], 0.25, lambda x, y: y < 3.4 or x > 3.4)
    flat = frequencies_hz(*refined(*plan, 1), 60, room.speed_of_sound_m_s)
    check(modes, along(flat, 2.45, 90, room.speed_of_sound_m_s), 2e-3, 2e-3)


def test_a_chimney_under_a_gable_against_a_mesh_that_fits_them():
    chimney = (
        '[[objects]]\nname = "chimney breast"\nshape = "box"\ncentre = [0.2, 2.2, 1.35]\n'
        'size = [0.4, 1.2, 2.7]\nmaterial = "painted brick"\n'
    )
    room = built(room_text("gable", chimney))
    modes = find_modes(room, top_hz=150.0)
    points, triangles = between_lines(
        [0, 0.4, 5.6], [0, 1.6, 2.2, 2.8, 4.4], 0.3, lambda x, y: x > 0.4 or abs(y - 2.2) > 0.6
    )
    heights = 1.1 + 1.5 * (1 - np.abs(points[:, 1] / 2.2 - 1))
    mesh = upright(points, triangles, heights, 5)
    expected = frequencies_hz(*mesh, 22, room.speed_of_sound_m_s)
    error = np.abs(modes.frequencies_hz[1:22] / expected[1:] - 1)
    assert error.max() < 2e-3  # both methods: elements of 0.3 m are the coarser one


def test_hip_and_slanted_wall_against_a_mesh_that_fits_them():
    room = built(room_text("hip"))
    modes = find_modes(room, top_hz=150.0)
    roof = np.array([room.facets[k].normal[2] < -1e-9 for k in room.facet_of_triangle])
    corners = room.triangles[roof]
    places, which = np.unique(np.round(corners.reshape(-1, 3), 9), axis=0, return_inverse=True)
    # Heights are linear over each piece of the roof, so that they are refined with the plan.
    places, triangles = refined(places, which.reshape(-1, 3), 3)
    mesh = upright(places[:, :2], triangles, places[:, 2], 5)
    expected = frequencies_hz(*mesh, 18, room.speed_of_sound_m_s)
    error = np.abs(modes.frequencies_hz[1:18] / expected[1:] - 1)
    assert error.max() < 2e-3


def test_a_turned_room_has_the_same_modes():
    # Walls off the grid are cut exactly, so that turning the plan changes nothing but the cells.
    turn = np.radians(23.0)
    corners = np.array([[0, 0], [3.9, 0], [3.9, 3.1], [0, 3.1]]) @ [
        [np.cos(turn), np.sin(turn)],
        [-np.sin(turn), np.cos(turn)],
    ]
    corners = np.round(corners - corners.min(axis=0), 9)
    shape = f'shape = "plan"\nheight = 2.4\ncorners = {corners.tolist()}'
    room = built(room_text(shape, speaker="[1.8, 2.0, 1.2]", seat="[2.6, 2.2, 1.2]"))
    modes = find_modes(room)
    check(modes, box_hz(np.array([3.9, 3.1, 2.4]), 200.5, modes.speed_of_sound_m_s), 5e-4, 3e-3)


def test_a_room_of_200_cubic_metres_is_reached_up_to_the_top():
    # Its box alone holds 222 modes to 200 Hz (Rayleigh): the count by volume, area and edges allows them.
    room = build_room(load_scene(SCENES / "classroom.toml"))
    assert reachable_hz(room) == 200.0


def test_small_objects_and_cabinets_are_no_part_of_the_room():
    room = build_room(load_scene(SCENES / "ridge.toml"))
    modes = find_modes(room, top_hz=60.0)
    assert modes.body.left_out == ("desk",)
    assert len(modes.body.skins) == 2  # the room and its chimney breast


def test_modes_are_kept_as_long_as_the_shape_stays():
    text = room_text("gable")
    modes = find_modes(built(text), top_hz=60.0)
    moved = built(text.replace("ears = [1.9, 1.7, 1.1]", "ears = [2.1, 1.7, 1.1]"))
    assert find_modes(moved, top_hz=60.0) is modes
    assert find_modes(moved, top_hz=61.0) is not modes
    other = built(text.replace("ridge = 2.6", "ridge = 2.7"))
    assert find_modes(other, top_hz=60.0).frequencies_hz[1] != modes.frequencies_hz[1]


def test_a_lean_to_against_a_mesh_that_fits_it():
    room = built(room_text("lean-to"))
    modes = find_modes(room)
    points, triangles = refined(*between_lines([0, 4.5], [0, 1], 0.22, lambda _x, _z: True), 1)
    points[:, 1] *= 2.05 + 0.7 * points[:, 0] / 4.5
    flat = frequencies_hz(points, triangles, 40, room.speed_of_sound_m_s)
    check(modes, along(flat, 2.9, 60, room.speed_of_sound_m_s), 5e-4, 2e-3)

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from raytrace import build_room, find_paths, load_scene
from raytrace.reflections.paths import ListeningPoint
from raytrace.reflections.search_extent import complete_to_s
from tests.support.oracles import brute_force_paths, lattice_lengths
from tests.support.oracles_images import image_paths
from tests.support.scenes import BOX, SCENES

GABLE = BOX.replace('shape = "box"', 'shape = "gable"').replace(
    "height = 2.6", "eaves = 1.6\nridge = 3.1\nridge_at = 1.5"
)
LEAN_TO = BOX.replace('shape = "box"', 'shape = "lean-to"').replace(
    "height = 2.6", 'low = 2.05\nhigh = 2.75\nlow_side = "left"'
)
ELBOW = BOX.replace(
    'shape = "box"\nlength = 5.0\nwidth = 4.0',
    'shape = "plan"\ncorners = [[0, 0], [5, 0], [5, 5.2], [3.4, 5.2], [3.4, 4.0], [0, 4.0]]',
)
SECTION = BOX.replace('shape = "box"', 'shape = "section"').replace(
    "width = 4.0\nheight = 2.6",
    "profile = [[0, 0], [4, 0], [4, 1.5], [3.1, 2.5], [1.2, 2.6], [0, 1.9]]",
)
DESK = (
    BOX
    + """
[[objects]]
name = "desk"
shape = "box"
centre = [1.9, 1.9, 0.715]
size = [0.7, 1.5, 0.03]
yaw = 8
material = "hard"
"""
)
ROOMS = {"gable": GABLE, "lean-to": LEAN_TO, "elbow": ELBOW, "section": SECTION, "desk": DESK}

inside = st.tuples(
    st.floats(0.2, 4.8), st.floats(0.2, 3.8), st.floats(0.2, 1.55)
)  # inside every one of the rooms above


def sequences(paths):
    return [tuple(row[row >= 0]) for row in paths.facets]


@pytest.mark.parametrize("up_to_order", range(6))
def test_a_box_gives_exactly_the_image_lattice(scene_of, up_to_order):
    room = build_room(scene_of(BOX))
    source, listener = np.array([1.0, 1.3, 1.2]), np.array([3.2, 2.0, 1.1])
    paths = find_paths(room, source, listener, up_to_order=up_to_order, within_s=1.0)
    lengths, orders = lattice_lengths((5.0, 4.0, 2.6), source, listener, up_to_order=up_to_order)
    # 1, 7, 25, 63, 129, 231 images up to orders 0 to 5 (counting law 4 n^2 + 2 per order)
    assert len(paths.order) + 1 == [1, 7, 25, 63, 129, 231][up_to_order]
    expected = np.sort(lengths[orders > 0])
    assert np.allclose(paths.length_m, expected, rtol=0, atol=1e-12)  # rounding of sums of metres
    assert np.array_equal(np.bincount(paths.order, minlength=1)[1:], np.bincount(orders)[1:])


def test_a_time_window_counts_the_lattice(scene_of):
    # 402 images arrive within 50 ms of emission in this room (Allen and Berkley's lattice, enumerated)
    room = build_room(scene_of(BOX))
    source, listener = (1.0, 1.3, 1.2), (3.2, 2.0, 1.2)
    direct_s = np.linalg.norm(np.subtract(source, listener)) / room.speed_of_sound_m_s
    paths = find_paths(room, source, listener, up_to_order=9, within_s=0.05 - direct_s)
    assert len(paths.order) + 1 == 402


def two_places(room, seed):
    """Two places in the air of a room, at random."""
    rng = np.random.default_rng(seed)
    while True:
        ends = rng.uniform([0.2, 0.2, 0.2], [4.8, 3.8, 1.55], (2, 3))
        if np.linalg.norm(ends[1] - ends[0]) > 0.1 and room.contains(ends).all():
            return ends


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("name", ROOMS)
def test_paths_equal_a_search_of_every_sequence(scene_of, name, seed):
    room = build_room(scene_of(ROOMS[name]))
    source, listener = two_places(room, seed)
    reach_m = np.linalg.norm(source - listener) + 0.03 * room.speed_of_sound_m_s
    expected = brute_force_paths(room, source, listener, up_to_order=3, within_m=reach_m)
    assert any(len(sequence) == 3 for sequence in expected)
    paths = find_paths(room, source, listener, up_to_order=3, within_s=0.03)
    assert set(sequences(paths)) == set(expected)
    for row, sequence in enumerate(sequences(paths)):
        assert np.allclose(paths.points[row, : len(sequence) + 2], expected[sequence], rtol=0, atol=1e-9)


@pytest.mark.parametrize("name", ROOMS)
@settings(max_examples=15)
@given(source=inside, listener=inside)
def test_both_ends_find_the_same_paths(scene_of, name, source, listener):
    room = build_room(scene_of(ROOMS[name]))
    assume(np.linalg.norm(np.subtract(source, listener)) > 0.1)
    assume(room.contains(np.array([source, listener])).all())
    there = find_paths(room, source, listener, up_to_order=4)
    back = find_paths(room, listener, source, up_to_order=4)
    assert {s[::-1] for s in sequences(back)} == set(sequences(there))
    assert np.allclose(np.sort(there.length_m), np.sort(back.length_m), rtol=0, atol=1e-9)


def test_a_path_into_a_corner_is_found_once_and_the_same_from_both_ends(scene_of):
    # Seen from above, the line through source and listener points straight into the corner x = y = 0.
    room = build_room(scene_of(BOX))
    near, far = (0.5, 0.5, 1.2), (2.0, 2.0, 1.2)
    there = find_paths(room, near, far, up_to_order=2)
    back = find_paths(room, far, near, up_to_order=2)
    through_corner = [
        np.allclose(points[1:3, :2], 0.0, atol=1e-9) and order == 2
        for points, order in zip(there.points, there.order, strict=True)
    ]
    assert sum(through_corner) == 1
    assert {s[::-1] for s in sequences(back)} == set(sequences(there))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["beams", "classroom", "elbow", "hip", "ridge"])
def test_beams_agree_with_the_plain_search_in_shipped_rooms(name):
    # Seats off the middle, so that no path meets an edge and no tie rule is needed.
    scene = load_scene(SCENES / f"{name}.toml")
    room = build_room(scene)
    rng = np.random.default_rng(5)
    for speaker in scene.speakers:
        ears = np.array(scene.seats[0].ears) + rng.uniform(-0.1, 0.1, 3)
        paths = find_paths(room, speaker.position, ears, up_to_order=3, within_s=0.02)
        reach_m = paths.direct_m + 0.02 * room.speed_of_sound_m_s
        expected, next_order_m = image_paths(room, speaker.position, ears, up_to_order=3, within_m=reach_m)
        assert set(sequences(paths)) == set(expected)
        complete_s = complete_to_s(
            ListeningPoint(room, ears, [speaker.position]), speaker.position, up_to_order=3, within_s=0.02
        )
        complete_m = paths.direct_m + complete_s * room.speed_of_sound_m_s
        assert complete_m == pytest.approx(min(next_order_m, reach_m), abs=1e-9)  # rounding


def test_the_spot_on_a_beams_edge_is_found_from_both_ends():
    room = build_room(load_scene(SCENES / "beams.toml"))
    speaker, ears = (0.85, 1.55, 1.20), (2.15, 2.30, 1.20)
    underside = next(
        i
        for i, f in enumerate(room.facets)
        if room.surfaces[f.surface].owner is not None and f.normal[2] < -0.99 and f.outline[:, 0].max() < 1.6
    )
    for ends in ((speaker, ears), (ears, speaker)):
        paths = find_paths(room, *ends, up_to_order=1)
        rows = [row for row, s in enumerate(sequences(paths)) if s == (underside,)]
        assert len(rows) == 1
        assert np.allclose(paths.points[rows[0], 1], [1.5, 1.925, 2.35], rtol=0, atol=1e-12)


def test_complete_to_is_the_first_path_of_the_next_order(scene_of):
    room = build_room(scene_of(BOX))
    ends = (1.0, 1.3, 1.2), (3.2, 2.0, 1.1)
    deeper = find_paths(room, *ends, up_to_order=3, within_s=0.1)
    point = ListeningPoint(room, ends[1], ends[:1])
    complete_s = complete_to_s(point, ends[0], up_to_order=2, within_s=0.1)
    first_s = (deeper.length_m[deeper.order == 3].min() - deeper.direct_m) / room.speed_of_sound_m_s
    assert complete_s == pytest.approx(first_s, abs=1e-14)  # rounding
    assert complete_to_s(point, ends[0], up_to_order=4, within_s=0.004) == 0.004


def test_scaling_the_room_scales_the_delays(scene_of):
    small = build_room(scene_of(BOX))
    large = build_room(scene_of(BOX.replace("5.0", "10.0").replace("4.0", "8.0").replace("2.6", "5.2")))
    ends = np.array([[1.0, 1.3, 1.2], [3.2, 2.0, 1.1]])
    a = find_paths(small, *ends, up_to_order=3, within_s=0.02)
    b = find_paths(large, *(2 * ends), up_to_order=3, within_s=0.04)
    assert np.allclose(b.length_m, 2 * a.length_m, rtol=0, atol=1e-9)  # rounding of sums of metres


def test_a_screen_between_hides_the_direct_sound(scene_of):
    screen = """
[[objects]]
name = "screen"
shape = "box"
centre = [2.1, 1.65, 0.9]
size = [0.05, 1.2, 1.8]
material = "hard"
"""
    room = build_room(scene_of(BOX + screen))
    assert not find_paths(room, (1.0, 1.3, 1.2), (3.2, 2.0, 1.2)).direct_visible
    assert find_paths(room, (1.0, 1.3, 2.2), (3.2, 2.0, 2.2)).direct_visible


def test_coinciding_ends_are_refused(scene_of):
    room = build_room(scene_of(BOX))
    with pytest.raises(ValueError, match="coincide"):
        find_paths(room, (1, 1, 1), (1, 1, 1))

"""Speakers whose acoustic centre lies in the face of a wall."""

import numpy as np
import pytest

from raytrace.decay import Sampling, find_decay
from raytrace.reflections import find_arrivals
from raytrace.room import build_room
from raytrace.scene import SceneError
from raytrace.study import place_notes

ROOM = """
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.5
[surfaces]
default = "hard"
[materials.hard]
absorption = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]
scattering = 0.0
[[speakers]]
name = "left"
position = [0.0, 1.4, 1.2]
aim = {yaw = 0}
directivity = "omni"
[[seats]]
name = "mix"
ears = [3.2, 2.0, 1.2]
"""


def test_a_speaker_in_a_wall_has_every_image_but_its_own_walls(scene_of):
    scene = scene_of(ROOM)
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=3)
    # Allen and Berkley's lattice, in which the two images at every x coincide: 2 n L beyond the back wall
    # after 2 n - 1 bounces, -2 n L beyond the front wall after 2 n; none begins at the front wall.
    source, ears = np.array([0.0, 1.4, 1.2]), np.array([3.2, 2.0, 1.2])
    lengths = []
    for i, j, k in np.array(list(np.ndindex(9, 9, 9))) - 4:
        bounces = (2 * i - 1 if i > 0 else -2 * i) + abs(j) + abs(k)
        image = (10.0 * i, 4.0 * j + (1.4, 2.6)[j % 2], 2.5 * k + (1.2, 1.3)[k % 2])
        if 1 <= bounces <= 3:
            lengths.append(np.linalg.norm(image - ears))
    limit = np.linalg.norm(ears - source) + 0.030 * room.speed_of_sound_m_s
    expected = np.sort([length for length in lengths if length <= limit])
    np.testing.assert_allclose(np.sort(arrivals.length_m), expected, rtol=1e-9)  # rounding


def test_the_notes_say_that_it_is_built_in(scene_of):
    scene = scene_of(ROOM)
    room = build_room(scene)
    text = " ".join(str(note) for note in place_notes(scene, room))
    assert "left is built into front wall" in text
    assert "nearer than a cabinet allows" not in text


def test_in_a_wall_drivers_are_pistons_that_play_wider_than_on_a_box(scene_of):
    built_in = scene_of(ROOM.replace('"omni"', '"two-way"'))
    free = scene_of(ROOM.replace('"omni"', '"two-way"').replace("[0.0, 1.4", "[0.5, 1.4"))
    levels = []
    for scene in (built_in, free):
        arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
        room = build_room(scene)
        row = next(
            k for k, s in enumerate(arrivals.path_surfaces[:, 0]) if room.surface_names[s] == "left wall"
        )
        spread = arrivals.level_db[row, 4] - 20 * np.log10(
            np.linalg.norm([3.2, 0.6]) / arrivals.length_m[row]
        )
        levels.append(spread)
    assert levels[0] > levels[1]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[3.2, 2.0, 1.2]", "[5.0, 2.0, 1.2]", "lies exactly on"),
        ("[0.0, 1.4", "[-0.01, 1.4", "outside the room"),
    ],
)
def test_seats_in_a_wall_and_speakers_beyond_it_are_refused(scene_of, old, new, message):
    with pytest.raises(SceneError, match=message):
        build_room(scene_of(ROOM.replace(old, new)))


def test_rays_of_a_built_in_speaker_bring_what_its_exact_reflections_do(scene_of):
    # The same energy whether one bounce or three are taken exactly and the rest from rays.
    scene = scene_of(ROOM.replace("scattering = 0.0", "scattering = 0.3"))
    room = build_room(scene)
    totals = []
    for up_to_order in (1, 3):
        arrivals = find_arrivals(scene, room, up_to_order=up_to_order)
        runs = [find_decay(scene, room, arrivals, sampling=Sampling(8000, seed))[0] for seed in range(4)]
        totals.append(np.mean([run.energy[:60, 4].sum() for run in runs]))
    assert totals[0] == pytest.approx(totals[1], rel=0.02)  # 1 % spread of the rays, and the sphere's own 0.6

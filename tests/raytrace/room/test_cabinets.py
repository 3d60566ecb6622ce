"""Cabinets of speakers, which hide and reflect for the other speakers."""

import numpy as np
import pytest

from raytrace.reflections import find_arrivals
from raytrace.room import build_room, cabinet_size_m, speaker_axis
from raytrace.study import Follower, moved

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
position = [0.8, 1.2, 1.2]
directivity = "omni"
{left}
[[speakers]]
name = "right"
position = [0.8, 2.8, 1.2]
directivity = "omni"
{right}
[[seats]]
name = "mix"
ears = {ears}
"""
BODY = "body = [0.25, 0.20, 0.35]"


def text(left="", right="", ears="[3.2, 2.0, 1.2]"):
    return ROOM.format(left=left, right=right, ears=ears)


def found(scene, speaker):
    """Lengths of the paths of one speaker, and whether its direct sound is heard."""
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=2)
    return arrivals.length_m[arrivals.at(speaker, 0)], bool(arrivals.direct.visible[speaker])


@pytest.mark.parametrize("ears", ["[3.2, 2.0, 1.2]", "[0.3, 0.9, 1.1]"])
def test_a_speaker_neither_hears_nor_meets_its_own_cabinet(scene_of, ears):
    # In the second seat the cabinet stands between the speaker and the ears.
    bare, boxed = scene_of(text(ears=ears)), scene_of(text(left=BODY, ears=ears))
    lengths, visible = found(bare, 0)
    own_lengths, own_visible = found(boxed, 0)
    assert visible
    assert own_visible
    np.testing.assert_allclose(own_lengths, lengths, rtol=1e-12)  # rounding only


def test_another_speaker_is_hidden_by_it_and_reflected_by_it(scene_of):
    # Left's cabinet stands between right and ears beyond it.
    ears = "[0.7, 0.5, 1.2]"
    aim = "aim = [3.2, 1.2, 1.2]\nbody = [0.25, 0.20, 0.35]"
    assert found(scene_of(text(ears=ears)), 1)[1]
    hidden, boxed = scene_of(text(left=aim, ears=ears)), scene_of(text(left=aim))
    assert not found(hidden, 1)[1]
    room = build_room(boxed)
    arrivals = find_arrivals(boxed, room, up_to_order=1)
    met = {
        name: {room.surfaces[k].owner for k in arrivals.path_surfaces[arrivals.at(k_speaker, 0), 0]}
        for k_speaker, name in enumerate(arrivals.speaker_names)
    }
    assert met == {"left": {None}, "right": {None}}
    # Right's image in the side of left's cabinet, a mirror at y = 1.3: 2 x 1.5 m across, ears beside it.
    beside = scene_of(text(left=aim, ears="[0.5, 2.0, 1.2]").replace("[0.8, 2.8", "[0.9, 2.8"))
    arrivals = find_arrivals(beside, build_room(beside), up_to_order=1)
    image = np.array([0.9, 2 * 1.3 - 2.8, 1.2])
    expected = np.linalg.norm(image - [0.5, 2.0, 1.2])
    assert np.isclose(arrivals.length_m[arrivals.at(1, 0)], expected, rtol=1e-9).sum() == 1
    assert not np.isclose(arrivals.length_m[arrivals.at(0, 0)], expected, rtol=1e-6).any()


def test_the_front_looks_where_the_speaker_does_and_holds_its_centre(scene_of):
    scene = scene_of(text(left="aim = {yaw = 30, pitch = -20}\n" + BODY))
    room = build_room(scene)
    front = room.surfaces[room.surface_index("left cabinet front")]
    np.testing.assert_allclose(front.frame.n, speaker_axis(scene, scene.speakers[0]), atol=1e-12)
    np.testing.assert_allclose(room.facets[front.facets[0]].outline.mean(axis=0), (0.8, 1.2, 1.2), atol=1e-12)
    assert front.area_m2 == pytest.approx(0.20 * 0.35)


def test_a_cabinet_follows_the_speaker_that_a_hand_moves(scene_of):
    scene = scene_of(text(left=BODY, right=BODY))
    follower = Follower()
    follower.ears(scene)
    there = moved(scene, "speakers", 0, (1.0, 1.1, 1.2))
    followed = follower.ears(there).room
    for a, b in zip(followed.facets, build_room(there).facets, strict=True):
        np.testing.assert_array_equal(a.outline, b.outline)


@pytest.mark.parametrize(
    ("line", "size"),
    [
        (BODY, (0.25, 0.20, 0.35)),
        ("", (0.22, 0.20, 0.32)),
        ('body = "none"', (0.22, 0.20, 0.32)),
    ],
)
def test_a_speaker_is_drawn_in_the_size_of_its_body_or_its_directivity(scene_of, line, size):
    scene = scene_of(text(left=line))
    np.testing.assert_allclose(cabinet_size_m(scene.speakers[0]), size)
    wide = scene_of(text(left=line).replace('directivity = "omni"', "directivity = {box_radius = 0.26}"))
    scale = 1.0 if line == BODY else 2.0
    np.testing.assert_allclose(cabinet_size_m(wide.speakers[0]), scale * np.array(size))

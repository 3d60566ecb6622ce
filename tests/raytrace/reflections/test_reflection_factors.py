"""What bounces return: where a path's ends stand for each, and what patches of a surface add up to."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import build_room, find_paths
from raytrace.acoustics import load_library, plain_reflection
from raytrace.reflections.reflection_factors import path_ends, wall_reflection
from raytrace.reflections.reflectors import find_reflectors
from tests.support.rooms import room_text

IMAGE, RECEIVER = np.array([[1.0, -1.2, 1.2]]), np.array([[2.2, 1.4, 1.1]])  # before the left wall


def opening(name, along, width, material):
    """An opening of the left wall of the box, 0.6 m high."""
    return (
        f'[[openings]]\nname = "{name}"\nsurface = "left wall"\nkind = "cover"\n'
        f'at = [{along}, 0.8]\nsize = [{width}, 0.6]\nmaterial = "{material}"\n'
    )


@pytest.fixture
def left_wall(scene_of):
    """Reflection factor of the left wall for one pair of ends, with what is put before it."""

    def returned(more=""):
        room = build_room(scene_of(room_text("box", more)))
        wall = room.surfaces[room.surface_index("left wall")].facets[0]
        return wall_reflection(room, find_reflectors(room), wall, IMAGE, RECEIVER)[0]

    return returned


LOCAL = '[method]\nplain_surfaces = "local"\n'


def test_a_local_wall_and_a_local_opening_reflect_by_the_cosine_of_the_path(left_wall):
    way = (RECEIVER - IMAGE)[0]
    cosine = np.array([abs(way[1]) / np.linalg.norm(way)])  # the left wall runs along x and z
    cover = opening("a", 0.0, 4.2, "carpet on concrete").replace("0.8]", "0]").replace("0.6]", "2.4]")
    for name, more in (("plasterboard", ""), ("carpet on concrete", cover)):
        local = replace(load_library()[name], at_an_angle="local")
        expected = np.broadcast_to(plain_reflection(local, cosine)[0], (8, 24))
        found = np.broadcast_to(left_wall(LOCAL + more), (8, 24))
        np.testing.assert_allclose(found, expected, rtol=0.0, atol=1e-9)  # the cover from corner to corner
        assert np.abs(found - left_wall(more)).max() > 1e-3


@pytest.mark.parametrize("shape", ["gable", "hip"])
def test_every_bounce_of_a_path_sees_the_whole_path_straight(scene_of, shape):
    room = build_room(scene_of(room_text(shape)))
    speaker, ears = (0.75, 2.1, 1.0), (1.7, 2.5, 1.1)
    paths = find_paths(room, speaker, ears, up_to_order=4)
    assert (paths.order == 4).any()
    images, receivers = path_ends(room, paths)
    lengths = np.linalg.norm(receivers - images, axis=-1)
    for row, order in enumerate(paths.order):
        np.testing.assert_allclose(lengths[row, : order + 1], paths.length_m[row], rtol=1e-12)  # rounding
        # The spot of each bounce lies on the straight line between its ends.
        for bounce in range(1, order + 1):
            image, receiver = images[row, bounce], receivers[row, bounce]
            along = (paths.points[row, bounce] - image) @ (receiver - image) / lengths[row, bounce] ** 2
            foot = image + along * (receiver - image)
            np.testing.assert_allclose(foot, paths.points[row, bounce], rtol=0.0, atol=1e-9)


def test_patches_side_by_side_are_one_and_a_patch_like_the_wall_is_none(left_wall):
    bare, whole = left_wall(), left_wall(opening("a", 1.4, 1.2, "mineral wool 100 mm"))
    halves = opening("a", 1.4, 0.5, "mineral wool 100 mm") + opening("b", 1.9, 0.7, "mineral wool 100 mm")
    np.testing.assert_allclose(left_wall(halves), whole, rtol=0.0, atol=1e-6)  # edges aimed at 1e-7
    assert np.abs(whole - bare).max() > 0.2
    none = left_wall(opening("a", 1.4, 1.2, "plasterboard"))
    np.testing.assert_array_equal(none, np.broadcast_to(bare, none.shape))


def test_a_panel_hides_the_opening_behind_it(left_wall):
    panel = '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "wool 50"\ncentre = [2.0, 1.1]\n'
    behind = opening("a", 1.8, 0.4, "mineral wool 100 mm")
    np.testing.assert_allclose(left_wall(panel + behind), left_wall(panel), rtol=0.0, atol=0.03)
    assert np.abs(left_wall(behind) - left_wall()).max() > 0.1

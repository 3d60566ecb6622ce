"""Frames stand outside the slabs: where that has no room, it is said."""

import numpy as np
import pytest

from raytrace import build_room
from raytrace.making.frameroom import frame_beside_m, frame_notes, with_frame
from tests.support.panelled import GABLE_ROOM, cloud, panel, scene_text

WINDOW = """
[[openings]]
name = "window"
kind = "window"
surface = "left wall"
at = [3.11, 0.8]
size = [0.8, 1.0]
material = "window"
"""


def notes_of(scene_of, more):
    return tuple(map(str, frame_notes(build_room(scene_of(scene_text(more))))))


def test_neighbours_need_the_thickness_of_both_frames(scene_of):
    (note,) = notes_of(scene_of, cloud(rows=2, columns=3, spacing=0.01))
    assert note == "cloud: slabs 10 mm apart leave no room for both frames; leave 40 mm."
    assert notes_of(scene_of, cloud(rows=2, columns=3, spacing=0.04)) == ()


def test_neighbours_of_different_timber_need_the_sum_of_theirs(scene_of):
    # 3/4 in and 20 mm.
    more = panel("A", build="wool 2 in", centre=[1.0, 1.2]) + panel("B", centre=[2.22, 1.2])
    (note,) = notes_of(scene_of, more)
    assert note == "A and B: slabs 10 mm apart leave no room for both frames; leave 39 mm."


def test_the_end_of_a_wall_and_a_window_need_the_thickness_of_one(scene_of):
    # The slab reaches from u = 0.01 to 1.21; the other from 1.9 to 3.1, 10 mm from the window.
    first, second = notes_of(scene_of, WINDOW + panel("A", centre=[0.61, 1.2]) + panel("B"))
    assert first == "A, edge of the left wall: 10 mm leave no room for the frame; leave 20 mm."
    assert second == "B, window: 10 mm leave no room for the frame; leave 20 mm."


def test_panels_with_room_on_all_sides_are_not_mentioned(scene_of):
    assert notes_of(scene_of, panel("A", centre=[1.0, 1.2]) + panel("B", centre=[2.24, 1.2])) == ()


def test_places_written_to_a_tenth_of_a_millimetre_are_not_told_as_too_near(scene_of):
    # 0.1 mm less than both frames take: what rounding two written places may lose.
    assert notes_of(scene_of, panel("A", centre=[1.0, 1.2]) + panel("B", centre=[2.2399, 1.2])) == ()
    assert notes_of(scene_of, panel("A", centre=[1.0, 1.2]) + panel("B", centre=[2.2395, 1.2])) != ()


def test_a_panel_with_its_frame_reaches_beyond_its_slab_all_round(scene_of):
    stand = '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, 1.0]\nyaw = 90\n'
    slope = build_room(scene_of(scene_text(cloud(surface="left slope", level="along"), GABLE_ROOM)))
    upright = build_room(scene_of(scene_text(panel("A") + stand)))
    for own in (*slope.panels, *upright.panels):
        outer = with_frame(own)
        beside_m = frame_beside_m(own.build)
        assert beside_m == pytest.approx(0.020)
        sides = np.linalg.norm(np.roll(outer.corners, -1, axis=0) - outer.corners, axis=1)
        expected = [outer.width_m, outer.height_m] * 2
        assert sides == pytest.approx(expected, abs=1e-9)  # of coordinates of a few metres
        assert outer.width_m == pytest.approx(own.width_m + 0.040)
        # What stands keeps its lower edge, and rises by the timbers of both edges.
        assert outer.height_m == pytest.approx(own.height_m + 0.040)

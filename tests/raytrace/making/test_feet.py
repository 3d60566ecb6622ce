"""Feet and legs of stands take room on the floor, and what is there already stops them."""

import numpy as np
import pytest

from raytrace import build_room, feet_notes
from raytrace.making.feet import feet_outlines, feet_solids, site_of, why_no_stand
from raytrace.proposing import place_entries
from raytrace.scene import Stand
from tests.support.panelled import scene_text

ROUNDING_M = 1e-9  # of coordinates of a few metres

# Along the left wall, 0.40 m deep, its top at 0.50 m.
SIDEBOARD = """
[[objects]]
name = "sideboard"
shape = "box"
centre = [2.5, 0.20, 0.25]
size = [1.0, 0.40, 0.50]
material = "wood"
"""
DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [2.5, 0.90, 0.72]
size = [1.0, 0.40, 0.03]
material = "wood"
"""
DOOR = """
[[openings]]
name = "door"
kind = "door"
surface = "left wall"
at = [2.0, 0.0]
size = [0.8, 2.0]
material = "wood door"
swing = { hinge = "left", out = 0.8 }
"""


def stand(at, lift=0.0, yaw=90.0, **more):
    """Upright, 600 x 1200 x 50 mm, facing the right wall unless turned."""
    return Stand.model_validate(
        {"name": "S", "build": "wool 50", "at": at, "yaw": yaw, "turned": 90, "lift": lift, **more}
    )


def placed(scene_of, entry, more=""):
    scene = scene_of(scene_text(more))
    room = build_room(scene)
    (panel,) = place_entries(scene, room, [entry])
    return scene, room, panel


def test_feet_and_legs_are_bodies_outside_the_frame(scene_of):
    _, _, panel = placed(scene_of, stand([2.5, 1.0]))
    bodies = feet_solids(panel)
    assert len(bodies) == 4
    corners = np.concatenate([solid.corners for solid in bodies])
    # 640 mm of frame, then a leg and a foot of 45 mm on either side; feet of 500 mm about the frame's middle.
    assert np.ptp(corners[:, 0]) == pytest.approx(0.82, abs=ROUNDING_M)
    assert np.abs(corners[:, 0] - 2.5).min() == pytest.approx(0.32, abs=ROUNDING_M)
    assert (corners[:, 1].min(), corners[:, 1].max()) == pytest.approx((0.725, 1.225), abs=ROUNDING_M)
    assert (corners[:, 2].min(), corners[:, 2].max()) == pytest.approx((0.0, 1.24), abs=ROUNDING_M)


def test_outlines_on_the_floor_are_those_of_the_feet(scene_of):
    _, _, panel = placed(scene_of, stand([2.5, 1.0]))
    outlines = feet_outlines(panel)
    assert [np.ptp(outline, axis=0) for outline in outlines] == [pytest.approx([0.045, 0.5, 0.0])] * 2


def test_legs_of_a_raised_stand_reach_up_with_it(scene_of):
    _, _, panel = placed(scene_of, stand([2.5, 1.0], lift=0.4))
    top = max(float(solid.corners[:, 2].max()) for solid in feet_solids(panel))
    assert top == pytest.approx(1.64, abs=ROUNDING_M)


def test_what_leans_has_blocks(scene_of):
    _, _, panel = placed(scene_of, stand([2.5, 0.5], lean=8.0))
    low = [float(solid.corners[:, 2].max()) for solid in feet_solids(panel)]
    assert low == pytest.approx([0.07, 0.07], abs=ROUNDING_M)


@pytest.mark.parametrize(
    ("more", "at", "lift", "words"),
    [
        (SIDEBOARD, (2.5, 0.50), 0.0, 'runs into "sideboard"'),
        (SIDEBOARD, (2.5, 0.35), 0.7, 'runs into "sideboard"'),  # over it, but on legs
        (DOOR, (2.5, 0.80), 0.0, 'the way of the leaf of "door"'),
    ],
)
def test_feet_and_legs_stop_at_what_is_there(scene_of, more, at, lift, words):
    scene, room, panel = placed(scene_of, stand(list(at), lift), more)
    assert words in str(why_no_stand(site_of(scene, room), panel, ()))
    scene, room, panel = placed(scene_of, stand([2.5, 2.0], lift), more)
    assert why_no_stand(site_of(scene, room), panel, ()) is None


def test_feet_reach_no_farther_than_the_wall_where_the_panel_is_near_it(scene_of):
    # Two panels high: 400 mm either side of the frame's middle. Beyond 300 mm a wall no longer stops it.
    scene, room, panel = placed(scene_of, stand([2.5, 0.40], stacked=2))
    assert 'reaches 25 mm into "left wall"' in str(why_no_stand(site_of(scene, room), panel, ()))
    for y in (0.30, 0.48):
        scene, room, panel = placed(scene_of, stand([2.5, y], stacked=2))
        assert why_no_stand(site_of(scene, room), panel, ()) is None


def test_feet_pass_under_a_desk_but_not_through_those_of_another_stand(scene_of):
    scene, room, panel = placed(scene_of, stand([2.5, 0.65]), DESK)
    assert why_no_stand(site_of(scene, room), panel, ()) is None
    bare, open_room, first = placed(scene_of, stand([2.5, 1.0]))
    (second,) = place_entries(bare, open_room, [stand([2.5, 1.2])])
    (third,) = place_entries(bare, open_room, [stand([2.5, 1.6])])
    site = site_of(bare, open_room)
    assert "another stand" in str(why_no_stand(site, second, [first]))
    assert why_no_stand(site, third, [first]) is None


def test_a_floor_that_is_kept_free_is_free_of_feet(scene_of):
    way = '\n[[keep_outs]]\nname = "way"\nsurface = "floor"\nat = [2.0, 1.0]\nsize = [1.0, 1.0]\n'
    scene, room, panel = placed(scene_of, stand([2.5, 0.95]), way)
    assert 'kept free for "way"' in str(why_no_stand(site_of(scene, room), panel, ()))


def test_a_scene_is_told_of_feet_without_room(scene_of):
    given = '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, {y}]\nyaw = 90\nturned = 90\n'
    for y, told in ((0.46, True), (1.0, False)):
        scene = scene_of(scene_text(SIDEBOARD + given.format(y=y)))
        notes = feet_notes(scene, build_room(scene))
        assert [str(note).startswith("S needs feet 500 mm long") for note in notes] == [True] * told

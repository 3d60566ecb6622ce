"""Feet and legs of stands take room on the floor, and what is there already stops them."""

import numpy as np
import pytest

from raytrace import build_room, feet_notes
from raytrace.making.feet import feet_solids, site_of, why_no_feet
from raytrace.making.loads import find_stability
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


def test_feet_are_as_deep_as_the_tilt_test_asks_and_as_wide_as_the_frame(scene_of):
    _, _, panel = placed(scene_of, stand([2.5, 0.5]))
    (plate,) = feet_solids(panel)
    # 2 x 0.6 m x tan 10 degrees; frames of 20 mm either side of 600 mm.
    assert np.ptp(plate.corners[:, 1]) == pytest.approx(1.2 * np.tan(np.radians(10.0)), abs=ROUNDING_M)
    assert np.ptp(plate.corners[:, 0]) == pytest.approx(0.64, abs=ROUNDING_M)
    assert plate.corners[:, 1].mean() == pytest.approx(0.475, abs=ROUNDING_M)  # under the panel's middle
    assert plate.corners[:, 2].min() == 0.0


def test_the_depth_is_the_one_that_the_tables_tell(scene_of):
    text = scene_text(
        '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, 1.0]\nyaw = 90\nturned = 90\nlift = 0.4\n'
    )
    room = build_room(scene_of(text))
    plate, legs = feet_solids(room.panels[0])
    (told,) = find_stability(room)
    assert np.ptp(plate.corners[:, 1]) == pytest.approx(told.foot_m, abs=ROUNDING_M)
    assert legs.corners[:, 2].max() == pytest.approx(0.4, abs=ROUNDING_M)


def test_what_leans_has_no_feet(scene_of):
    _, _, panel = placed(scene_of, stand([2.5, 0.5], lean=8.0))
    assert feet_solids(panel) == ()


@pytest.mark.parametrize(
    ("more", "at", "lift", "words"),
    [
        (SIDEBOARD, (2.5, 0.50), 0.0, 'runs into "sideboard"'),
        (SIDEBOARD, (2.5, 0.35), 0.7, 'runs into "sideboard"'),  # over it, but on legs
        ("", (2.5, 0.10), 0.0, 'into "left wall"'),
        (DOOR, (2.5, 0.80), 0.0, 'the way of the leaf of "door"'),
    ],
)
def test_feet_and_legs_stop_at_what_is_there(scene_of, more, at, lift, words):
    scene, room, panel = placed(scene_of, stand(list(at), lift), more)
    assert words in str(why_no_feet(site_of(scene, room), panel, ()))
    scene, room, panel = placed(scene_of, stand([2.5, 2.0], lift), more)
    assert why_no_feet(site_of(scene, room), panel, ()) is None


def test_feet_pass_under_a_desk_but_not_through_those_of_another_stand(scene_of):
    scene, room, panel = placed(scene_of, stand([2.5, 0.65]), DESK)
    assert why_no_feet(site_of(scene, room), panel, ()) is None
    bare, open_room, first = placed(scene_of, stand([2.5, 1.0]))
    (second,) = place_entries(bare, open_room, [stand([2.5, 1.2])])
    (third,) = place_entries(bare, open_room, [stand([2.5, 1.4])])
    site = site_of(bare, open_room)
    assert "another stand" in str(why_no_feet(site, second, [first]))
    assert why_no_feet(site, third, [first]) is None


def test_a_floor_that_is_kept_free_is_free_of_feet(scene_of):
    way = '\n[[keep_outs]]\nname = "way"\nsurface = "floor"\nat = [2.0, 1.0]\nsize = [1.0, 1.0]\n'
    scene, room, panel = placed(scene_of, stand([2.5, 0.95]), way)
    assert 'kept free for "way"' in str(why_no_feet(site_of(scene, room), panel, ()))


def test_a_scene_is_told_of_feet_without_room(scene_of):
    given = '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, {y}]\nyaw = 90\nturned = 90\n'
    for y, told in ((0.46, True), (1.0, False)):
        scene = scene_of(scene_text(SIDEBOARD + given.format(y=y)))
        notes = feet_notes(scene, build_room(scene))
        assert [str(note).startswith("S needs feet 212 mm deep") for note in notes] == [True] * told

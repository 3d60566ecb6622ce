"""Layers, views and the level scale of the page."""

import numpy as np

from tests.support.studies import shipped_study
from viewer import look
from viewer.page.controls import layer_switches, level_scale, sizes, views
from viewer.pictures import set_stage


def test_switches_without_anything_behind_them_are_left_out():
    everything = [
        layer["key"]
        for layer in layer_switches(has_undecided=True, has_patches=True, has_objects=True, has_panels=True)
    ]
    bare = [
        layer["key"]
        for layer in layer_switches(
            has_undecided=False, has_patches=False, has_objects=False, has_panels=False
        )
    ]
    assert set(everything) - set(bare) == {"undecided", "patches", "objects", "panels"}
    assert bare == [key for key in everything if key in bare]


def test_a_level_at_the_limit_stands_at_the_tick_that_says_so():
    scale = level_scale()
    share = dict(scale["ticks"])["limit"]
    place = share * (len(scale["colours"]) - 1)
    low, high = (look.rgb(scale["colours"][int(f(place))]) for f in (np.floor, np.ceil))
    there = low + (place - np.floor(place)) * (high - low)
    assert np.allclose(there, look.level_colours(np.array([0.0]))[0], atol=1e-9)


def test_the_first_view_looks_from_behind_and_down_and_the_camera_circles_the_middle():
    stage = set_stage(shipped_study("box", up_to_order=1))
    first, above, side, seat = views(stage)
    assert abs(first["azimuth"]) < np.pi / 2
    assert 0 < first["elevation"] < np.pi / 2
    assert above["elevation"] > 1.5
    assert side["azimuth"] < 0  # from the left wall, y = 0
    assert [view["inside"] for view in (first, above, side, seat)] == [False, False, False, True]
    assert np.allclose(sizes(stage)["middle"], [2.1, 1.5, 1.2])

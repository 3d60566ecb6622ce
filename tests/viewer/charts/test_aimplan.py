"""The plan of how speakers are turned: words apart and inside, and the figures that were found."""

import itertools
from dataclasses import replace

import pytest

from raytrace import AimWish, find_aim, load_scene
from tests.support.chartchecks import assert_clean
from tests.support.scenes import SCENES
from viewer.charts.aimplan import SIZE, aim_plan_figure, draw_aim_plan

SEATED = """
title = "test room"
[room]
shape = "box"
length = 4.6
width = 3.4
height = 2.5
[surfaces]
default = "plasterboard"
[[seats]]
name = "mix"
ears = [2.1, 1.7, 1.2]
"""
SPEAKER = '[[speakers]]\nname = "{}"\nposition = [{}, {}, {}]\nbody = [0.2, 0.16, 0.3]\n'


def found(scene):
    """What is found of a scene, without the long search for what clears its desk: no plan shows that."""
    return find_aim(scene, AimWish(desk=False))


class Drawn:
    """A chart on disk as `assert_clean` looks at it."""

    def __init__(self, path, boxes):
        self.path, self.boxes = path, boxes


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", ["box", "elbow", "ridge", "cupboard", "hip"])
def test_words_are_apart_and_inside_and_the_border_is_empty(name, units, tmp_path):
    path = tmp_path / "plan.png"
    boxes = draw_aim_plan(found(load_scene(SCENES / f"{name}.toml")), path, units=units)
    assert_clean(Drawn(path, boxes), SIZE)


def test_it_says_what_was_found():
    text = SEATED + SPEAKER.format("left", 0.8, 1.0, 1.0) + SPEAKER.format("right", 0.8, 2.4, 1.0)
    aim = found(load_scene("room.toml", text))
    _, texts = aim_plan_figure(aim)
    words = [one.get_text() for one in texts]
    assert words.count("28.3°") == 2  # atan(0.7 / 1.3)
    assert words.count("1490 mm") == 2  # the root of 1.3^2 + 0.7^2 + 0.2^2 is 1.4900
    assert words.count("800 mm") == 2  # to the front wall
    assert words.count("1000 mm") == 2  # to the wall beside
    assert "tilt +7.7°, wedge +7.7° (+: front raised)" in words  # atan(0.2 / 1.4765)
    assert "stand 850 mm over floor" in words  # 1.0 m less half of 0.3 m
    dip = aim.responses[0].combined[0]
    assert any(f"dB at {dip.hz:.0f} Hz: {dip.surfaces[0]}" in line for line in words)


def test_a_better_distance_from_the_wall_is_told_where_it_brings_something():
    text = SEATED + SPEAKER.format("left", 0.8, 1.0, 1.0) + SPEAKER.format("right", 0.8, 2.4, 1.0)
    aim = found(load_scene("room.toml", text))
    best = min(aim.sweep.places, key=lambda place: place.evenness_db)
    for more_db, told, is_told in ((0.0, (), False), (1.0, (best,), True)):
        now = replace(aim.sweep.now, evenness_db=best.evenness_db + more_db)
        _, texts = aim_plan_figure(replace(aim, sweep=replace(aim.sweep, now=now, best=told)))
        line = f"low end most even {1e3 * best.distance_m:.0f} mm from front wall:"
        assert (line in [one.get_text() for one in texts]) == is_told


@pytest.mark.parametrize("count", [1, 5])
def test_one_speaker_and_five_have_room_for_their_words(count, tmp_path):
    places = [(0.8, 1.0), (0.8, 2.4), (0.6, 1.7), (3.6, 0.8), (3.6, 2.6)]
    names = ["left", "right", "centre", "left rear", "right rear"]
    text = SEATED + "".join(SPEAKER.format(names[k], *places[k], 1.2) for k in range(count))
    path = tmp_path / "plan.svg"
    boxes = draw_aim_plan(found(load_scene("room.toml", text)), path)
    column = [box for box in boxes if box.left > 0.64 * SIZE[0]]
    assert len(column) > 6 * count
    for above, below in itertools.pairwise(column):
        assert above.bottom <= below.top + 1.0  # a pixel of rounding
    assert column[-1].bottom < 0.98 * SIZE[1]

"""The chart of the bass: words stand apart, and it shows what was found."""

import functools
from dataclasses import replace

import pytest

from raytrace import build_room, find_bass, load_scene
from tests.support.chartchecks import assert_clean
from tests.support.scenes import SCENES
from viewer.charts.bass import SIZE, draw_bass


@functools.cache
def found(name):
    scene = load_scene(SCENES / f"{name}.toml")
    room = build_room(scene)
    return find_bass(scene, room), scene, room


@pytest.mark.parametrize("name", ["garage", "box"])
def test_words_stand_apart_and_inside(name, tmp_path):
    chart = draw_bass(*found(name), tmp_path / "bass.png")
    assert_clean(chart, SIZE)


def test_places_are_numbered_and_the_sub_is_named_where_there_is_one(tmp_path):
    words = {box.text for box in draw_bass(*found("garage"), tmp_path / "a.png").boxes}
    assert {"1", "2", "3", "4", "5", "now", "sub at place 1"} <= words
    assert any("sub now" in text for text in words)
    words = {box.text for box in draw_bass(*found("box"), tmp_path / "b.png").boxes}
    assert not any("sub now" in text for text in words)


def test_a_figure_of_all_seats_is_not_told_as_that_of_the_first(tmp_path):
    bass, scene, room = found("garage")
    both = replace(bass, evenness=(*bass.evenness, bass.evenness[0]))
    for has_two, case in enumerate((bass, both)):
        title = " ".join(box.text for box in draw_bass(case, scene, room, tmp_path / f"{has_two}.png").boxes)
        assert f"uneven by {bass.now_db:.1f} dB from 30 to 120 Hz" in title
        assert ("over the seats uneven" in title) == has_two


def test_the_same_bass_gives_the_same_bytes(tmp_path):
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
    one, two = (draw_bass(*found("box"), tmp_path / f / "bass.png").path.read_bytes() for f in ("one", "two"))
    assert one == two

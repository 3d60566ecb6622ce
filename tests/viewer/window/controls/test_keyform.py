"""What is typed into the form of several things: only what was typed is changed in each of them."""

import pytest

from raytrace import keys_at, load_scene
from tests.support.windows import SCENES
from viewer.window.controls.keyform import KeyRow, key_words, typed_values


@pytest.fixture
def positions():
    scene = load_scene(SCENES / "rented.toml")
    return [next(k for k in keys_at(scene, ("speakers", i)) if k.path[-1] == "position") for i in (0, 1)]


def test_an_empty_field_of_several_things_leaves_each_as_it_is(qtbot, positions):
    assert [typed_values(key, ["", "", "1250 mm"]) for key in positions] == [
        [0.7, 1.05, 1.25],
        [0.7, 2.25, 1.25],
    ]
    row = KeyRow(positions[0], "metric")
    qtbot.addWidget(row.body)
    row.draw(positions[0], is_mixed=True, refused="")
    assert [field.text() for field in row.fields] == ["", "", ""]
    row.draw(positions[0], is_mixed=False, refused="")
    assert [field.text() for field in row.fields] == ["700 mm", "1050 mm", "1200 mm"]


def test_the_words_on_a_key_tell_its_bounds_in_the_units_of_the_reader(positions):
    scene = load_scene(SCENES / "rented.toml")
    depth = next(k for k in keys_at(scene, ("keep_outs", 1)) if k.path[-1] == "depth")
    assert key_words(depth, "metric").startswith("depth: from 0 mm to 10000 mm")
    assert "32' 9" in key_words(depth, "imperial")
    assert key_words(positions[0], "metric") == (
        "position: from -65000 mm to 65000 mm. "
        "The acoustic centre, in the middle of the front: from the front wall, from the left wall, up."
    )

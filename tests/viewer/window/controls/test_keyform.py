"""What is typed into the form of several things: only what was typed is changed in each of them."""

from typing import Annotated

import pytest

from raytrace import keys_at, load_scene, put_key
from tests.support.windows import SCENES
from viewer.window.controls.contents import Contents
from viewer.window.controls.keyform import KeyRow, key_words, typed_values
from viewer.window.state import SceneState

ROOM = load_scene(SCENES / "rented.toml")
# What reads a length from 0 to 10 m, and an angle.
DEPTH, YAW = (
    type(own).model_fields[key].metadata[0]
    for own, key in ((ROOM.keep_outs[0], "depth"), (ROOM.objects[0], "yaw"))
)


class CushionedSeat(type(ROOM.seats[0])):
    """A seat with keys that no scene has."""

    cushion: Annotated[float, DEPTH] = 0.05
    """How thick the cushion is. [m]"""
    recline: Annotated[float, YAW] = 0.0
    """How far the back leans."""


@pytest.mark.parametrize(("units", "usual"), [("metric", "usual: 50 mm"), ("imperial", 'usual: 2"')])
def test_a_new_key_of_a_class_is_a_line_of_the_form_by_itself(qtbot, units, usual):
    seat = CushionedSeat(**ROOM.seats[0].model_dump())
    contents = Contents()
    qtbot.addWidget(contents)
    path = ("seats", 0)
    contents.draw(
        SceneState(ROOM.model_copy(update={"seats": (seat,)}), (), (), (path,), None, units, "light")
    )
    row = contents.form.row_of("cushion")
    assert row.label.text() == "cushion"
    assert row.fields[0].placeholderText() == usual
    assert row.fields[0].accessibleName() == "cushion"
    row.pointed.emit(row.key)  # as when its field is worked on
    assert "How thick the cushion is" in contents.form.hint.text()
    assert ("10000 mm" in contents.form.hint.text()) == (units == "metric")
    assert "°" in key_words(contents.form.row_of("recline").key, units)
    # What is typed there is put into the text of the scene.
    with qtbot.waitSignal(contents.form.value_typed) as typed:
        qtbot.keyClicks(row.fields[0], "60 mm")
        row.fields[0].editingFinished.emit()
    key, told = typed.args
    added = put_key(ROOM.text, key, typed_values(key, told))
    assert added.replace('cushion = "60 mm"\n', "") == ROOM.text


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

"""What the typeface cannot write is said in words."""

from tests.support.scenes import HARD_WALLS
from viewer.paper import typeface_note


def test_letters_that_print_as_boxes_are_named(scene_of):
    note = typeface_note(scene_of(HARD_WALLS.replace('"mix"', '"混音 é Ж α"')))
    assert "has no 混 (U+6DF7), 音 (U+97F3): boxes stand there" in note


def test_nothing_is_said_where_all_letters_are_there(scene_of):
    assert typeface_note(scene_of(HARD_WALLS.replace('"mix"', '"é Ж α [b] – m²"'))) == ""

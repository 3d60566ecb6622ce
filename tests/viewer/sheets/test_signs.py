"""Every sign in a drawing is explained beside it, and no other."""

import pytest

from raytrace import Treatment, build_room
from tests.support.treatedrooms import treated_text
from viewer.sheets.signs import key_strips
from viewer.sheets.treatedview import find_views


@pytest.mark.parametrize(
    ("name", "title", "shown", "absent"),
    [
        ("box", "Reflected ceiling plan", ("hook", "joist as surveyed", "batten", "keep free"), ("assumed",)),
        ("ridge", "Left slope, true shape", ("hook", "assumed, not surveyed"), ("as surveyed",)),
        (
            "rented",
            "Floor plan of what stands",
            ("edge that is marked", "foot or block"),
            ("hook", "joist"),
        ),
    ],
)
def test_signs_are_those_of_the_drawing(scene_of, name, title, shown, absent):
    scene = scene_of(treated_text(name))
    (view,) = [v for v in find_views(Treatment(scene, build_room(scene))) if v.title == title]
    told = " ".join(mark.text for strip in key_strips(view, 132.0) for mark in strip.marks if mark.text)
    for word in shown:
        assert word in told
    for word in absent:
        assert word not in told

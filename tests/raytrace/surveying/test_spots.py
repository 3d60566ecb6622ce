"""How far set-out figures move with each measured length: by hand in a box, by whole runs elsewhere."""

import numpy as np
import pytest
from pydantic import BaseModel

from raytrace import load_scene, run_study
from raytrace.surveying import find_area_errors, survey_numbers
from tests.support.rooms import SHAPES, room_text

LENGTH, WIDTH, HEIGHT = 4.2, 3.0, 2.4
SPEAKER, EARS = (0.95, 1.5, 1.2), (1.9, 1.7, 1.1)


def areas_of(shape, surface, up_to_order=1):
    study = run_study(load_scene("room.toml", room_text(shape)), up_to_order=up_to_order, within_s=0.02)
    own = [a for a in study.treatment_areas if study.room.surfaces[a.surface].name == surface]
    numbers = survey_numbers(study.scene)
    return study, numbers, find_area_errors(study, own, numbers)


def test_slopes_of_a_spot_in_a_box_are_those_of_the_closed_form():
    _, numbers, (found,) = areas_of("box", "right wall")
    (xs, ys, _), (xl, yl, _) = SPEAKER, EARS
    # Mirrored in y = width: the spot divides the way in x as the two distances from the wall do.
    s, e = WIDTH - ys, WIDTH - yl
    x = xs + (xl - xs) * s / (s + e)
    by_hand = {
        "left speaker to front wall": e / (s + e),
        "mix ears to front wall": s / (s + e),
        "left speaker to left wall": -(xl - xs) * e / (s + e) ** 2,
        "mix ears to left wall": (xl - xs) * s / (s + e) ** 2,
        "room width": (xl - xs) * (e - s) / (s + e) ** 2,
        "room length": 0.0,
        "ceiling height": 0.0,
        "height of left speaker": 0.0,
        "height of mix ears": 0.0,
    }
    assert found.figures_m[0] == pytest.approx(x)  # on the right wall u is x
    for number, slope in zip(numbers, found.slopes, strict=True):
        # Central differences of a smooth function: off by the square of 0.1 mm.
        assert slope[0] == pytest.approx(by_hand[number.what], abs=1e-7), number.what
        far = 1.0 - by_hand[number.what] if number.what == "room length" else -by_hand[number.what]
        assert slope[1] == pytest.approx(far, abs=1e-7), number.what


def test_the_error_of_a_figure_adds_all_numbers_as_independent():
    _, numbers, (found,) = areas_of("box", "right wall")
    errors_m = np.array([number.error_m for number in numbers])
    assert found.error_m[0] == pytest.approx(np.sqrt(np.sum((found.slopes[:, 0] * errors_m) ** 2)))
    assert found.shares(numbers).sum() == pytest.approx(1.0)


def test_a_length_that_moves_only_the_farther_edges_has_no_share_in_what_is_told():
    _, numbers, (found,) = areas_of("box", "right wall")
    shares = dict(zip([number.what for number in numbers], found.shares(numbers), strict=True))
    # The spot is nearer to front wall and floor: the back wall and the ceiling may stand anywhere.
    assert found.nearer == (0, 2)
    assert shares["room length"] == shares["ceiling height"] == 0.0
    assert shares["left speaker to front wall"] > 0.0


@pytest.mark.parametrize(
    ("shape", "surface"), [("lean-to", "ceiling"), ("gable with flat", "left slope"), ("elbow", "wall 6")]
)
def test_slopes_elsewhere_are_what_a_whole_run_with_another_number_shows(shape, surface):
    study, numbers, found = areas_of(shape, surface)
    own = found[0]
    step_m = 0.002
    for k in np.argsort(-np.abs(own.slopes[:, :4]).max(axis=1))[:3]:
        number = numbers[k]
        changed = run_study(number.shifted(study.scene, step_m), up_to_order=1, within_s=0.02)
        area = next(a for a in changed.treatment_areas if changed.room.surfaces[a.surface].name == surface)
        frame = changed.room.surfaces[area.surface].frame
        (u, v), (u0, v0, u1, v1) = area.spots[0], area.rect
        now = np.array([u, frame.width - u, v, frame.height - v, u0, frame.width - u1, v0, frame.height - v1])
        # A step of 2 mm: what is not straight in it is some hundredths of it.
        assert (now - own.figures_m) / step_m == pytest.approx(own.slopes[k], abs=0.02), number.what


def test_numbers_of_a_plan_are_what_a_tape_is_laid_along():
    scene = load_scene("room.toml", room_text("elbow"))
    lengths = {number.what: number.value_m for number in survey_numbers(scene) if number.corners is None}
    # Walls 6 and 1 are those at x = 0 and y = 0.
    assert set(lengths) == {"ceiling height"} | {
        f"{who} to {wall}" for who in ("left speaker", "mix ears") for wall in ("wall 6", "wall 1")
    } | {"height of left speaker", "height of mix ears"}
    walls = [number for number in survey_numbers(scene) if number.what.startswith("length of")]
    assert [number.what for number in walls] == [f"length of wall {k}" for k in range(1, 7)]


def test_furniture_is_measured_to_its_nearer_sides_and_its_top():
    desk = """
[[objects]]
name = "desk"
shape = "box"
centre = [1.3, 1.5, 0.72]
size = [0.8, 1.4, 0.04]
yaw = 90
material = "wood"
"""
    scene = load_scene("room.toml", room_text("box") + desk)
    lengths = {number.what: number.value_m for number in survey_numbers(scene)}
    # Turned by 90 degrees it is 1.4 m deep and 0.8 m wide.
    assert lengths["desk to front wall"] == pytest.approx(0.6)
    assert lengths["desk to left wall"] == pytest.approx(1.1)
    assert lengths["height of desk"] == pytest.approx(0.74)


def lengths_in(value, key=("room",)):
    """Keys of all lengths of a room; its angles and what is measured beside them are none of its sizes."""
    if isinstance(value, BaseModel):
        names = set(type(value).model_fields) - {"pitch", "diagonals", "heights"}
        return {own for name in names for own in lengths_in(getattr(value, name), (*key, name))}
    if isinstance(value, tuple):
        return {own for k, entry in enumerate(value) for own in lengths_in(entry, (*key, k))}
    return {key} if isinstance(value, float) and value != 0.0 else set()


@pytest.mark.parametrize("shape", SHAPES)
def test_every_length_of_a_room_of_any_shape_was_measured(shape):
    scene = load_scene("room.toml", room_text(shape))
    keys = {key for number in survey_numbers(scene) for key, _ in number.moves if key[0] == "room"}
    assert lengths_in(scene.room) <= keys
    # Of a plan a coordinate that is 0 as drawn may move too; nothing else does.
    assert all(key[1] == "corners" for key in keys - lengths_in(scene.room))

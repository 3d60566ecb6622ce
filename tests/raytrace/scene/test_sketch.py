import math
import pickle
import re
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from raytrace import build_room, load_scene
from raytrace.scene.sketch import QUESTIONS, sketch_scene
from raytrace.scene.sketch_room import AnswerError
from raytrace.scene.tape import Tape, tape_length


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("sketches")


def load_text(folder, text):
    path = folder / "room.toml"
    path.write_text(text, encoding="utf-8")
    return load_scene(path)


def sketched(folder, shape, **answers):
    return load_text(folder, sketch_scene(shape, answers))


@pytest.mark.parametrize("shape", QUESTIONS)
def test_every_shape_asks_twelve_to_fourteen_questions_that_take_their_own_examples(shape):
    questions = QUESTIONS[shape]
    assert 12 <= len(questions) <= 14
    assert len({question.key for question in questions}) == len(questions)
    checked = {}
    for question in questions:
        question.read(question.example)
        checked[question.key] = question.read(question.suggestion(checked))


@pytest.mark.parametrize("shape", QUESTIONS)
def test_a_sketch_without_answers_is_a_whole_room(folder, shape):
    scene = sketched(folder, shape)
    room = build_room(scene)
    assert scene.room.shape == shape
    assert room.volume_m3 > 10.0  # a room one can work in
    assert [speaker.name for speaker in scene.speakers] == ["left", "right"]


@pytest.mark.parametrize("shape", QUESTIONS)
def test_cabinets_and_screens_stand_where_they_were_measured(folder, shape):
    answers = {"cabinet": "250 mm, 0.2, 350 mm", "screen": "0.4, 800 mm, 0.35, 0.8"}
    scene = sketched(folder, shape, **answers)
    room = build_room(scene)
    assert [speaker.body for speaker in scene.speakers] == [(0.25, 0.2, 0.35)] * 2
    assert [cabinet.owner for cabinet in room.cabinets] == ["left cabinet", "right cabinet"]
    own = [facet.outline for facet in room.facets if room.surfaces[facet.surface].owner == "screen"]
    low, high = (getattr(np.concatenate(own), end)(axis=0) for end in ("min", "max"))
    middle = scene.seats[0].ears[1]
    np.testing.assert_allclose(low, (0.385, middle - 0.4, 0.8), atol=1e-9)
    np.testing.assert_allclose(high, (0.415, middle + 0.4, 1.15), atol=1e-9)


@pytest.mark.parametrize("shape", QUESTIONS)
def test_suggested_places_form_an_equal_sided_triangle_before_the_middle_of_the_room(folder, shape):
    scene = sketched(folder, shape)
    left, right = (speaker.position for speaker in scene.speakers)
    ears = scene.seats[0].ears
    sides = math.dist(left, right), math.dist(left, ears), math.dist(right, ears)
    assert max(sides) - min(sides) < 0.01  # places are rounded to the centimetre
    depth = build_room(scene).bounds[1, 0]
    assert 0.35 < ears[0] / depth < 0.42  # 38 % of the length, common practice, no source
    assert left[1] < ears[1] < right[1]


@pytest.mark.parametrize("height", ["2.3", "2.35", "2.4", "2.44", "2.5", "2.7"])
def test_suggested_heights_are_a_seated_persons_and_tell_floor_from_ceiling(folder, height):
    scene = sketched(folder, "box", height=height)
    (ears,), speakers = (seat.ears for seat in scene.seats), scene.speakers
    assert 1.15 <= ears[2] <= 1.25  # common practice, no source
    for speaker in speakers:
        assert speaker.position[2] == ears[2]
        # Images in floor and ceiling, 0.2 m apart in height: half a millisecond at a usual distance.
        assert abs(2.0 * (scene.room.height - speaker.position[2] - ears[2])) >= 0.2 - 1e-9


def test_in_a_short_room_the_suggested_seat_is_still_not_at_half_the_length(folder):
    scene = sketched(folder, "box", length="2.4", width="3.0")
    assert scene.seats[0].ears[0] / 2.4 < 0.46  # 45 %, rounded to the centimetre


sizes = {
    "length": st.floats(2.4, 12.0),
    "width": st.floats(2.0, 9.0),
    "height": st.floats(2.0, 4.5),
    "eaves": st.floats(0.5, 1.6),
    "ridge": st.floats(2.2, 4.0),
    "low": st.floats(1.7, 2.4),
    "high": st.floats(2.5, 4.0),
    "low_side": st.sampled_from(["front", "back", "left", "right"]),
}


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(["box", "gable", "lean-to"]), st.data())
def test_rooms_of_any_usual_size_are_accepted_with_the_suggested_places(folder, shape, data):
    keys = [question.key for question in QUESTIONS[shape] if question.key in sizes]
    answers = {key: data.draw(sizes[key], label=key) for key in keys}
    scene = sketched(folder, shape, **answers)
    room = build_room(scene)
    assert room.bounds[1, 0] == pytest.approx(
        answers["length"], abs=5e-5
    )  # written to a tenth of a millimetre
    assert room.bounds[1, 1] == pytest.approx(answers["width"], abs=5e-5)


@settings(max_examples=40, deadline=None)
@given(st.floats(3.0, 9.0), st.floats(2.2, 6.0), st.floats(0.3, 0.7), st.booleans())
def test_l_shaped_plans_are_accepted_in_either_order(folder, length, width, cut, turned):
    corners = [
        (0, 0),
        (length, 0),
        (length, 2 * width),
        (cut * length, 2 * width),
        (cut * length, width),
        (0, width),
    ]
    corners = corners[:: -1 if turned else 1]
    answer = ", ".join(f"{x:.3f} {y:.3f}" for x, y in corners)
    build_room(sketched(folder, "plan", corners=answer))


def test_answers_keep_the_unit_they_were_typed_in(folder):
    text = sketch_scene(
        "box", {"length": "13' 9\"", "width": "3100 mm", "height": "2.4", "speakers_apart": "4 ft"}
    )
    room = tomllib.loads(text)["room"]
    assert (room["length"], room["width"], room["height"]) == ("13' 9\"", "3100 mm", 2.4)
    scene = load_text(folder, text)
    assert scene.room.length == pytest.approx(13.75 * 0.3048, abs=1e-12)  # the foot is 0.3048 m
    left, right = (speaker.position for speaker in scene.speakers)
    assert right[1] - left[1] == pytest.approx(4 * 0.3048, abs=1e-4)  # written to a tenth of a millimetre


@pytest.mark.parametrize("shape", QUESTIONS)
def test_a_room_taped_in_feet_is_printed_in_feet_and_shows_its_examples_in_them(shape):
    taped = {tape: sketch_scene(shape, {}, tape=tape) for tape in Tape}
    assert {tape: tomllib.loads(text)["job"].get("units") for tape, text in taped.items()} == {
        Tape.METRES: None,
        Tape.MILLIMETRES: None,
        Tape.FEET: "imperial",
    }
    notes = taped[Tape.FEET].partition("title = ")[
        2
    ]  # what stands before it tells all ways to write a length
    assert not re.findall(r"\d+ mm|\[\d+\.\d+", notes)
    assert "2 ft 6 in out, 3 ft 11 in from the left, 3 ft 11 in high" in taped[Tape.FEET]


def test_blank_answers_count_as_none_given():
    assert sketch_scene("box", {"length": "", "door": "  "}) == sketch_scene("box", {})


def test_corners_take_units_and_feet_with_inches(folder):
    metric = sketched(folder, "plan", corners="0 0, 4200mm 0, 4.2 300 cm; 0 3").room.corners
    assert metric == ((0.0, 0.0), (4.2, 0.0), (4.2, 3.0), (0.0, 3.0))
    feet = sketched(folder, "plan", corners="0 0, 13' 9\" 0, 13' 9\" 9' 6\", 0 9' 6\"").room.corners
    assert feet[2] == pytest.approx((13.75 * 0.3048, 9.5 * 0.3048), abs=1e-4)  # the foot is 0.3048 m


@pytest.mark.parametrize("shape", QUESTIONS)
def test_door_and_window_fit_the_wall_they_were_measured_on(folder, shape):
    front, back = ("wall 6", "wall 2") if shape == "plan" else ("front", "back")
    answers = {"door": f"{back}, 1.4, 800 mm", "window": f"{front}, 1.1, 0.9, 0.8, 0.6"}
    scene = sketched(folder, shape, **answers)
    room = build_room(scene)
    door, window = (opening.rect.tolist() for opening in room.openings)
    assert door == pytest.approx([1.4, 0.0, 2.2, 2.0], abs=1e-9)  # rounding only
    assert window == pytest.approx([1.1, 0.9, 1.9, 1.5], abs=1e-9)
    assert [opening.kind for opening in room.openings] == ["door", "window"]


@pytest.mark.parametrize(
    ("shape", "answers", "words"),
    [
        ("dome", {}, '"gable"'),
        ("box", {"lenght": "4"}, '"length"'),
        ("box", {"length": "4,2"}, "length: .*point"),
        ("box", {"length": "40 cm"}, "length: read as 0.4 m"),
        ("box", {"height": "24"}, 'height: .*"240 cm"'),
        ("box", {"speakers_apart": "3.2"}, "speakers_apart: a speaker would be outside"),
        ("box", {"ears_from_front": "4.5"}, "ears_from_front: the ears would be outside"),
        ("gable", {"eaves": "2.5", "ridge": "2.4"}, "ridge: 2.4 m is not above the side walls"),
        ("gable", {"eaves": "0.5", "speakers_height": "1.9"}, "speakers_height: .*outside"),
        ("lean-to", {"low": "2.8"}, "high: .*low side"),
        ("lean-to", {"low_side": "north"}, 'low_side: .*"front"'),
        ("plan", {"corners": "0 0, 6 0"}, "corners: at least 3"),
        ("plan", {"corners": "0 0, 6 0, 6"}, 'corners: "6" is not a corner'),
        ("plan", {"corners": "0 0, 6 4, 6 0, 0 4"}, "corners: corner 3: .*meets"),
        ("plan", {"corners": "0 0, 600 0, 6 4"}, 'corners: corner 2: .*"600 cm"'),
        ("box", {"cabinet": "0.25, 0.2"}, "cabinet: expected 3 lengths"),
        ("box", {"screen": "0.7, 0.8, 0.35, 2.3"}, "screen: it would reach beyond the room"),
        ("box", {"door": "back, 0.3"}, "door: expected a wall and 2 lengths"),
        ("box", {"door": "bakc wall, 0.3, 0.8"}, 'door: .*"back wall"'),
        ("box", {"door": "back, 2.5, 0.8"}, "door: reaches beyond the back wall"),
        ("gable", {"door": "left, 0.3, 0.8"}, "door: reaches beyond the left wall"),
        ("box", {"door": "back, 1, 0.8", "window": "back, 1.5, 1, 1, 1"}, "window: overlaps the door"),
        (
            "section",
            {"profile": "0 0, 3 0, 3 2.4, 0 2.4", "middle": "2.9"},
            "speakers_apart: a speaker",
        ),
    ],
)
def test_answers_that_make_no_room_are_refused_by_name(shape, answers, words):
    with pytest.raises(ValueError, match=words):
        sketch_scene(shape, answers)


@pytest.mark.parametrize("tape", Tape)
@pytest.mark.parametrize("shape", QUESTIONS)
def test_every_commented_out_key_works_once_the_sign_is_taken_away(folder, shape, tape):
    text = sketch_scene(shape, {}, tape=tape)
    used = re.sub(r"^# (?=(\[\[?\w+\]?\]$|\"?\w[\w ]*\"? = ))", "", text, flags=re.MULTILINE)
    assert used != text
    scene = load_text(folder, used)
    build_room(scene)
    assert scene.objects[0].name == "desk"
    assert scene.job.survey_error == (0.0127 if tape == Tape.FEET else 0.01)
    assert scene.job.units == "imperial"
    assert scene.job.drilling is False


def test_a_title_with_quotes_and_accents_comes_back_as_it_was(folder):
    title = 'Käthe\'s "loft" \\ № 2'
    assert load_text(folder, sketch_scene("box", {}, title=title)).title == title


def test_a_refused_answer_knows_its_question_and_survives_another_process():
    with pytest.raises(AnswerError) as caught:
        sketch_scene("box", {"door": "a: b, 1, 2"})
    again = pickle.loads(pickle.dumps(caught.value))
    for error in (caught.value, again):
        assert error.key == "door"
        assert str(error) == f"door: {error.why}"


@pytest.mark.parametrize("title", [" ", " x", "a\nb"])
def test_a_title_that_is_no_name_is_refused_like_an_answer(title):
    with pytest.raises(AnswerError, match=r"^title: "):
        sketch_scene("box", {}, title=title)


@pytest.mark.parametrize(
    ("tape", "told"),
    [(Tape.METRES, "bare number (3.4)"), (Tape.MILLIMETRES, "3400"), (Tape.FEET, "13 4 1/2")],
)
def test_what_is_no_length_is_refused_in_the_units_of_the_tape(tape, told):
    with pytest.raises(ValueError, match=f'"abc" is not a length; .*{re.escape(told)}'):
        tape_length("abc", tape)

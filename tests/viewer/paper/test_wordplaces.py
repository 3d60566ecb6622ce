"""Words in a drawing find the first place that is free, on a plate over lines, or none."""

import numpy as np

from viewer.paper.drafting import boxes_overlap, words
from viewer.paper.wordplaces import WordPlaces, beyond, line_breaks, places_beside, places_inside

FACE = (10.0, 10.0, 110.0, 90.0)


def name(text="name"):
    return words(text, (0.0, 0.0), size_pt=8.0)


def test_no_two_words_touch_and_all_stay_in_the_face():
    where = WordPlaces(FACE, (120.0, 100.0))
    rng = np.random.default_rng(1)
    marks = [where.find(name(f"word {k}"), rng.uniform(0.0, 120.0, (20, 2)).tolist()) for k in range(60)]
    boxes = [mark.box for mark in marks if mark is not None]
    assert 10 < len(boxes) < 60  # some find room, and the face is too small for all
    assert not any(boxes_overlap(a, b) for i, a in enumerate(boxes) for b in boxes[:i])
    assert all(b[0] > 10.0 and b[1] > 10.0 and b[2] < 110.0 and b[3] < 90.0 for b in boxes)


def test_words_keep_off_lines_where_they_can_and_stand_on_a_plate_where_they_cannot():
    where = WordPlaces(FACE, (120.0, 100.0))
    where.crossed.append((10.0, 49.0, 110.0, 51.0))
    free = where.find(name(), [(60.0, 50.0), (60.0, 60.0)])
    assert free.points == ((60.0, 60.0),)
    assert not free.plate
    over = where.find(name(), [(60.0, 50.0)])
    assert over.points == ((60.0, 50.0),)
    assert over.plate


def test_without_room_there_is_no_word():
    where = WordPlaces(FACE, (120.0, 100.0))
    assert where.find(name(), [(60.0, 50.0)], keep_off=[FACE]) is None
    assert where.find(name(), [(12.0, 50.0)]) is None  # it would cross the face's edge
    assert where.find(name(), [(12.0, 50.0)], anywhere=True) is not None


def test_places_inside_and_beside_an_outline_are_what_they_say():
    corners = np.array([(20.0, 20.0), (60.0, 20.0), (60.0, 40.0), (20.0, 40.0)])
    where = WordPlaces((0.0, 0.0, 200.0, 200.0), (200.0, 200.0))
    for place in places_inside(corners, "name", 8.0):
        box = WordPlaces((0.0, 0.0, 200.0, 200.0), (200.0, 200.0)).find(name(), [place]).box
        assert box[0] > 20.0
        assert box[1] > 20.0
        assert box[2] < 60.0
        assert box[3] < 40.0
    assert places_inside(corners, "a name far too long for the outline it is meant for", 8.0) == []
    for place in places_beside(corners, "name", 8.0):
        mark = where.find(name(), [place])
        assert mark is None or not boxes_overlap(mark.box, (20.0, 20.0, 60.0, 40.0))


def test_line_breaks_keep_the_words():
    text = "roof window opens: the sash tilts into the room, and it is the way out in a fire"
    forms = line_breaks(text, 7.0)
    assert [form.replace("\n", " ") for form in forms] == [text] * len(forms)
    assert max(form.count("\n") for form in forms) >= 2


def test_what_lies_under_a_panel_strikes_no_word():
    upright = (4.9, 0.0, 5.1, 10.0)
    assert beyond(upright, []) == [upright]
    assert beyond(upright, [(0.0, 3.0, 9.0, 4.0)]) == [(4.9, 0.0, 5.1, 3.0), (4.9, 4.0, 5.1, 10.0)]
    assert beyond(upright, [(0.0, -1.0, 9.0, 4.0), (0.0, 8.0, 9.0, 11.0)]) == [(4.9, 4.0, 5.1, 8.0)]
    assert beyond(upright, [(6.0, 3.0, 9.0, 4.0)]) == [upright]  # beside it
    assert beyond((0.0, 1.9, 10.0, 2.1), [(2.0, 0.0, 3.0, 9.0)]) == [
        (0.0, 1.9, 2.0, 2.1),
        (3.0, 1.9, 10.0, 2.1),
    ]
    assert beyond(upright, [(0.0, -1.0, 9.0, 11.0)]) == []

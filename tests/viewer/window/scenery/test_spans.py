"""What lies in two flat outlines at once, by areas and lengths known in closed form."""

import numpy as np
import pytest

from viewer.window.scenery.spans import fill_spans, hatch_spans, parts_inside

EXACT = 1e-9  # sums of a few products near 1


def outline(*corners):
    points = np.array(corners, float)
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


def area(pieces) -> float:
    return sum(
        abs(float(p[:, 0] @ np.roll(p[:, 1], -1) - p[:, 1] @ np.roll(p[:, 0], -1))) / 2 for p in pieces
    )


def length(lines) -> float:
    return sum(float(np.linalg.norm(line[1] - line[0])) for line in lines)


SQUARE = outline((-1, -1), (1, -1), (1, 1), (-1, 1))
TURNED = outline(*(np.sqrt(2) * np.array([[0, -1], [1, 0], [0, 1], [-1, 0]])))
WIDE = outline((-9, -9), (9, -9), (9, 9), (-9, 9))


def test_two_squares_turned_by_45_degrees_share_a_regular_octagon():
    assert area(fill_spans(TURNED, SQUARE)) == pytest.approx(8 * (np.sqrt(2) - 1), abs=EXACT)
    assert area(fill_spans(SQUARE, TURNED)) == pytest.approx(8 * (np.sqrt(2) - 1), abs=EXACT)


def test_a_hole_stays_empty():
    hole = outline((-0.5, -0.2), (0.3, -0.4), (0.4, 0.5))
    with_hole = np.concatenate([SQUARE, hole])
    assert area(fill_spans(with_hole, WIDE)) == pytest.approx(4.0 - area(fill_spans(hole, WIDE)), abs=EXACT)


def test_what_is_outside_the_room_is_neither_filled_nor_hatched_nor_outlined():
    apart = SQUARE + 20.0
    assert fill_spans(apart, WIDE) == []
    assert hatch_spans(apart, WIDE, 0.1) == []
    assert parts_inside(apart, WIDE) == []


def test_a_room_whose_outline_is_open_takes_nothing_away():
    # Only one upright of the room is met at any height: nothing says where it ends.
    assert area(fill_spans(SQUARE, WIDE[1:2])) == pytest.approx(4.0, abs=EXACT)


def test_the_outline_of_a_solid_that_leaves_the_room_ends_at_its_wall():
    half = outline((0, -9), (9, -9), (9, 9), (0, 9))
    assert length(parts_inside(SQUARE, half)) == pytest.approx(4.0, abs=EXACT)


def test_hatching_covers_an_area_by_length_times_distance():
    step_m = 0.01
    lines = hatch_spans(SQUARE, WIDE, step_m)
    assert step_m * length(lines) == pytest.approx(4.0, rel=0.01)  # a sum of strips of this width
    assert max(np.abs(line).max() for line in lines) <= 1.0 + 1e-6  # lines stand a hair off round figures


def test_pieces_of_a_crossed_outline_do_not_overlap():
    bow = outline((-1, -1), (1, 1), (1, -1), (-1, 1))
    assert area(fill_spans(bow, WIDE)) == pytest.approx(2.0, abs=EXACT)

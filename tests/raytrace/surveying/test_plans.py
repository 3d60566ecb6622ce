"""What a tape takes of a plan: lengths that hold it, and how corners move with each of them."""

import numpy as np
import pytest

from raytrace.scene import load_scene
from raytrace.surveying.plans import (
    corner_moves,
    corner_name,
    steepness,
    taped_lengths,
    ways_to_move,
)
from tests.support.rooms import room_text
from tests.support.scans import OUTLINE

ELBOW = [(0.0, 0.0), (6.0, 0.0), (6.0, 5.2), (3.4, 5.2), (3.4, 3.4), (0.0, 3.4)]


def plan_of(corners, more=""):
    rows = [list(corner) for corner in corners]
    return load_scene("plan.toml", room_text(f'shape = "plan"\ncorners = {rows}\nheight = 2.4\n{more}')).room


@pytest.mark.parametrize("corners", [ELBOW, OUTLINE], ids=["elbow", "irregular"])
def test_each_length_that_holds_a_plan_moves_by_itself_while_all_others_stay(corners):
    room = plan_of(corners)
    lengths = taped_lengths(room, 0.01)
    assert len(lengths) == 2 * len(corners) - 3  # as many as a plan has ways to change
    moves = corner_moves(room, lengths)
    ends = np.array([own.corners for own in lengths]) - 1
    changed = steepness(np.array(corners), ends) @ moves.reshape(len(lengths), -1).T
    assert changed == pytest.approx(np.eye(len(lengths)), abs=1e-9)  # rounding
    # No length tears a corner away: a metre moves none by more than a few.
    assert np.abs(moves).max() < 3.0


def test_a_rectangle_leans_as_its_diagonal_says():
    room = plan_of([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)])
    lengths = taped_lengths(room, 0.01)
    (diagonal,) = (k for k, own in enumerate(lengths) if own.what.startswith("diagonal"))
    moves = corner_moves(room, lengths)[diagonal]
    sign = 1.0 if lengths[diagonal].corners == (1, 3) else -1.0
    # A far wall s aside: d^2 = 4^2 + (3 + s)^2, so s moves by d / 3 per metre of d.
    assert abs(moves[2, 1]) == pytest.approx(5.0 / 3.0, abs=1e-9)
    assert moves[2, 1] == pytest.approx(moves[1, 1], abs=1e-9)
    assert np.sign(moves[2, 1]) == sign
    assert moves[[0, 3]] == pytest.approx(0.0, abs=1e-9)  # the front wall keeps its line


def test_a_diagonal_that_was_measured_takes_the_place_of_one_that_was_not():
    given = "diagonals = [{corners = [3, 1], length = 7.94, error = 0.002}]"
    lengths = taped_lengths(plan_of(ELBOW, given), 0.01)
    assert len(lengths) == 9
    (own,) = (length for length in lengths if length.corners == (1, 3))
    assert own.error_m == 0.002


def test_the_same_wall_measured_twice_is_surer():
    given = "diagonals = [{corners = [1, 2], length = 6.0}, {corners = [2, 1], length = 6.01}]"
    (wall,) = (own for own in taped_lengths(plan_of(ELBOW, given), 0.01) if own.corners == (1, 2))
    assert wall.what == "length of wall 1"
    assert wall.error_m == pytest.approx(0.01 / np.sqrt(2.0))  # the mean of two


def test_no_tape_is_laid_through_a_wall():
    lengths = taped_lengths(plan_of(ELBOW), 0.01)
    # From corner 4 or 5 of the nook one sees no corner beyond its inner edge.
    assert not {(4, 6), (3, 6)} & {own.corners for own in lengths}


def test_the_wall_nearest_to_the_front_keeps_its_line():
    # The wall from the last corner to the first leans by 29 mm, as the scanned one does.
    corners = np.array([(0.0, 0.0), (4.0, 0.1), (4.0, 3.0), (0.029, 3.0)])
    ways = ways_to_move(corners)
    along = (corners[3] - corners[0]) / np.linalg.norm(corners[3] - corners[0])
    across = np.array([-along[1], along[0]])
    assert ways[:2] == pytest.approx(0.0, abs=1e-12)
    assert across @ ways[6:8] == pytest.approx(0.0, abs=1e-12)


def test_a_corner_is_told_by_its_walls():
    room = plan_of(ELBOW)
    assert corner_name(room, 1) == "wall 6 meets wall 1"
    assert corner_name(room, 3) == "wall 2 meets wall 3"

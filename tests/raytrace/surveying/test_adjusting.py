"""Plans that were measured too often: lengths adjusted, and the one that does not fit named."""

import numpy as np
import pytest
from scipy.stats import chi2

from raytrace import load_scene
from raytrace.surveying import adjust_plan, adjustment_notes
from tests.support.rooms import room_text

CORNERS = np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 5.2), (3.4, 5.2), (3.4, 3.4), (0.0, 3.4)])
PAIRS = [(i, j) for i in range(6) for j in range(i + 1, 6)]
ERROR_M = 0.005


def plan(drawn, lengths, heights=()):
    """A scene with such corners; lengths {(i, j): m} between them, counted from 0, were measured."""
    rows = ", ".join(
        f"{{corners = [{i + 1}, {j + 1}], length = {m!r}, error = {ERROR_M}}}"
        for (i, j), m in lengths.items()
    )
    tall = ", ".join(f"{{height = {h!r}, error = 0.004}}" for h in heights)
    room = (
        f'shape = "plan"\ncorners = {drawn.tolist()}\nheight = 2.45\ndiagonals = [{rows}]\nheights = [{tall}]'
    )
    return load_scene("plan.toml", room_text(room))


def true_lengths(pairs=PAIRS):
    return {(i, j): float(np.linalg.norm(CORNERS[i] - CORNERS[j])) for i, j in pairs}


def sketched():
    """Corners as someone who trusted right angles drew them: up to 30 mm off."""
    off = np.random.default_rng(3).uniform(-0.03, 0.03, CORNERS.shape)
    off[0] = 0.0
    off[5, 0] = 0.0
    return np.round(CORNERS + off, 4)


def test_exact_lengths_give_the_true_plan_whatever_was_drawn():
    found = adjust_plan(plan(sketched(), true_lengths()))
    # The front wall keeps its line (x = 0) and its end, so the frame is the true one.
    assert found.corners == pytest.approx(CORNERS, abs=1e-9)  # Gauss and Newton have converged
    assert found.n_free == 0
    assert not found.misfits


def test_noisy_lengths_reproduce_the_plan_within_the_stated_error_in_95_of_100_draws():
    rng = np.random.default_rng(11)
    n_free = 9  # twelve coordinates; corner 1 stays, and corner 6 on the line of the front wall
    inside = 0
    drawn = sketched()
    for _ in range(100):
        noisy = {pair: m + float(rng.normal(0.0, ERROR_M)) for pair, m in true_lengths().items()}
        found = adjust_plan(plan(drawn, noisy))
        off = (found.corners - CORNERS).ravel()
        distance = off @ np.linalg.pinv(found.covariance, rcond=1e-9) @ off
        inside += distance <= chi2.ppf(0.95, n_free)
    # 95 are expected; at most 87 or all 100 come by chance in fewer than one of 500 runs (binomial).
    assert 88 <= inside <= 100


def test_a_length_that_does_not_fit_is_named_with_what_the_others_say_of_it():
    lengths = true_lengths()
    lengths[0, 2] += 0.1  # read 100 mm too long
    found = adjust_plan(plan(sketched(), lengths))
    assert [own.corners for own in found.misfits] == [(1, 3)]
    assert found.misfits[0].by_others_m == pytest.approx(
        true_lengths()[0, 2], abs=1e-6
    )  # the others are exact
    assert found.corners == pytest.approx(CORNERS, abs=1e-6)


def test_where_nothing_tells_which_length_is_wrong_all_of_them_are_suspects():
    square = {
        pair: m for pair, m in true_lengths().items() if max(pair) < 3 or pair in ((0, 3), (2, 3), (1, 3))
    }
    square[0, 2] += 0.1
    found = adjust_plan(plan(sketched(), square))
    assert not found.misfits
    # Six lengths between four corners: one too many, and it may be any of them.
    assert len(found.suspects) == 6
    assert found.corners == pytest.approx(sketched(), abs=1e-9)  # none of them moves a wall


def test_what_no_length_holds_stays_as_drawn_and_one_alone_is_averaged_with_the_drawing():
    found = adjust_plan(plan(CORNERS, {(0, 1): 6.02}))
    assert found.n_free == 8
    # Weighed by 5 mm of the tape and, of two corners as drawn, by 10 mm each (the usual error).
    mean_m = (6.02 / 0.005**2 + 6.0 / (2 * 0.01**2)) / (1 / 0.005**2 + 1 / (2 * 0.01**2))
    assert np.linalg.norm(found.corners[1] - found.corners[0]) == pytest.approx(mean_m, abs=1e-9)
    assert found.corners[2:] == pytest.approx(CORNERS[2:], abs=1e-9)
    assert found.lengths[0].by_drawing


def test_a_length_that_only_the_drawing_checks_is_named_and_left_out_where_they_do_not_fit():
    found = adjust_plan(plan(CORNERS, {(0, 2): 8.0, (1, 5): 6.9}))
    drawn_m = float(np.hypot(6.0, 5.2))
    off, fits = found.lengths
    assert off.measured_m - off.drawn_m == pytest.approx(8.0 - drawn_m)  # its closing error
    assert off.misfit == pytest.approx((8.0 - drawn_m) / np.hypot(0.005, np.sqrt(2) * 0.01))
    assert found.misfits == (off,)
    assert not fits.is_left_out
    assert found.corners[2] == pytest.approx(CORNERS[2], abs=1e-9)
    (note, _) = adjustment_notes(found)
    assert "does not fit the room as drawn" in str(note)


def test_lengths_that_check_one_another_are_believed_over_the_drawing():
    square = [(0, 1), (1, 2), (2, 3), (0, 3), (0, 2), (1, 3)]
    drawn = CORNERS.copy()
    drawn[2, 0] += 0.08  # eight errors of the survey
    found = adjust_plan(plan(drawn, true_lengths(square)))
    assert not found.misfits
    assert found.lengths[4].adjusted_m == pytest.approx(true_lengths()[0, 2], abs=1e-6)  # exact lengths


def test_heights_give_their_mean_without_the_one_that_does_not_fit():
    found = adjust_plan(plan(CORNERS, {}, heights=(2.450, 2.452, 2.448, 2.51)))
    assert [own.measured_m for own in found.misfits] == [2.51]
    assert found.height_m == pytest.approx(2.45)
    assert found.height_error_m == pytest.approx(0.004 / np.sqrt(3.0))  # of a mean of three


def test_two_heights_that_disagree_are_both_suspects():
    found = adjust_plan(plan(CORNERS, {}, heights=(2.450, 2.51)))
    assert len(found.suspects) == 2
    assert not found.misfits
    assert found.height_m == 2.45  # as drawn: two that contradict one another make no mean
    (note,) = adjustment_notes(found)
    assert "or the ceiling is not level" in str(note)


@pytest.mark.parametrize(("height", "is_left_out"), [(2.46, False), (2.52, True)])
def test_a_height_alone_is_held_against_the_drawing(height, is_left_out):
    found = adjust_plan(plan(CORNERS, {}, heights=(height,)))
    assert [own.is_left_out for own in found.heights] == [is_left_out]
    assert (found.height_m == 2.45) == is_left_out

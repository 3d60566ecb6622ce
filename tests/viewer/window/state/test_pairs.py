from dataclasses import replace

import numpy as np
import pytest

from raytrace import Follower, moved
from tests.support.studies import shipped_study
from viewer.window.state import partner_of, partner_place, place_of, point_at, things_of

LEFT, RIGHT, FRONT = ("panels", 0), ("panels", 1), ("panels", 2)


@pytest.fixture(scope="module")
def treated():
    return shipped_study("treated-box")


def test_panels_at_both_side_walls_are_each_others_partners_and_nothing_else_has_one(treated):
    partners = {thing: partner_of(treated, thing) for thing in things_of(treated)}
    assert {thing: other for thing, other in partners.items() if other} == {LEFT: RIGHT, RIGHT: LEFT}


def test_a_partner_goes_to_the_mirror_image_of_the_place(treated):
    place = (2.70, 1.35)
    there = partner_place(treated, LEFT, place, RIGHT)
    axis_m = treated.scene.seats[0].ears[1]
    own, other = (point_at(treated, *put) for put in ((LEFT, place), (RIGHT, there)))
    # Frames and points are sums of a few lengths: rounding alone.
    assert other == pytest.approx(own * [1, -1, 1] + [0, 2 * axis_m, 0], abs=1e-12)
    assert partner_place(treated, RIGHT, there, LEFT) == pytest.approx(place, abs=1e-12)


def test_a_panel_that_was_moved_by_itself_by_more_than_a_step_has_no_partner_any_more(treated):
    for step_m, is_paired in ((0.005, True), (0.015, False)):
        place = np.add(place_of(treated, LEFT), (step_m, 0.0))
        study = Follower().ears(moved(treated.scene, *LEFT, tuple(place)))
        assert (partner_of(study, LEFT) == RIGHT) == is_paired


def test_there_are_no_pairs_where_speakers_and_seat_do_not_mirror_each_other(treated):
    seat = treated.scene.seats[0]
    aside = seat.model_copy(update={"ears": (seat.ears[0], seat.ears[1] + 0.1, seat.ears[2])})
    scene = treated.scene.model_copy(update={"seats": (aside, *treated.scene.seats[1:])})
    assert partner_of(replace(treated, scene=scene), LEFT) is None

from dataclasses import replace

import numpy as np
import pytest

from raytrace.proposing.margins import PeakMargin, find_agreement, find_margins, way_of_facets, with_today
from tests.support.studies import shipped_study


@pytest.fixture(scope="module")
def study():
    return shipped_study("box", up_to_order=2)


def test_an_untouched_room_has_the_same_margin_three_times(study):
    margins = find_margins(study, study.arrivals, study, (0,))
    assert {m.way for m in margins} >= {("floor",), ("right wall",)}
    for margin in margins:
        assert margin.before_db == margin.predicted_db == margin.proven_db
    worst = min(verdict.worst_margin_db for verdict in study.verdicts)
    assert min(margin.before_db for margin in margins) == worst


def test_a_peak_that_was_there_only_between_two_arrangements_is_not_listed(study):
    nan = float("nan")
    between = PeakMargin("left", "mix", ("floor", "back wall", "floor"), 0.009, 1.2, nan, nan)
    proven = replace(between, way=("back wall", "floor", "back wall"), proven_db=1.5)
    listed = with_today([between, proven], study, {"mix"})
    assert between.way not in [margin.way for margin in listed]
    (kept,) = (margin for margin in listed if margin.way == proven.way)
    assert (np.isnan(kept.before_db), kept.proven_db) == (True, 1.5)


def test_agreement_is_the_largest_difference(study):
    assert find_agreement(study.scene, study.arrivals, study.arrivals, (0,)) == (0.0, 0.0)
    at_point = list(study.arrivals.at_points)
    level = at_point[0].band_level_db.copy()
    first = int(np.argmax(np.where(at_point[0].paths.order == 1, level, -np.inf)))
    level[first] += 0.7
    at_point[0] = replace(at_point[0], band_level_db=level)
    other = replace(study.arrivals, at_points=tuple(at_point))
    assert find_agreement(study.scene, other, study.arrivals, (0,)) == pytest.approx((0.7, 0.0))


def test_the_way_leaves_out_what_fills_up(study):
    floor = next(k for k, f in enumerate(study.room.facets) if study.room.surfaces[f.surface].name == "floor")
    assert way_of_facets(study, [floor, -1, -1]) == ("floor",)

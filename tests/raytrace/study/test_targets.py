import numpy as np

from raytrace import find_targets, main_arrivals, run_study
from raytrace.verdicts import IN_STEP_DB
from tests.support.scenes import BOX
from tests.support.studies import shipped_study


def test_every_peak_over_the_limit_is_answered_by_an_area():
    for name in ("garage", "ridge", "classroom"):
        study = shipped_study(name, up_to_order=3)
        entries = [entry for entries in find_targets(study).values() for entry in entries]
        rows = {row for patch, caught in entries for row in (*patch.rows, *caught)}
        inside = {row for patch, _ in entries for row in crossing(study, patch)}
        for peak in study.peaks:
            if peak.over_limit and peak.arrivals:
                assert set(main_arrivals(study.arrivals, peak)) & (rows | inside)


def crossing(study, patch):
    """Arrivals with a spot in an area."""
    u0, v0, u1, v1 = patch.rect
    u, v = np.moveaxis(study.arrivals.spots, 2, 0)
    here = (study.arrivals.path_surfaces == patch.surface) & (u >= u0) & (u <= u1) & (v >= v0) & (v <= v1)
    return np.flatnonzero(here.any(axis=1)).tolist()


def test_a_room_with_nothing_too_strong_has_no_targets(scene_of):
    dead = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[0.99, 0.99, 0.99, 0.99, 0.99, 0.99, 0.99, 0.99]")
    assert find_targets(run_study(scene_of(dead), up_to_order=2)) == {}


def test_a_peak_is_made_by_what_is_less_than_6_db_weaker_than_its_strongest():
    study = shipped_study("box")
    level_db = study.arrivals.band_level_db
    several = [peak for peak in study.peaks if len(peak.arrivals) > 2]
    assert several
    for peak in several:
        made_by = main_arrivals(study.arrivals, peak)
        strongest = max(level_db[list(peak.arrivals)])
        assert level_db[made_by[0]] == strongest
        assert set(made_by) == {row for row in peak.arrivals if level_db[row] > strongest - IN_STEP_DB}
        assert np.all(np.diff(level_db[made_by]) <= 0.0)

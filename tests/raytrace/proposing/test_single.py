"""The best single panel for one peak: tried at its spots, and proven."""

import math

import pytest

from raytrace.proposing.single import mend_peak
from raytrace.scene import load_scene
from raytrace.study import run_study
from raytrace.verdicts import find_causes
from tests.support.scenes import ROOT
from tests.support.studies import shipped_study

BOX = ROOT / "scenes" / "box.toml"
RUN_S = 0.015  # the limit's window: a shorter run than the window's, for the same peaks


@pytest.fixture(scope="module")
def study():
    return run_study(load_scene(BOX), within_s=RUN_S)


def worst(study, surface):
    """The strongest peak that a first reflection off a surface leads."""
    facets = study.room.facets
    own = [
        peak
        for peak in study.peaks
        if len(peak.facets) == 1 and study.room.surfaces[facets[peak.facets[0]].surface].name == surface
    ]
    return max(own, key=lambda peak: peak.level_db)


def test_the_best_panel_takes_what_a_full_run_with_it_says(study):
    peak = worst(study, "left wall")
    mending = mend_peak(study, peak, text=BOX.read_text(), within_s=RUN_S)
    best = mending.best
    assert best.surface == "left wall"
    assert (
        best.level_db < peak.level_db - 1.0
    )  # the smallest difference that is heard, about (common practice)
    again = run_study(load_scene(BOX, best.text), within_s=RUN_S)
    if best.after is not None:
        assert best.after.level_db in [peak.level_db for peak in again.peaks]
    assert [panel.name for panel in again.room.panels] == ["left wall 1"]


def test_a_surface_that_takes_no_panel_is_named_with_the_reason(study):
    floor = worst(study, "floor")
    mending = mend_peak(study, floor, text=BOX.read_text(), within_s=RUN_S)
    refused = {own.surface: own.refused for own in mending.tried if own.study is None}
    assert "rug" in refused["floor"]


def test_where_nothing_may_be_drilled_no_panel_is_put_up():
    text = BOX.read_text().replace("drilling = true", "drilling = false", 1)
    assert "drilling = false" in text
    scene = load_scene(BOX, text)
    undrilled = run_study(scene, within_s=RUN_S)
    mending = mend_peak(undrilled, worst(undrilled, "left wall"), text=text, within_s=RUN_S)
    assert mending.best is None
    assert all("drill" in own.refused for own in mending.tried if own.surface == "left wall")


def test_what_distance_and_all_else_take_adds_up_to_the_level(study):
    table, c = study.arrivals, study.room.speed_of_sound_m_s
    for peak in study.peaks:
        for cause in find_causes(table, peak, speed_of_sound_m_s=c):
            # The two parts are defined so that they add up; rounding alone is left.
            assert cause.level_db == pytest.approx(-cause.distance_db - cause.rest_db, abs=1e-9)


def test_distance_takes_what_a_mirrored_source_says():
    study = shipped_study("box")
    peak, speed = worst(study, "left wall"), study.room.speed_of_sound_m_s
    causes = find_causes(study.arrivals, peak, speed_of_sound_m_s=speed)
    cause = next(own for own in causes if study.arrivals.order[own.row] == 1)
    x, y, z = study.scene.speakers[peak.speaker].position
    ears = study.scene.seats[0].ears
    direct_m, mirrored_m = math.dist((x, y, z), ears), math.dist((x, -y, z), ears)  # the left wall is y = 0
    assert cause.detour_m == pytest.approx(mirrored_m - direct_m, abs=1e-9)  # both by the same formula
    assert cause.distance_db == pytest.approx(20 * math.log10(mirrored_m / direct_m), abs=1e-9)

import numpy as np
import pytest

from raytrace import build_room, find_arrivals, run_study
from raytrace.reflections import ZoneArrivals
from raytrace.verdicts.criteria import MODEL_DB, find_peaks, judge, judged_zone, proportions_fit, size_note
from raytrace.verdicts.maxima import LOBE_S
from tests.support.scenes import BEDROOM, BOX, HARD_WALLS
from viewer.words import told

RIGHT = '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'
FREE = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[0.97, 0.97, 0.97, 0.97, 0.97, 0.97, 0.97, 0.97]")


def heard_at(study):
    """What the whole head zone of the first seat hears of the first speaker."""
    return ZoneArrivals(
        *(
            tuple(h for h in table.at_points if (h.speaker, h.seat) == (0, 0))
            for table in (study.arrivals, study.arrivals.near_misses)
        )
    )


def test_arrivals_that_coincide_add_their_pressures(scene_of):
    # Floor and ceiling equally far away: two equal arrivals at one instant are 6.02 dB above one of them.
    scene = scene_of(BOX.replace("height = 2.6", "height = 2.4"))
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    peaks = find_peaks(scene, arrivals)
    double = next(p for p in peaks if len(p.arrivals) == 2)
    single_db = arrivals.band_level_db[double.arrivals[0]]
    # A curve of samples 10 us apart: its maxima are refined by a parabola.
    assert double.ears_db == pytest.approx(single_db + 20 * np.log10(2), abs=0.05)
    assert len(peaks) == 5


@pytest.mark.parametrize("text", [BOX + RIGHT, BEDROOM])
def test_peaks_are_the_maxima_of_the_drawn_curve(scene_of, text):
    study = run_study(scene_of(text), up_to_order=3, within_s=0.015)
    for curve in study.curves:
        own = [p.ears_db for p in study.peaks if (p.speaker, p.seat) == (curve.speaker, curve.seat)]
        inside = curve.level_db[1:-1]
        top = (inside > curve.level_db[:-2]) & (inside >= curve.level_db[2:]) & (inside > -15.0)
        top &= (curve.time_s[1:-1] > LOBE_S) & (curve.time_s[1:-1] < 0.015)
        assert top.any()
        # Each maximum that is drawn is at most as high as some peak, and each peak is one that is drawn; the
        # curve is a record of another length, whose lines lie elsewhere.
        assert inside[top].max() == pytest.approx(max(own), abs=0.15)
        drawn = inside[top]
        for level_db in (level for level in own if level > -14.5):
            assert np.abs(drawn - level_db).min() < 0.15


def test_no_row_is_in_two_peaks_and_one_that_comes_alone_is_in_one(scene_of):
    scene = scene_of(BOX + RIGHT)
    arrivals = find_arrivals(scene, build_room(scene))
    rows = [row for p in find_peaks(scene, arrivals) for row in p.arrivals]
    assert len(rows) == len(set(rows))
    for speaker in (0, 1):
        own = arrivals.at(speaker, 0)
        away_s = np.abs(arrivals.delay_s[own, None] - arrivals.delay_s[own])
        np.fill_diagonal(away_s, np.inf)
        # What nothing else comes near makes a maximum of its own; in a crowd it may only weaken others.
        alone = own[(away_s.min(axis=1) > 2.0 * LOBE_S) & (arrivals.band_level_db[own] > -15.0)]
        assert len(alone) >= 3
        assert set(alone.tolist()) <= set(rows)


def test_the_verdict_takes_the_level_that_a_tenth_of_the_head_zone_exceeds(scene_of):
    study = run_study(scene_of(BOX), up_to_order=2)
    zone = judged_zone(study.scene, heard_at(study), (0.0, 0.015), (0, 0))
    for peak in (p for p in study.peaks if p.verdict != "not judged"):
        level_db = zone.levels.judged_db[[zone.curves.facets.index(peak.facets)]]
        assert peak.level_db >= level_db - 1e-9
        assert peak.margin_db == pytest.approx(-10.0 - peak.level_db, abs=1e-9)  # the limit's own arithmetic
        assert (peak.share_over > 0.1) == (peak.margin_db < 0.0) or abs(peak.margin_db) < 0.05


def test_a_verdict_counts_peaks_in_the_window(scene_of):
    study = run_study(scene_of(BOX))
    verdict = study.verdicts[0]
    judged = [p for p in study.peaks if p.verdict != "not judged"]
    assert verdict.status == "judged"
    assert verdict.n_in_window == len(judged)
    assert verdict.n_over == sum(p.margin_db < -p.uncertainty_db for p in judged)
    assert verdict.n_undecided == sum(abs(p.margin_db) <= p.uncertainty_db for p in judged)
    assert verdict.worst_margin_db == min(p.margin_db for p in judged)
    # What is not judged comes later than the window, but for the head's own size.
    assert all(p.delay_s > 0.014 for p in study.peaks if p.verdict == "not judged")


def test_a_worse_survey_leaves_more_uncertain(scene_of):
    good, rough = (
        run_study(scene_of(BOX + f"[job]\nsurvey_error = {error}\n"), up_to_order=2).peaks
        for error in (0.002, 0.080)
    )
    judged = [(a, b) for a, b in zip(good, rough, strict=True) if a.verdict != "not judged"]
    assert all(MODEL_DB <= a.uncertainty_db <= b.uncertainty_db for a, b in judged)
    assert max(b.uncertainty_db - a.uncertainty_db for a, b in judged) > 0.5
    unsure = ([pair[k].verdict == "undecided" for pair in judged] for k in (0, 1))
    assert not any(sure > rough_too for sure, rough_too in zip(*unsure, strict=True))


def test_a_hidden_speaker_gets_no_verdict(scene_of):
    screen = """
[[objects]]
name = "screen"
shape = "box"
centre = [2.1, 1.65, 0.9]
size = [0.05, 1.2, 1.8]
material = "hard"
"""
    study = run_study(scene_of(BOX + screen), up_to_order=1)
    assert study.verdicts[0].status == "hidden"
    assert study.verdicts[0].hidden_by == "screen"
    assert np.isnan(study.verdicts[0].worst_margin_db)
    assert any("hidden" in str(note) for note in study.notes)


def test_a_small_room_is_outside_the_standards_range_not_failed(scene_of):
    scene = scene_of(BOX)
    note = str(size_note(build_room(scene), scene))
    assert "outside the range" in note
    assert "20.0 m²" in note
    assert "fail" not in note


def test_the_size_of_a_room_is_converted_before_it_is_rounded(scene_of):
    scene = scene_of(BOX.replace("length = 5.0", "length = 5.007"))
    note = size_note(build_room(scene), scene)
    assert "20.0 m²" in str(note)
    # 20.028 m² are 215.6 ft², 20.0 would be 215.3.
    assert "216 ft²" in told(note, "imperial")


def test_free_field_passes(scene_of):
    scene = scene_of(FREE)
    arrivals = find_arrivals(scene, build_room(scene))
    peaks = find_peaks(scene, arrivals)
    assert judge(scene, arrivals, peaks)[0].n_over == 0


@pytest.mark.parametrize(
    ("size", "fits"),
    [((5.0, 4.0, 2.6), True), ((4.0, 4.0, 2.6), False), ((6.0, 3.0, 2.5), False)],
)
def test_the_rule_of_proportions_gives_its_worked_cases(size, fits):
    # EBU Tech 3276 and ITU-R BS.1116-3 after R. Walker, BBC RD 1993/8 (from memory)
    assert proportions_fit(*size) is fits
    assert proportions_fit(size[1], size[0], size[2]) is fits


def test_a_cube_like_box_is_told_of_its_proportions(scene_of):
    square = run_study(scene_of(BOX.replace("length = 5.0", "length = 4.0")), up_to_order=1)
    assert any("proportions" in str(note) for note in square.notes)
    assert not any("proportions" in str(note) for note in run_study(scene_of(BOX), up_to_order=1).notes)


def surfaces_of(study, peak):
    return tuple(study.room.surfaces[study.room.facets[f].surface].name for f in peak.facets)


def test_a_peak_that_takes_two_off_the_middle_says_which(scene_of):
    study = run_study(scene_of(BEDROOM), up_to_order=2)
    joined = [p for p in study.peaks if p.joined]
    assert joined
    for peak in joined:
        strongest_db = study.arrivals.zone_worst_db[list(peak.arrivals)].max(initial=-np.inf)
        # Alone not one of them comes to the level that the peak has.
        assert peak.level_db > strongest_db - 3.0
        assert peak.facets not in peak.joined


def test_a_peak_hardly_louder_than_its_strongest_arrival_names_no_other(scene_of):
    study = run_study(scene_of(HARD_WALLS), up_to_order=1)
    assert any(p.may_be_over for p in study.peaks)
    for peak in (p for p in study.peaks if len(p.arrivals) == 1 and p.may_be_over):
        assert peak.joined == ()

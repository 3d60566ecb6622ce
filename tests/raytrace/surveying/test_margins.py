"""How far margins move with each measured length: one reflection alone, by hand; and what is said of it."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from raytrace import load_scene, run_study
from raytrace.reflections import USUAL_ORDER
from raytrace.surveying import DOMINATES, find_survey
from raytrace.surveying.margins import judge_shifted, same_peaks
from raytrace.surveying.survey import area_notes, undecided_notes
from tests.support.rooms import SHAPES, TEMPLATE, room_text

# Nothing but the ceiling reflects.
ONLY_CEILING = """
ceiling = "hard"
[materials."dead"]
absorption = [1, 1, 1, 1, 1, 1, 1, 1]
scattering = 0
source = "made up: returns nothing"
[materials."hard"]
absorption = [0, 0, 0, 0, 0, 0, 0, 0]
scattering = 0
source = "made up: returns all"
[job]
survey_error = "20 mm"
"""


@pytest.fixture(scope="module")
def survey():
    text = TEMPLATE.format(
        room=SHAPES["box"], more=ONLY_CEILING, speaker="[0.9, 1.5, 1.2]", seat="[2.0, 1.5, 1.1]"
    ).replace('"plasterboard"', '"dead"')
    return find_survey(run_study(load_scene("box.toml", text)))


def test_the_margin_of_one_reflection_moves_as_its_length_does(survey):
    (own,) = survey.peaks
    across, up = 1.1, 2.0 * 2.4 - 1.2 - 1.1
    direct, way = np.hypot(1.1, 0.1), np.hypot(across, up)
    moved = {
        "ceiling height": (2.0 * up / way**2, 0.0),
        "height of mix ears": (-up / way**2, -0.1 / direct**2),
        "left speaker to front wall": (-across / way**2, -1.1 / direct**2),
    }
    for number, changes_db in zip(survey.numbers, own.changes_db, strict=True):
        if number.what not in moved:
            continue
        reflected, straight = moved[number.what]
        by_hand_db = 20.0 / np.log(10.0) * (reflected - straight) * number.error_m
        # Second order of 20 mm in 2.6 m, air and the ripples of the band's filter over the peak.
        assert changes_db == pytest.approx([-by_hand_db, by_hand_db], abs=0.03), number.what


def test_the_run_that_others_are_held_against_finds_the_peaks_of_the_study_itself():
    # Small rooms are searched deeper in the limit's window than what follows a hand.
    small = 'shape = "box"\nlength = 2.4\nwidth = 2.0\nheight = 2.0'
    study = run_study(load_scene("box.toml", room_text(small)))
    order = study.arrivals.reach.early_order
    assert order > USUAL_ORDER
    task = {"path": "box.toml", "text": study.scene.text, "number": None, "up_to_order": order}
    there = judge_shifted(task)["peaks"]
    own = [peak for peak in study.peaks if peak.verdict != "not judged"]
    assert [peak["facets"] for peak in there] == [list(peak.facets) for peak in own]
    # What comes after the window shapes its end alone; the run leaves it out.
    margins_db = [peak.margin_db for peak in own if peak.delay_s < 0.014]
    assert [p["margin_db"] for p in there if p["delay_s"] < 0.014] == pytest.approx(margins_db, abs=0.05)


def test_the_survey_as_a_whole_adds_its_numbers_as_independent(survey):
    (own,) = survey.peaks
    assert own.survey_db == pytest.approx(np.sqrt(np.sum(own.errors_db**2)))


def test_the_notes_say_what_the_figures_rest_on(survey):
    assert "20 mm" in str(survey.notes[-1])


def test_where_no_length_dominates_the_two_or_three_that_matter_most_are_named(survey):
    mixed = [own for own in survey.areas if own.shares(survey.numbers).max() < DOMINATES]
    variance = np.mean([own.variance_m2(survey.numbers) for own in mixed], axis=0)
    (note,) = area_notes(survey.study, survey.numbers, mixed)
    named = [k for k in np.argsort(-variance) if survey.numbers[k].what in str(note)]
    assert 2 <= len(named) <= 3
    assert named == np.argsort(-variance)[: len(named)].tolist()
    left_mm = 1e3 * np.sqrt(variance.sum() - variance[named].sum())
    assert str(note).endswith(f"Known surely, they leave {left_mm:.0f} mm.")


def test_where_one_length_dominates_nothing_else_is_to_be_measured(survey):
    numbers = [
        replace(n, error_m=0.0 if n.what != "mix ears to front wall" else 0.02) for n in survey.numbers
    ]
    (note,) = area_notes(survey.study, numbers, survey.areas)
    assert "one length, mix ears to front wall: measure it again, nothing else" in str(note)


@pytest.mark.parametrize(
    ("n", "said"),
    [
        (1, ("One peak stays undecided", "it is that near the limit.")),
        (2, ("2 peaks stay undecided", "they are that near the limit.")),
    ],
)
def test_peaks_that_no_length_decides_are_counted_in_a_sentence(survey, n, said):
    open_ones = [replace(survey.peaks[0], other_db=99.0, verdict="undecided")] * n
    (note,) = undecided_notes(survey.study, survey.numbers, open_ones)
    assert str(note).startswith(" whichever single length is measured again: ".join(said))
    assert "ceiling height" in str(note)  # it moves the ceiling's reflection most


def test_a_peak_that_fades_takes_no_other_for_its_own_because_it_comes_near_it():
    def own(facets, delay_s):
        return SimpleNamespace(speaker=0, seat=0, facets=facets, delay_s=delay_s)

    def found(facets, delay_s, ways=()):
        return {"speaker": 0, "seat": 0, "facets": facets, "ways": [facets, *ways], "delay_s": delay_s}

    judged = [own((1,), 0.00100), own((2, 3), 0.00110)]
    first = found([1], 0.00105)
    assert same_peaks(judged, [first]) == [first, None]
    changed = found([4], 0.00112)  # another reflection is the strongest in it now
    assert same_peaks(judged, [first, changed]) == [first, changed]
    both = found([1], 0.00105, ways=([2, 3],))  # the two have grown together
    assert same_peaks(judged, [both, changed]) == [both, both]

"""The record of what is shown: filters, sequences, and reflections that stay the same while things move."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import moved, run_study
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study
from viewer.pictures import set_stage
from viewer.window.state.turning import named_view
from viewer.window.state.view_state import (
    Filter,
    OnScreen,
    heard_rows,
    listed_peaks,
    listed_rows,
    path_key,
    row_of,
    sorted_by,
    with_filter,
    with_layer,
)
from viewer.words import path_text, strong_rows


@pytest.fixture(scope="module")
def shown():
    study = shipped_study("garage", up_to_order=2)
    stage = set_stage(study)
    return OnScreen(study=study, stage=stage, eye=named_view(stage, "room", (900, 600)))


def test_every_row_is_found_again_by_its_way(shown):
    study = shown.study
    assert all(row_of(study, path_key(study, row)) == row for row in range(len(study.arrivals.order)))
    assert row_of(study, None) is None


def test_a_way_is_the_same_reflection_after_its_speaker_has_moved(shown):
    there = run_study(moved(shown.study.scene, "speakers", 0, (0.82, 0.71, 1.2)), up_to_order=2)
    row = int(np.flatnonzero(shown.study.arrivals.order == 1)[0])
    found = row_of(there, path_key(shown.study, row))
    assert path_text(there, found) == path_text(shown.study, row)


def test_filters_let_through_what_they_say_and_all_of_it(shown):
    table = shown.study.arrivals
    for values, kept in (
        ({"speaker": 1}, table.speaker == 1),
        ({"order": 2}, table.order == 2),
        ({"over_only": True}, np.isin(np.arange(len(table.order)), list(strong_rows(shown.study)))),
    ):
        assert set(listed_rows(with_filter(shown, **values))) == set(np.flatnonzero(kept))
    session = listed_rows(with_filter(shown, surface="desk top"))
    assert len(session)
    assert all("desk top" in path_text(shown.study, int(row)) for row in session)


def test_sorting_twice_by_a_column_turns_the_sequence_round(shown):
    once = sorted_by(shown, "level")
    levels = shown.study.arrivals.band_level_db[listed_rows(once)]
    assert (np.diff(levels) <= 0).all()
    twice = shown.study.arrivals.band_level_db[listed_rows(sorted_by(once, "level"))]
    assert (np.diff(twice) >= 0).all()


def test_a_sub_is_drawn_only_where_it_is_asked_for(shown):
    sub = next(i for i, s in enumerate(shown.study.scene.speakers) if s.use == "sub")
    assert sub not in shown.study.arrivals.speaker[heard_rows(shown)]
    asked = replace(shown, filter=Filter(speaker=sub))
    assert set(shown.study.arrivals.speaker[heard_rows(asked)]) == {sub}


def test_peaks_are_listed_by_the_level_that_is_judged(shown):
    peaks = listed_peaks(sorted_by(shown, "limit"))
    assert set(peaks) == set(shown.study.peaks)
    margins_db = [peak.margin_db for peak in peaks if peak.verdict != "not judged"]
    assert margins_db == sorted(margins_db)
    assert all(peak.verdict == "not judged" for peak in peaks[len(margins_db) :])


def test_a_peak_that_the_ears_do_not_receive_is_listed_and_filtered_with_the_others(shown):
    own = next(p for p in shown.study.peaks if p.verdict != "not judged")
    beside = replace(own, arrivals=(), near_misses=(), verdict="over", margin_db=-1.0)
    there = replace(shown, study=replace(shown.study, peaks=(*shown.study.peaks, beside)))
    met = shown.study.room.surfaces[shown.study.room.facets[beside.facets[0]].surface].name
    assert beside in listed_peaks(with_filter(there, over_only=True, seat=beside.seat, surface=met))
    assert beside not in listed_peaks(with_filter(there, speaker=1 - beside.speaker))
    assert beside not in listed_peaks(with_filter(there, order=len(beside.facets) + 1))


def test_a_layer_switched_off_and_on_is_the_same_record(shown):
    assert with_layer(with_layer(shown, "spots", False), "spots", True).layers == shown.layers


def test_a_reflection_off_a_panel_names_the_surface_and_the_panel(scene_of):
    text = (SCENES / "box.toml").read_text() + (
        '[[clouds]]\nname = "cloud"\nsurface = "ceiling"\nbuild = "wool 50"\ncentre = [1.2, 1.5]\nrows = 1\n'
        "columns = 2\ndrop = 0.1\n"
    )
    study = run_study(scene_of(text), up_to_order=1)
    names = {path_text(study, row) for row in range(len(study.arrivals.order))}
    assert "ceiling (cloud)" in names
    assert "left wall" in names

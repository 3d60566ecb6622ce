"""The appendix lists reflections with their own figures, and apart from them what barely misses."""

import numpy as np
import pytest

from raytrace import run_study
from tests.support.scenes import HARD_WALLS, SCENES
from tests.support.studies import shipped_study
from viewer.report.appendix import appendix


@pytest.fixture(scope="module")
def garage():
    study = shipped_study("garage", up_to_order=3)
    return study, appendix(study, units="metric")


def test_reflections_above_20_db_are_there_with_delay_and_level(garage):
    study, pages = garage
    arrivals = study.arrivals
    strong = np.flatnonzero((arrivals.band_level_db > -20.0) | (arrivals.zone_worst_db > -20.0))
    subs = [k for k, speaker in enumerate(study.scene.speakers) if speaker.use == "sub"]
    rows = [int(line["cells"][0]) - 1 for line in pages["arrivals"]]
    assert rows == [row for row in strong.tolist() if arrivals.speaker[row] not in subs]
    assert 0 < len(rows) < len(arrivals.order)
    assert f"{len(arrivals.order) - len(rows)} weaker ones" in pages["all_intro"]
    for row, line in zip(rows, pages["arrivals"], strict=True):
        assert len(line["cells"]) == len(pages["all_head"])
        assert float(line["cells"][4]) == pytest.approx(arrivals.delay_s[row] * 1e3, abs=0.005)  # printed
        level = float(line["cells"][6].replace("−", "-"))
        assert level == pytest.approx(arrivals.band_level_db[row], abs=0.05001)  # one decimal is printed
        assert line["over"] == arrivals.over_limit[row]


def test_the_strongest_near_misses_stand_apart_and_the_rest_are_counted(garage):
    study, pages = garage
    near = study.arrivals.near_misses
    rows = [int(line["cells"][0]) - 1 for line in pages["near"]["rows"]]
    assert len(rows) == 12 < len(near.order)
    assert sorted(rows) == rows
    mains = [k for k, speaker in enumerate(study.scene.speakers) if speaker.use == "main"]
    assert set(near.speaker[rows]) <= set(mains) != set(near.speaker)  # nothing judges what the sub sends
    others = np.setdiff1d(np.flatnonzero(np.isin(near.speaker, mains)), rows)
    assert near.band_level_db[rows].min() >= near.band_level_db[others].max()
    assert f"{len(others)} weaker ones" in pages["near"]["intro"]
    assert not any(line["over"] for line in pages["near"]["rows"])


def test_a_box_has_no_near_misses(scene_of):
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    assert appendix(run_study(scene_of(text), up_to_order=1), units="metric")["near"]["rows"] == []


def test_letters_that_print_as_boxes_are_told_by_their_numbers(scene_of):
    plain, named = (
        appendix(run_study(scene_of(HARD_WALLS.replace('"mix"', name)), up_to_order=1), units="metric")
        for name in ('"mix"', '"混音"')
    )
    assert not any("boxes stand there" in note for note in plain["notes"])
    assert "U+6DF7" in named["notes"][-1]
    assert "U+97F3" in named["notes"][-1]


def test_every_material_in_use_is_named_once_with_its_source(garage):
    study, pages = garage
    names = [material["name"] for material in pages["materials"]]
    assert len(names) == len(set(names))
    assert {surface.material.name for surface in study.room.surfaces} <= set(names)
    assert all(material["source"] for material in pages["materials"])


def test_lengths_are_in_the_units_asked_for(garage):
    pages = appendix(garage[0], units="imperial")
    assert "ft in" in pages["all_head"]
    assert "'" in pages["arrivals"][0]["cells"][5]

import functools

import numpy as np
import pytest

from raytrace import Sampling, find_decay, run_study
from tests.support.scenes import BOX
from tests.support.studies import shipped_study
from viewer.report.decay import captioned, decay_chapter


@functools.cache
def chapter_of(name):
    study = shipped_study(name, up_to_order=2)
    decays = find_decay(study.scene, study.room, study.arrivals, sampling=Sampling(3200))
    charts = [(d.speaker, d.seat, "blank.png", "A caption.") for d in decays]
    return study, decays, decay_chapter(study, decays, charts, units="metric")


def test_the_table_holds_every_main_speaker_and_seat_beside_formulas_and_target():
    study, decays, chapter = chapter_of("garage")
    mains = [d for d in decays if study.scene.speakers[d.speaker].use == "main"]
    whats = [row["what"] for row in chapter["rows"]]
    assert len(mains) == 2
    assert whats == ["T20", "±", "EDT"] * 2 + ["Sabine", "Eyring", "Arau-Puchades", "from", "to"]
    assert [row["who"] for row in chapter["rows"] if row["who"]] == [
        *("left at mix", "right at mix", "formulas", f"target {mains[0].target.time_s:.2f}")
    ]
    for row, values in zip(
        chapter["rows"][:3],
        (mains[0].parameters.t20_s, mains[0].errors.t20_s, mains[0].parameters.edt_s),
        strict=True,
    ):
        assert [float(cell) for cell in row["cells"]] == pytest.approx(values, abs=0.0051)  # printed digits
    assert chapter["guide"] == [band < mains[0].schroeder_hz for band in (63, 125, 250, 500)] + [False] * 4


def test_every_note_of_the_decay_is_there_once_with_whose_it_is():
    study, decays, chapter = chapter_of("classroom")
    mains = [d for d in decays if study.scene.speakers[d.speaker].use == "main"]
    shared = set.intersection(*(set(d.notes) for d in mains))
    assert set(chapter["notes"]) >= {str(note) for note in shared}
    own = [note for d in mains for note in d.notes if note not in shared]
    assert own
    assert len(chapter["notes"]) == len(shared) + len(own)
    for decay in mains:
        who = f"{study.scene.speakers[decay.speaker].name} at {study.scene.seats[decay.seat].name}: "
        said = [note.removeprefix(who) for note in chapter["notes"] if note.startswith(who)]
        assert [note.lower() for note in said] == [str(n).lower() for n in decay.notes if n not in shared]
    assert not any("is a sub" in note for note in chapter["notes"])


def test_a_time_that_is_not_known_is_a_dash(scene_of):
    dead = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[1, 1, 1, 1, 1, 1, 1, 1]")
    study = run_study(scene_of(dead), up_to_order=1)
    decays = find_decay(study.scene, study.room, study.arrivals, sampling=Sampling(640))
    assert np.isnan(decays[0].parameters.t20_s).all()
    assert decay_chapter(study, decays, [], units="metric")["rows"][0]["cells"] == ["–"] * 8


def test_a_caption_that_charts_share_is_said_once_under_the_last():
    charts = [(0, 0, "a", "same"), (1, 0, "b", "other"), (2, 0, "c", "same")]
    assert [chart["caption"] for chart in captioned(charts)] == ["", "other", "same"]

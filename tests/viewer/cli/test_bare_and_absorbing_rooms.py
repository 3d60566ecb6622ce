"""Surfaces that absorb nothing or everything, one at a time and all: every output says what it can."""

import json

import numpy as np
import pytest
from rich.console import Console

from raytrace import Sampling, find_decay, run_study
from tests.support.extremes import CASES, PANEL, WALLS, name_of, text_of, written
from tests.support.reports import small_charts
from viewer.charts import draw_decays
from viewer.cli.main import run
from viewer.tables import arrivals_csv, arrivals_json, arrivals_tables, decay_json, decay_tables
from viewer.window.state import level_words

__all__ = ["small_charts"]


@pytest.mark.parametrize("more", ["", PANEL], ids=["bare", "panel"])
@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_every_room_is_told_in_numbers_and_words(scene_of, tmp_path, case, more):
    study = run_study(scene_of(text_of(case, more)), up_to_order=2)
    decays = find_decay(study.scene, study.room, study.arrivals, sampling=Sampling(64))
    for contents in (arrivals_json(study), decay_json(study.scene, decays)):
        json.dumps(contents, allow_nan=False)
    draw_decays(study, decays[:1], tmp_path, suffix=".svg")  # as the report has them; quicker than pixels
    rows = np.arange(len(study.arrivals.order))
    tables = arrivals_tables(study, rows, units="metric", everything=True)
    console = Console(width=100)
    with console.capture() as captured:
        console.print(tables, decay_tables(study.scene, decays))
    words = [", ".join(level_words(study, row)) for row in rows]
    told = (captured.get(), arrivals_csv(study), *words)
    for text in told:
        assert "nan" not in text.lower().replace("resonan", "")
        assert "– dB" not in text.replace("\n", " ")
    table = study.arrivals
    black = [study.room.surface_index(wall) for wall in case[1]] if case[0] == "black" else []
    silent = np.isin(table.path_surfaces, black).any(axis=1)
    if not more:
        assert np.all(table.band_level_db[silent] == -np.inf)
    assert np.isfinite(table.band_level_db[~silent]).all()


@pytest.mark.slow
@pytest.mark.usefixtures("small_charts")
@pytest.mark.parametrize("case", [("black", ("left wall",)), ("black", WALLS), ("white", WALLS)], ids=name_of)
def test_a_report_is_written(tmp_path, case):
    scene, folder = written(tmp_path, case), tmp_path / "out"
    assert run(["report", scene, "--out", str(folder), "--order", "1", "--size", "600x400"]) == 0
    assert list(folder.rglob("*.pdf"))


@pytest.mark.slow
@pytest.mark.parametrize("case", [("black", ("left wall",)), ("black", WALLS)], ids=name_of)
def test_a_proposal_is_made_and_drawings_are_written(tmp_path, case):
    assert run(["propose", written(tmp_path, case), "--out", str(tmp_path / "new.toml"), "--order", "1"]) == 0
    scene, folder = written(tmp_path, case, PANEL), tmp_path / "drawings"
    assert run(["page", scene, "--out", str(tmp_path / "room.html"), "--order", "1"]) == 0
    assert run(["drawings", scene, "--out", str(folder)]) == 0
    assert list(folder.rglob("*.pdf"))

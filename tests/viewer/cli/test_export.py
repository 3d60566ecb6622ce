"""`export` writes what other programs read, whole or not at all."""

import csv

import pytest

from tests.support.scenes import SCENES
from viewer.cli.main import run

BOX = str(SCENES / "box.toml")


def test_paths_are_a_table_of_points_with_the_known_spot(tmp_path):
    to = tmp_path / "paths.csv"
    assert run(["export", BOX, "--to", str(to)]) == 0
    rows = list(csv.DictReader(to.read_text().splitlines()))
    (spot,) = [r for r in rows if r["speaker"] == "left" and r["at"] == "left wall" and r["order"] == "1"]
    # The image at y -0.9: 0.9 / (0.9 + 1.5) of the way from x 0.75 to 1.79.
    assert float(spot["x_m"]) == pytest.approx(0.75 + 1.04 * 0.9 / 2.4, abs=1e-9)  # rounding
    assert {row["path"] for row in rows if row["order"] == "0"} == {"0"}


@pytest.mark.parametrize("suffix", ["glb", "obj", "ply", "stl"])
def test_models_are_written_and_nothing_is_overwritten_unasked(tmp_path, capsys, suffix):
    to = tmp_path / f"room.{suffix}"
    assert run(["export", BOX, "--to", str(to)]) == 0
    before = to.read_bytes()
    assert before
    assert run(["export", BOX, "--to", str(to)]) == 2
    assert "--replace" in capsys.readouterr().err
    assert run(["export", BOX, "--to", str(to), "--replace"]) == 0
    assert to.read_bytes() == before  # the same scene, the same bytes


def test_stl_says_what_it_leaves_out(tmp_path, capsys):
    assert run(["export", BOX, "--to", str(tmp_path / "room.stl")]) == 0
    assert "surfaces and panels alone" in capsys.readouterr().out


def test_an_ending_that_is_no_format_is_one_message(tmp_path, capsys):
    assert run(["export", BOX, "--to", str(tmp_path / "room.fbx")]) == 2
    assert "accepted are .glb, .obj, .ply, .stl and .csv" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []

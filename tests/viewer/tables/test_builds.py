"""The table of builds says what the data sheets say."""

import json

import pytest

from raytrace import Air, load_builds, make_datasheet
from tests.support.scenes import SCENES
from viewer.cli import run
from viewer.tables.builds import builds_json


def test_json_holds_the_figures_of_each_data_sheet(capsys):
    assert run(["builds", "--gap", "50 mm", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["builds"]
    assert [entry["name"] for entry in listed] == list(load_builds())
    sheet = make_datasheet("wool 100", load_builds()["wool 100"], gap_m=0.05, air=Air())
    (expected,) = builds_json([sheet])["builds"]
    assert next(entry for entry in listed if entry["name"] == "wool 100") == expected
    assert expected["random"] == sheet.own.random.tolist()
    assert (expected["nrc"], expected["saa"]) == (sheet.own.rating.nrc, sheet.own.rating.saa)
    assert expected["practical"] == sheet.own.rating.practical.tolist()


def test_the_table_fits_a_terminal_of_eighty_columns(capsys):
    assert run(["builds"]) == 0
    out = capsys.readouterr().out
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80
    (line,) = (line for line in lines if line.startswith("wool 4 in solid back"))
    assert "1219x610x102" in line
    assert "right on a hard wall" in " ".join(out.split())


def test_imperial_slabs_are_in_inches(capsys):
    assert run(["builds", "--units", "imperial"]) == 0
    out = capsys.readouterr().out
    assert "48x24x2" in out
    assert "slab in" in out


def test_builds_of_a_scene_come_first_and_in_place_of_the_library_s(tmp_path, capsys):
    own = (
        '[builds."wool 50"]\nsize = [1.0, 0.5]\nthickness = 0.05\nflow_resistivity = 9000\n'
        "[builds.own]\nsize = [0.6, 0.6]\nthickness = 0.04\nflow_resistivity = 9000\n"
    )
    path = tmp_path / "own.toml"
    path.write_text((SCENES / "box.toml").read_text(encoding="utf-8") + "\n" + own, encoding="utf-8")
    assert run(["builds", str(path), "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["builds"]
    assert [entry["name"] for entry in listed[:2]] == ["wool 50", "own"]
    assert [entry["size_m"] for entry in listed if entry["name"] == "wool 50"] == [[1.0, 0.5]]


@pytest.mark.parametrize("gap", ["50", "-1 mm", "11 m"])
def test_an_impossible_gap_is_a_users_mistake(gap, capsys):
    assert run(["builds", f"--gap={gap}"]) == 2
    assert "--gap" in capsys.readouterr().err

"""The table of materials lists what a scene may name."""

import json

from raytrace.acoustics import load_library
from tests.support.scenes import SCENES
from viewer.cli import run


def test_json_names_every_material_of_the_library_with_its_source(capsys):
    assert run(["materials", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["materials"]
    library = load_library()
    assert sorted(name for entry in listed for name in entry["names"]) == sorted(library)
    for entry in listed:
        assert entry["absorption"] == library[entry["names"][0]].absorption.tolist()
        assert entry["source"]


def test_the_table_fits_a_terminal_of_eighty_columns(capsys):
    assert run(["materials"]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    (line,) = (line for line in out.splitlines() if line.startswith("laminate floor"))
    percent = [f"{100 * x:.0f}" for x in load_library()["laminate floor"].absorption[1:7]]
    assert line.split()[2:8] == percent


def test_a_word_narrows_the_list_by_every_name(capsys):
    assert run(["materials", "RADIATOR"]) == 0
    out = capsys.readouterr().out
    assert "steel" in out
    assert "brick" not in out


def test_a_word_that_fits_no_material_is_a_mistake(capsys):
    assert run(["materials", "unobtainium"]) == 2
    assert "unobtainium" in capsys.readouterr().err


def test_the_materials_of_a_scene_come_first(capsys):
    assert run(["materials", "--scene", str(SCENES / "beams.toml"), "--json"]) == 0
    names = [entry["names"][0] for entry in json.loads(capsys.readouterr().out)["materials"]]
    assert names[0] == "rubble stone"

import functools
import json
import math
from dataclasses import replace

from rich.console import Console

from raytrace import build_room, find_bass, load_scene
from tests.support.scenes import SCENES
from viewer.cli import run
from viewer.tables.bass import bass_json, bass_tables, setting_words, tried_lines


@functools.cache
def garage():
    scene = load_scene(SCENES / "garage.toml")
    return find_bass(scene, build_room(scene))


def test_json_holds_every_number_in_full():
    bass = garage()
    found = bass_json(bass)
    assert list(found)[:5] == ["modes", "frequencies_hz", "responses", "evenness", "places"]
    assert list(found)[5:] == ["at_wall", "raised", "pair", "wall_pair", "crossover", "moved", "notes"]
    assert [list(entry) for entry in found["modes"]] == [["hz", "damping_per_s", "t60_s"]] * len(bass.modes)
    assert list(found["responses"][0]) == ["sources", "seat", "level_db"]
    assert found["responses"][0]["level_db"] == bass.responses[0].level_db.tolist()
    assert list(found["evenness"][0]) == ["seat", "now_db", "worst_dip_db", "dip_hz"]
    assert list(found["places"][0]) == ["position_m", "evenness_db", "gain_db"]
    assert found["pair"]["positions_m"] == [bass.pair.first.tolist(), bass.pair.second.tolist()]
    assert found["pair"]["tuned_db"] == bass.pair.tuned_db
    assert found["at_wall"]["evenness_db"] == bass.at_wall.evenness_db
    assert found["wall_pair"]["gain_db"] == bass.wall_pair.gain_db
    assert found["crossover"]["hz"] == bass.crossover.hz
    assert found["raised"]["evenness_db"] == bass.raised.evenness_db
    assert [(entry["way"], entry["evenness_db"]) for entry in found["moved"]] == list(bass.moved)
    assert len(found["frequencies_hz"]) == len(found["responses"][0]["level_db"])
    json.dumps(found, allow_nan=False)


def test_the_command_prints_the_same_object(capsys):
    assert run(["bass", str(SCENES / "garage.toml"), "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    expected = bass_json(garage())
    assert printed["notes"] == expected["notes"]
    assert math.isclose(printed["modes"][5]["hz"], expected["modes"][5]["hz"], rel_tol=1e-9)  # same solve


def printed(units, *, everything=False):
    console = Console(width=100)
    with console.capture() as captured:
        console.print(bass_tables(garage(), units=units, everything=everything))
    return captured.get()


def test_tables_say_what_is_now_why_and_what_is_better():
    text = printed("metric")
    for word in (
        "Bass now, from sub",
        "rings",
        "the seat is where",
        "36 more to 200 Hz with --all",
        "Best free places",
        "Two subwoofers",
        "on a stand of 600 mm",
        "Crossover to the speakers",
        "First seat moved by 100 mm",
        "Note: Doors are taken as shut",
    ):
        assert word in " ".join(text.split()), word
    assert "nan" not in text


def test_cables_along_walls_are_told_where_the_best_has_none():
    bass = garage()
    assert "Two with both cables along walls" in " ".join(printed("metric").split())
    assert "stands out on the floor" not in printed("metric")  # place 1 is in a corner
    apart = replace(bass, at_wall=bass.places[3])
    line = tried_lines(apart, "metric")[0]
    assert f"unevenness {bass.places[3].evenness_db:.1f} dB" in line
    assert "Along a wall the best is 200 mm from the front and 2000 mm from the left wall" in line
    assert len(tried_lines(replace(bass, at_wall=None), "metric")) == len(tried_lines(bass, "metric"))


def test_settings_that_change_no_printed_figure_are_not_told():
    bass = garage()
    pair = replace(bass.pair, delay_ms=1.0, evenness_db=2.24)
    for tuned_db, is_told in ((2.16, False), (2.04, True)):
        lines = tried_lines(replace(bass, pair=replace(pair, tuned_db=tuned_db)), "metric")
        assert ("delayed by 1.0 ms" in lines[0]) == is_told


def test_with_all_every_mode_and_frequency_is_shown():
    lines = printed("metric", everything=True).splitlines()
    assert len(lines) > len(garage().modes) + len(garage().frequencies_hz)


def test_a_reader_in_feet_gets_feet():
    text = printed("imperial")
    assert "mm" not in text.split("Note:")[0]
    assert '7 7/8"' in text  # 200 mm


def test_a_hall_is_refused_with_one_message(capsys, tmp_path):
    hall = (SCENES / "box.toml").read_text(encoding="utf-8")
    hall = hall.replace('"4200 mm"', "40").replace('"3000 mm"', "25").replace('"2400 mm"', "8")
    path = tmp_path / "hall.toml"
    path.write_text(hall, encoding="utf-8")
    assert run(["bass", str(path)]) == 2
    assert "holds too many modes" in capsys.readouterr().err


def test_a_picture_is_written_once_and_never_over_a_file(capsys, tmp_path):
    scene, picture = str(SCENES / "box.toml"), tmp_path / "bass.png"
    assert run(["bass", scene, "--picture", str(picture)]) == 0
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert run(["bass", scene, "--picture", str(picture)]) == 2
    assert f"{picture} exists already" in capsys.readouterr().err
    assert run(["bass", scene, "--picture", str(picture), "--replace"]) == 0
    assert f"Written: {picture}" in "".join(capsys.readouterr().out.splitlines())
    for name, told in (("bass.gif", "ends in .png, .svg, .pdf"), ("no/bass.png", "is not a folder")):
        assert run(["bass", scene, "--picture", str(tmp_path / name)]) == 2
        assert told in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["bass.png"]


def test_what_stays_as_it_is_is_no_setting_of_two_subwoofers():
    assert setting_words(1.5, 0.2) == ["the second delayed by 1.5 ms"]
    assert setting_words(-0.02, -2.0) == ["the second set 2 dB softer"]
    assert setting_words(-1.0, 3.0) == ["the first delayed by 1.0 ms", "the second set 3 dB louder"]

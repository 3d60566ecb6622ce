"""`aim` prints how to set up the speakers, as tables and as data, and refuses what it cannot take."""

import json

import pytest

from tests.support.scenes import SCENES
from viewer.cli.main import run

BOX = str(SCENES / "box.toml")


def data(capsys, *options, scene=BOX):
    assert run(["aim", scene, "--json", *options]) == 0
    return json.loads(capsys.readouterr().out)


def test_json_has_the_names_and_numbers_that_others_read(capsys):
    found = data(capsys)
    left, right = found["speakers"]
    assert (left["speaker"], left["seat"], right["speaker"]) == ("left", "mix", "right")
    # 1.04 m ahead and 0.6 m aside: 1200.67 mm, atan(0.6 / 1.04).
    assert left["distance_m"] == pytest.approx(1.2006664815842909, abs=1e-12)  # rounding
    assert left["toe_in_deg"] == pytest.approx(29.981639368849333, abs=1e-9)  # rounding
    assert left["tilt_deg"] == left["wedge_deg"] == 0.0
    assert left["off_axis_deg"] == pytest.approx(0.0, abs=1e-5)  # an arc cosine near 1
    dips = {dip["surface"]: dip["hz"] for dip in left["boundary_dips"]}
    assert set(dips) == {"front wall", "back wall", "left wall", "right wall", "floor", "ceiling"}
    assert dips["floor"] == pytest.approx(dips["ceiling"])  # at half the height of the room
    (pair,) = found["pairs"]
    assert (pair["left"], pair["right"]) == ("left", "right")
    assert pair["distance_difference_mm"] == pytest.approx(0.0, abs=1e-9)  # rounding
    assert pair["delay_difference_ms"] == pytest.approx(0.0, abs=1e-12)  # rounding
    assert all(isinstance(note, str) for note in found["notes"])
    assert found["desk_moves"] == []


def test_what_has_no_number_is_null(capsys, tmp_path):
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    built_in = text.replace('"750 mm", "900 mm"', '"0 mm", "900 mm"').replace(
        '"750 mm", "2100', '"0 mm", "2100'
    )
    scene = tmp_path / "room.toml"
    scene.write_text(built_in, encoding="utf-8")
    found = data(capsys, scene=str(scene))
    assert found["wall_sweep"] is None
    # Its cabinet stands behind the wall, where there is no floor.
    assert found["speakers"][0]["stands_on"] is None
    assert found["speakers"][0]["stand_height_m"] is None


def test_the_second_aim_lies_where_it_is_asked_for(capsys):
    near, far = (data(capsys, "--behind", by)["speakers"][0]["behind_head"] for by in ("0 mm", "1' 8\""))
    assert near["toe_in_deg"] == pytest.approx(29.981639368849333, abs=1e-9)  # rounding
    assert far["toe_in_deg"] < near["toe_in_deg"]


def test_the_bounds_of_the_distance_to_the_wall_are_kept(capsys):
    garage = str(SCENES / "garage.toml")
    found = data(capsys, "--skip-desk", "--wall-from", "0.4 m", "--wall-to", "70 cm", scene=garage)
    sweep = found["wall_sweep"]
    assert (sweep["wall"], sweep["from_m"], sweep["to_m"]) == ("front wall", 0.4, 0.7)
    # It stands at 0.8 m, and is more even the nearer to 0.69 m.
    assert sweep["best"][0]["distance_m"] == 0.7


def test_from_the_best_distance_none_is_told(capsys):
    assert run(["aim", BOX, "--wall-from", "0.4 m", "--wall-to", "60 cm"]) == 0
    assert "nowhere more even than now" in " ".join(capsys.readouterr().out.split())


def test_tables_are_in_the_reader_s_units(capsys):
    assert run(["aim", BOX]) == 0
    metric = capsys.readouterr().out
    assert run(["aim", BOX, "--units", "imperial"]) == 0
    imperial = capsys.readouterr().out
    assert "1201" in metric  # mm from speaker to ears
    assert "200 mm behind" in metric
    assert "3' 11 1/4\"" in imperial  # 1.2007 m is 47.27 in
    assert " mm" not in imperial
    for text in (metric, imperial):
        assert "c/4d" in text
        assert "Note: " in text


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--behind", "soon"], "--behind: "),
        (["--behind", "61 m"], "--behind must lie between 0 and 60 m, not 61 m"),
        (
            ["--wall-from", "900 mm", "--wall-to", "800 mm"],
            "--wall-from 900 mm is more than --wall-to 800 mm",
        ),
        (["--seat", "sofa"], 'no seat is called "sofa"; there is "mix"'),
        (["--json", "--units", "imperial"], "--json is always metric"),
    ],
)
def test_a_mistake_is_told_in_a_line(options, told, capsys):
    assert run(["aim", BOX, *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err


def test_the_plan_is_drawn_once_and_never_over_another_file(capsys, tmp_path):
    plan = tmp_path / "plan.svg"
    assert run(["aim", BOX, "--plan", str(plan)]) == 0
    assert f"Written: {plan}" in capsys.readouterr().out
    first = plan.read_bytes()
    assert first.startswith(b"<?xml")
    assert run(["aim", BOX, "--plan", str(plan)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert run(["aim", BOX, "--plan", str(plan), "--replace"]) == 0
    assert plan.read_bytes() == first
    assert [path.name for path in tmp_path.iterdir()] == ["plan.svg"]


@pytest.mark.parametrize(
    ("name", "told"), [("plan.gif", "a drawing ends in .png, .svg, .pdf"), ("no/plan.png", "is not a folder")]
)
def test_a_plan_that_cannot_be_is_refused_before_anything_is_run(name, told, capsys, tmp_path):
    assert run(["aim", BOX, "--plan", str(tmp_path / name)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err

"""`clean` makes a scene of a scan, explains what it did, and refuses what it cannot take."""

import json
import re

import pytest

from raytrace import build_room, load_scene
from tests.support.scans import Rough, glb_bytes, obj_text, plan_room, scan_of
from viewer.cli.main import run

DESK = ((0.5, 0.8, 0.0), (1.1, 2.2, 0.72))


@pytest.fixture(scope="module")
def scan(tmp_path_factory):
    path = tmp_path_factory.mktemp("scan") / "den [1].obj"
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4, blocks=(DESK,))
    path.write_text(obj_text(*scan_of(truth, Rough(edge=0.22, repeated=9, degenerate=3))))
    return path


def test_a_scan_becomes_a_scene_with_its_report_beside_it(scan, tmp_path, capsys):
    out = tmp_path / "den.toml"
    assert run(["clean", str(scan), "--out", str(out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == json.loads((tmp_path / "den-import.json").read_text())
    assert (told["unit"], told["up"], told["shape"]) == ("mm", "y", "box")
    assert {"name", "area_m2", "triangles", "median_mm", "p95_mm", "max_mm"} == set(told["surfaces"][0])
    assert len(told["surfaces"]) == 6
    assert [thing["name"] for thing in told["objects"]] == ["table 1"]
    assert told["holes"] == []
    assert "9 repeated faces dropped" in told["report"]
    assert build_room(load_scene(out)).floor_area_m2 == pytest.approx(3.6 * 2.8, rel=0.02)  # areas within 2 %
    assert sorted(path.name for path in tmp_path.iterdir()) == ["den-import.json", "den.toml"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ([], "sound leaves by it until it is closed"),
        (["--patch", "plasterboard"], "closed with plasterboard"),
    ],
)
def test_a_hole_is_told_with_what_becomes_of_it(tmp_path, capsys, options, words):
    path = tmp_path / "den.obj"
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4, hole=((1.0, 1.0), (1.5, 1.5)))
    path.write_text(obj_text(*scan_of(truth, Rough(edge=0.22))))
    assert run(["clean", str(path), "--out", str(tmp_path / "den.toml"), *options]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert re.search(rf"- hole 1, ceiling hole [a-z ]+, 0\.2\d m²: {words}", said)


def test_the_table_says_how_it_was_read_and_how_to_change_that(scan, tmp_path, capsys):
    assert run(["clean", str(scan), "--out", str(tmp_path / "den.toml")]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "den [1].obj: read as mm with y upwards (proposed from its size)" in printed
    assert "den.toml, with den-import.json. Speakers, seat and materials in it are suggestions" in printed
    assert "If that is wrong: --unit mm --up z" in printed
    assert "table 1" in printed


def test_the_axis_of_a_format_is_told_apart_from_the_unit(tmp_path, capsys):
    path = tmp_path / "den.glb"
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.5), (0, 2.5)], 2.8)
    path.write_bytes(glb_bytes(*scan_of(truth, Rough(edge=0.22))))
    assert run(["clean", str(path), "--out", str(tmp_path / "den.toml")]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "den.glb: read as m with y upwards (unit proposed from its size, axis by its format)" in printed
    assert "If that is wrong: --unit m --up z" in printed


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--out", "{}/den.txt"], 'a scene file ends in ".toml"'),
        (["--out", "{}/none/den.toml"], "is not a folder"),
        (["--out", "{}/den.toml", "--unit", "ft"], "no unit makes a room of it"),
        (["--out", "{}/den.toml", "--angle", "90"], "--angle must lie between 1 and 45"),
        (["--out", "{}/den.toml", "--room", "-5"], "--room must be 0 or more, not -5"),
        (["--out", "{}/taken.toml"], "exists already"),
        (["--out", "{}/den.toml", "--patch", "plasterbord"], 'did you mean "plasterboard"?'),
    ],
)
def test_what_cannot_be_done_is_one_message_and_writes_nothing(scan, tmp_path, capsys, options, words):
    (tmp_path / "taken.toml").write_text("mine")
    assert run(["clean", str(scan), *(option.format(tmp_path) for option in options)]) == 2
    assert words in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["taken.toml"]

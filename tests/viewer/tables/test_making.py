"""The cut list as others read it says what the panels are made of, in every form alike."""

import csv
import io
import json

import pytest

from raytrace import CAUTIONS, Treatment, build_room, load_scene
from tests.support.scenes import SCENES
from viewer.cli import run
from viewer.tables.making import CSV_HEAD, making_csv, making_json

TREATED = SCENES / "treated-box.toml"


@pytest.fixture(scope="module")
def treatment():
    scene = load_scene(TREATED)
    return Treatment(scene, build_room(scene))


def rows_of(treatment):
    return list(csv.DictReader(io.StringIO(making_csv(treatment.bill_of_materials))))


def test_csv_cuts_the_parts_that_json_lists(treatment):
    cuts = [row for row in rows_of(treatment) if row["section"] == "cut"]
    listed = [
        (timber["name"], part["what"], part["count"], round(1000 * part["length_m"], 1))
        for timber in making_json(treatment)["timber"]
        for part in timber["parts"]
    ]
    assert [(r["what"], r["for"], int(r["count"]), float(r["length_mm"])) for r in cuts] == listed


def test_csv_buys_the_lengths_that_json_cuts_up(treatment):
    bought = [row for row in rows_of(treatment) if row["section"] == "buy timber"]
    total_m = sum(int(row["count"]) * float(row["length_mm"]) for row in bought) / 1000
    sticks = [stick for timber in making_json(treatment)["timber"] for stick in timber["sticks"]]
    assert total_m == pytest.approx(sum(stick["stock_m"] for stick in sticks))  # rounding of the sum
    for stick in sticks:
        assert sum(stick["cuts_m"]) + stick["offcut_m"] <= stick["stock_m"] + 1e-9  # rounding


def test_every_hook_of_the_demo_cloud_falls_on_a_joist(treatment):
    hooks = [hook for hook in making_json(treatment)["hooks"] if hook["kind"] == "cord"]
    assert len(hooks) == 24
    for hook in hooks:
        assert hook["joist"] is not None
        # Joists at 0.4 m, every 0.4 m, counted from 1.
        assert hook["u_m"] == pytest.approx(0.4 * hook["joist"], abs=1e-9)  # rounding
        assert not hook["batten"]


def test_json_holds_the_cautions_and_is_plain(treatment):
    plain = json.loads(json.dumps(making_json(treatment), allow_nan=False))
    assert plain["cautions"] == list(CAUTIONS)
    assert plain["mass_kg"] == pytest.approx(sum(p["mass_kg"] * len(p["names"]) for p in plain["panels"]))


def test_the_command_prints_all_three_forms(capsys):
    assert run(["cutlist", str(TREATED)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "safe" not in printed
    for words in (
        "eye bolts M6",
        "working load limit at least",
        "Local codes and licensed practice come first",
    ):
        assert words in printed
    assert run(["cutlist", str(TREATED), "--csv"]) == 0
    assert capsys.readouterr().out.splitlines()[0] == ",".join(CSV_HEAD)
    assert run(["cutlist", str(TREATED), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["scene"] == "Treated box room"


def test_both_forms_at_once_are_refused(capsys):
    assert run(["cutlist", str(TREATED), "--csv", "--json"]) == 2
    assert "exclude each other" in capsys.readouterr().err

"""The cut list as others read it says what the panels are made of, in every form alike."""

import csv
import io
import json

import numpy as np
import pytest

from raytrace import CAUTIONS, Treatment, build_room, load_scene
from tests.support.panelled import JOISTS, cloud, scene_text
from tests.support.scenes import SCENES
from viewer.cli import run
from viewer.tables.making import CSV_HEAD, making_csv, making_json

TREATED = SCENES / "treated-box.toml"


@pytest.fixture(scope="module")
def treatment():
    scene = load_scene(TREATED)
    return Treatment(scene, build_room(scene))


def rows_of(treatment):
    return list(csv.DictReader(io.StringIO(making_csv(treatment))))


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
    panels_kg = sum(p["mass_kg"] * len(p["names"]) for p in plain["panels"])
    # Legs, feet and blocks of softwood, 45 x 70 mm at 480 kg/m3.
    carried_m = sum(p["count"] * p["length_m"] for stand in plain["stands"] for p in stand["parts"])
    assert plain["stands"]
    assert plain["mass_kg"] == pytest.approx(panels_kg + 0.045 * 0.070 * 480 * carried_m)


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


def listed(tmp_path, text):
    path = tmp_path / "workshop.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


WORKSHOP = '[stock]\n"wool 100" = 3\n"wool 75" = 1\n[prices]\n"wool 100" = 110\n'


def test_lists_of_stock_and_prices_go_into_every_form(capsys, tmp_path):
    # The scene owns two wool 50, of which it holds one, and prices wool 100 at 95, wool 30 at 45.
    lists = [f"--stock={listed(tmp_path, WORKSHOP)}", f"--prices={listed(tmp_path, WORKSHOP)}"]
    assert run(["cutlist", str(TREATED), *lists]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "Owned already: left, right, front, corner. Only what holds them is bought." in printed
    assert "Owned and left over: 1 x wool 50, 1 x wool 75." in printed
    assert "Price of the panels to be made, as stated for each: 380." in printed  # 110 + 6 x 45
    assert run(["cutlist", str(TREATED), "--json", *lists]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [(panels["build"], panels["owned"], len(panels["names"])) for panels in found["panels"]] == [
        ("wool 100", True, 3),
        ("wool 100", False, 1),
        ("wool 50", True, 1),
        ("wool 30", False, 6),
    ]
    assert found["left_over"] == {"wool 50": 1, "wool 75": 1}
    assert found["price"] == 380.0
    assert run(["cutlist", str(TREATED), "--csv", *lists]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    owned = [row["for"] for row in rows if row["text"].startswith("owned, nothing to make")]
    assert owned == ["left; right; front", "corner"]
    # Owned panels need nothing but what carries those that stand.
    bought = [
        row for row in rows if row["section"] != "panel" and "stands of" not in row["what"] + row["for"]
    ]
    assert not any("wool 50" in row["what"] + row["for"] for row in bought)


def test_a_list_that_names_an_unknown_build_is_one_message(capsys, tmp_path):
    path = listed(tmp_path, '[prices]\n"wol 100" = 95\n')
    assert run(["cutlist", str(TREATED), f"--prices={path}"]) == 2
    first, *_ = capsys.readouterr().err.splitlines()
    assert first.endswith(
        'workshop.toml:2:1: prices."wol 100": unknown build "wol 100", did you mean "wool 100"?'
    )


RAFT = cloud(rows=2, columns=3, drop=0.3) + "raft = true\n"


def made_of(scene_of, text):
    scene = scene_of(scene_text(text))
    return Treatment(scene, build_room(scene))


def test_a_raft_is_one_entry_in_every_list_and_says_what_it_spans(scene_of):
    treatment = made_of(scene_of, JOISTS + RAFT)
    plain = json.loads(json.dumps(making_json(treatment), allow_nan=False))
    (raft,) = plain["rafts"]
    (panel,) = plain["panels"]
    (load,) = plain["loads"]
    assert raft["name"] == panel["raft"] == load["panel"] == "cloud"
    assert raft["slabs"] == panel["names"]
    assert raft["mass_kg"] == panel["mass_kg"] == load["mass_kg"] == plain["mass_kg"]
    assert raft["hooks"] == load["hooks"] == [hook["name"] for hook in plain["hooks"]]
    assert sum(load["even_kg"]) == pytest.approx(raft["mass_kg"])
    # Two hooks on a rail: it spans what lies between them, or twice what stands out beyond them.
    along = sorted({round(hook["eyelet_m"][0], 6) for hook in plain["hooks"]})
    start = min(hook.raft.on_top(-hook.raft.rail.thickness_m * np.ones(2))[0] for hook in treatment.hooks)
    ends = [abs(along[0] - start), abs(along[-1] - start)]
    over = 2 * max(min(ends), raft["rail_m"] - max(ends))
    assert raft["rail_span_m"] == pytest.approx(max(along[-1] - along[0], over), abs=1e-5)  # rounded above
    (row,) = (row for row in rows_of(treatment) if row["section"] == "panel")
    assert (row["count"], row["text"]) == ("1", f"{raft['mass_kg']:.2f} kg each, one raft of 6 slabs")


def test_a_cloud_that_is_no_raft_has_the_same_lists_to_the_byte_whether_it_says_so_or_not(scene_of):
    plain = JOISTS + cloud(rows=2, columns=2, spacing=0.05)
    said, unsaid = (made_of(scene_of, plain + more) for more in ("raft = false\n", ""))
    assert making_csv(said) == making_csv(unsaid)
    assert json.dumps(making_json(said)) == json.dumps(making_json(unsaid))
    assert "raft" not in json.dumps(making_json(said))

import csv
import io
import json

import pytest

from raytrace import BAND_NAMES, compare, load_scene, run_study
from tests.support.scenes import BOX
from viewer.cli import run
from viewer.tables.comparison import comparison_csv, comparison_json, comparison_tables

RIGHT = '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'
SUB = '[[speakers]]\nname = "sub"\nposition = [0.4, 3.0, 0.3]\nuse = "sub"\n'
BEFORE = BOX + RIGHT + SUB
AFTER = BEFORE.replace('default = "hard"\n', 'default = "hard"\n"left wall" = "carpet"\n')
PANELS = """
[builds.slab]
size = [0.6, 1.2]
thickness = 0.1
flow_resistivity = 12000
[[panels]]
name = "one"
surface = "left wall"
build = "slab"
centre = [3.0, 1.3]
"""


@pytest.fixture(scope="module")
def comparison(tmp_path_factory):
    path = tmp_path_factory.mktemp("scenes") / "scene.toml"
    return compare(*(run_study(load_scene(path, text), up_to_order=2) for text in (BEFORE, AFTER)))


def test_json_holds_what_both_studies_hold(comparison):
    found = json.loads(json.dumps(comparison_json(comparison), allow_nan=False))
    assert found["before"] == {"scene": "test room", "treated_m2": 0.0}
    assert found["bands_hz"] == list(BAND_NAMES)
    assert len(found["pairs"]) == len(comparison.arrivals)
    assert len(found["peaks"]) == len(comparison.peaks)
    for row, pair in zip(found["pairs"], comparison.arrivals, strict=True):
        for side, study, index in (
            ("before", comparison.before, pair.before),
            ("after", comparison.after, pair.after),
        ):
            assert row[side]["level_db"] == study.arrivals.level_db[index].tolist()
            assert row[side]["delay_ms"] == 1e3 * study.arrivals.delay_s[index]
        change = [b - a for a, b in zip(row["before"]["level_db"], row["after"]["level_db"], strict=True)]
        assert row["change_db"] == change
        assert row["band_change_db"] == row["after"]["band_level_db"] - row["before"]["band_level_db"]
    sides = found["left_right_difference_db"]
    assert sides["before"] == comparison.before.left_right.difference_db
    assert sides["after"] == comparison.after.left_right.difference_db


def test_one_seat_or_speaker_is_chosen(comparison):
    found = comparison_json(comparison, speaker="right")
    for kind in ("pairs", "peaks", "verdicts"):
        assert {row["speaker"] for row in found[kind]} == {"right"}
    assert comparison_json(comparison, seat="sofa")["pairs"] == []


def test_csv_has_a_line_for_every_reflection_and_empty_cells_for_what_is_missing(comparison):
    rows = list(csv.DictReader(io.StringIO(comparison_csv(comparison))))
    assert len(rows) == len(comparison.arrivals)
    first = comparison_json(comparison)["pairs"][0]
    assert float(rows[0]["before_level_1000_hz_db"]) == first["before"]["level_db"][4]
    assert float(rows[0]["change_8000_hz_db"]) == first["change_db"][7]
    assert {row["after_margin_db"] for row in rows if row["speaker"] == "sub"} == {""}


def printed(renderable) -> str:
    from rich.console import Console

    console = Console(file=io.StringIO(), width=200, highlight=False)
    console.print(renderable)
    return console.file.getvalue()


def test_the_tables_show_what_is_over_the_limit_or_changed(comparison):
    text = printed(comparison_tables(comparison))
    assert "Area of all panels" not in text  # there are none
    assert "left at mix" in text
    assert "Not judged in both: listed by --all." in text  # the sub
    judged = next(v for v in comparison.verdicts if v.speaker == "left")
    assert f"{judged.after.n_over} of {judged.after.n_in_window} peaks instead of" in text
    shown = [line for line in text.splitlines() if "left wall" in line]
    assert shown
    everything = printed(comparison_tables(comparison, everything=True))
    assert "change per octave at the ears" in everything
    assert len(everything.splitlines()) > len(text.splitlines()) + 50  # two tables of three speakers in full


@pytest.fixture
def files(tmp_path):
    for name, text in (("before", BEFORE), ("after", AFTER), ("panels", BEFORE + PANELS)):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    return tmp_path


def test_the_other_scene_is_before(files, capsys):
    assert (
        run(
            ["arrivals", f"{files}/after.toml", "--against", f"{files}/before.toml", "--order", "2", "--json"]
        )
        == 0
    )
    found = json.loads(capsys.readouterr().out)
    touched = [row for row in found["pairs"] if "left wall" in row["surfaces"]]
    assert touched
    assert all(row["band_change_db"] < 0.0 for row in touched)


def test_a_scene_with_panels_is_compared_with_itself_bare(files, capsys):
    assert run(["arrivals", f"{files}/panels.toml", "--against", "bare", "--order", "1", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["before"]["treated_m2"] == 0.0
    assert found["after"]["treated_m2"] == pytest.approx(0.72, abs=1e-12)  # rounding


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["before.toml", "--against", "bare"], "holds no panels, stands or clouds to leave out"),
        (["before.toml", "--against", "lost.toml"], "no such file"),
        (["before.toml", "--against", "after.toml", "--seat", "sofa"], 'no seat is called "sofa"'),
        (["before.toml", "--against", "after.toml", "--json", "--csv"], "exclude each other"),
    ],
)
def test_mistakes_end_with_one_message(files, capsys, monkeypatch, arguments, message):
    monkeypatch.chdir(files)
    assert run(["arrivals", *arguments]) == 2
    out, err = capsys.readouterr()
    assert message in err
    assert out == ""


def test_areas_are_printed_in_the_units_asked_for(files, capsys):
    for units, words in (("metric", "0.7 m² instead of 0.0 m²"), ("imperial", "8 ft² instead of 0 ft²")):
        assert (
            run(["arrivals", f"{files}/panels.toml", "--against", "bare", "--order", "1", "--units", units])
            == 0
        )
        assert f"Area of all panels: {words}." in capsys.readouterr().out

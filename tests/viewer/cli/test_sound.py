"""What reaches the seats, printed: as a table, as data, of one speaker."""

import csv
import io
import json

import pytest

from tests.support.scenes import SCENES
from viewer.cli.main import run

BOX = str(SCENES / "box.toml")


def test_arrivals_prints_a_table_with_the_notes(capsys):
    assert run(["arrivals", BOX, "--order", "1"]) == 0
    out = capsys.readouterr().out
    assert "left at mix" in out
    assert "left wall" in out
    assert "3060 / 1200" in out  # the left wall's spot: 4.20 - 1.14 m from its left edge, at ear height
    assert "Note: Reflections are complete up to" in out  # one bounce falls short of the window: it is said
    assert "full-wave" not in out


def test_how_the_figures_are_made_is_told_with_all(capsys):
    assert run(["arrivals", BOX, "--order", "1", "--all"]) == 0
    assert "full-wave solutions" in " ".join(capsys.readouterr().out.split())


def test_arrivals_as_json_and_csv_hold_the_same_rows(capsys):
    assert run(["arrivals", BOX, "--order", "2", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["arrivals"]
    assert run(["arrivals", BOX, "--order", "2", "--csv"]) == 0
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) == len(table) > 20


def test_a_speaker_can_be_picked(capsys):
    assert run(["arrivals", BOX, "--order", "1", "--speaker", "right", "--json"]) == 0
    assert {row["speaker"] for row in json.loads(capsys.readouterr().out)["arrivals"]} == {"right"}


@pytest.mark.parametrize("form", ["--json", "--csv"])
def test_data_files_are_metric_and_say_so(form, capsys):
    assert run(["arrivals", BOX, form, "--units", "imperial"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert f"{form} is always metric" in err

"""The machine-readable tables: the keys of the published form, nothing that is not a number."""

import csv
import io
import json
import math

import numpy as np
import pytest

from raytrace import run_study
from tests.support.scenes import BOX
from tests.support.studies import shipped_study
from viewer.tables.arrivals import arrivals_csv, arrivals_json

# The form that `hitspot arrivals --json` prints, key by key (README, "What comes out").
TOP = [
    *("scene", "speed_of_sound_m_s", "bands_hz", "complete_to_ms", "arrivals", "near_misses"),
    *("peaks", "direct", "notes"),
]
ARRIVAL = [
    *("speaker", "seat", "order", "surfaces", "points_m", "spots", "length_m", "delay_ms", "level_db"),
    *("band_level_db", "zone_worst_db", "margin_db", "over_limit", "zone_margin_db", "over_limit_in_zone"),
]
SPOT = ["surface", "opening", "panel", "u_m", "v_m"]
PEAK = [
    *("speaker", "seat", "delay_ms", "ears_db", "level_db", "margin_db", "uncertainty_db", "share_over"),
    *("verdict", "over_limit", "arrivals", "near_misses"),
]
DIRECT = ["speaker", "seat", "length_m", "delay_ms", "visible", "level_db", "hidden_by"]


@pytest.fixture(scope="module")
def study():
    """A room with a window, a desk, four speakers (two of them subs) and two seats."""
    return shipped_study("classroom", up_to_order=2)


def test_the_keys_are_those_of_the_published_form(study):
    table = arrivals_json(study)
    assert list(table) == TOP
    assert {tuple(row) for row in table["arrivals"]} == {tuple(ARRIVAL)}
    assert {tuple(spot) for row in table["arrivals"] for spot in row["spots"]} == {tuple(SPOT)}
    assert {tuple(peak) for peak in table["peaks"]} == {tuple(PEAK)}
    assert {tuple(direct) for direct in table["direct"]} == {tuple(DIRECT)}
    assert table["bands_hz"] == [63, 125, 250, 500, 1000, 2000, 4000, 8000]


def test_what_is_no_number_is_null_and_the_rest_survives_in_full_precision(study):
    table = arrivals_json(study)
    assert json.loads(json.dumps(table, allow_nan=False)) == table
    arrivals = study.arrivals
    for row, entry in enumerate(table["arrivals"]):
        assert entry["delay_ms"] == 1e3 * arrivals.delay_s[row]  # exactly: no rounding on the way
        assert (entry["margin_db"] is None) == math.isnan(arrivals.margin_db[row])
        assert entry["over_limit"] == bool(arrivals.over_limit[row])
        assert len(entry["points_m"]) == len(entry["spots"]) == len(entry["surfaces"]) == entry["order"]


def test_subs_have_no_verdict(study):
    entries = [e for e in arrivals_json(study)["arrivals"] if e["speaker"].startswith("sub")]
    assert entries
    assert all(e["margin_db"] is None and e["over_limit"] is False for e in entries)


def test_a_surface_that_returns_nothing_gives_null_levels(scene_of):
    dead = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[1, 1, 1, 1, 1, 1, 1, 1]")
    table = arrivals_json(run_study(scene_of(dead), up_to_order=1))
    assert {level for row in table["arrivals"] for level in row["level_db"]} == {None}
    assert {row["band_level_db"] for row in table["arrivals"]} == {None}


def test_spots_and_points_name_the_same_place(study):
    frames = {surface.name: surface.frame for surface in study.room.surfaces}
    for entry in arrivals_json(study)["arrivals"]:
        for spot, point in zip(entry["spots"], entry["points_m"], strict=True):
            place = frames[spot["surface"]].to_room(np.array([spot["u_m"], spot["v_m"]]))
            assert place == pytest.approx(point, abs=1e-9)  # metres: rounding of a few additions


def test_peaks_point_at_rows_of_their_own_speaker_and_seat(study):
    table = arrivals_json(study)
    assert any(len(peak["arrivals"]) > 1 for peak in table["peaks"])
    assert any(peak["near_misses"] for peak in table["peaks"])
    for peak in table["peaks"]:
        for rows in ("arrivals", "near_misses"):
            for row in peak[rows]:
                entry = table[rows][row]
                assert (entry["speaker"], entry["seat"]) == (peak["speaker"], peak["seat"])


def test_peaks_carry_their_verdict_with_what_it_rests_on(study):
    limit_db = -study.scene.limits.below_db
    for peak in arrivals_json(study)["peaks"]:
        assert peak["over_limit"] == (peak["verdict"] == "over")
        if peak["verdict"] == "not judged":
            assert peak["margin_db"] is peak["uncertainty_db"] is None
            continue
        assert peak["margin_db"] == limit_db - peak["level_db"]
        is_near = abs(peak["margin_db"]) < peak["uncertainty_db"]
        assert peak["verdict"] == ("undecided" if is_near else "over" if peak["margin_db"] < 0 else "below")


def test_what_hides_the_direct_sound_is_named(scene_of):
    screen = (
        '[[objects]]\nname = "screen"\nshape = "box"\nmaterial = "hard"\n'
        "centre = [2.0, 1.6, 1.2]\nsize = [0.1, 1.0, 1.0]\n"
    )
    table = arrivals_json(run_study(scene_of(BOX + screen), up_to_order=1))
    (direct,) = table["direct"]
    assert (direct["visible"], direct["hidden_by"]) == (False, "screen")
    assert direct["level_db"] < -6.0
    assert {peak["verdict"] for peak in table["peaks"]} == {"not judged"}


def test_a_choice_of_rows_takes_its_peaks_along(study):
    rows = np.flatnonzero((study.arrivals.speaker == 1) & (study.arrivals.seat == 0))
    chosen, whole = arrivals_json(study, rows=rows), arrivals_json(study)
    assert chosen["arrivals"] == [whole["arrivals"][row] for row in rows]
    assert {(p["speaker"], p["seat"]) for p in chosen["peaks"]} == {("right", "mix")}
    assert len(chosen["direct"]) == 1
    for peak in chosen["peaks"]:
        delays = [chosen["arrivals"][row]["delay_ms"] for row in peak["arrivals"]]
        assert not delays or peak["delay_ms"] in delays


def test_margins_are_told_at_the_ears_and_at_the_worst_place_of_the_head_zone(study):
    result, limit_db = arrivals_json(study), -study.scene.limits.below_db
    entries = result["arrivals"] + result["near_misses"]
    for entry in entries:
        for level, margin, over in (
            ("band_level_db", "margin_db", "over_limit"),
            ("zone_worst_db", "zone_margin_db", "over_limit_in_zone"),
        ):
            if entry["margin_db"] is not None:
                assert entry[margin] == limit_db - entry[level]
            assert (entry[margin] is None) == (entry["margin_db"] is None)
            assert entry[over] == (entry[margin] is not None and entry[margin] < 0.0)
    assert any(entry["over_limit_in_zone"] and not entry["over_limit"] for entry in entries)


def test_the_csv_table_reads_back_as_the_json_one(study):
    entries = arrivals_json(study)["arrivals"]
    lines = list(csv.DictReader(io.StringIO(arrivals_csv(study))))
    assert len(lines) == len(entries)
    for line, entry in zip(lines, entries, strict=True):
        assert (line["speaker"], line["seat"], int(line["order"])) == (
            entry["speaker"],
            entry["seat"],
            entry["order"],
        )
        assert line["surfaces"].split(" › ") == entry["surfaces"]
        for key in ("length_m", "delay_ms", "band_level_db", "zone_worst_db", "margin_db", "zone_margin_db"):
            assert (float(line[key]) if line[key] else None) == entry[key]
        for key in ("over_limit", "over_limit_in_zone"):
            assert line[key] == str(entry[key]).lower()
        assert float(line["level_1000_hz_db"]) == entry["level_db"][4]
        last = entry["spots"][-1]
        assert float(line[f"bounce_{entry['order']}_u_m"]) == last["u_m"]
        assert (line[f"bounce_{entry['order']}_opening"] or None) == last["opening"]
        assert float(line[f"bounce_{entry['order']}_z_m"]) == entry["points_m"][-1][2]

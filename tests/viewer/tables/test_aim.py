"""Tables on setting up speakers say what was found: signs, shadows, and what a desk asks for."""

import io
import json
import math

import numpy as np
import pytest
from rich.console import Console

from raytrace import Aiming, AimWish, BoundaryResponse, DeskMove, find_aim, load_scene
from tests.support.rooms import room_text
from tests.support.scenes import BOX
from viewer.tables import aim_json, aim_tables


@pytest.fixture
def found(scene_of):
    return find_aim(scene_of(BOX), AimWish(wall_m=(0.5, 0.6)))


def printed(aim, units="metric"):
    out = io.StringIO()
    Console(file=out, width=200, color_system=None).print(aim_tables(aim, units=units))
    return out.getvalue()


def with_moves(aim, *moves):
    return Aiming(**{**vars(aim), "desk_moves": moves})


def test_a_lone_speaker_has_rows_and_no_pair(found):
    text = printed(found)
    assert "left less" not in text
    assert "mix has no left and right speaker" in text
    assert aim_json(found)["pairs"] == []


def test_what_a_desk_asks_for_is_told_in_each_outcome(found):
    clear = DeskMove("desk", 0, "speakers up", 0.185, -4.25, -3.0, -12.5, True, 3, 1)
    below = DeskMove("desk", 0, "seat back", 0.5, 0.0, -3.0, -10.5, False, 3, 2)
    none = DeskMove("desk", 0, "speakers back", None, math.nan, -3.0, math.nan, False, 3, 3)
    gone = DeskMove("desk", 0, "speakers forward", 0.3, 0.0, -3.0, -math.inf, True, 3, 0)
    some = with_moves(found, clear, below, none, gone)
    rows = {row.split("  ")[1].strip(): row for row in printed(some).splitlines() if row.startswith("desk ")}
    assert "185" in rows["speakers up"]
    assert "clears the desk" in rows["speakers up"]
    assert "−4.2" in rows["speakers up"]
    assert "still there, below the limit" in rows["seat back"]
    assert "none up to 1000 mm" in rows["speakers back"]
    assert "3 to 0" in rows["speakers forward"]
    entries = aim_json(some)["desk_moves"]
    assert [entry["by_m"] for entry in entries] == [0.185, 0.5, None, 0.3]
    assert [entry["after_db"] for entry in entries] == [-12.5, -10.5, None, None]
    assert '7 1/4"' in printed(some, "imperial")  # 185 mm


def test_a_hidden_boundary_carries_its_mark_and_what_it_means(found):
    text = printed(found)
    assert "*" not in text
    response = found.responses[0]
    dips = tuple(type(dip)(**{**vars(dip), "is_shadowed": dip.surface == "floor"}) for dip in response.dips)
    hidden = Aiming(**{**vars(found), "responses": (BoundaryResponse(**{**vars(response), "dips": dips}),)})
    text = printed(hidden)
    assert "floor *" in text
    assert "* something stands in the way" in text
    assert "ceiling *" not in text


def test_json_has_the_keys_and_signs_that_others_rely_on():
    text = room_text("box", speaker="[0.8, 0.9, 1.4]", seat="[1.9, 1.5, 1.1]")
    text += '[[speakers]]\nname = "right"\nposition = [0.7, 2.1, 1.4]\ndirectivity = "omni"\n'
    aim = find_aim(load_scene("room.toml", text), AimWish(wall_m=(0.7, 0.75), desk=False))
    told = aim_json(aim)
    keys = "speaker seat distance_m toe_in_deg tilt_deg off_axis_deg wedge_deg boundary_dips"
    for entry in told["speakers"]:
        assert set(keys.split()) <= set(entry)
        assert {"surface", "hz"} <= set(entry["boundary_dips"][0])
        assert entry["toe_in_deg"] > 0.0  # towards the seat, from either side
        assert entry["tilt_deg"] < 0.0  # down to the ears
    (pair,) = told["pairs"]
    assert {"left", "right", "distance_difference_mm", "delay_difference_ms"} <= set(pair)
    assert (pair["left"], pair["right"]) == ("left", "right")
    left, right = (math.dist((x, y, 1.4), (1.9, 1.5, 1.1)) for x, y in ((0.8, 0.9), (0.7, 2.1)))
    assert pair["distance_difference_mm"] == pytest.approx(1e3 * (left - right))
    assert all(isinstance(note, str) for note in told["notes"])
    json.dumps(told, allow_nan=False)


def test_json_keeps_the_whole_curve(found):
    (entry,) = aim_json(found)["speakers"]
    assert len(entry["frequencies_hz"]) == len(entry["level_db"])
    assert entry["frequencies_hz"][0] == 30.0
    assert entry["evenness_db"] == pytest.approx(np.std(entry["level_db"]), abs=1e-12)  # rounding

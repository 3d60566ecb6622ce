"""How far apart the two models of plain surfaces are, as the notes tell it of a room."""

import numpy as np
import pytest

from raytrace import build_room, find_arrivals
from raytrace.study.anglemodels import angle_model_note, models_apart_db
from raytrace.verdicts import find_peaks, main_arrivals
from tests.support.scenes import BEDROOM, BOX

LOCAL = '[method]\nplain_surfaces = "local"\n'


@pytest.fixture
def told(scene_of):
    """Scene, room, arrivals and peaks of a text."""

    def found(text):
        scene = scene_of(text)
        room = build_room(scene)
        arrivals = find_arrivals(scene, room, up_to_order=2)
        return scene, room, arrivals, find_peaks(scene, arrivals)

    return found


@pytest.mark.parametrize(("more", "other"), [("", LOCAL), (LOCAL, "")])
def test_what_the_other_model_would_change_is_what_it_changes(told, more, other):
    found, beside = told(BEDROOM + more), told(BEDROOM + other)
    rows = {r for p in found[3] if p.over_limit for r in main_arrivals(found[2], p)}
    assert len(rows) >= 2
    rows = sorted(rows)
    changed_db = np.abs(found[2].band_level_db - beside[2].band_level_db)[rows]
    assert changed_db.max() > 0.05
    # A room without panels, and no edge of its walls is free: the same factors in another order.
    assert models_apart_db(*found) == pytest.approx(changed_db.max(), abs=1e-9)


def test_the_note_says_which_model_is_used_and_what_the_other_would_change(told):
    even, local = told(BEDROOM), told(BEDROOM + LOCAL)
    cases = ((even, "at every angle.", "local"), (local, "locally reacting", "random incidence"))
    for found, words, other in cases:
        note = str(angle_model_note(*found))
        assert words in note.split(" would change ")[0]
        assert f'(plain_surfaces = "{other}" under [method])' in note
        assert f"at most {models_apart_db(*found):.1f} dB" in note
    quiet = told(BEDROOM + "[limits]\nbelow_db = 0\nwithin_ms = 15\nfrom_hz = 1000\nto_hz = 8000\n")
    assert not any(peak.over_limit for peak in quiet[3])
    assert "dB" not in str(angle_model_note(*quiet))


def test_where_nothing_is_absorbed_the_models_are_one(told):
    assert models_apart_db(*told(BOX)) == 0.0


def test_a_spot_in_a_corner_is_two_bounces_at_the_angles_that_they_have_beside_it(told):
    near = []
    for ears_m in (2.0, 2.0 + 1e-6):
        text = BEDROOM.replace("[0.57, 1.02, 1.2]", "[1.0, 1.0, 1.2]").replace("two-way", "omni")
        text = text.replace("[1.75, 1.7, 1.2]", f"[{ears_m}, 2.0, 1.2]")
        found = told(text + "[limits]\nbelow_db = 16\nwithin_ms = 15\nfrom_hz = 1000\nto_hz = 8000\n")
        over = {row for peak in found[3] if peak.over_limit for row in main_arrivals(found[2], peak)}
        gaps_m = np.linalg.norm(np.diff(found[2].path_points[sorted(over)], axis=1), axis=2)
        near.append((gaps_m[:, 1:2].min(), models_apart_db(*found)))
    (at_once_m, told_db), (beside_m, beside_db) = near
    assert at_once_m < 1e-9 < beside_m < 1e-5  # the line from the image meets the corner itself
    assert told_db == pytest.approx(beside_db, abs=1e-4)  # a micrometre away

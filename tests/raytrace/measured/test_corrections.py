"""What the drawing has wrong, found from a full-wave solution of a room whose drawing was changed."""

import numpy as np
import pytest

from raytrace import load_scene
from raytrace.measured import Take, corrected_text, find_corrections, hold_against
from tests.support.full_waves import WAVES, load_waves
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, wave_response, write_wav

needs_waves = pytest.mark.skipif(
    not (WAVES / "desk.npz").is_file(),
    reason=f"full-wave solutions not found in {WAVES}: set HITSPOT_DATA to the folder that holds waves/",
)


def drawn_desk(folder, off_m, waves, places):
    """The solved room with its desk drawn too high, a seat at some of the places."""
    head, _, rest = (WAVES / "desk.toml").read_text(encoding="utf-8").partition("[[seats]]")
    seats = "".join(
        f'[[seats]]\nname = "place {k}"\nears = {np.round(waves.receivers[k], 5).tolist()}\n' for k in places
    )
    desk = "[[objects]] # taped" + rest.partition("[[objects]]")[2].replace("0.715", f"{0.715 + off_m:.3f}")
    (folder / "desk.toml").write_text(head + seats + desk, encoding="utf-8")
    return load_scene(folder / "desk.toml")


@needs_waves
def test_a_desk_drawn_40_mm_too_high_is_found(tmp_path):
    waves, places = load_waves("desk"), (0, 1, 4, 6, 8)
    scene = drawn_desk(tmp_path, 0.040, waves, places)
    takes = [
        Take(0, n, write_wav(tmp_path / f"{k}.wav", wave_response(waves, k))) for n, k in enumerate(places)
    ]
    held = hold_against(scene, takes, up_to_order=3, within_s=0.010)
    found = find_corrections(scene, [held])
    assert found[0].what == "desk top"
    assert found[0].was == pytest.approx(0.770)
    assert found[0].is_likely == pytest.approx(0.730, abs=0.010)  # the solved desk, and what was asked for
    assert abs(found[0].is_likely - 0.730) < 3.0 * found[0].uncertainty
    text = corrected_text(scene, found)
    assert "# taped" in text
    assert text != scene.text
    (tmp_path / "new.toml").write_text(text, encoding="utf-8")
    again = load_scene(tmp_path / "new.toml")
    assert again.objects[0].centre[2] == pytest.approx(0.715, abs=0.010)


def heard_in_box(folder, height_m):
    """First-order pulses of the box as if its ceiling were elsewhere, held against the box as drawn."""
    text = BOX.replace("[room]", "[job]\nsurvey_error = 0.025\n[room]", 1)
    (folder / "box.toml").write_text(text, encoding="utf-8")
    scene = load_scene(folder / "box.toml")
    source, ears = np.array(scene.speakers[0].position), np.array(scene.seats[0].ears)
    images = [source * sign for sign in ((-1, 1, 1), (1, -1, 1), (1, 1, -1))]
    images += [source * sign + (2.0 * shift) for sign, shift in (((-1, 1, 1), np.array([5.0, 0, 0])),)]
    images += [source * (1, -1, 1) + [0, 8.0, 0], source * (1, 1, -1) + [0, 0, 2.0 * height_m]]
    away_m = np.linalg.norm(np.array([source, *images]) - ears, axis=1)
    samples = pulses((away_m - away_m[0]) / 343.2, away_m[0] / away_m)
    takes = [Take(0, 0, write_wav(folder / "left.wav", samples))]
    return scene, hold_against(scene, takes, up_to_order=1, within_s=0.012)


def test_a_ceiling_that_is_60_mm_lower_is_told_by_one_seat(tmp_path):
    scene, held = heard_in_box(tmp_path, 2.54)
    found = {own.what: own for own in find_corrections(scene, [held])}
    # One ceiling arrival against 25 mm of tape error in the height and in both ends: most is the height.
    height = found["room height"]
    assert height.is_likely < 2.57
    assert abs(height.is_likely - 2.54) < 3.0 * height.uncertainty


def test_a_drawing_that_fits_is_left_alone(tmp_path):
    scene, held = heard_in_box(tmp_path, 2.60)
    assert find_corrections(scene, [held]) == ()
    assert corrected_text(scene, ()) == scene.text

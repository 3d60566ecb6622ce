"""What a measurement amounts to, of pulses whose sums are known."""

import pytest

from raytrace import load_scene
from raytrace.measured import Take, hold_against, judge_measured, measured_left_right
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav

PAIR = BOX.replace("position = [1.0, 1.3, 1.2]", "position = [1.0, 1.2, 1.2]") + (
    '[[speakers]]\nname = "right"\nposition = [1.0, 2.8, 1.2]\ndirectivity = "omni"\n'
)


def held(folder, *levels_db):
    """Each speaker with one pulse 5 ms after its direct sound, at a level."""
    (folder / "box.toml").write_text(PAIR, encoding="utf-8")
    scene = load_scene(folder / "box.toml")
    takes = [
        Take(k, 0, write_wav(folder / f"{k}.wav", pulses([0.0, 0.005], [1.0, 10.0 ** (level / 20.0)])))
        for k, level in enumerate(levels_db)
    ]
    return hold_against(scene, takes, up_to_order=1, within_s=0.02)


@pytest.mark.parametrize(
    ("level_db", "verdict"), [(-6.0, "over"), (-9.6, "undecided"), (-10.4, "undecided"), (-14.0, "below")]
)
def test_a_peak_is_judged_against_the_limit_with_its_error(tmp_path, level_db, verdict):
    own = held(tmp_path, level_db)
    found = judge_measured(own, own.heard[0])
    assert found.verdict == verdict
    assert found.n_over == (level_db > -10.0)
    assert found.worst_db == pytest.approx(level_db, abs=0.1)  # side lobes far off
    assert found.worst_s == pytest.approx(0.005, abs=1e-5)


def test_left_and_right_differ_by_what_their_pulses_do(tmp_path):
    (found,) = measured_left_right(held(tmp_path, -6.0, -12.0))
    # Skirts of the direct pulse, -20 dB from 0.3 ms on, are in both: 0.251 and 0.063, and 0.01 to each.
    assert found.difference_db == pytest.approx(5.52, abs=0.1)
    assert found.left_db == pytest.approx(-6.0, abs=0.5)
    assert abs(found.predicted_difference_db) < 0.01  # mirror images of each other
    assert measured_left_right(held(tmp_path, -6.0)) == ()


def test_a_file_that_ends_in_the_window_cannot_be_below(tmp_path):
    own = held(tmp_path, -40.0)
    path = write_wav(tmp_path / "short.wav", pulses([0.0], [1.0], lasts_s=0.012))
    own = hold_against(own.scene, [Take(0, 0, path)], up_to_order=1, within_s=0.02)
    assert judge_measured(own, own.heard[0]).verdict == "not judged"

"""What the client's page says of one reflection."""

import numpy as np
import pytest
from conftest import BOX

from raytrace import run_study
from viewer.meshes import level_re_limit_db
from viewer.pagewords import mains, path_rows, path_words, peak_over, sentence, way_of, weaker

SECOND = '[[speakers]]\nname = "sub"\nuse = "sub"\nposition = [0.6, 3.5, 0.3]\n[[seats]]'
SCREEN = """
[[objects]]
name = "screen"
shape = "box"
centre = [2.0, 1.6, 1.2]
size = [0.1, 1.0, 1.0]
material = "wood"
"""


@pytest.fixture
def study(scene_of):
    return run_study(scene_of(BOX.replace("[[seats]]", SECOND)), up_to_order=2)


def test_a_hard_floor_is_read_out_with_its_closed_form(study):
    # Speaker and ears 1.2 m high, 2.309 m apart: the floor's path is 2 sqrt(1.1545² + 1.2²) m long.
    apart = np.hypot(2.2, 0.7)
    long = np.hypot(apart, 2.4)
    delay_ms = (long - apart) / 343.2 * 1e3
    row = next(i for i in path_rows(study) if way_of(study, i) == "floor")
    text = path_words(study, row)
    assert text.startswith(
        f"Floor, from the left speaker: arrives {delay_ms:.1f} ms after the direct sound, "
    )
    # All of the head's range: at most 5 cm nearer the floor, so a few tenths of a dB above the ears' level.
    level = -float(text.split("direct sound, ")[1].split(" dB weaker")[0])
    assert 20 * np.log10(apart / long) - 0.15 < level < 20 * np.log10(apart / long) + 0.9


def test_what_is_said_of_the_limit_is_what_the_study_found(study):
    limit = study.scene.limits.below_db
    for row in path_rows(study):
        text, level = path_words(study, row), float(level_re_limit_db(study, np.array([row]))[0])
        assert f"{weaker(study, row)}: " in text
        assert f"{abs(level):.1f} dB {'above' if level > 0 else 'below'} the limit" in text
        assert (level > 0) == (study.arrivals.zone_worst_db[row] > -limit)
        peak = peak_over(study, row)
        if "by itself" in text:
            assert peak is not None
            assert f"{-peak.margin_db:.1f} dB above it with " in text
        elif level <= 0:
            assert peak is None


def test_floor_and_ceiling_as_far_away_are_read_as_one(scene_of):
    # Ears and speaker in the middle of the height: both arrive at the same moment, 6 dB above either.
    level = BOX.replace("1.2]", "1.3]")
    study = run_study(scene_of(level), up_to_order=1)
    row = next(i for i in path_rows(study) if way_of(study, i) == "floor")
    peak = peak_over(study, row)
    assert peak is not None
    assert len(peak.arrivals) == 2
    text = path_words(study, row)
    assert "by itself" in text
    assert text.endswith("dB above it with the one off the ceiling, which arrives at the same moment.")


def test_only_main_speakers_and_the_limits_window_are_read_out(study):
    rows = path_rows(study)
    assert mains(study) == [0]
    assert set(study.arrivals.speaker[rows]) == {0}
    late = study.arrivals.delay_s[rows] * 1e3 > study.scene.limits.within_ms
    assert not late.any()
    assert len(rows) > 6


def test_a_way_names_what_is_touched_in_order(study):
    row = next(i for i in path_rows(study) if study.arrivals.order[i] == 2)
    names = [study.room.surfaces[i].name for i in study.arrivals.path_surfaces[row, :2]]
    assert way_of(study, row) == ", then ".join(names)


def test_a_hidden_speaker_is_read_out_without_a_verdict(scene_of):
    hidden = run_study(scene_of(BOX + SCREEN), up_to_order=1)
    assert not hidden.arrivals.direct.visible[0]
    for row in path_rows(hidden):
        assert path_words(hidden, row).endswith(
            "not judged, because something hides the speaker from the seat."
        )


def test_the_head_of_the_page_says_the_limit_in_force(scene_of):
    own = "[limits]\nbelow_db = 12\nwithin_ms = 20\nfrom_hz = 1000\nto_hz = 8000\n"
    text = sentence(run_study(scene_of(BOX + own), up_to_order=1))
    assert "within 20 ms" in text
    assert "Less than 12 dB weaker" in text

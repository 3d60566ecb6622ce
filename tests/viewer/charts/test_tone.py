"""Charts of tone: what is drawn are the study's numbers; words apart, border empty."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import load_scene, run_study
from tests.support.chartchecks import assert_clean
from tests.support.jargon import jargon_in
from tests.support.scenes import BOX
from tests.support.studies import shipped_study
from viewer.charts.tone import SIZE, draw_tones, tone_figure


@pytest.mark.parametrize("name", ["box", "classroom", "garage", "hip"])
def test_words_are_apart_and_inside_and_the_border_is_empty(name, tmp_path):
    study = shipped_study(name)
    charts = draw_tones(study, tmp_path)
    judged = [(v.speaker, v.seat) for v in study.verdicts if v.status == "judged"]
    assert [(c.speaker, c.seat) for c in charts] == judged
    for chart in charts:
        assert_clean(chart, SIZE)


def test_line_and_ticks_are_those_of_the_study():
    study = shipped_study("garage")
    response = study.responses[0]
    figure, texts = tone_figure(study, response)
    axes = figure.axes[0]
    line = max(axes.lines, key=lambda line: len(line.get_xdata()))
    assert line.get_xdata() == pytest.approx(response.frequency_hz)
    assert line.get_ydata() == pytest.approx(response.level_db)  # nowhere below the deepest level shown
    ticks = next(c for c in axes.collections if len(c.get_paths()) == len(response.dips_hz))
    assert [path.vertices[0, 0] for path in ticks.get_paths()] == pytest.approx(response.dips_hz)
    words = [text.get_text() for text in texts]
    assert "ticks: what the desk top alone takes out, 0.9 ms later" in words


def test_without_a_strong_reflection_nothing_is_marked(scene_of):
    dead = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[0.99, 0.99, 0.99, 0.99, 0.99, 0.99, 0.99, 0.99]")
    study = run_study(scene_of(dead), up_to_order=1)
    figure, texts = tone_figure(study, study.responses[0])
    assert not any(text.get_text().startswith("ticks") for text in texts)
    low, high = figure.axes[0].get_ylim()
    assert low < 0.0 < high


def test_captions_use_words_a_client_knows(tmp_path):
    for chart in draw_tones(shipped_study("ridge"), tmp_path):
        assert not jargon_in(chart.caption)


def test_the_room_before_is_a_pale_line_of_the_same_speaker_and_seat(tmp_path):
    # Another order of the speakers: they are matched by their names.
    right = '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'
    soft = BOX.replace('default = "hard"', 'default = "hard"\n"floor" = "carpet"') + right
    hard = BOX.replace("[[speakers]]", f"{right}[[speakers]]", 1)
    path = tmp_path / "scene.toml"
    after, before = (run_study(load_scene(path, text), up_to_order=2) for text in (soft, hard))
    charts = draw_tones(after, tmp_path, before=before)
    assert all(chart.caption.endswith("Pale: before, without the panels.") for chart in charts)
    words = [box.text for box in charts[0].boxes]
    assert {"before", "after"} <= set(words)
    (left,) = [r for r in before.responses if before.arrivals.speaker_names[r.speaker] == "left"]
    assert left.speaker == 1
    figure, _ = tone_figure(after, after.responses[0], left)
    lines = [line.get_ydata() for line in figure.axes[0].lines if len(line.get_ydata()) > 2]
    assert len(lines) == 2
    assert lines[0] == pytest.approx(np.maximum(left.level_db, -24.0))
    assert not np.allclose(lines[0], lines[1])
    assert draw_tones(after, tmp_path)[0].caption.endswith("moves.")


def test_pitches_that_the_modes_rule_are_veiled_and_said_to_be(tmp_path):
    study = shipped_study("garage")
    figure, texts = tone_figure(study, study.responses[0], below_hz=420.0, has_bass=True)
    (veil,) = (patch for patch in figure.axes[0].patches if patch.get_alpha())
    assert veil.get_extents().width > 0.0
    assert "see “The bass”" in [text.get_text() for text in texts]
    for has_bass in (False, True):
        (chart, *_) = draw_tones(study, tmp_path, below_hz=420.0, has_bass=has_bass)
        assert_clean(chart, SIZE)
        assert "below 420 Hz" in chart.caption
        assert ("see “The bass” in client.pdf" in chart.caption) == has_bass  # no chapter, no word of it


def test_a_line_less_even_than_before_is_not_left_without_a_word(tmp_path):
    study = shipped_study("garage")
    smooth = tuple(replace(own, level_db=0.5 * own.level_db) for own in study.responses)
    for old, told in ((replace(study, responses=smooth), True), (study, False)):
        (chart, *_) = draw_tones(study, tmp_path, before=old, below_hz=420.0)
        assert ("less even" in chart.caption) == told
    now = study.responses[0].unevenness_db(420.0)
    assert smooth[0].unevenness_db(420.0) == pytest.approx(0.5 * now)

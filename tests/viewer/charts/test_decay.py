"""Charts of decay: what is drawn are the decay's numbers; words apart, border empty."""

import functools

import numpy as np
import pytest

from raytrace import Sampling, find_decay
from tests.support.chartchecks import assert_clean, mains_at_seats
from tests.support.colours import contrast
from tests.support.jargon import jargon_in
from tests.support.studies import shipped_study
from viewer import look
from viewer.charts.decay import decay_figure, draw_decays
from viewer.charts.paper import WIDE as SIZE


@functools.cache
def decays_of(name):
    study = shipped_study(name, up_to_order=2)
    return study, find_decay(study.scene, study.room, study.arrivals, sampling=Sampling(6400))


@functools.cache
def figure_of(name):
    study, decays = decays_of(name)
    return (decays[0], *decay_figure(study, decays[0]))


@pytest.mark.parametrize("name", ["box", "classroom", "garage", "cupboard"])
def test_words_are_apart_and_inside_and_the_border_is_empty(name, tmp_path):
    study, decays = decays_of(name)
    charts = draw_decays(study, decays, tmp_path)
    assert [(c.speaker, c.seat) for c in charts] == mains_at_seats(study.scene)
    for chart in charts:
        assert_clean(chart, SIZE)


def test_each_line_is_the_decay_of_its_octave_as_far_as_it_is_certain():
    decay, figure, _ = figure_of("garage")
    lines = [line for line in figure.axes[0].lines if len(line.get_xdata()) > 2]
    assert len(lines) == 8
    for band, line in enumerate(lines):
        n = len(line.get_xdata())
        assert line.get_xdata() == pytest.approx(decay.time_s[:n] * 1e3)
        assert line.get_ydata() == pytest.approx(decay.level_db[:n, band])
        assert decay.level_error_db[:n, band].max() <= 1.0
        assert decay.level_error_db[n, band] > 1.0 or decay.level_db[n, band] < -60.0


def test_lines_below_the_frequency_from_which_figures_hold_are_dashed():
    decay, figure, _ = figure_of("garage")
    lines = [line for line in figure.axes[0].lines if len(line.get_xdata()) > 2]
    dashed = [line.is_dashed() for line in lines]
    assert dashed == [band < decay.schroeder_hz for band in (63, 125, 250, 500, 1000, 2000, 4000, 8000)]
    assert True in dashed
    assert False in dashed


def test_the_dots_are_the_decay_times():
    decay, figure, _ = figure_of("garage")
    dots = np.concatenate([c.get_offsets() for c in figure.axes[1].collections if len(c.get_offsets()) > 1])
    assert sorted(dots[:, 1]) == pytest.approx(sorted(decay.parameters.t20_s))


def test_words_are_readable_and_plain(tmp_path):
    _, _, texts = figure_of("box")
    for text in texts:
        assert text.get_fontsize() / 72.0 * look.DPI >= 28.0  # pixels of 2400
        assert contrast(look.WHITE, text.get_color()) >= 4.5
    study, decays = decays_of("box")
    words = " ".join(text.get_text() for text in texts)
    words += draw_decays(study, decays[:1], tmp_path)[0].caption
    assert not jargon_in(words)
    assert f"{decays[0].target.time_s:.2f} s" in words
    assert study.scene.seats[0].name in words

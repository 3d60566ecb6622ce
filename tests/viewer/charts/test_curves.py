"""Charts of level over time: what is drawn are the study's numbers; words apart, border empty."""

import functools

import numpy as np
import pytest

from tests.support.chartchecks import assert_clean, mains_at_seats
from tests.support.studies import shipped_study
from viewer import look
from viewer.charts.curves import curve_figure, draw_curves
from viewer.charts.paper import SIZE
from viewer.words import JARGON

study_of = functools.partial(shipped_study, up_to_order=3)


@functools.cache
def figure_of(name, index):
    study = study_of(name)
    return (study, study.curves[index], *curve_figure(study, study.curves[index]))


@pytest.mark.parametrize("name", ["box", "ridge", "classroom", "hip"])
def test_words_are_apart_and_inside_and_the_border_is_empty(name, tmp_path):
    study = study_of(name)
    charts = draw_curves(study, tmp_path)
    assert [(c.speaker, c.seat) for c in charts] == mains_at_seats(study.scene)
    for chart in charts:
        assert_clean(chart, SIZE)


def test_the_line_is_the_curve_of_the_study():
    _, curve, figure, _ = figure_of("ridge", 0)
    line = max(figure.axes[0].lines, key=lambda line: len(line.get_xdata()))
    loud = curve.level_db > -40.0
    assert line.get_xdata() == pytest.approx(curve.time_s * 1e3)
    assert line.get_ydata()[loud] == pytest.approx(curve.level_db[loud])


def test_the_limit_spans_its_window_at_its_level():
    study, _, figure, _ = figure_of("ridge", 0)
    limit = [
        line
        for line in figure.axes[0].lines
        if line.get_color() == look.ACCENT and line.get_xdata()[0] == 0.0
    ]
    assert len(limit) == 1
    assert list(limit[0].get_xdata()) == [0.0, study.scene.limits.within_ms]
    assert list(limit[0].get_ydata()) == [-study.scene.limits.below_db] * 2


def test_every_judged_peak_is_marked_at_its_delay_and_level():
    study, curve, figure, _ = figure_of("ridge", 1)
    dots = figure.axes[0].collections[-1].get_offsets()
    own = [
        p
        for p in study.peaks
        if (p.speaker, p.seat) == (curve.speaker, curve.seat) and not np.isnan(p.margin_db)
    ]
    expected = {(round(p.delay_s * 1e3, 6), round(p.level_db, 6)) for p in own if p.level_db > -40.0}
    assert {(round(x, 6), round(y, 6)) for x, y in dots.tolist()} == expected


def test_peaks_over_the_limit_are_named_after_what_sends_them():
    study, curve, _, texts = figure_of("ridge", 0)
    over = [p for p in study.peaks if p.over_limit and (p.speaker, p.seat) == (curve.speaker, curve.seat)]
    strongest = min(over, key=lambda p: p.margin_db)
    row = max(strongest.arrivals, key=lambda r: study.arrivals.band_level_db[r])
    name = study.room.surfaces[study.arrivals.path_surfaces[row, 0]].name
    named = [text.get_text() for text in texts if text.get_text().endswith("dB over")]
    assert f"{name}, {-strongest.margin_db:.1f} dB over" in named
    assert len(named) == min(len(over), 7)


def test_no_leader_strikes_through_a_name():
    _, _, figure, texts = figure_of("classroom", 1)
    axes = figure.axes[0]
    figure.canvas.draw()
    leaders = [line for line in axes.lines if line.get_color() == look.MUTED]
    names = [text.get_window_extent() for text in texts if text.get_text().endswith("dB over")]
    assert len(leaders) == len(names) > 2
    for line in leaders:
        (x, y0), (_, y1) = axes.transData.transform(np.column_stack([line.get_xdata(), line.get_ydata()]))
        assert not any(box.x0 < x < box.x1 and y0 < box.y1 and y1 > box.y0 for box in names)


def test_captions_hold_no_jargon(tmp_path):
    for chart in draw_curves(study_of("box"), tmp_path):
        words = f" {chart.caption} {' '.join(box.text for box in chart.boxes)} ".lower()
        for term in JARGON:
            assert f" {term.lower()} " not in words, term

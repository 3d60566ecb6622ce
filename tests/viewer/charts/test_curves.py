"""Charts of level over time: what is drawn are the study's numbers; words apart, border empty."""

import functools
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex

from tests.support.chartchecks import assert_clean, mains_at_seats
from tests.support.jargon import jargon_in
from tests.support.studies import shipped_study
from viewer import look
from viewer.charts.curves import curve_figure, draw_curves, draw_window
from viewer.charts.paper import SIZE, blank_figure

ENDINGS = ("dB over", "too close to say")
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


@pytest.mark.parametrize("until_ms", [15.0, 17.0, 22.0, 30.0])
def test_the_words_of_the_limit_stay_within_the_axes_wherever_they_end(until_ms):
    figure = blank_figure()
    axes = figure.add_axes((0.09, 0.15, 0.87, 0.7))
    axes.set(xlim=(-1.0, until_ms), ylim=(-40.0, 5.0))
    (text,) = draw_window(study_of("box").scene, axes)
    words, room = text.get_window_extent(), axes.get_window_extent()
    assert room.x0 < words.x0 < words.x1 <= room.x1
    line_y = axes.transData.transform((0.0, study_of("box").scene.limits.level_db))[1]
    is_behind = words.x0 > axes.transData.transform((study_of("box").scene.limits.within_ms, 0.0))[0]
    assert is_behind or words.y0 > line_y  # never over the line itself


def own_peaks(study, curve):
    own = [p for p in study.peaks if (p.speaker, p.seat) == (curve.speaker, curve.seat)]
    return [p for p in own if p.verdict != "not judged"]


@pytest.mark.parametrize("name", ["box", "ridge"])
def test_dots_lie_on_the_curve_at_the_level_that_the_ears_hear(name):
    study, curve, figure, _ = figure_of(name, 1)
    dots = [x for collection in figure.axes[0].collections[1:] for x in collection.get_offsets().tolist()]
    own = [p for p in own_peaks(study, curve) if p.ears_db > -40.0]
    assert sorted({round(y, 6) for _, y in dots}) == sorted({round(p.ears_db, 6) for p in own})
    for x, y in dots:
        # A sample of the curve is at most half a step off the parabola's top: 0.1 dB at 48 kHz and 8 kHz.
        assert y == pytest.approx(np.interp(x, curve.time_s * 1e3, curve.level_db), abs=0.3)


def test_bars_stand_at_the_level_that_is_judged_red_where_it_is_over():
    study, curve, figure, _ = figure_of("ridge", 0)
    bars = {}
    for line in figure.axes[0].lines:
        x0, levels = line.get_xdata()[0], line.get_ydata()
        if len(levels) == 2 and levels[0] == levels[1] and x0 > 0.0:
            bars[round(levels[0], 6)] = line.get_color()
    verdicts = {round(p.level_db, 6): p.verdict for p in own_peaks(study, curve) if p.may_be_over}
    colour = {"over": look.ACCENT, "undecided": look.MUTED}
    assert set(verdicts.values()) == set(colour)
    assert bars == {level: colour[verdict] for level, verdict in verdicts.items()}


def test_what_is_undecided_is_a_ring_and_what_is_over_a_full_dot():
    study, curve, figure, _ = figure_of("ridge", 0)
    verdicts = {round(p.ears_db, 6): p.verdict for p in own_peaks(study, curve)}
    for dot in figure.axes[0].collections[1:]:
        ((_, y),) = dot.get_offsets().tolist()
        is_white = to_hex(dot.get_facecolor()[0]).upper() == look.WHITE
        has_edge = dot.get_linewidth()[0] > 0.0  # those without one are the grounds of dots
        if has_edge:
            assert is_white == (verdicts[round(y, 6)] == "undecided")


def test_peaks_over_the_limit_are_named_after_what_sends_them():
    study, curve, _, texts = figure_of("ridge", 0)
    own = own_peaks(study, curve)
    strongest = min((p for p in own if p.over_limit), key=lambda p: p.margin_db)
    row = max(strongest.arrivals, key=lambda r: study.arrivals.band_level_db[r])
    name = study.room.surfaces[study.arrivals.path_surfaces[row, 0]].name
    named = [text.get_text() for text in texts if text.get_text().endswith(ENDINGS)]
    assert f"{name}, {-strongest.margin_db:.1f} dB over" in named
    assert len(named) == min(len([p for p in own if p.may_be_over]), 7)


def test_no_leader_strikes_through_a_name():
    _, _, figure, texts = figure_of("classroom", 1)
    axes = figure.axes[0]
    figure.canvas.draw()
    leaders = [line for line in axes.lines if line.get_color() == look.MUTED and line.get_ydata()[1] > 4.0]
    names = [text.get_window_extent() for text in texts if text.get_text().endswith(ENDINGS)]
    assert len(leaders) == len(names) > 2
    for line in leaders:
        (x, y0), (_, y1) = axes.transData.transform(np.column_stack([line.get_xdata(), line.get_ydata()]))
        assert not any(box.x0 < x < box.x1 and y0 < box.y1 and y1 > box.y0 for box in names)


def test_captions_hold_no_jargon(tmp_path):
    for chart in draw_curves(study_of("box"), tmp_path):
        assert not jargon_in("\n".join([chart.caption, *(box.text for box in chart.boxes)]))


def test_a_caption_tells_of_rings_and_of_dots_over_the_line_only_where_there_are_some(tmp_path):
    study = study_of("ridge")
    clear = replace(study, peaks=tuple(p for p in study.peaks if p.verdict != "undecided"))
    limit_db = study.scene.limits.level_db
    lone = next(p for p in study.peaks if p.verdict == "below")
    over_line = replace(clear, peaks=(*clear.peaks, replace(lone, ears_db=limit_db + 1.0)))
    captions = [draw_curves(own, tmp_path)[lone.speaker].caption for own in (study, clear, over_line)]
    assert ["too close to the limit to say" in caption for caption in captions] == [True, False, False]
    assert ["over it in the middle" in caption for caption in captions] == [False, False, True]


def test_a_hidden_speakers_caption_says_what_hides_it(tmp_path):
    study = study_of("box")
    hides = {"status": "hidden", "hidden_by": "screen"}
    study = replace(study, verdicts=tuple(replace(v, **hides) for v in study.verdicts))
    for chart in draw_curves(study, tmp_path):
        assert chart.caption.startswith("Nothing is judged here: the screen hides the direct sound")

"""What the window says of one reflection."""

import pytest

from raytrace import run_study
from tests.support.scenes import BEDROOM
from tests.support.studies import shipped_study
from viewer.window.state.spotwords import peak_lines, row_words, spot_lines
from viewer.window.state.verdictwords import limit_text
from viewer.words import off_limit, peak_of


@pytest.fixture
def study(scene_of):
    return run_study(scene_of(BEDROOM), up_to_order=2)


def row_at(study, ms):
    return next(i for i, delay_s in enumerate(study.arrivals.delay_s) if abs(delay_s * 1e3 - ms) < 0.01)


def test_a_reflection_says_what_its_peak_is_and_what_it_is_counted_with(study):
    row = row_at(study, 8.41)
    peak = peak_of(study, row)
    assert peak.verdict == "below"
    assert limit_text(study, row) == f"{off_limit(peak.margin_db)} dB below the limit"
    together = row_at(study, 4.33)
    assert peak_lines(study, together) == ["counted together with floor"]
    assert peak_lines(study, together)[0] in row_words(study, together, "metric").splitlines()


def test_a_reflection_that_stands_alone_names_no_other(study):
    peak = next(p for p in study.peaks if len(p.arrivals) == 1 and not p.near_misses and not p.joined)
    assert peak_lines(study, peak.arrivals[0]) == []


def test_every_distance_on_a_desk_says_from_which_side():
    study = shipped_study("garage", up_to_order=1)
    tops = [surface.name for surface in study.room.surfaces]
    row = next(i for i, met in enumerate(study.arrivals.path_surfaces[:, 0]) if tops[met] == "desk top")
    (line,) = spot_lines(study, row, "metric")
    u, v = study.arrivals.spots[row, 0]
    assert line.startswith(f"desk top: {1e3 * u:.0f} mm from its front, ")
    assert f"{1e3 * v:.0f} mm from its left" in line


def test_many_bounces_take_one_short_line_each(scene_of):
    study = run_study(scene_of(BEDROOM), up_to_order=4)
    row = int(study.arrivals.order.argmax())
    lines = spot_lines(study, row, "metric")
    assert len(lines) == 4
    assert max(map(len, lines)) <= 62  # what the card has room for in one line
    assert "(" in spot_lines(study, row_at(study, 4.33), "metric")[0]


def test_a_height_says_from_where_it_is_measured(study):
    assert "1200 mm above the floor" in spot_lines(study, row_at(study, 8.41), "metric")[0]
    ridge = shipped_study("ridge", up_to_order=1)
    names = [surface.name for surface in ridge.room.surfaces]
    row = next(i for i, met in enumerate(ridge.arrivals.path_surfaces[:, 0]) if names[met] == "left slope")
    v = ridge.arrivals.spots[row, 0, 1]
    assert f"{1e3 * v:.0f} mm up from its lower edge" in spot_lines(ridge, row, "metric")[0]

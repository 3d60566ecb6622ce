"""The chart of a data sheet: what is drawn are the sheet's numbers; words apart, border empty."""

import numpy as np
import pytest

from raytrace.making import make_datasheet
from raytrace.scene import Air, load_builds
from tests.support.chartchecks import assert_clean
from viewer.charts.datasheet import SIZE, datasheet_figure, draw_datasheets


def sheet_of(name, gap_m=0.05):
    return make_datasheet(name, load_builds()[name], gap_m=gap_m, air=Air())


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", ["wool 50", "wool 4 in", "wool 200"])
def test_words_are_apart_and_inside_and_the_border_is_empty(name, units, tmp_path):
    (chart,) = draw_datasheets((sheet_of(name),), tmp_path, units=units)
    assert_clean(chart, SIZE)


def test_lines_are_the_figures_of_the_build_and_its_neighbours():
    sheet = sheet_of("wool 50")
    figure, texts = datasheet_figure(sheet)
    drawn = [line.get_ydata() for line in figure.axes[0].lines if len(line.get_xdata()) == 8]
    wanted = [sheet.own.random, sheet.own.normal, sheet.thicker.random, sheet.thinner.random]
    for line, values in zip(drawn, wanted, strict=True):
        assert np.array_equal(line, values)
    words = [text.get_text() for text in texts]
    assert "thicker: 75 mm of wool, from all sides" in words
    assert "thinner: 30 mm of wool, from all sides" in words


def test_the_thinnest_slab_has_no_thinner_line():
    thin = load_builds()["wool 30"].model_copy(update={"thickness": 0.02})
    figure, _ = datasheet_figure(make_datasheet("thin", thin, gap_m=0.0, air=Air()))
    assert sum(len(line.get_xdata()) == 8 for line in figure.axes[0].lines) == 3

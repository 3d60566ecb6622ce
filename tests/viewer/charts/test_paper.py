"""What all charts share: the same chart gives the same bytes, and is told where its words stand."""

import matplotlib
import pytest
from matplotlib import _pylab_helpers

from viewer import look
from viewer.charts.paper import blank_figure, dress, word_style, write_chart

SIZE = (1200, 600)


def drawn():
    figure = blank_figure(SIZE)
    axes = figure.add_axes((0.2, 0.3, 0.7, 0.6))
    axes.plot([0.0, 1.0], [-40.0, 0.0])
    return figure, [figure.text(0.25, 0.5, "words", **word_style()), *dress(axes, "below", "beside")]


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_the_same_chart_gives_the_same_bytes(suffix, tmp_path):
    written = []
    for folder in ("one", "other"):
        (tmp_path / folder).mkdir()
        path = tmp_path / folder / f"chart{suffix}"
        write_chart(drawn()[0], path, [])
        written.append(path.read_bytes())
    assert written[0] == written[1]


def test_boxes_count_pixels_from_the_top_left_corner(tmp_path):
    figure, texts = drawn()
    boxes = {box.text: box for box in write_chart(figure, tmp_path / "chart.png", texts)}
    words = boxes["words"]
    assert words.left == pytest.approx(0.25 * SIZE[0], abs=4.0)  # a letter's own bearing
    assert words.bottom == pytest.approx(0.5 * SIZE[1], abs=0.5 * look.KEY_PX)  # the line's descent
    assert words.bottom - words.top == pytest.approx(look.KEY_PX, rel=0.5)
    assert boxes["below"].top > words.bottom
    assert boxes["beside"].right < words.left


@pytest.mark.filterwarnings("ignore:Glyph")
def test_letters_that_are_boxes_are_told_below_what_is_drawn(tmp_path):
    figure = blank_figure(SIZE)
    boxes = write_chart(figure, tmp_path / "chart.png", [figure.text(0.5, 0.5, "壁", **word_style())])
    told = boxes[1]
    assert told.text == "A box stands for a letter that this typeface lacks: U+58C1"
    assert SIZE[1] - look.BORDER_PX < told.top < told.bottom < SIZE[1]


def test_axes_have_no_frame_but_the_lower_line_and_marks_only_where_asked_for():
    for ticked in (False, True):
        axes = blank_figure(SIZE).add_axes((0.2, 0.3, 0.7, 0.6))
        dress(axes, "below", "beside", ticked=ticked)
        assert [side for side in axes.spines if axes.spines[side].get_visible()] == ["bottom"]
        assert (axes.xaxis.majorTicks[0].tick1line.get_markersize() > 0) == ticked
        assert axes.yaxis.majorTicks[0].tick1line.get_markersize() == 0


def test_the_global_state_of_matplotlib_is_left_alone(tmp_path):
    before = dict(matplotlib.rcParams)
    write_chart(drawn()[0], tmp_path / "chart.svg", [])
    assert dict(matplotlib.rcParams) == before
    assert not _pylab_helpers.Gcf.figs

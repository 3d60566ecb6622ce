"""Words and tables find their place in columns: nothing lost, nothing cut, nothing over anything."""

from hypothesis import given
from hypothesis import strategies as st

from viewer.paper.columns import BODY_PT, Cell, Column, Strip, bullet, heading, pour, table, tick_line, wrap
from viewer.paper.drafting import boxes_overlap, text_size_mm

WORDS = st.lists(st.text("abcdefg", min_size=1, max_size=9), min_size=1, max_size=30)


@given(WORDS, st.floats(15.0, 80.0))
def test_wrapping_keeps_every_word_in_order_and_within_the_width(given_words, width):
    rows = wrap(" ".join(given_words), width, BODY_PT)
    assert " ".join(rows).split() == given_words
    for row in rows:
        assert " " not in row or text_size_mm(row, BODY_PT)[0] <= width


@given(st.floats(15.0, 80.0))
def test_no_line_ends_within_feet_and_inches(width):
    amounts = ["4' 7/8\"", '8 1/4"', "1' 11 5/8\"", "13' 2\""]
    rows = wrap(
        f"tips at {amounts[0]} or {amounts[1]} up, x {amounts[2]} and {amounts[3]} wide", width, BODY_PT
    )
    assert all(any(amount in row for row in rows) for amount in amounts)


def made(placed):
    return [mark for each in placed for mark in each.made()]


@given(st.lists(st.floats(3.0, 20.0), max_size=20), st.lists(st.floats(20.0, 60.0), max_size=4))
def test_pouring_loses_nothing_and_stays_in_the_columns(heights, columns):
    strips = [Strip(height, heading(str(k), 50.0).marks) for k, height in enumerate(heights)]
    placed, rest = pour(strips, [Column(60.0 * k, 5.0, high) for k, high in enumerate(columns)])
    marks = made(placed)
    assert len(marks) + len(rest) == len(strips)
    assert [mark.text for mark in marks] == [str(k) for k in range(len(marks))]


def test_a_heading_goes_to_the_next_column_with_what_it_heads():
    strips = [*(bullet("word", 40.0) for _ in range(3)), heading("Head", 40.0), bullet("last", 40.0)]
    high = sum(strip.height_mm for strip in strips[:-1]) + 1.0  # the heading alone would fit
    placed, rest = pour(strips, [Column(0.0, 0.0, high), Column(50.0, 0.0, high)])
    marks = made(placed)
    assert rest == []
    head = next(mark for mark in marks if mark.text == "Head")
    assert head.points[0][0] > 50.0


def test_a_table_repeats_its_head_in_every_column_and_no_two_texts_touch():
    cells = [Cell("panel", 30.0), Cell("from front wall", 14.0, "figure"), Cell("as built", 20.0, "empty")]
    rows = [(f"a panel with a long name {k}", str(1000 + k), "") for k in range(12)]
    placed, rest = pour(table(cells, rows), [Column(0.0, 0.0, 60.0), Column(70.0, 0.0, 80.0)])
    marks = made(placed)
    assert rest == []
    assert sum(mark.text == "panel" for mark in marks) == 2
    boxes = [mark.box for mark in marks if mark.kind == "text"]
    assert not any(boxes_overlap(a, b) for i, a in enumerate(boxes) for b in boxes[:i])


def test_a_tick_line_has_a_box_beside_its_words():
    strip = tick_line("a step that is long enough to need two lines", 40.0)
    (box,) = [mark for mark in strip.marks if mark.kind == "area"]
    assert all(mark.box[0] > box.box[2] for mark in strip.marks if mark.kind == "text")

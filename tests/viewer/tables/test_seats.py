"""Tables of places for a seat, as a terminal shows them."""

from types import SimpleNamespace

import pytest

from viewer.tables.grid import fit
from viewer.tables.seats import places_table, reason_words


def place(ahead_m, aside_m, wall):
    """What the table reads of one place, each figure as wide as it gets in a small room."""
    return SimpleNamespace(
        place=SimpleNamespace(wall=wall, depth_m=ahead_m, aside_m=aside_m),
        **dict(is_proven=True, score=11.2, over_db=3.8, n_over=2, n_undecided=4, left_right_db=-10.1),
        **dict(evenness_db=5.5, dip_db=-13.7, dip_hz=339.0, near_m=1.2, near="left wall"),
    )


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_the_table_has_room_in_80_columns(units):
    seats = SimpleNamespace(
        scene=SimpleNamespace(seats=[SimpleNamespace(name="mix")]),
        now=place(1.79, 0.0, "front wall"),
        best=[place(2.0, -0.3, "front wall"), place(2.0, 0.3, "chimney breast wall")],
    )
    assert fit(places_table(seats, units), 80) <= 80


def scored(over_db, evenness_db):
    """What is read of a place for its reasons."""
    terms = SimpleNamespace(over=over_db, left_right=0.0, evenness=evenness_db, dip=0.0, near=0.0)
    return SimpleNamespace(terms=terms, score=over_db + evenness_db)


def test_reasons_are_told_where_a_place_is_better_in_all_worse_in_all_or_either():
    seats = SimpleNamespace(now=scored(3.0, 6.0))
    less, more = "less early energy over the limit", "more early energy over the limit"
    assert reason_words(seats, scored(3.0, 6.0)) == "as good as now"
    assert reason_words(seats, scored(0.0, 6.0)) == f"3.0 points better than now: {less}"
    assert reason_words(seats, scored(9.0, 6.0)) == f"6.0 points worse than now: {more}"
    assert reason_words(seats, scored(9.0, 4.0)) == f"4.0 points worse than now: bass more even; but {more}"

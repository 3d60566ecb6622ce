"""Tables of places for a seat, as a terminal shows them."""

from types import SimpleNamespace

import pytest

from viewer.tables.grid import fit
from viewer.tables.seats import places_table


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

"""Legs and stands reach from what would float down to what is below, and meet no sound."""

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer.pictures.faces import PARTS, column, loops_of
from viewer.pictures.props import lamp_places, props


def blocks_of(name):
    """Lowest and highest corner of every block of legs, (n, 2, 3)."""
    mesh = props(shipped_study(name, up_to_order=2))
    is_leg = column(mesh, "part") == PARTS.index("leg")
    on_wall = column(mesh, "surface") >= 0
    loops = [loop for loop, kept in zip(loops_of(mesh), is_leg & ~on_wall, strict=True) if kept]
    corners = np.array(loops).reshape(-1, 24, 3)  # six faces of four corners
    return np.stack([corners.min(axis=1), corners.max(axis=1)], axis=1)


def test_a_desk_has_a_leg_at_each_corner_down_to_the_floor():
    room = shipped_study("ridge", up_to_order=2).room
    desk = room.skins["desk"]
    low, high = desk.reshape(-1, 3).min(axis=0), desk.reshape(-1, 3).max(axis=0)
    blocks = blocks_of("ridge")
    legs = blocks[np.isclose(blocks[:, 1, 2], low[2], atol=0.003)]  # tops just under the slab
    assert len(legs) == 4
    assert legs[:, 0, 2] == pytest.approx(room.bounds[0, 2], abs=1e-6)
    assert (legs[:, 0, :2] > low[:2]).all()
    assert (legs[:, 1, :2] < high[:2]).all()


@pytest.mark.parametrize("name", ["box", "garage", "treated-box"])
def test_everything_drawn_below_speakers_and_listeners_stays_in_the_room(name):
    room = shipped_study(name, up_to_order=2).room
    blocks = blocks_of(name)
    assert len(blocks) >= 5
    slack_m = 1e-6
    assert (blocks >= room.bounds[0] - slack_m).all()
    assert (blocks <= room.bounds[1] + slack_m).all()


def test_a_lamp_hangs_where_the_ceiling_is_kept_free_for_one():
    (place,) = lamp_places(shipped_study("box", up_to_order=2))
    # centre 2100, 1500 of the ceiling's frame, which has the room's own x and y; 300 mm deep, radius 200 mm.
    assert place == pytest.approx([2.1, 1.5, 2.4, 0.3, 0.16, 0.16])
    assert not lamp_places(shipped_study("ridge", up_to_order=2))

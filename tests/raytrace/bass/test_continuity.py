"""Curves of bass move by a hair where something moves by a hair; finer cells or more modes change nothing."""

import numpy as np
import pytest

from raytrace.bass.linings import line_modes
from raytrace.bass.modes import find_modes
from raytrace.bass.response import hear, level_db
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support.rooms import room_text

HZ = np.arange(22.0, 118.0, 4.0)
SUB, EAR = np.array([0.5, 0.6, 0.3]), np.array([2.6, 1.9, 1.2])
SOFT = "[materials.soft]\nabsorption = [{0}, {0}, {0}, {0}, {0}, {0}, {0}, {0}]\n"


def room_of(shape, alpha=0.15):
    text = room_text(shape).replace("[surfaces]", SOFT.format(alpha) + "[surfaces]")
    return build_room(load_scene("room.toml", text.replace('"plasterboard"', '"soft"')))


def listener(room, top_hz=130.0):
    lined = line_modes(room, find_modes(room, top_hz=top_hz))
    return hear(lined.modes, lined.overlaps, lined.admittances(HZ, room.medium), EAR, HZ)


def apart(one, other):
    """The largest difference of two curves, of the root mean square of the second."""
    return (np.abs(one - other) / np.sqrt(np.mean(np.abs(other) ** 2))).max()


@pytest.mark.parametrize("shape", ["gable", "elbow"])
def test_half_the_cell_and_twice_the_limit_leave_the_curve(shape):
    # Twice the limit takes cells half as long, and finds six times as many modes.
    room = room_of(shape)
    coarse, fine = (listener(room, top_hz).pressure(SUB)[:, 0, 0] for top_hz in (130.0, 260.0))
    strong = level_db(fine) > level_db(fine).mean() - 10.0
    # A frequency off by 0.2 % on a flank of 6 dB in 3 Hz is 0.4 dB.
    assert np.abs(level_db(coarse) - level_db(fine))[strong].max() < 0.4
    assert apart(coarse, fine) < 0.05


def test_a_millimetre_moves_a_curve_by_a_hair():
    # On the lines between cells as well, where shapes are continuous and their slopes are not.
    own = listener(room_of("gable"))
    lines = own.modes.space.grid.lines[0][1:-1]
    along = np.sort(np.concatenate([np.arange(0.5, 5.0, 0.25), lines]))
    places = np.tile(SUB, (len(along), 1))
    places[:, 0] = along
    there, before, after = (
        own.pressure(places + step)[..., 0] for step in np.outer([0.0, -1e-3, 1e-3], [1, 0, 0])
    )
    # k 1 mm is 0.002 at 118 Hz, some times that beside the ears, where pressure goes as 1 / r.
    assert apart(after, there) < 0.01
    # Half of what two millimetres do: no step hides between them.
    assert apart(there, 0.5 * (before + after)) < 1e-3


def test_a_hair_more_absorption_moves_a_curve_by_a_hair():
    # 0.9512 is the most that a wall like this takes at random incidence: it is held from there.
    for alpha in (0.0, 0.15, 0.9512):
        curves = [listener(room_of("box", a)).pressure(SUB)[:, 0, 0] for a in (alpha, alpha + 1e-6)]
        # Without any absorption 0.2 Hz beside a mode: d = c A / 8 V = 2e-5 / s of the 1 / s that it is off.
        assert apart(*curves) < 1e-3


def test_a_room_that_takes_one_cell_more_has_the_same_modes():
    # Cells are 0.70 of the wave at the top at most: a length on either side of three of them.
    three_m = 3 * 0.70 * 343.2 / 130.0
    found = []
    for length in (three_m - 1e-6, three_m + 1e-6):
        text = room_text(f'shape = "box"\nlength = {length:.9f}\nwidth = 3.1\nheight = 2.4')
        found.append(find_modes(build_room(load_scene("room.toml", text)), top_hz=130.0))
    assert len(found[0].space.grid.lines[0]) + 1 == len(found[1].space.grid.lines[0])
    n = min(one.is_complete.sum() for one in found)
    below, above = (one.frequencies_hz[1:n] for one in found)
    assert np.abs(below / above - 1).max() < 3e-3  # what is stated at the top
    assert np.abs(below / above - 1)[:10].max() < 5e-4  # and of the first ten

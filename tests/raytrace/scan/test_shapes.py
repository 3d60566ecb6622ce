"""Walls of a scanned room have names that say where they stand."""

import numpy as np
import pytest

from raytrace.scan.shapes import wall_names
from tests.support.scans import OUTLINE

L_ROOM = [(0, 0), (6, 0), (6, 5.2), (3.4, 5.2), (3.4, 3.4), (0, 3.4)]


@pytest.mark.parametrize(
    ("corners", "names"),
    [
        ([(0, 0), (4, 0.2), (4.1, 3), (0, 3)], "left wall, back wall, right wall, front wall"),
        (
            L_ROOM,
            "left wall, back wall, right wall back part, front wall right part, right wall front part, "
            "front wall left part",
        ),
        (
            [(0, 0), (3, 0), (4, 1), (4, 3), (0, 3)],
            "left wall, back left wall, back wall, right wall, front wall",
        ),
        (
            OUTLINE,
            "left wall, back left wall, back wall left part, back right wall, back wall middle part, "
            "right wall back part, front wall right part, right wall middle part, back wall right part, "
            "right wall front part, front wall",
        ),
    ],
    ids=["skew", "L", "corner cut off", "irregular"],
)
def test_walls_are_called_after_their_side_and_place(corners, names):
    assert ", ".join(wall_names(np.array(corners, float))) == names


def test_names_are_unique_and_stay_when_the_outline_starts_elsewhere():
    turns = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    for corners in (np.array(OUTLINE), 3.0 * np.column_stack([np.cos(turns), np.sin(turns)])):
        names = wall_names(corners)
        assert len(set(names)) == len(corners)
        assert wall_names(np.roll(corners, 3, axis=0)) == (*names[-3:], *names[:-3])

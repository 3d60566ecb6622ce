"""Walls seen from above become an outline that goes round a floor once, or a message."""

import numpy as np
import pytest

from raytrace.scan.outline import NoOutline, close_outline, seen_wall


def walls_between(corners):
    """Walls that were seen from corner to corner, the air on their left."""
    walls = []
    for k, (start, end) in enumerate(zip(corners, [*corners[1:], corners[0]], strict=True)):
        along = np.subtract(end, start) / np.linalg.norm(np.subtract(end, start))
        points = np.column_stack([np.linspace(start, end, 200), np.zeros(200)])
        walls.append(seen_wall(points, np.array([-along[1], along[0], 0.0]), k))
    return walls


def test_walls_of_a_plan_meet_at_its_corners():
    corners = [(0.0, 0.0), (5.0, 0.0), (5.0, 3.0), (2.0, 3.0), (2.0, 4.0), (0.0, 4.0)]
    outline = close_outline(walls_between(corners))
    found = sorted(map(tuple, np.round(outline.corners, 9)))
    assert found == sorted(corners)


def test_walls_that_run_through_each_other_are_no_plan():
    # From above a star: every wall ends where the next one starts, and each crosses two others.
    turns = np.radians(90.0 + 144.0 * np.arange(5))
    star = [(4.0 * np.cos(turn), 4.0 * np.sin(turn)) for turn in turns]
    with pytest.raises(NoOutline, match="close no outline"):
        close_outline(walls_between(star))

import numpy as np
import pytest

from raytrace import build_room
from raytrace.reflections import decibels, find_reflectors, wall_reflection
from tests.support.rooms import room_text

SEEN = np.array([4.0, 3.0, 1.2])  # whom the left wall reflects to
SPOT = np.array([3.0, 0.0, 1.2])  # where it does so to a speaker mirrored at (2, -3, 1.2)
STEP_M = 1e-6


@pytest.fixture
def returned(scene_of):
    """What a wall with a panel 1.2 m long sends back (8, 24), its edge so far short of the spot."""

    def send(gap_m, beyond_m):
        room = build_room(
            scene_of(
                room_text(
                    'shape = "box"\nlength = 8\nwidth = 6\nheight = 3',
                    '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "wool 50"\n'
                    # u runs from x = 8 down.
                    f"centre = [{8.0 - SPOT[0] + beyond_m + 0.6}, 1.2]\ngap = {gap_m}\n",
                    speaker="[2.0, 3.0, 1.2]",
                    seat="[4.0, 3.0, 1.2]",
                )
            )
        )
        wall = next(k for k, f in enumerate(room.facets) if room.surfaces[f.surface].name == "left wall")
        ends = np.array([[2.0, -3.0, 1.2]]), SEEN[None]
        return wall_reflection(room, find_reflectors(room), wall, *ends)[0]

    return send


# Where one form of a panel begins or ends to go over into another.
@pytest.mark.parametrize("gap_m", [0.0, 0.1, 0.15])
def test_a_gap_that_grows_by_a_hair_does_not_step(returned, gap_m):
    below, above = (returned(gap_m + side, 0.1) for side in (0.0, STEP_M))
    # 2 k of 1e-6 m is 3e-4 at 8 kHz.
    np.testing.assert_allclose(above, below, atol=1e-3)


@pytest.mark.parametrize("beyond_m", [0.0, 0.3, 0.7])
def test_a_panel_moved_aside_by_a_hair_does_not_step(returned, beyond_m):
    before, after = (returned(0.05, beyond_m + side) for side in (-STEP_M, STEP_M))
    # K changes by 25 per metre at most (8 kHz).
    np.testing.assert_allclose(after, before, atol=1e-3)


def test_what_a_panel_takes_falls_off_steadily_beside_it(returned):
    """Walked from its middle to 1 m beside it in steps of 10 mm: no step of what is judged."""
    level_db = np.array(
        [decibels(np.mean(np.abs(returned(0.05, b)[4:]) ** 2)) for b in np.arange(-0.6, 1.0, 0.01)]
    )
    # At the edge the level climbs by some 5 dB within the Fresnel zone at 2 kHz, 0.5 m: 0.1 dB each 10 mm in
    # the mean, several times that where it is steepest.
    assert np.abs(np.diff(level_db)).max() < 0.5
    assert level_db[0] < level_db[-1] - 3.0  # of a panel 0.6 m high the wall comes back above and below
    assert abs(level_db[-1] - decibels(np.mean(np.abs(returned(0.05, 1.8)[4:]) ** 2))) < 0.5

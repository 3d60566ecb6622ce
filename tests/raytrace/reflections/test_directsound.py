import numpy as np
import pytest
from scipy.special import fresnel

from raytrace import build_room, find_arrivals
from tests.support.scenes import BOX

SCREEN = """
[[objects]]
name = "screen"
shape = "box"
centre = [{x}, {y}, {middle}]
size = [0.03, {wide}, {top}]
material = "hard"
"""


def direct_of(scene_of, *, x=2.1, y=1.65, wide=2.6, top=1.2):
    scene = scene_of(BOX + SCREEN.format(x=x, y=y, middle=top / 2, wide=wide, top=top))
    return find_arrivals(scene, build_room(scene), up_to_order=1, within_s=0.001).direct


def knife_edge_db(beyond_m, from_m, to_m):
    """Level behind a half-plane whose edge lies so far beyond the straight line, 1 to 8 kHz (textbook)."""
    frequency_hz = np.geomspace(1000.0, 8000.0, 400)
    turned = beyond_m * np.sqrt(2 * frequency_hz / 343.2 * (from_m + to_m) / (from_m * to_m))
    s, c = fresnel(turned)
    field = (1 + 1j) / 2 * ((0.5 - c) - 1j * (0.5 - s))
    return 10 * np.log10(np.mean(np.abs(field) ** 2))


@pytest.mark.parametrize("beyond_mm", [-600, -100, -20, 0, 20, 60])
def test_direct_sound_past_a_screens_edge_is_that_past_a_knife_edge(scene_of, beyond_mm):
    table = direct_of(scene_of, top=1.2 + beyond_mm / 1000)
    length_m = float(table.length_m[0])
    source, ears = scene_of(BOX).speakers[0].position, scene_of(BOX).seats[0].ears
    share = (2.1 - source[0]) / (ears[0] - source[0])
    edge_m = beyond_mm / 1000 - (source[2] + share * (ears[2] - source[2]) - 1.2)
    told = knife_edge_db(edge_m, share * length_m, (1 - share) * length_m)
    # The textbook's form is for small angles, and the screen ends 0.3 m beside the walls.
    assert float(table.level_db[0]) == pytest.approx(told, abs=1.0)


def test_direct_sound_has_no_step_where_a_screen_comes_in_the_way(scene_of):
    tops = 1.2 + np.arange(-0.004, 0.0045, 0.001)
    levels_db = [float(direct_of(scene_of, top=top).level_db[0]) for top in tops]
    assert np.all(np.diff(levels_db) < 0.0)
    assert np.abs(np.diff(levels_db)).max() < 0.2  # 1 mm at an edge: 0.1 dB
    sides = 0.4 + np.arange(-0.004, 0.0045, 0.001)
    levels_db = [
        float(direct_of(scene_of, y=1.65 + 0.6 + side, wide=1.2, top=1.8).level_db[0]) for side in sides
    ]
    assert np.abs(np.diff(levels_db)).max() < 0.2  # the same


def test_what_hides_a_speaker_is_named(scene_of):
    hidden = direct_of(scene_of, top=1.8)
    assert hidden.hidden_by == ("screen",)
    assert not hidden.visible[0]
    clear = direct_of(scene_of, top=0.6)
    assert clear.hidden_by == (None,)
    assert float(clear.level_db[0]) == pytest.approx(0.0, abs=0.1)  # ripple that far from the edge

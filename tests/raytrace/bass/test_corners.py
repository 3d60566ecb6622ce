"""Panels across corners below 200 Hz: what they add, and that it is little."""

import numpy as np
import pytest

from raytrace.bass import find_bass
from raytrace.bass.linings import line_modes
from raytrace.bass.modes import find_modes
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support.rooms import room_text

CORNERS = "".join(
    f'[[panels]]\nname = "{wall} {end}"\nsurface = "{wall}"\nacross_corner = "{end} wall"\n'
    f'build = "wool 100"\n'
    f"centre = [{u}, 1.2]\nturned = 90\n"
    for wall, end, u in (
        ("left wall", "back", 0.2),
        ("right wall", "back", 4.0),
        ("left wall", "front", 4.0),
        ("right wall", "front", 0.2),
    )
)


def built(text):
    scene = load_scene("room.toml", text)
    return scene, build_room(scene)


def lined(text):
    _, room = built(text)
    found = line_modes(room, find_modes(room, top_hz=60.0))
    return room, [lining for lining in found.linings if lining.panel is not None]


def test_a_panel_across_a_right_angle_has_the_mean_depth_of_its_prism():
    _, across = lined(room_text("box", CORNERS))
    assert len(across) == 4
    for lining in across:
        assert lining.area_m2 == pytest.approx(0.72)
        # Its back touches both walls: a triangle of width w and height w / 2, on average w / 4 deep.
        assert lining.depth_m == pytest.approx(0.15, abs=1e-9)


def test_a_layer_adds_the_less_the_less_it_resists():
    hz = np.array([30.0, 60.0, 120.0, 200.0])
    found = []
    for resistivity in (10000, 1000, 100):
        own = f'[builds.own]\nlike = "wool 100"\nflow_resistivity = {resistivity}\n'
        room, across = lined(
            room_text(
                "box",
                own + CORNERS.replace('"wool 100"', '"own"', 4).replace('like = "own"', 'like = "wool 100"'),
            )
        )
        found.append(np.abs(across[0].admittance(hz, room.medium)))
        assert (across[0].admittance(hz, room.medium).real > 0).all()  # it takes energy, and gives none
    # Ten times less resistance: by and large as much less, but for mass and heat in the wool.
    assert (found[1] < 0.7 * found[0]).all()
    assert (found[2] < 0.7 * found[1]).all()


def test_corners_damp_modes_and_the_difference_is_told():
    scene, room = built(room_text("box", CORNERS))
    bare_scene = scene.without_panels()
    bare_room = build_room(bare_scene)
    modes = find_modes(room, top_hz=130.0)
    treated, bare = (line_modes(one, modes).damping_per_s(one.medium) for one in (room, bare_room))
    assert (treated[1:] > bare[1:]).all()
    bass = find_bass(scene, room)
    alone = find_bass(bare_scene, bare_room)
    assert bass.bare_db == pytest.approx(alone.now_db, rel=1e-9)  # the same modes, the same walls
    assert 0.0 < abs(bass.bare_db - bass.now_db) < 1.0  # 2.9 m2 of wool do not mend the bass of 30 m3

"""Curves of bass against an independent solution in time, stepped on a grid of its own."""

import numpy as np
import pytest

from raytrace.bass import find_bass, find_modes
from raytrace.bass.evenness import JUDGED_HZ, judge
from raytrace.bass.linings import line_modes, wall_admittance
from raytrace.bass.response import hear, level_db
from raytrace.reflections import zone_points
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support import oracles_time
from tests.support.rooms import room_text
from tests.support.scenes import SCENES

SOFT = "[materials.soft]\nabsorption = [0.15, 0.15, 0.15, 0.15, 0.15, 0.15, 0.15, 0.15]\n"


def apart_db(found, expected):
    """Differences outside dips: where the level is no more than 10 dB below its mean."""
    heard = level_db(expected)
    return np.abs(level_db(found) - heard)[heard > heard.mean() - 10.0]


def middles(air, places):
    """The middles of the bricks in which places (n, 3) are, where the solution in time has them."""
    return (np.floor(places / air.size) + 0.5) * air.size


def test_a_gable_sounds_as_it_does_in_time():
    text = room_text("gable").replace("[surfaces]", SOFT + "[surfaces]").replace('"plasterboard"', '"soft"')
    room = build_room(load_scene("room.toml", text))
    lined = line_modes(room, find_modes(room, top_hz=120.0))
    hz = np.arange(25.0, 91.0, 1.0)
    admittances = lined.admittances(hz, room.medium)
    soft = next(k for k, lining in enumerate(lined.linings) if lining.area_m2 > 1.0)
    beta = float(admittances[0, soft].real)
    assert np.allclose(admittances[:, soft], beta)
    air = oracles_time.gable(5.6, 4.4, 1.1, 2.6, 15, beta)
    source, ears = np.array([0.6, 0.9, 0.3]), np.array([[2.1, 2.5, 1.2], [3.9, 1.2, 0.9]])
    middle = middles(air, np.vstack([source, ears]))
    expected = oracles_time.greens(air, source, ears, hz, c=room.speed_of_sound_m_s, until_s=1.2)
    found = hear(lined.modes, lined.overlaps, admittances, middle[1:], hz).pressure(middle[:1])[:, 0]
    # What is asked outside dips.
    assert apart_db(found, expected).max() < 1.0


def test_the_place_found_in_the_garage_is_better_in_time_as_well():
    scene = load_scene(SCENES / "garage.toml")
    room = build_room(scene)
    bass = find_bass(scene, room)
    lined = line_modes(room, find_modes(room))
    # In time a wall takes the same at all frequencies: here what it takes at 63 Hz.
    beta = {lining.name: float(wall_admittance(lining.material, 63.0)) for lining in lined.linings}
    air = oracles_time.box(
        room.bounds[1], 0.15, lambda axis, end, u, v: on_wall(scene, beta, axis, end, u, v)
    )
    sub = next(speaker for speaker in scene.speakers if speaker.use == "sub")
    places = middles(air, np.array([sub.position, bass.places[0].position_m]))
    ears = middles(air, zone_points(scene.seats[0])[:9])
    constant = np.tile([beta[lining.name] for lining in lined.linings], (len(JUDGED_HZ), 1)).astype(complex)
    found = hear(lined.modes, lined.overlaps, constant, ears, JUDGED_HZ).pressure(places)
    spread = []
    for k, place in enumerate(places):
        c = room.speed_of_sound_m_s
        in_time = oracles_time.greens(air, place, ears, JUDGED_HZ, c=c, until_s=1.5)
        spread.append(judge(np.abs(in_time) ** 2).deviation_db)
        # Nine places and 24 bands of a curve with dips, of which each may be some decibels off.
        assert spread[k] == pytest.approx(judge(np.abs(found[:, k]) ** 2).deviation_db, abs=0.3)
    assert spread[1] < spread[0]
    # As told for the walls as they are, which at 125 Hz take other shares than at 63 Hz.
    assert spread[0] - spread[1] == pytest.approx(bass.places[0].gain_db, abs=0.6)


def on_wall(scene, beta, axis, end, u, v):
    """Admittance on a wall of the box: what lies on it counts from the corner that its set-out frame has."""
    name = (("front wall", "back wall"), ("left wall", "right wall"), ("floor", "ceiling"))[axis][end]
    length, width = scene.room.length, scene.room.width
    # Right of whoever faces it: y at the front, the other way at the back; x at the right, and so on.
    across = {"back wall": width - u, "left wall": length - u}.get(name, u)
    result = np.full(u.shape, beta[scene.surfaces.get(name, scene.surfaces["default"])])
    for opening in scene.openings:
        if opening.surface == name:
            (u0, v0), (w, h) = opening.at, opening.size
            inside = (across > u0) & (across < u0 + w) & (v > v0) & (v < v0 + h)
            result[inside] = beta[opening.material]
    return result

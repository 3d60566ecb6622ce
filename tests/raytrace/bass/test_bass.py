"""The bass of whole scenes: curves, causes, places."""

import functools

import numpy as np
import pytest

from raytrace.bass import find_bass
from raytrace.bass.causes import boundary_dips_hz, explain, heard
from raytrace.bass.floorplaces import floor_grid, is_at_wall, is_free
from raytrace.bass.listening import hear_room, line_room
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support.rooms import room_text
from tests.support.scenes import SCENES


@functools.cache
def garage():
    scene = load_scene(SCENES / "garage.toml")
    room = build_room(scene)
    return scene, room, find_bass(scene, room)


def test_every_source_is_heard_at_every_seat_and_together():
    _, _, bass = garage()
    assert [r.sources for r in bass.responses] == [("sub",), ("left",), ("right",), ("left", "right")]
    assert all(np.isfinite(r.level_db).all() for r in bass.responses)
    assert bass.sources == ("sub",)
    assert bass.frequencies_hz[0] == 20.0


def test_the_modes_of_the_garage_are_those_of_its_box():
    _, room, bass = garage()
    c = room.speed_of_sound_m_s
    found = [mode.hz for mode in bass.modes[:4]]
    # c / 2 L, c / L, c / 2 W and the first two across: Rayleigh; first ten modes within 0.05 %.
    expected = sorted([c / 10.8, c / 5.4, c / 5.4, np.hypot(c / 10.8, c / 5.4)])
    assert found == pytest.approx(expected, rel=5e-4)
    assert all(mode.t60_s * mode.damping_per_s == pytest.approx(3 * np.log(10)) for mode in bass.modes)


def test_the_seat_in_the_middle_hears_nothing_of_modes_across():
    # y = 1.35 m is the middle of 2.70 m: the mode at 70 Hz, one along and one across, is silent there.
    _, _, bass = garage()
    across = next(mode for mode in bass.modes if abs(mode.hz - 70.5) < 0.3)
    assert across.hear_db < -60.0
    dip = next(e for e in bass.responses[0].extremes if e.is_dip and abs(e.hz - 71.3) < 1.0)
    assert (dip.kind, round(dip.mode_hz[0])) == ("quiet at the seat", 70)


def test_places_found_are_free_apart_and_best_first():
    scene, room, bass = garage()
    at = np.array([place.position_m for place in bass.places])
    assert len(at) == 5
    assert is_free(scene, room, at, scene.speakers[2]).all()
    spread = [place.evenness_db for place in bass.places]
    assert spread == sorted(spread)
    assert min(np.linalg.norm(a - b) for k, a in enumerate(at) for b in at[:k]) >= 0.5 - 1e-9
    assert bass.places[0].gain_db == pytest.approx(bass.now_db - spread[0])
    # Nowhere on the floor is it better than what is told, but for places that are taken.
    assert not better_free(scene, room, bass).any()


def better_free(scene, room, bass):
    """Whether a sub could stand at each of the places of the floor that are better than the first told."""
    sub = next(speaker for speaker in scene.speakers if speaker.use == "sub")
    floor = np.column_stack([bass.floor_m, np.full(len(bass.floor_m), sub.position[2])])
    return is_free(scene, room, floor[bass.floor_db < bass.places[0].evenness_db - 1e-9], sub)


def test_a_place_off_the_middle_at_the_back_wall_is_found_where_it_is_best():
    # A platform takes all of the floor but a strip along the back wall, and the sub stands in its middle.
    platform = (
        '[[objects]]\nname = "platform"\nshape = "box"\ncentre = [1.75, 1.5, 0.15]\nsize = [3.5, 3.0, 0.3]\n'
        'material = "plasterboard"\n[[speakers]]\nname = "sub"\nposition = [3.95, 1.5, 0.2]\nuse = "sub"\n'
    )
    scene = load_scene("room.toml", room_text("box", platform))
    room = build_room(scene)
    bass = find_bass(scene, room)
    x, y, _ = bass.places[0].position_m
    assert x > 3.7
    assert abs(y - 1.5) > 0.5
    assert bass.places[0].gain_db > 0.1  # more than rounding: in the middle it is worse
    assert not better_free(scene, room, bass).any()
    assert (bass.at_wall.position_m == bass.places[0].position_m).all()


def test_a_subwoofer_moved_to_the_place_found_is_as_even_as_was_told():
    scene, _, bass = garage()
    place = bass.places[0]
    moved = scene.speakers[2].model_copy(update={"position": tuple(place.position_m.tolist())})
    other = scene.model_copy(update={"speakers": (*scene.speakers[:2], moved)})
    again = find_bass(other, build_room(other))
    assert again.now_db == pytest.approx(place.evenness_db, rel=1e-9)  # the same solve of the same room


def test_without_a_subwoofer_the_speakers_are_judged():
    scene = load_scene(SCENES / "box.toml")
    bass = find_bass(scene, build_room(scene))
    assert bass.sources == ("left", "right")
    assert not bass.has_sub
    assert bass.crossover is None
    assert bass.places
    assert "no subwoofer" in str(bass.notes[0])


def test_places_keep_clear_of_doors_and_their_leaves_and_of_people():
    scene = load_scene(SCENES / "box.toml")
    room = build_room(scene)
    # The door: 300 to 1100 mm from the left wall in the back wall, its leaf 750 mm into the room.
    places = np.array([[3.9, 0.7, 0.2], [2.0, 1.5, 0.2], [3.9, 2.6, 0.2], [0.05, 2.0, 0.2]])
    assert is_free(scene, room, places, None).tolist() == [False, False, True, False]


def test_a_cable_can_lie_along_a_wall_but_not_before_its_door():
    door = '[[openings]]\nname = "door"\nsurface = "left wall"\nat = [0.5, 0]\nsize = [0.8, 2.0]\n'
    text = room_text("box", door + 'material = "plasterboard"\nkind = "door"\n')
    room = build_room(load_scene("room.toml", text))
    # The door is at x 2.9 to 3.7: u counts from the right of whoever faces the left wall.
    at = np.array([[0.2, 1.5, 0.2], [2.0, 0.2, 0.2], [3.3, 0.2, 0.2], [2.1, 1.5, 0.2], [2.0, 0.33, 0.2]])
    assert is_at_wall(room, at, None).tolist() == [True, True, False, False, False]


def test_the_best_along_walls_is_there_and_none_is_better():
    scene, room, bass = garage()
    pair = np.array([bass.wall_pair.first, bass.wall_pair.second])
    assert is_at_wall(room, np.vstack([bass.at_wall.position_m, pair]), scene.speakers[2]).all()
    at_walls = [
        place for place in bass.places if is_at_wall(room, place.position_m[None], scene.speakers[2])[0]
    ]
    assert bass.at_wall.evenness_db <= min(place.evenness_db for place in at_walls) + 1e-12
    assert bass.wall_pair.evenness_db >= bass.pair.evenness_db


def test_the_floor_under_a_slope_is_left_out_where_nothing_fits():
    room = build_room(load_scene("tent.toml", room_text("tent")))
    places = floor_grid(room, 0.2, 0.175)
    # 0.2 m up the tent begins at 0.2 / tan(49.8 deg) = 0.17 m from either side.
    assert places[:, 1].min() == pytest.approx(0.2)
    assert room.contains(places).all()


def test_boundary_dips_are_a_quarter_wave_off_the_wall():
    text = room_text("box", speaker="[0.6, 1.5, 1.2]", seat="[3.6, 1.5, 1.2]")
    room = build_room(load_scene("room.toml", text))
    dips = boundary_dips_hz(room, np.array([0.6, 1.5, 1.2]), np.array([3.6, 1.5, 1.2]))
    first = min(f for f, name in dips if name == "front wall")
    # c / 4 d: 143 Hz at 0.6 m.
    assert first == pytest.approx(room.speed_of_sound_m_s / 2.4)


def test_below_the_first_mode_no_single_wall_makes_a_dip():
    scene = load_scene("room.toml", room_text("box"))
    own = hear_room(scene, room := build_room(scene), line_room(scene, room))
    one = heard(own.curve, np.array(scene.speakers[0].position), own.ears[0])
    hz = own.curve.frequencies_hz
    kinds = {}
    for row in range(int(np.searchsorted(hz, 70.0))):
        found = explain(one, (row, -20.0, True), [(float(hz[row]), "back wall")])
        kinds.setdefault(bool(hz[row] > own.lined.modes.frequencies_hz[1]), set()).add(found.kind)
    assert "boundary" not in kinds[False]
    assert "boundary" in kinds[True]


def test_walls_harder_than_any_are_spoken_of():
    hard = room_text("box").replace('"plasterboard"', '"concrete"')
    told = []
    for text in (hard, room_text("box")):
        scene = load_scene("room.toml", text)
        told.append(any("sheet metal" in str(note) for note in find_bass(scene, build_room(scene)).notes))
    assert told == [True, False]


def test_a_room_that_holds_too_many_modes_is_refused_in_words():
    from raytrace.scene import SceneError

    hall = 'shape = "box"\nlength = 40\nwidth = 25\nheight = 8'
    scene = load_scene("hall.toml", room_text(hall))
    with pytest.raises(SceneError, match="holds too many modes"):
        find_bass(scene, build_room(scene))


def test_panels_on_walls_are_told_apart_from_bare_ones():
    scene = load_scene(SCENES / "treated-box.toml")
    bass = find_bass(scene, build_room(scene))
    bare = scene.without_panels()
    alone = find_bass(bare, build_room(bare))
    assert bass.bare_db == pytest.approx(alone.now_db, rel=1e-9)  # the same modes, the same walls
    assert bass.now_db != bass.bare_db
    assert alone.bare_db is None

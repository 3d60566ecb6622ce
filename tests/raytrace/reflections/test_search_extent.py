import numpy as np
import pytest

from raytrace import Sampling, build_room, find_arrivals, find_decay, find_paths, load_scene, run_study
from raytrace.reflections import expected_paths
from raytrace.reflections.beamtree import BeamTree
from raytrace.reflections.paths import ListeningPoint
from raytrace.reflections.search_extent import (
    MOST_BEAMS,
    ZONE_SLACK_S,
    Reach,
    choose_reach,
    order_to_cover,
    reached_paths,
)
from tests.support.scenes import BOX, SCENES

NAMES = sorted(path.stem for path in SCENES.glob("*.toml"))


def as_set(paths):
    return {tuple(f for f in facets if f >= 0) for facets in paths.facets.tolist()}


@pytest.mark.parametrize("name", NAMES)
def test_no_early_reflection_is_missing_in_any_shipped_room(name):
    scene = load_scene(SCENES / f"{name}.toml")
    room = build_room(scene)
    sources = [speaker.position for speaker in scene.speakers]
    points = [ListeningPoint(room, seat.ears, sources) for seat in scene.seats]
    reach = choose_reach(points, sources, up_to_order=None, within_s=0.03, early_s=0.015)
    assert reach.complete_to_s >= 0.015
    listener = scene.seats[0].ears
    for source in sources[:2]:
        paths = reached_paths(points[0], source, reach)
        early = (paths.length_m - paths.direct_m) / room.speed_of_sound_m_s <= 0.015
        deep = find_paths(room, source, listener, up_to_order=reach.early_order + 1, within_s=0.015)
        expected = as_set(deep)
        assert {tuple(f for f in facets if f >= 0) for facets in paths.facets[early].tolist()} == expected
        usual = find_paths(room, source, listener, up_to_order=4, within_s=0.03)
        # As far as a place beside the ears may hear something early.
        beside_s = 0.015 + ZONE_SLACK_S
        beside = find_paths(room, source, listener, up_to_order=reach.early_order, within_s=beside_s)
        assert as_set(paths) == as_set(beside) | as_set(usual)
        assert np.all(np.diff(paths.length_m) >= -100 * room.tolerance_m)  # equal lengths go by facets
        assert np.array_equal(np.count_nonzero(paths.facets >= 0, axis=1), paths.order)


def test_the_shipped_loft_needs_a_fifth_bounce_and_the_box_does_not():
    orders = {}
    for name in ("ridge", "box"):
        scene = load_scene(SCENES / f"{name}.toml")
        orders[name] = find_arrivals(scene, build_room(scene)).reach.early_order
    assert orders == {"ridge": 5, "box": 4}


def test_an_order_that_is_asked_for_stays(scene_of):
    room = build_room(scene_of(BOX))
    source, listener = (1.0, 1.3, 1.2), (3.2, 2.0, 1.1)
    point = ListeningPoint(room, listener, [source])
    for order in (1, 2, 6):
        reach = choose_reach([point], [source], up_to_order=order, within_s=0.03, early_s=0.015)
        assert (reach.up_to_order, reach.early_order) == (order, order)
        assert reached_paths(point, source, reach).facets.shape[1] == order
    short = choose_reach([point], [source], up_to_order=1, within_s=0.03, early_s=0.015)
    second = find_paths(room, source, listener, up_to_order=2)
    first_s = (second.length_m[second.order == 2].min() - second.direct_m) / room.speed_of_sound_m_s
    assert short.complete_to_s == pytest.approx(first_s, abs=1e-14)  # rounding


def test_a_search_that_grows_too_large_stops_and_says_how_far_it_came(monkeypatch):
    scene = load_scene(SCENES / "cupboard.toml")
    room = build_room(scene)
    source, listener = scene.speakers[0].position, scene.seats[0].ears
    point, usual = ListeningPoint(room, listener, [source]), Reach(4, 0.03, 4, 0.015, 0.0)
    assert order_to_cover(point, source, usual) == (5, 0.015)
    assert MOST_BEAMS > 100
    monkeypatch.setattr("raytrace.reflections.search_extent.MOST_BEAMS", 100)
    order, complete_s = order_to_cover(point, source, usual)
    fifth = find_paths(room, source, listener, up_to_order=5, within_s=0.015)
    first_s = (fifth.length_m[fifth.order == 5].min() - fifth.direct_m) / room.speed_of_sound_m_s
    assert order == 4
    assert complete_s == pytest.approx(first_s, abs=1e-14)  # rounding


@pytest.mark.parametrize(("name", "deeper"), [("box", 0), ("ridge", 1), ("classroom", 1)])
def test_one_tree_a_listening_point_serves_all_speakers(name, deeper, monkeypatch):
    # The ears' trees grow once more where early reflections need more bounces than usual.
    grown, grow = [], BeamTree.grow
    monkeypatch.setattr(
        BeamTree, "grow", lambda tree, *args, **kwargs: (grown.append(tree), grow(tree, *args, **kwargs))
    )
    scene = load_scene(SCENES / f"{name}.toml")
    arrivals = find_arrivals(scene, build_room(scene))
    points = {(at.seat, at.zone_point) for at in arrivals.at_points}
    assert len({id(tree) for tree in grown}) == len(points)
    assert len(grown) == len(points) + deeper


def test_the_notes_say_how_many_bounces_reach_how_far():
    scene = load_scene(SCENES / "ridge.toml")
    note = str(run_study(scene).method_notes[0])
    assert "complete up to 15.0 ms" in note
    assert "at most 5 bounces up to 15 ms, 4 beyond" in note
    assert "short of the limit's window" not in note
    assert "short of the limit's window" in str(run_study(scene, up_to_order=2).room_notes[-1])


def test_extra_early_bounces_are_not_counted_twice_in_the_decay():
    # Rays leave out what the usual bounces hold over the whole time, nothing else.
    scene = load_scene(SCENES / "garage.toml")
    room = build_room(scene)
    more, usual = (find_arrivals(scene, room, up_to_order=order) for order in (None, 4))
    assert more.reach.early_order > 4
    both = (find_decay(scene, room, arrivals, sampling=Sampling(640)) for arrivals in (more, usual))
    for a, b in zip(*both, strict=True):
        # The same rays; the exact part as much as weights of the same paths agree (rounding).
        assert np.allclose(a.energy, b.energy, rtol=1e-12, atol=0.0)


@pytest.mark.parametrize("order", [1, 2, 3])
def test_in_a_box_each_image_up_to_an_order_is_counted(order):
    scene = load_scene("room.toml", BOX)
    room = build_room(scene)
    found = find_paths(room, scene.speakers[0].position, scene.seats[0].ears, up_to_order=order, within_s=0.3)
    # Every image of a box is heard; the speaker itself is counted with them.
    assert expected_paths(room, 1, up_to_order=order, within_s=0.3) == len(found.order) + 1


def test_within_a_short_time_no_more_are_found_than_expected():
    scene = load_scene("room.toml", BOX)
    room = build_room(scene)
    found = find_paths(room, scene.speakers[0].position, scene.seats[0].ears, up_to_order=12, within_s=0.03)
    expected = expected_paths(room, 1, up_to_order=12, within_s=0.03)
    # The direct sound is taken as long as the room's diagonal of 6.9 m, not 2.3 m: (17.2 / 12.6)^3 = 2.5.
    assert len(found.order) < expected < 3.0 * len(found.order)

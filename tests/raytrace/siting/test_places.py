"""Places are where nothing is in the way: what is takes exactly those away that it must."""

import numpy as np
import pytest

from raytrace.room import build_room
from raytrace.scene import load_scene
from raytrace.siting.places import SIDES, count_blocked, find_places, view_to
from raytrace.siting.workplace import find_workplace
from tests.support.scenes import SCENES

BOX = (SCENES / "box.toml").read_text(encoding="utf-8")
DOOR = BOX[BOX.index("[[openings]]") : BOX.index("[[speakers]]")]
NO_DOOR = BOX.replace(DOOR, "")
WARDROBE = '[[objects]]\nname = "wardrobe"\nshape = "box"\nmaterial = "wood door"\n' + (
    "centre = [3.0, 0.35, 1.0]\nsize = [1.1, 0.6, 2.0]\n"
)
STEP_M = 0.35
UNSURE_M = 0.015  # between samples of what stands there, and a swing drawn in steps of 15 degrees


def found(scene):
    """Views by side, what moves along, and the free places."""
    room = build_room(scene)
    workplace = find_workplace(scene, room)
    views = {side: view_to(scene, room, side) for side in SIDES}
    free, blocked = find_places(workplace, list(views.values()), STEP_M)
    return views, workplace, free, blocked


def spots(views, workplace, place):
    """Points all over the floor that bodies at a place take, in the room as it is, (n, 2)."""
    points = []
    for body in workplace.bodies:
        solid = body.moved(place.ears - workplace.ears)
        first, second = solid.edges[0], solid.edges[1]
        steps = [np.linspace(0.0, 1.0, int(np.linalg.norm(edge) / 0.005) + 2) for edge in (first, second)]
        across = np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 2)
        points.append(solid.corners[0, :2] + across @ np.array([first[:2], second[:2]]))
    return views[place.side].turn.back(np.concatenate(points))


def check_takes_away(scene_of, without, within, hits):
    """`hits` says which points (n, 2) are in the thing, grown by some metres."""
    views, workplace, before, _ = found(scene_of(without))
    _, _, after, _ = found(scene_of(within))
    left = {(place.side, *place.ears) for place in after}
    assert left < {(place.side, *place.ears) for place in before}
    sure = 0
    for place in before:
        points = spots(views, workplace, place)
        is_left = (place.side, *place.ears) in left
        if hits(points, -UNSURE_M).any():
            assert not is_left, place
        elif not hits(points, UNSURE_M).any():
            assert is_left, place
            sure += 1
    assert sure > 20


def test_a_wardrobe_takes_away_exactly_where_something_would_stand_in_it(scene_of):
    low, high = np.array([3.0 - 0.55, 0.35 - 0.3]), np.array([3.0 + 0.55, 0.35 + 0.3])

    def hits(points, by_m):
        return ((points > low - by_m) & (points < high + by_m)).all(axis=1)

    check_takes_away(scene_of, BOX, BOX + "\n" + WARDROBE, hits)


def test_a_door_takes_away_exactly_what_its_leaf_would_meet(scene_of):
    # Back wall, u from the right corner: 1.9 to 2.7 m is y 0.3 to 1.1, hinge on the right-hand side, y = 1.1.
    def hits(points, by_m):
        out, along = 4.2 - points[:, 0], 1.1 - points[:, 1]
        inside = (along / (0.8 + by_m)) ** 2 + (out / (0.75 + by_m)) ** 2 < 1.0
        return inside & (along > -by_m) & (out > -by_m)

    check_takes_away(scene_of, NO_DOOR, BOX, hits)


def test_a_door_without_a_swing_keeps_its_way_clear(scene_of):
    def hits(points, by_m):
        x, y = points.T
        return (x > 4.2 - 0.6 - by_m) & (y > 0.3 - by_m) & (y < 1.1 + by_m)

    still = BOX.replace('swing = { hinge = "left", out = "750 mm" }\n', "")
    check_takes_away(scene_of, NO_DOOR, still, hits)


def test_a_mirrored_room_has_mirrored_places(scene_of):
    mirrored = BOX.replace('at = ["1900 mm", "0 mm"]', 'at = ["300 mm", "0 mm"]').replace(
        'hinge = "left"', 'hinge = "right"'
    )
    sides = {"front": "front", "back": "back", "left": "right", "right": "left"}
    sets = []
    for text in (BOX, mirrored):
        views, _, free, _ = found(scene_of(text))
        sets.append({(p.side, *np.round(views[p.side].turn.back(p.ears), 3)) for p in free})
    assert len(sets[0]) > 30
    assert sets[1] == {(sides[side], x, round(3.0 - y, 3), z) for side, x, y, z in sets[0]}


def test_everything_that_moves_keeps_its_place_to_the_seat():
    scene = load_scene(SCENES / "ridge.toml")
    workplace = find_workplace(scene, build_room(scene))
    assert "desk" in workplace.object_names
    assert "chimney breast" not in workplace.object_names
    step = np.array([0.4, -0.3, 0.0])
    settings = {own.key: own.value for own in workplace.settings(workplace.ears + step, turned=False)}
    for k in workplace.speakers:
        moved = np.subtract(settings["speakers", k, "position"], scene.speakers[k].position)
        assert moved == pytest.approx(step, abs=1e-6)  # what a text rounds to
    for k in workplace.objects:
        moved = np.subtract(settings["objects", k, "centre"], scene.objects[k].centre)
        assert moved == pytest.approx(step, abs=1e-6)  # what a text rounds to


def test_what_is_in_the_way_is_named_as_the_room_is_now(scene_of):
    _, _, _, blocked = found(scene_of(BOX + "\n" + WARDROBE))
    named = {by for _, by, _ in count_blocked(blocked)}
    assert {"door", "wardrobe"} <= named
    assert sum(n for _, _, n in count_blocked(blocked)) == len(blocked)


def test_subwoofers_and_other_seats_are_kept_clear_of(scene_of):
    more = '\n[[seats]]\nname = "sofa"\nears = [3.5, 1.5, 1.1]\n'
    more += '\n[[speakers]]\nname = "bass"\nposition = [0.4, 0.4, 0.2]\nuse = "sub"\n'
    _, _, _, blocked = found(scene_of(BOX + more))
    assert {"sofa", "bass"} <= {one.by for one in blocked}

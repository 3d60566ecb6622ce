"""A turned scene is the same room: every face, opening, object and person where it was, named anew."""

import numpy as np
import pytest

from raytrace.room import build_room
from raytrace.scene import load_scene
from raytrace.siting.turning import QUARTERS, turn_of, turned_text
from tests.support.rooms import SHAPES, room_text
from tests.support.scenes import SCENES

SIDES = [side for side in QUARTERS if side != "front"]


def turned(scene, side):
    room = build_room(scene)
    turn = turn_of(scene, room, side)
    after = load_scene(scene.path, turned_text(scene, room, turn))
    return room, turn, build_room(after), after


def faces(room, points=None):
    """Facets by the name of their surface: sorted corners, and what they are made of."""
    found = {}
    for facet in room.facets[: room.n_solid_facets]:
        outline = facet.outline if points is None else points(facet.outline)
        surface = room.surfaces[facet.surface]
        corners = sorted(tuple(np.round(corner, 5) + 0.0) for corner in outline)  # what a text rounds to
        found.setdefault(tuple(corners), []).append(surface.material.name)
    return found


def check_same(room, turn, other):
    assert faces(room, turn.points) == faces(other)
    names = {turn.name(surface.name) for surface in room.surfaces if surface.owner is None}
    assert names == {surface.name for surface in other.surfaces if surface.owner is None}
    by_name = {opening.name: opening for opening in other.openings}
    for opening in room.openings:
        its = by_name[opening.name]
        corners = [
            frame.to_room(np.reshape(rect, (2, 2)))
            for frame, rect in (
                (room.surfaces[opening.surface].frame, opening.rect),
                (other.surfaces[its.surface].frame, its.rect),
            )
        ]
        low_high = [np.sort(c, axis=0) for c in (turn.points(corners[0]), corners[1])]
        assert low_high[0] == pytest.approx(low_high[1], abs=1e-5)  # what a text rounds to
    for panel, its in zip(room.panels, other.panels, strict=True):
        assert turn.points(panel.middle) == pytest.approx(its.middle, abs=1e-5)  # the same
        assert its.build_name == panel.build_name
        box = [np.ptp(p.corners, axis=0) for p in (panel, its)]
        assert box[0][[1, 0, 2] if turn.is_odd else [0, 1, 2]] == pytest.approx(box[1], abs=1e-5)


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_of_room_is_the_same_from_every_side(shape, side, scene_of):
    room, turn, other, _ = turned(scene_of(room_text(shape)), side)
    check_same(room, turn, other)
    assert other.volume_m3 == pytest.approx(room.volume_m3, rel=1e-9)  # rounding


@pytest.mark.parametrize("name", ["ridge", "treated-box", "half-slope", "garage", "rented"])
def test_a_whole_scene_is_the_same_from_every_side(name):
    scene = load_scene(SCENES / f"{name}.toml")
    for side in SIDES:
        room, turn, other, after = turned(scene, side)
        check_same(room, turn, other)
        for kind, place in (("speakers", "position"), ("seats", "ears")):
            for was, now in zip(getattr(scene, kind), getattr(after, kind), strict=True):
                moved = turn.points(getattr(was, place))
                assert moved == pytest.approx(getattr(now, place), abs=1e-5)  # what a text rounds to


def test_four_quarters_are_the_scene_again(scene_of):
    scene = scene_of((SCENES / "ridge.toml").read_text(encoding="utf-8"))
    at = scene
    for _ in range(4):
        room = build_room(at)
        at = load_scene(scene.path, turned_text(at, room, turn_of(at, room, "right")))
    assert at.document["room"] == pytest.approx(scene.document["room"]) or at.room == scene.room
    assert at.surfaces == scene.surfaces
    assert [o.surface for o in at.openings] == [o.surface for o in scene.openings]


def test_comments_stay_and_places_are_told_back(scene_of):
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    scene = scene_of(text)
    room, turn, _, after = turned(scene, "left")
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert [line for line in after.text.splitlines() if line.startswith("#")] == comments
    points = np.array([[0.3, 1.0, 2.0], [4.0, 2.9, 0.1]])
    assert turn.back(turn.points(points)) == pytest.approx(points, abs=1e-12)  # rounding
    assert turn.name("left wall") == "front wall"
    assert all(turn.name_before(turn.name(s.name)) == s.name for s in room.surfaces)


def test_a_wall_that_nobody_measured_is_the_same_wall_after_a_turn(scene_of):
    text = room_text("box").replace("[room]", '[room]\nassumed = ["back wall"]')
    room, turn, _, after = turned(scene_of(text), "left")
    assert after.room.assumed == (turn.name("back wall"),)
    assert [note for note in room.notes if "back wall was not measured" in str(note)]

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace import SceneError, build_room, load_scene
from tests.support.rooms import DESK, SHAPES, box_object, room_text
from tests.support.scenes import SCENES

EXACT = 1e-12  # sums of a few dozen products of metres


def frame(room, name):
    return room.surfaces[room.surface_index(name)].frame


# --- what belongs to the room ---


def test_an_object_may_have_the_name_of_the_room(room_of, scene_of):
    box = ("room", (3.2, 0.8, 0.5), (0.4, 0.4, 0.4))
    with_it, other = room_of(more=box_object(*box)), room_of(more=box_object("crate", *box[1:]))
    assert with_it.volume_m3 == other.volume_m3 == room_of().volume_m3
    assert with_it.surface_area_m2 == other.surface_area_m2
    assert with_it.is_room_surface.tolist() == [True] * 6 + [False] * 6
    assert with_it.contains([(3.2, 0.8, 0.5), (3.2, 0.8, 1.3)]).tolist() == [False, True]
    with pytest.raises(SceneError, match='inside the object "room"'):
        build_room(scene_of(room_text("box", box_object("room", (1.9, 1.6, 1.0), (0.9, 0.9, 0.9)))))


# --- set-out frames ---


def test_a_box_is_set_out_as_its_walls_are_seen(room_of):
    # In a box of 4.2 x 3.0 x 2.4 m, from the rule in words: facing a wall, u runs to the right.
    room, x, y, z = room_of(), 1.1, 0.7, 1.9
    expected = {
        "front wall": (y, z),
        "back wall": (3.0 - y, z),
        "left wall": (4.2 - x, z),
        "right wall": (x, z),
        "floor": (x, y),
        "ceiling": (x, y),
    }
    for name, uv in expected.items():
        assert frame(room, name).to_plane((x, y, z)) == pytest.approx(uv, abs=EXACT)


def all_rooms():
    return sorted(path.name for path in SCENES.glob("*.toml"))


@pytest.mark.parametrize("scene", all_rooms())
def test_frames_of_shipped_rooms_are_right_handed_and_rise(scene):
    room = build_room(load_scene(SCENES / scene))
    for surface in room.surfaces:
        f = surface.frame
        level = abs(f.n[2]) > math.cos(math.radians(3))
        seen_from = -1 if level and f.n[2] < 0 else 1  # ceilings are drawn in plan coordinates
        assert np.cross(f.u, f.v) == pytest.approx(seen_from * f.n, abs=EXACT)
        assert level or (f.v[2] > 0 and abs(f.u[2]) < EXACT)
        assert f.n == pytest.approx(room.facets[surface.facets[0]].normal, abs=EXACT)
        outline = np.concatenate([room.facets[k].outline for k in surface.facets])
        uv = f.to_plane(outline)
        assert f.to_room(uv) == pytest.approx(outline, abs=1e-9)  # tolerance of the room
        assert uv.max(axis=0) == pytest.approx([f.width, f.height], abs=EXACT)
        if not (level and surface.owner is None):
            assert uv.min(axis=0) == pytest.approx([0, 0], abs=EXACT)


def test_a_nearly_level_ceiling_is_set_out_in_plan(room_of):
    room = room_of(
        'shape = "lean-to"\nlength = 4.0\nwidth = 3.0\nlow = 2.3\nhigh = 2.4\nlow_side = "front"'
    )  # 1.4 degrees
    f = frame(room, "ceiling")
    point = np.array([1.0, 2.0, 2.325])
    assert f.to_plane(point).tolist() == [1.0, 2.0]
    assert f.to_room([1.0, 2.0]) == pytest.approx(point, abs=EXACT)
    assert (f.width, f.height) == (4.0, 3.0)


def test_a_slope_is_set_out_along_its_own_length(room_of):
    f = frame(room_of("gable"), "right slope")
    rise = np.array([0, -2.2, 1.5]) / math.hypot(2.2, 1.5)
    assert f.u == pytest.approx([1, 0, 0], abs=EXACT)  # facing the right slope, right is away from the front
    assert f.v == pytest.approx(rise, abs=EXACT)
    assert f.origin == pytest.approx([0, 4.4, 1.1], abs=EXACT)
    assert f.height == pytest.approx(math.hypot(2.2, 1.5), rel=EXACT)


def test_level_faces_of_an_object_are_set_out_along_its_own_sides(room_of):
    room = room_of(more=box_object("desk", (2.8, 1.5, 0.6), (1.0, 0.6, 0.1), yaw=30))
    f = frame(room, "desk top")
    along = np.array([math.cos(math.radians(30)), math.sin(math.radians(30)), 0])
    across = np.array([-along[1], along[0], 0])
    assert f.u == pytest.approx(along, abs=EXACT)
    assert f.v == pytest.approx(across, abs=EXACT)
    assert f.origin == pytest.approx(np.array([2.8, 1.5, 0.65]) - 0.5 * along - 0.3 * across, abs=EXACT)
    assert (f.width, f.height) == pytest.approx((1.0, 0.6), abs=EXACT)


def test_mirroring_a_room_maps_left_wall_spots_onto_right_wall_spots(room_of):
    plan = (
        'shape = "plan"\nheight = 2.4\ncorners = {}\nwalls = {}\n'
        'slopes = [{{wall = "{} wall", eaves = 1.2, pitch = 40}}]'
    )
    corners = [[0, 0.4], [4.2, 0], [4.2, 3.0], [0, 3.0]]
    room = room_of(plan.format(corners, ["left wall", "back wall", "right wall", "front wall"], "left"))
    mirrored = [[x, 3.0 - y] for x, y in corners]
    other = room_of(plan.format(mirrored, ["right wall", "back wall", "left wall", "front wall"], "right"))
    for name, twin in (
        ("left wall", "right wall"),
        ("left slope", "right slope"),
        ("right wall", "left wall"),
    ):
        here, there = frame(room, name), frame(other, twin)
        spots = here.to_room(np.random.default_rng(1).uniform(0, 1, (5, 2)))
        u, v = here.to_plane(spots).T
        u_twin, v_twin = there.to_plane(spots * [1, -1, 1] + [0, 3.0, 0]).T
        assert u_twin == pytest.approx(here.width - u, abs=EXACT)
        assert v_twin == pytest.approx(v, abs=EXACT)


# --- hits and sight lines ---


@pytest.mark.parametrize("shape", SHAPES)
def test_no_ray_aimed_at_an_edge_or_corner_is_lost(room_of, shape):
    room = room_of(shape)
    rng = np.random.default_rng(7)
    loops = [facet.outline for facet in room.facets]
    start = np.concatenate(loops)
    end = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops])
    pick = rng.integers(0, len(start), 20_000)
    share = rng.uniform(0, 1, (20_000, 1))
    share[:5000] = 0.0  # corners
    targets = start[pick] + share * (end[pick] - start[pick])
    places = rng.uniform(*room.bounds, (400, 3))
    origins = places[room.contains(places)]
    origins = origins[rng.integers(0, len(origins), 20_000)]
    away = targets - origins
    length = np.linalg.norm(away, axis=1)
    distance, facet = room.first_hit(origins, away / length[:, None])
    assert (facet >= 0).all()
    # Nothing lies behind what was aimed at; in concave rooms something may lie before it.
    assert (distance <= length + 1e-6).all()  # rays along a face meet its far edge at a slant


@given(st.floats(0.01, 4.19), st.floats(0.01, 2.99), st.floats(0.01, 2.39), st.integers(0, 10**6))
def test_first_hit_in_a_box_is_the_slab_formula(room_of, x, y, z, seed):
    room = room_of()
    direction = np.random.default_rng(seed).normal(size=3)
    direction /= np.linalg.norm(direction)
    origin, size = np.array([x, y, z]), np.array([4.2, 3.0, 2.4])
    expected = (np.where(direction > 0, size - origin, -origin) / direction).min()
    distance, _ = room.first_hit(origin[None], direction[None])
    assert distance[0] == pytest.approx(expected, rel=1e-9)  # a plane at a slant


def test_a_ray_started_in_a_corner_is_not_lost(room_of):
    room = room_of()
    corner = np.array([[4.2, 3.0, 2.4]])
    into_the_wall = np.array([[0.6, -0.8, 0.0]])
    distance, facet = room.first_hit(corner, into_the_wall)
    assert distance[0] == 0.0
    assert room.surface_names[room.facets[facet[0]].surface] == "back wall"
    distance, facet = room.first_hit(corner, -np.array([[0.6, 0.64, 0.48]]))
    assert distance[0] > 1.0


def test_a_ray_that_meets_nothing_is_said_so(room_of):
    room = room_of()
    outside = np.array([[2.0, 1.5, 5.0]])
    distance, facet = room.first_hit(outside, np.array([[0, 0, 1.0]]))
    assert distance[0] == math.inf
    assert facet[0] == -1


SHELF = box_object("shelf", (2.8, 2.1, 0.6), (1.0, 0.6, 0.2))  # flush with its right side


@pytest.mark.parametrize(
    ("start", "end", "clear"),
    [
        ((1.0, 1.5, 1.2), (4.0, 1.5, 1.2), True),
        ((1.0, 1.5, 0.6), (4.0, 1.5, 0.6), False),  # through the desk
        ((1.0, 1.5, 0.7), (4.0, 1.5, 0.7), True),  # along its top: grazing
        ((1.0, 1.2, 0.6), (4.0, 1.2, 0.6), True),  # along its left side
        ((2.0, 1.5, 0.4), (2.6, 1.5, 1.0), True),  # touches its front top edge, no more
        ((2.0, 1.5, 1.0), (2.6, 1.5, 0.4), False),  # in through that edge
        ((2.0, 1.5, 1.0), (2.8, 1.5, 0.2), False),  # in through that edge
        ((2.2, 1.1, 0.6), (3.4, 1.9, 0.6), False),
        # In at one upright edge and out at the opposite one: only edges are met, all of it inside.
        ((2.3 - 0.5, 1.2 - 0.3, 0.6), (3.3 + 0.5, 1.8 + 0.3, 0.6), False),
        # In at one corner, out at the opposite one.
        ((1.8, 0.9, 0.4), (3.8, 2.1, 0.8), False),
        ((2.8, 1.5, 0.7), (2.8, 1.5, 2.4), True),  # ends on the desk and on the ceiling
        ((2.8, 1.5, 0.5), (2.8, 1.5, 0.0), True),
        ((2.3, 1.2, 0.7), (1.0, 0.5, 2.0), True),  # starts at its corner
    ],
)
def test_sight_lines_about_a_desk(room_of, start, end, clear):
    room = room_of(more=DESK)
    assert room.is_clear([start, end], [end, start]).tolist() == [clear, clear]


def test_a_sight_line_down_the_seam_of_two_flush_objects_is_blocked(room_of):
    room = room_of(more=DESK + SHELF)
    assert not room.is_clear([[2.8, 1.8, 2.0]], [[2.8, 1.8, 0.1]])[0]
    assert not room.is_clear([[2.6, 1.8, 2.0]], [[3.0, 1.8, 0.1]])[0]


def test_a_sight_line_round_an_inner_corner_touches_it(room_of):
    room = room_of("elbow")
    corner = np.array([3.4, 3.4, 1.2])
    step = np.array([1.0, 1.0, 0.1])
    assert room.is_clear([corner - step], [corner + step])[0]
    beside = np.array([1e-5, -1e-5, 0])
    assert not room.is_clear([corner - step - beside], [corner + step - beside])[0]


def test_a_wall_behind_an_object_cannot_be_seen(room_of):
    """A covered part of a wall never reflects: the leg to it ends in the object."""
    room = room_of(more=box_object("wardrobe", (3.9, 2.5, 1.0), (0.6, 1.0, 2.0)))
    seat = [1.9, 1.7, 1.1]
    assert not room.is_clear([seat], [[4.2, 2.5, 1.0]])[0]
    assert room.is_clear([seat], [[3.6, 2.5, 1.0]])[0]
    assert room.is_clear([seat], [[4.2, 1.0, 1.0]])[0]


@given(st.integers(0, 10**6), st.floats(-180, 180), st.floats(-60, 60))
def test_contains_is_inside_the_box_and_outside_the_object(room_of, seed, yaw, pitch):
    room = room_of(more=box_object("desk", (2.8, 1.5, 0.9), (0.9, 0.5, 0.3), yaw, pitch))
    points = np.random.default_rng(seed).uniform([-0.5, -0.5, -0.5], [4.7, 3.5, 2.9], (60, 3))
    cy, sy, cp, sp = (f(math.radians(a)) for a in (yaw, pitch) for f in (math.cos, math.sin))
    axes = np.array([[cp * cy, cp * sy, sp], [-sy, cy, 0], [-sp * cy, -sp * sy, cp]])
    own = np.abs((points - [2.8, 1.5, 0.9]) @ axes.T)
    in_desk = (own < [0.45, 0.25, 0.15]).all(axis=1)
    in_box = ((points > 0) & (points < [4.2, 3.0, 2.4])).all(axis=1)
    assert room.contains(points).tolist() == (in_box & ~in_desk).tolist()


def test_a_point_on_a_face_is_not_in_the_air(room_of):
    room = room_of(more=DESK)
    on = [[0, 1.5, 1.2], [4.2, 3.0, 2.4], [1.0, 0.0, 0.0], [2.8, 1.5, 0.7]]
    assert not room.contains(on).any()
    assert room.contains(np.array(on[:1]) + np.array([1e-6, 0, 0])).all()


def test_arguments_of_two_lengths_are_refused(room_of):
    with pytest.raises(ValueError, match=r"origins \(2, 3\) and directions \(1, 3\)"):
        room_of().first_hit(np.zeros((2, 3)), np.ones((1, 3)))


# --- notes ---


def test_an_object_outside_is_said_so(room_of):
    away = box_object("shed", (8.0, 1.0, 1.0), (1.0, 1.0, 1.0))
    through = box_object("beam", (2.1, 1.5, 2.2), (6.0, 0.1, 0.1))
    notes = room_of(more=away + through).notes
    assert tuple(map(str, notes)) == ('The object "shed" lies outside the room and has no effect.',)


# --- names and materials ---


def test_an_object_face_must_not_bear_the_name_of_a_wall(room_of):
    with pytest.raises(SceneError, match='"ceiling top" is a face of the room and of the object "ceiling"'):
        room_of(
            'shape = "plan"\ncorners = [[0,0],[4,0],[4,3],[0,3]]\nheight = 2.4\n'
            'walls = ["ceiling top", "b", "c", "d"]',
            box_object("ceiling", (2.8, 1.5, 0.6), (1, 1, 0.1)),
        )


def test_an_unknown_name_in_surfaces_is_shown_at_its_key(scene_of):
    text = room_text("box").replace(
        'default = "plasterboard"', 'default = "plasterboard"\n"left wal" = "window"'
    )
    with pytest.raises(SceneError, match='no surface "left wal", did you mean "left wall"') as caught:
        build_room(scene_of(text))
    assert '"left wal" = "window"' in str(caught.value)
    assert caught.value.column == 1


def test_a_surface_without_material_is_refused(scene_of):
    text = room_text("box").replace('default = "plasterboard"', 'floor = "window"')
    with pytest.raises(SceneError, match='surfaces: no material for "ceiling"'):
        build_room(scene_of(text))


def test_materials_go_to_the_surface_named_and_the_rest_takes_the_default(scene_of):
    text = room_text("box", DESK).replace(
        'default = "plasterboard"', 'default = "plasterboard"\n"left wall" = "window"\n"desk top" = "window"'
    )
    room = build_room(scene_of(text))
    materials = {s.name: s.material.name for s in room.surfaces}
    assert materials["left wall"] == materials["desk top"] == "window"
    assert materials["right wall"] == "plasterboard"
    assert materials["desk front"] == "wood"


# --- start-up ---


def test_a_box_is_built_without_any_heavy_library():
    code = (
        "import sys\nfrom raytrace.room import build_room\nfrom raytrace.scene import load_scene\n"
        f"build_room(load_scene({str(SCENES / 'box.toml')!r}))\n"
        "print([m for m in ('numba', 'scipy', 'trimesh', 'pyvista', 'mapbox_earcut') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", ["beams", "cupboard", "half-slope"])
def test_points_beside_others_are_told_as_if_each_were_asked_about_alone(name):
    room = build_room(load_scene(SCENES / f"{name}.toml"))
    corners = np.concatenate([facet.outline for facet in room.facets])
    steps = 1e-3 * np.random.default_rng(5).normal(size=(len(corners), 12, 3)) / 3.0
    alone = room.contains((corners[:, None] + steps).reshape(-1, 3)).reshape(steps.shape[:2])
    assert 0.1 < alone.mean() < 0.9
    assert (room.contains_beside(corners, steps) == alone).all()

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from raytrace import SceneError, build_room
from raytrace.room.facets import turns_around
from raytrace.room.polygons import area_vector, locate
from tests.support.rooms import SHAPES, room_text

TAN40, TAN35 = math.tan(math.radians(40)), math.tan(math.radians(35))

EXACT = 1e-12  # sums of a few dozen products of metres


def areas(room):
    return {s.name: s.area_m2 for s in room.surfaces if s.owner is None}


def volume_under(h, *, along, across):
    """Volume of a level-ended prism: section area times length."""
    return along * np.trapezoid(h, across)


CLOSED_FORMS = {
    "box": (4.2 * 3.0 * 2.4, 4.2 * 3.0),
    "gable": (volume_under([1.1, 2.6, 1.1], along=5.6, across=[0, 2.2, 4.4]), 5.6 * 4.4),
    "gable across": (volume_under([1.1, 2.6, 1.3], along=4.4, across=[0, 2.8, 5.6]), 5.6 * 4.4),
    "tent": (5.6 * 4.4 * 2.6 / 2, 5.6 * 4.4),
    "lean-to": (4.5 * 2.9 * (2.05 + 2.75) / 2, 4.5 * 2.9),
    "elbow": ((6 * 5.2 - 3.4 * 1.8) * 2.45, 6 * 5.2 - 3.4 * 1.8),
    "section across": (
        volume_under([2.0, 2.6, 2.6, 1.2], along=3.0, across=[0, 2, 4.4, 5]),
        15.0,
    ),
    # Where the slopes of eaves e and slope t reach the flat: (f - e) / t from the wall.
    "gable with flat": (
        volume_under(
            [1.1, 2.4, 2.4, 1.4],
            along=5.6,
            across=[0, 1.9 * 1.3 / 1.8, 4.4 - 2.5 * 1.0 / 1.5, 4.4],
        ),
        5.6 * 4.4,
    ),
    "section": (
        4.0 * (volume_under([2.0, 2.5, 2.5, 1.5], along=1, across=[0, 0.4, 3, 4]) - 0.4 * 0.3),
        16.0,
    ),
}


@pytest.mark.parametrize("shape", CLOSED_FORMS)
def test_volume_and_floor_have_their_closed_form(room_of, shape):
    room = room_of(shape)
    volume, floor = CLOSED_FORMS[shape]
    assert room.volume_m3 == pytest.approx(volume, rel=EXACT)
    assert room.floor_area_m2 == pytest.approx(floor, rel=EXACT)


NAMES = {
    "box": "floor, ceiling, front wall, back wall, left wall, right wall",
    "box with slopes": "floor, ceiling, front wall, back wall, left wall, right wall, left slope, back slope",
    "gable": "floor, left slope, right slope, front wall, back wall, left wall, right wall",
    "gable with flat": "floor, left slope, right slope, front wall, back wall, left wall, right wall, "
    "ceiling",
    "gable across": "floor, front slope, back slope, front wall, back wall, left wall, right wall",
    "tent": "floor, left slope, right slope, front wall, back wall",
    "lean-to": "floor, ceiling, front wall, back wall, left wall, right wall",
    "elbow": "floor, ceiling, wall 1, wall 2, wall 3, wall 4, wall 5, wall 6",
    "hip": "floor, ceiling, wall 1, wall 2, wall 3, wall 4, wall 5, wall 6, wall 1 slope, wall 4 slope",
    "section": "floor, ceiling 1, ceiling 2, ceiling 3, left wall 1, left wall 2, right wall 1, "
    "right wall 2, front wall, back wall, left slope, right slope",
    "section across": "floor, ceiling, left wall, right wall, front wall, back wall, front slope, back slope",
}


@pytest.mark.parametrize("shape", SHAPES)
def test_surfaces_have_the_names_and_order_of_the_scene_format(room_of, shape):
    assert ", ".join(room_of(shape).surface_names) == NAMES[shape]


@pytest.mark.parametrize("shape", SHAPES)
def test_every_edge_is_shared_by_two_facets_to_the_last_bit(room_of, shape):
    edges = Counter()
    for facet in room_of(shape).facets:
        for loop in (facet.outline, *facet.holes):
            corners = [tuple(corner) for corner in loop.tolist()]
            edges.update(zip(corners, corners[1:] + corners[:1], strict=True))
    assert set(edges.values()) == {1}
    assert all((b, a) in edges for a, b in edges)


@pytest.mark.parametrize("shape", SHAPES)
def test_faces_look_into_the_room(room_of, shape):
    room = room_of(shape)
    for facet in room.facets:
        vector = area_vector(facet.outline)
        assert facet.normal @ vector > 0
        assert np.abs(facet.outline @ facet.normal - facet.offset).max() < room.tolerance_m
    inside = turns_around(np.array([[1.8, 1.9, 1.1]]), room.triangles)
    assert inside[0] == pytest.approx(-1.0, abs=1e-9)  # solid angles add up to the full sphere


@pytest.mark.parametrize("shape", SHAPES)
def test_triangles_have_the_area_of_their_facets(room_of, shape):
    room = room_of(shape)
    edge = room.triangles[:, 1:] - room.triangles[:, :1]
    sizes = 0.5 * np.linalg.norm(np.cross(edge[:, 0], edge[:, 1]), axis=1)
    for k, facet in enumerate(room.facets):
        newell = np.linalg.norm(area_vector(facet.outline) + sum(map(area_vector, facet.holes), np.zeros(3)))
        assert sizes[room.facet_of_triangle == k].sum() == pytest.approx(newell, rel=EXACT)


def test_half_slope_has_the_areas_of_its_trigonometry(room_of):
    # Room 6: knee wall 0.95 m, 40 degrees up to 2.40 m, flat beyond.
    room = room_of(
        'shape = "box"\nlength = 4.8\nwidth = 3.6\nheight = 2.4\n'
        'slopes = [{wall = "left wall", eaves = 0.95, pitch = 40}]'
    )
    run = (2.4 - 0.95) / TAN40
    assert run == pytest.approx(1.728, abs=5e-4)  # the figure of the survey, rounded to a millimetre
    expected = {
        "floor": 4.8 * 3.6,
        "ceiling": 4.8 * (3.6 - run),
        "left wall": 4.8 * 0.95,
        "right wall": 4.8 * 2.4,
        "front wall": 3.6 * 2.4 - run * 1.45 / 2,
        "back wall": 3.6 * 2.4 - run * 1.45 / 2,
        "left slope": 4.8 * 1.45 / math.sin(math.radians(40)),
    }
    assert areas(room) == pytest.approx(expected, rel=EXACT)


def test_hip_has_the_heights_of_its_trigonometry(room_of):
    # Room 12: 0.80 m rising 45 degrees from wall 1, 1.00 m rising 35 degrees from x = 5.50, flat 2.30.
    room = room_of("hip")
    hit, facet = room.first_hit([[1.0, 0.5, 0.4], [5.0, 3.5, 0.4], [2.0, 3.0, 0.4]], [[0, 0, 1.0]] * 3)
    names = [room.surface_names[room.facets[k].surface] for k in facet]
    assert names == ["wall 1 slope", "wall 4 slope", "ceiling"]
    assert hit + 0.4 == pytest.approx([0.8 + 0.5, 1.0 + 0.5 * TAN35, 2.3], rel=EXACT)
    # The hip line, the two slopes' ends under the flat, and the knee wall.
    ceiling = room.facets[room.surfaces[room.surface_index("ceiling")].facets[0]].outline
    meeting = np.array([5.5 - 1.3 / TAN35, 1.5, 2.3])
    assert np.abs(ceiling - meeting).max(axis=1).min() < room.tolerance_m
    assert areas(room)["wall 1"] == pytest.approx(4.7 * 0.8, rel=EXACT)
    assert areas(room)["wall 4"] == pytest.approx(1.9 * 1.0, rel=EXACT)


@pytest.mark.parametrize("shape", ["box with slopes", "hip", "elbow"])
def test_roof_pieces_tile_the_plan(room_of, shape):
    room = room_of(shape)
    projected = sum(s.area_m2 * -s.frame.n[2] for s in room.surfaces if s.frame.n[2] < -1e-9)
    assert projected == pytest.approx(room.floor_area_m2, rel=EXACT)


U_PLAN = [(0, 0), (7, 0), (7, 5), (4.6, 5), (4.6, 2.2), (2.6, 2.2), (2.6, 5), (0, 5)]


def build_or_refusal(scene):
    try:
        return build_room(scene), ""
    except SceneError as error:
        return None, str(error)


@settings(max_examples=80)
@given(
    st.lists(
        st.tuples(st.integers(1, 8), st.floats(0.6, 2.0), st.floats(12, 60)),
        min_size=1,
        max_size=4,
        unique_by=lambda slope: slope[0],
    ),
    st.integers(0, 10**6),
)
def test_the_roof_is_the_lowest_of_its_planes(scene_of, slopes, seed):
    corners = np.array(U_PLAN, float)

    def height(points):
        heights = [np.full(len(points), 2.6)]
        for wall, eaves, pitch in slopes:
            a, b = corners[wall - 1], corners[wall % 8]
            inward = np.array([a[1] - b[1], b[0] - a[0]]) / np.linalg.norm(b - a)
            heights.append(eaves + (points - a) @ inward * math.tan(math.radians(pitch)))
        return np.array(heights)

    rows = ", ".join(f'{{wall = "wall {w}", eaves = {e!r}, pitch = {p!r}}}' for w, e, p in slopes)
    table = f'shape = "plan"\ncorners = {[list(c) for c in U_PLAN]}\nheight = 2.6\nslopes = [{rows}]'
    places = np.random.default_rng(seed).uniform(0, [7, 5], (400, 2))
    places = places[locate(places, [corners], 1e-3) > 0]
    planes = height(places)
    lowest = planes.min(axis=0)
    clear = lowest > 0.02
    high = places[clear][np.argsort(-lowest[clear])]
    apart = high[np.linalg.norm(high - high[:1], axis=1) > 0.1]
    if not len(apart):
        return
    speaker, seat = ([*map(float, p), 0.01] for p in (high[0], apart[0]))
    room, refusal = build_or_refusal(scene_of(room_text(table, speaker=str(speaker), seat=str(seat))))
    if room is None:
        # Refused are a roof that cuts the floor and a slope that is nowhere lowest, nothing else.
        through = height(corners).min() < 0
        hidden = any((planes[k + 1] > lowest + 1e-9).all() for k in range(len(slopes)))
        assert ("floor" in refusal and through) or ("no part of the roof" in refusal and hidden)
        return
    origins = np.column_stack([places, np.full(len(places), 1e-4)])
    distance, _ = room.first_hit(origins, np.broadcast_to([0, 0, 1.0], origins.shape))
    assert np.abs(distance + 1e-4 - lowest).max() < 1e-9  # heights of metres, rounded twice
    projected = sum(s.area_m2 * -s.frame.n[2] for s in room.surfaces if s.frame.n[2] < -1e-9)
    assert projected == pytest.approx(room.floor_area_m2, rel=1e-9)  # pieces clipped and joined


def test_a_clockwise_plan_is_the_same_room(room_of):
    corners = [[0, 0], [6, 0], [6, 5.2], [3.4, 5.2], [3.4, 3.4], [0, 3.4]]
    names = ["a", "b", "c", "d", "e", "f"]
    text = 'shape = "plan"\nheight = 2.45\ncorners = {}\nwalls = {}'
    forward = room_of(text.format(corners, names))
    # The same corners backwards: wall k now runs from corner k to the one before it.
    backward = room_of(text.format([corners[0], *corners[:0:-1]], names[::-1]))
    assert areas(forward) == pytest.approx(areas(backward), rel=EXACT)
    assert backward.surface_names[2:] == tuple(names[::-1])
    for name in names:
        a, b = (r.surfaces[r.surface_index(name)].frame for r in (forward, backward))
        assert np.array_equal(a.origin, b.origin)
        assert np.array_equal(a.n, b.n)


def test_a_plan_that_does_not_start_at_zero_says_so(room_of):
    room = room_of('shape = "plan"\ncorners = [[0.3,0],[4.2,0],[4.2,3],[0.3,3]]\nheight = 2.4')
    assert tuple(map(str, room.notes)) == (
        "The room starts at x = 0.300 m: distances from the front wall are counted from x = 0.",
    )
    assert not room_of("elbow").notes


def test_a_profile_backwards_is_the_same_room(room_of):
    profile = [[0, 0], [4, 0], [4, 2], [3, 2.5], [0, 2.5]]
    text = 'shape = "section"\nlength = 4.0\nprofile = {}'
    assert areas(room_of(text.format(profile))) == areas(room_of(text.format(profile[::-1])))


def test_a_straight_corner_of_a_profile_makes_no_extra_wall(room_of):
    room = room_of('shape = "section"\nlength = 4.0\nprofile = [[0,0],[2,0],[4,0],[4,2.4],[0,2.4]]')
    assert room.surface_names == ("floor", "ceiling", "left wall", "right wall", "front wall", "back wall")


@pytest.mark.parametrize("side", ["front", "back", "left", "right"])
def test_a_lean_to_is_low_on_its_low_side(room_of, side):
    room = room_of(
        f'shape = "lean-to"\nlength = 4.5\nwidth = 2.9\nlow = 2.05\nhigh = 2.75\nlow_side = "{side}"'
    )
    heights = {name: room.surfaces[room.surface_index(name)].frame.height for name in room.surface_names}
    opposite = {"front": "back", "back": "front", "left": "right", "right": "left"}[side]
    assert heights[f"{side} wall"] == pytest.approx(2.05, rel=EXACT)
    assert heights[f"{opposite} wall"] == pytest.approx(2.75, rel=EXACT)
    # A sloping ceiling is set out as a wall is: v rises towards the high side.
    assert room.surfaces[room.surface_index("ceiling")].frame.v[2] > 0


@pytest.mark.parametrize("shape", ["box", "gable", "lean-to", "section"])
def test_the_same_room_comes_of_different_shapes(room_of, shape):
    """A box written four ways."""
    tables = {
        "box": SHAPES["box"],
        "gable": 'shape = "gable"\nlength = 4.2\nwidth = 3.0\neaves = 2.3\nridge = 2.6\nflat = 2.4',
        "lean-to": 'shape = "plan"\ncorners = [[0,0],[4.2,0],[4.2,3],[0,3]]\nheight = 2.4\n'
        'walls = ["left wall", "back wall", "right wall", "front wall"]',
        "section": 'shape = "section"\nlength = 4.2\nprofile = [[0,0],[3,0],[3,2.4],[0,2.4]]',
    }
    room, box = room_of(tables[shape]), room_of("box")
    for name in ("floor", "left wall", "right wall", "front wall", "back wall"):
        a, b = (r.surfaces[r.surface_index(name)] for r in (room, box))
        assert np.array_equal(a.frame.n, b.frame.n)
        if shape != "gable":
            assert np.array_equal(a.frame.origin, b.frame.origin)
            assert a.area_m2 == pytest.approx(b.area_m2, rel=EXACT)


DESK = (
    '[[objects]]\nname = "desk"\nshape = "box"\ncentre = {}\nsize = [1.0, 0.6, 0.2]\n'
    'yaw = {}\npitch = {}\nmaterial = "wood"\n'
)


@pytest.mark.parametrize(("yaw", "pitch"), [(0, 0), (90, 0), (30, 0), (-135, 0), (20, 15), (0, -30)])
def test_an_object_box_keeps_its_size_and_looks_outwards(room_of, yaw, pitch):
    room = room_of("box", DESK.format("[2.8, 1.5, 1.2]", yaw, pitch))
    mine = [facet for facet in room.facets if room.surfaces[facet.surface].owner == "desk"]
    corners = np.unique(np.concatenate([facet.outline for facet in mine]), axis=0)
    assert len(corners) == 8
    for facet in mine:
        assert facet.normal @ (facet.outline.mean(axis=0) - [2.8, 1.5, 1.2]) > 0
    size = {s.name: s.area_m2 for s in room.surfaces if s.owner == "desk"}
    assert size == pytest.approx(
        {
            "desk top": 0.6,
            "desk bottom": 0.6,
            "desk front": 0.12,
            "desk back": 0.12,
            "desk left": 0.2,
            "desk right": 0.2,
        },
        rel=EXACT,
    )


def test_yaw_turns_towards_y_and_pitch_lifts_the_back(room_of):
    room = room_of("box", DESK.format("[2.8, 1.5, 1.2]", 90, 0))
    back = room.surfaces[room.surface_index("desk back")]
    assert back.frame.n.tolist() == [0, 1, 0]
    assert room.facets[back.facets[0]].offset == 1.5 + 0.5  # a quarter turn is exact
    room = room_of("box", DESK.format("[2.8, 1.5, 1.2]", 0, 10))
    back = room.surfaces[room.surface_index("desk back")].frame.n
    assert back == pytest.approx([math.cos(math.radians(10)), 0, math.sin(math.radians(10))], abs=EXACT)
    assert room.surfaces[room.surface_index("desk front")].frame.n[0] < 0  # front faces the front wall


def test_a_slope_that_is_nowhere_the_roof_is_refused(room_of):
    with pytest.raises(SceneError, match=r'slopes\[1\]: no part of the roof.*"left slope"'):
        room_of(
            'shape = "box"\nlength = 4.2\nwidth = 3.0\nheight = 2.4\n'
            'slopes = [{wall = "left wall", eaves = 2.5, pitch = 40}]'
        )


def test_a_roof_that_cuts_the_floor_is_refused(room_of):
    # The slope over wall 5 of the elbow falls as one goes from it into the other leg.
    elbow = SHAPES["elbow"] + '\nslopes = [{wall = "wall 5", eaves = 1.0, pitch = 40}]'
    with pytest.raises(SceneError, match=r"through the floor at x 6\.000 m, y 5\.200 m"):
        room_of(elbow)


def test_a_slope_over_an_unknown_wall_names_the_nearest(room_of):
    with pytest.raises(
        SceneError, match=r'slopes\[1\]\.wall: no wall "left wal", did you mean "left wall"\?'
    ):
        room_of(
            'shape = "box"\nlength = 4.2\nwidth = 3.0\nheight = 2.4\n'
            'slopes = [{wall = "left wal", eaves = 1.0, pitch = 40}]'
        )

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace import SceneError, build_room
from raytrace.room.clearances import overlap_m, prism
from tests.support.rooms import room_text

BUILDS = """
[builds.slab]
size = [1.2, 0.6]
thickness = 0.05
flow_resistivity = 12000
"""
DOOR = """
[[openings]]
name = "door"
surface = "back wall"
kind = "door"
material = "wood door"
at = [1.0, 0.0]
size = [0.8, 2.0]
swing = {hinge = "left", out = 0.75}
"""
DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [1.2, 1.5, 0.5]
size = [0.7, 1.5, 0.4]
material = "wood"
"""
ON_WALL = '[[panels]]\nname = "one"\nsurface = "{surface}"\nbuild = "slab"\ncentre = {centre}\n'
CLOUD = (
    '[[clouds]]\nname = "c"\nsurface = "ceiling"\nbuild = "slab"\ncentre = {centre}\nrows = 1\ncolumns = 1\n'
    "drop = {drop}\n"
)
KEEP_OUT = (
    '[[keep_outs]]\nname = "lamp"\nsurface = "ceiling"\ncentre = [2.0, 1.5]\nradius = 0.2\nreason = "heat"\n'
)


REFUSED = {
    "past the edge": (
        ON_WALL.format(surface="left wall", centre="[0.5, 1.2]"),
        "reaches 100 mm past the left edge",
    ),
    "on another panel": (
        ON_WALL.format(surface="left wall", centre="[2.0, 1.2]")
        + ON_WALL.format(surface="left wall", centre="[3.0, 1.2]").replace("one", "two"),
        '"two" overlaps "one" by 50 mm',
    ),
    "on a door": (
        DOOR + ON_WALL.format(surface="back wall", centre="[1.4, 1.9]"),
        "covers 800 mm x 400 mm of the door",
    ),
    "too near before a door": (
        DOOR.partition("swing")[0] + '[[stands]]\nname = "s"\nbuild = "slab"\nat = [3.4, 1.6]\nyaw = 180\n',
        'of the door "door"',
    ),
    "in the swing of a door": (
        DOOR.replace("0.75", "1.0") + '[[stands]]\nname = "s"\nbuild = "slab"\nat = [3.19, 1.6]\nyaw = 180\n',
        'in the way of the leaf of "door"',
    ),
    "under a lamp": (KEEP_OUT + CLOUD.format(centre="[2.0, 1.8]", drop=0.1), 'kept free for "lamp" (heat)'),
    "in the desk": (
        DESK + '[[stands]]\nname = "s"\nbuild = "slab"\nat = [1.2, 1.5]\nyaw = 0\nlift = 0.4\n',
        'runs into "desk"',
    ),
    "through a wall": (
        '[[stands]]\nname = "s"\nbuild = "slab"\nat = [2.0, 0.1]\nyaw = 0\n',
        'reaches 500 mm into "left wall"',
    ),
    "too low to walk under": (CLOUD.format(centre="[2.0, 1.5]", drop=0.4), "leaves 1950 mm of head room"),
    "round a speaker": (
        '[[stands]]\nname = "s"\nbuild = "slab"\nat = [0.97, 1.5]\nyaw = 0\nlift = 1.0\n',
        'holds the speaker "left"',
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_panel_that_is_in_the_way_is_refused_with_the_reason(scene_of, case):
    more, message = REFUSED[case]
    with pytest.raises(SceneError) as refused:
        build_room(scene_of(room_text("box", BUILDS + more)))
    assert message in str(refused.value)


ALLOWED = {
    "beside the door, out of its swing": DOOR + ON_WALL.format(surface="back wall", centre="[2.4, 1.9]"),
    "edge to edge": ON_WALL.format(surface="left wall", centre="[1.0, 1.2]")
    + ON_WALL.format(surface="left wall", centre="[2.2, 1.2]").replace("one", "two"),
    "low over the desk": DESK + CLOUD.format(centre="[1.2, 1.5]", drop=0.5),
    "beside the lamp": KEEP_OUT + CLOUD.format(centre="[2.0, 2.0]", drop=0.1),
    "over a poster": '[[openings]]\nname = "poster"\nsurface = "left wall"\nkind = "cover"\n'
    'material = "carpet"\n'
    "at = [1.5, 1.0]\nsize = [1.0, 1.0]\n" + ON_WALL.format(surface="left wall", centre="[2.0, 1.2]"),
}


@pytest.mark.parametrize("case", ALLOWED)
def test_a_panel_with_nothing_in_its_way_is_placed(scene_of, case):
    assert build_room(scene_of(room_text("box", BUILDS + ALLOWED[case]))).panels


@pytest.mark.parametrize(
    ("drilling", "fits"), [("true", True), ("false", False), ('["left wall"]', True), ('["ceiling"]', False)]
)
def test_a_wall_that_may_not_be_drilled_takes_no_panel(scene_of, drilling, fits):
    text = room_text("box", BUILDS + ON_WALL.format(surface="left wall", centre="[2.0, 1.2]"))
    text += f"\n[job]\ndrilling = {drilling}\n"
    if fits:
        assert build_room(scene_of(text)).panels
    else:
        with pytest.raises(SceneError, match="may not be drilled"):
            build_room(scene_of(text))


def test_where_no_ceiling_may_be_drilled_stands_are_the_answer_to_walls_alone(scene_of):
    hung = CLOUD.format(centre="[2.0, 1.5]", drop=0.1)
    for entry, says_stands in (
        (ON_WALL.format(surface="left wall", centre="[2.0, 1.2]"), True),
        (hung, False),
    ):
        with pytest.raises(SceneError, match="may not be drilled") as refused:
            build_room(scene_of(room_text("box", BUILDS + entry) + "\n[job]\ndrilling = false\n"))
        assert ("use [[stands]] there" in str(refused.value)) is says_stands
        assert ("ask whether it may be drilled" in str(refused.value)) is not says_stands


def cube(middle, size, turn):
    c, s = np.cos(turn), np.sin(turn)
    u, v = np.array([c, s, 0.0]) * size, np.array([-s, c, 0.0]) * size
    base = np.array(middle) - 0.5 * (u + v) - np.array([0, 0, 0.5 * size])
    return prism(np.array([base, base + u, base + u + v, base + v]), np.array([0, 0, size]))


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-3, 3), st.floats(0, 1.5), st.floats(0.2, 2))
def test_bodies_that_share_a_point_overlap_and_bodies_apart_do_not(x, y, z, turn, size):
    a, b = cube((0, 0, 0), 1.0, 0.0), cube((x, y, z), size, turn)
    reach = overlap_m(a, b)
    grid = np.array(np.meshgrid(*[np.linspace(-0.5, 0.5, 9)] * 3)).reshape(3, -1).T
    c, s = np.cos(turn), np.sin(turn)
    local = (grid - [x, y, z]) @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    shares_a_grid_point = (np.abs(local) < 0.5 * size - 1e-9).all(axis=1).any()
    if shares_a_grid_point:
        assert reach > 0.0
    assert reach == pytest.approx(overlap_m(b, a), abs=1e-12)  # rounding
    if np.linalg.norm([x, y, z]) > 0.87 * (1.0 + size):  # farther apart than both half diagonals
        assert reach < 0.0


@pytest.mark.parametrize("name", ["c", "cloud 2 of 3", "7", "c [1] 1"])
def test_a_panel_of_a_cloud_is_refused_at_its_own_place_whatever_the_cloud_is_called(scene_of, name):
    # The second of the two lies over the lamp.
    hung = (
        f'[[clouds]]\nname = "{name}"\nsurface = "ceiling"\nbuild = "slab"\ndrop = 0.2\n'
        "panels = [{ centre = [1.0, 0.8] }, { centre = [2.0, 1.5] }]\n"
    )
    with pytest.raises(SceneError, match='what is kept free for "lamp"') as caught:
        build_room(scene_of(room_text("box", BUILDS + KEEP_OUT + hung)))
    assert caught.value.key == "clouds[1].panels[2].centre"

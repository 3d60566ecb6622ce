import numpy as np
import pytest
from numpy.testing import assert_allclose

from raytrace import build_room
from tests.support.rooms import room_text

BUILDS = """
[builds.slab]
size = [1.2, 0.6]
thickness = 0.05
flow_resistivity = 12000
[builds.upright]
size = [0.6, 1.2]
thickness = 0.1
flow_resistivity = 12000
"""


@pytest.fixture
def placed(scene_of):
    def place(shape, more):
        return build_room(scene_of(room_text(shape, BUILDS + more)))

    return place


def panel(**keys):
    keys = {"name": '"one"', "surface": '"left wall"', "build": '"slab"', "centre": "[2.1, 1.2]"} | keys
    return "[[panels]]\n" + "\n".join(f"{key} = {value}" for key, value in keys.items()) + "\n"


def cloud(**keys):
    given = {"name": '"cloud"', "surface": '"ceiling"', "build": '"slab"', "drop": "0.1"} | keys
    return "[[clouds]]\n" + "\n".join(f"{key} = {value}" for key, value in given.items()) + "\n"


def test_a_panel_on_a_wall_stands_its_gap_and_thickness_before_it(placed):
    room = placed("box", panel(gap="0.03"))
    (one,) = room.panels
    assert_allclose(one.centre, [4.2 - 2.1, 0.08, 1.2])
    assert_allclose(one.back[:, 1], 0.03)
    assert_allclose(one.rect, [1.5, 0.9, 2.7, 1.5])
    assert (one.acts_as, one.gap_m) == ("patch", pytest.approx(0.03))


def test_corners_run_from_the_lower_left_of_who_faces_the_panel(placed):
    (one,) = placed("box", panel(turned=90)).panels
    assert (one.width_m, one.height_m) == (0.6, 1.2)
    # Facing the left wall, the front of the room is on the right.
    assert_allclose(one.corners[0], [2.4, 0.05, 0.6])
    assert_allclose(one.corners[1], [1.8, 0.05, 0.6])
    assert_allclose(
        np.cross(one.corners[1] - one.corners[0], one.corners[3] - one.corners[0]), 0.72 * one.normal
    )


def test_a_panel_more_than_300_mm_off_its_surface_hangs_free(placed):
    room = placed("box", panel(gap="0.31"))
    assert room.panels[0].acts_as == "free"
    assert [s.name for s in room.surfaces[-2:]] == ["one front", "one back"]
    assert len(room.facets) == room.n_solid_facets + 2


def test_a_panel_across_a_corner_touches_both_walls_with_its_long_edges(placed):
    room = placed(
        "box",
        panel(surface='"front wall"', across_corner='"left wall"', build='"upright"', centre="[0.2, 1.2]"),
    )
    (one,) = room.panels
    assert_allclose(one.normal, [np.sqrt(0.5), np.sqrt(0.5), 0.0], atol=1e-12)
    assert_allclose(sorted(one.back[:, 0].round(9)), [0, 0, 0.3 * np.sqrt(2), 0.3 * np.sqrt(2)], atol=1e-9)
    assert_allclose(sorted(one.back[:, 1].round(9)), [0, 0, 0.3 * np.sqrt(2), 0.3 * np.sqrt(2)], atol=1e-9)
    assert_allclose([one.corners[:, 2].min(), one.corners[:, 2].max()], [0.6, 1.8])


def test_a_panel_along_wall_and_ceiling_leans_into_the_room(placed):
    (one,) = placed(
        "box", panel(surface='"ceiling"', across_corner='"left wall"', centre="[2.1, 0.2]")
    ).panels
    assert_allclose(one.normal, [0, np.sqrt(0.5), -np.sqrt(0.5)], atol=1e-12)
    assert_allclose([one.back[:, 2].max(), one.back[:, 1].max()], [2.4, 0.3 * np.sqrt(2)], atol=1e-9)


def test_a_leaning_stand_stands_on_its_foot_and_looks_up(placed):
    stand = '[[stands]]\nname = "s"\nbuild = "upright"\nat = [2.0, 1.0]\nyaw = 90\nlean = 10\n'
    (one,) = placed("box", stand).panels
    low = one.corners[:2].mean(axis=0)
    sine, cosine = np.sin(np.radians(10)), np.cos(np.radians(10))
    assert_allclose(low[:2], [2.0, 1.0], atol=1e-12)
    assert_allclose(one.back[:2, 2], 0.0, atol=1e-12)  # rests on its lower back edge
    assert_allclose(one.normal, [0, cosine, sine], atol=1e-12)
    assert_allclose(one.corners[2:].mean(axis=0) - low, [0, -1.2 * sine, 1.2 * cosine], atol=1e-12)


def test_an_upright_stand_close_before_a_wall_is_a_patch_of_it(placed):
    stand = '[[stands]]\nname = "s"\nbuild = "upright"\nat = [2.0, 0.3]\nyaw = 90\n'
    room = placed("box", stand)
    (one,) = room.panels
    assert (one.acts_as, room.surfaces[one.surface].name) == ("patch", "left wall")
    assert one.gap_m == pytest.approx(0.2)


def test_a_level_cloud_runs_in_rows_from_the_front_and_columns_from_the_left(placed):
    room = placed("box", cloud(centre="[2.0, 1.5]", rows=2, columns=2, spacing=0.1))
    at = {one.name: one.centre.round(9).tolist() for one in room.panels}
    assert at == {
        "cloud A1": [1.35, 1.15, 2.25],
        "cloud A2": [1.35, 1.85, 2.25],
        "cloud B1": [2.65, 1.15, 2.25],
        "cloud B2": [2.65, 1.85, 2.25],
    }
    assert {one.acts_as for one in room.panels} == {"patch"}


def test_a_level_cloud_under_a_slope_is_level_and_hangs_free(placed):
    room = placed("lean-to", cloud(centre="[1.5, 2.0]", rows=1, columns=1, drop=0.2))
    (one,) = room.panels
    frame = room.surfaces[room.surface_index("ceiling")].frame
    assert_allclose(one.normal, [0, 0, -1], atol=1e-12)
    assert_allclose(one.back.mean(axis=0), frame.to_room([1.5, 2.0]) - [0, 0, 0.2], atol=1e-9)
    assert one.acts_as == "free"


def test_a_cloud_along_a_slope_is_parallel_to_it(placed):
    room = placed("lean-to", cloud(centre="[1.5, 2.0]", rows=1, columns=2, level='"along"', drop=0.15))
    normal = room.surfaces[room.surface_index("ceiling")].frame.n
    for one in room.panels:
        assert_allclose(one.normal, normal, atol=1e-12)
        assert one.gap_m == pytest.approx(0.15)
        assert one.acts_as == "patch"


def test_a_tilted_cloud_looks_to_the_wall_it_is_tilted_towards(placed):
    room = placed(
        "box",
        cloud(centre="[2.0, 1.5]", rows=1, columns=2, drop=0.2, tilt='{towards = "back wall", deg = 10}'),
    )
    for one in room.panels:
        assert_allclose(one.normal, [np.sin(np.radians(10)), 0, -np.cos(np.radians(10))], atol=1e-12)
    spread = np.concatenate([one.centre[None] for one in room.panels]) @ room.panels[0].normal
    assert np.ptp(spread) < 1e-12
    (sheet,) = room.free_groups
    assert sheet.panels == (0, 1)


def test_single_panels_of_a_cloud_are_where_they_are_seen_on_the_ceiling(placed):
    room = placed("box", cloud(panels="[{centre = [1.0, 1.0]}, {centre = [2.2, 1.6], turned = 90}]"))
    assert [one.name for one in room.panels] == ["cloud 1", "cloud 2"]
    assert_allclose([one.centre[:2] for one in room.panels], [[1.0, 1.0], [2.2, 1.6]])
    assert_allclose(room.panels[1].rect, [1.9, 1.0, 2.5, 2.2])


def test_a_sheet_is_the_smallest_rectangle_round_its_panels(placed):
    room = placed("box", cloud(centre="[2.0, 1.5]", rows=2, columns=2, spacing=0.1, drop=0.35))
    (sheet,) = room.free_groups
    assert_allclose(np.ptp(sheet.front, axis=0), [2.5, 1.3, 0.0], atol=1e-12)
    assert_allclose(sheet.front[0, 2] - sheet.back[0, 2], -0.05)

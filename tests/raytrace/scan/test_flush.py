"""Furniture flush with a wall, behind and under which nothing was scanned, is furniture and no wall."""

import numpy as np
import pytest

from raytrace.scan import clean_scan
from tests.support.scans import AS_DRAWN, Rough, box_sides, furnished_box, obj_text, plan_room, scan_of

SIZE = (4.5, 3.2, 2.4)
ROUGH = Rough(noise=0.004, edge=0.13, repeated=0, degenerate=0)


def cleaned(folder, truth, rough=ROUGH):
    path = folder / "room.obj"
    path.write_text(obj_text(*scan_of(truth, rough)))
    return clean_scan(path)


@pytest.mark.parametrize("is_top_seen", [True, False])
def test_a_wardrobe_higher_than_the_eyes_is_one_whether_its_top_was_seen_or_not(tmp_path, is_top_seen):
    truth = furnished_box(SIZE, (1.0, 0.0, 0.0), (2.8, 0.6, 2.0))
    if not is_top_seen:
        del truth.faces[-1]
    room = cleaned(tmp_path, truth)
    assert room.shape.kind == "box"
    (block,) = room.objects
    assert block.size == pytest.approx((1.8, 0.6, 2.0), abs=0.02)  # as below
    assert not room.holes


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("table", (1.0, 0.0, 0.0), (2.4, 0.7, 0.74)),
        ("table", (0.0, 0.0, 0.0), (1.4, 0.7, 0.74)),  # in a corner
        ("cupboard", (0.0, 0.0, 0.0), (0.9, 0.6, 1.83)),
        ("table", (1.0, 0.0, 0.0), (2.0, 0.5, 0.8)),
        ("seat", (1.5, 0.0, 0.0), (2.9, 2.0, 0.5)),
    ],
)
def test_furniture_flush_with_walls_leaves_the_room_whole(tmp_path, name, low, high):
    room = cleaned(tmp_path, furnished_box(SIZE, low, high))
    assert room.shape.kind == "box"
    found = dict(room.shape.numbers)
    assert [found[key] for key in ("length", "width", "height")] == pytest.approx(
        SIZE, abs=0.01
    )  # as promised
    (block,) = room.objects
    assert block.name == f"{name} 1"
    # Its edges are rounded off by one of the mesh, the far one to 12 mm more than the noise.
    assert block.size == pytest.approx(np.subtract(high, low), abs=0.02)
    assert block.centre == pytest.approx(np.add(low, high) / 2, abs=0.012)
    assert not room.holes


def test_a_chimney_breast_up_to_the_ceiling_stays_a_wall(tmp_path):
    outline = [(0, 0), (1.0, 0), (1.0, 0.5), (2.4, 0.5), (2.4, 0), (4.5, 0), (4.5, 3.2), (0, 3.2)]
    room = cleaned(tmp_path, plan_room(outline, 2.4))
    assert len(room.shape.corners) == len(outline)
    assert not room.objects


def test_a_low_wall_that_one_looks_over_stays_in_the_room(tmp_path):
    truth = plan_room([(0, 0), (4.5, 0), (4.5, 3.2), (0, 3.2)], 2.4)
    box_sides(truth, (2.4, 0.5, 0.0), (2.6, 2.7, 1.1))
    room = cleaned(tmp_path, truth)
    assert room.shape.kind == "box"
    (low_wall,) = room.objects
    assert (low_wall.size[0], low_wall.size[2]) == pytest.approx((0.2, 1.1), abs=0.02)  # as for furniture
    assert low_wall.size[1] == pytest.approx(2.2, abs=0.14)  # its ends are narrow: half an edge at each


def with_block(truth, low, high):
    """A block with all its six faces."""
    box_sides(truth, low, high)
    (x0, y0, z0), (x1, y1, _) = low, high
    truth.add([(x0, y0, z0), (x0, y1, z0), (x1, y1, z0), (x1, y0, z0)])


@pytest.mark.parametrize(
    ("low", "high", "rough"),
    [
        ((1.0, 0.1, 0.0), (2.4, 0.8, 0.74), Rough(edge=0.13)),
        ((0.1, 0.1, 0.0), (2.1, 1.5, 0.5), Rough(edge=0.13)),  # off two walls
        ((0.1, 0.1, 0.0), (2.1, 1.5, 0.5), AS_DRAWN),
        ((1.0, 0.15, 0.0), (3.0, 1.6, 0.5), Rough(edge=0.13)),
    ],
)
@pytest.mark.parametrize("has_bottom", [True, False])
def test_a_block_drawn_off_a_wall_does_not_pull_it(tmp_path, low, high, rough, has_bottom):
    truth = plan_room([(0, 0), (4.5, 0), (4.5, 2.86), (0, 2.86)], 2.4)
    (with_block if has_bottom else box_sides)(truth, low, high)
    room = cleaned(tmp_path, truth, rough)
    assert room.shape.kind == "box"
    found = dict(room.shape.numbers)
    assert [found[key] for key in ("length", "width")] == pytest.approx((4.5, 2.86), abs=0.01)  # as promised
    assert room.objects[0].size == pytest.approx(np.subtract(high, low), abs=0.02)  # as for furniture
    assert not room.holes


def test_a_chimney_breast_of_a_hands_depth_stays_a_wall(tmp_path):
    outline = [(0, 0), (1.0, 0), (1.0, 0.1), (2.4, 0.1), (2.4, 0), (4.5, 0), (4.5, 3.2), (0, 3.2)]
    room = cleaned(tmp_path, plan_room(outline, 2.4))
    assert room.shape.area_m2("floor") == pytest.approx(4.5 * 3.2 - 1.4 * 0.1, abs=0.03)  # 10 mm of a side
    assert not room.objects


def test_a_tabletop_seen_from_both_sides_is_one_table_as_high_as_its_top(tmp_path):
    truth = plan_room([(0, 0), (4.5, 0), (4.5, 3.2), (0, 3.2)], 2.4)
    with_block(truth, (1.6, 1.0, 0.70), (2.9, 1.65, 0.74))
    for x in (1.65, 2.8):
        box_sides(truth, (x, 1.3, 0.0), (x + 0.05, 1.35, 0.70))
    (table,) = cleaned(tmp_path, truth).objects
    assert table.name == "table 1"
    assert table.size[:2] == pytest.approx((1.3, 0.65), abs=0.02)  # as for furniture
    assert table.centre[2] + 0.5 * table.size[2] == pytest.approx(0.74, abs=0.01)  # as promised


def test_the_back_of_a_sofa_is_not_lost_and_its_bottom_is_no_hole(tmp_path):
    truth = furnished_box(SIZE, (1.0, 0.0, 0.0), (2.9, 0.85, 0.43))
    box_sides(truth, (1.0, 0.02, 0.43), (2.9, 0.20, 0.85))
    room = cleaned(tmp_path, truth)
    assert not room.holes  # its bottom is missing: no sound leaves the room there
    assert any("open places behind, under or in furniture" in line for line in room.report)
    back, seat = sorted(room.objects, key=lambda block: block.size[1])
    assert seat.size == pytest.approx((1.9, 0.85, 0.43), abs=0.03)  # 20 mm and the edges of the mesh
    assert back.centre[2] + 0.5 * back.size[2] == pytest.approx(0.85, abs=0.03)
    assert back.size[0] == pytest.approx(1.9, abs=0.03)
    assert back.size[1] == pytest.approx(0.2, abs=0.05)  # half the distance of its points

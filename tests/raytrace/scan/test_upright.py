"""What stands upright and is no wall: the leaf of an open door, the rail of a balcony, a dormer's cheeks."""

import numpy as np
import pytest

from raytrace.scan import ScanSettings, clean_scan
from tests.support.scans import COARSE, Rough, gable_room, obj_text, plan_room, scan_of

PLAN = [(0, 0), (4.0, 0), (4.0, 3.2), (0, 3.2)]


def cleaned(folder, truth):
    path = folder / "room.obj"
    path.write_text(obj_text(*scan_of(truth, Rough(**{**COARSE, "noise": 0.004}))))
    return clean_scan(path, ScanSettings(unit="mm", up="y"))


def with_gap(low, high, head):
    """A box with a gap that reaches the floor in its back wall."""
    truth, x = plan_room(PLAN, 2.4), 4.0
    gap = [(high, 0), (high, head), (low, head), (low, 0)]
    outline = [(3.2, 0), *gap, (0, 0), (0, 2.4), (3.2, 2.4)]
    truth.faces[3] = (np.array([(x, *at) for at in outline], float), [])
    return truth


def test_the_leaf_of_an_open_door_closes_no_doorway_and_is_no_wall(tmp_path):
    truth = with_gap(0.4, 1.25, 2.02)
    along, across = np.array([-np.sin(0.9), -np.cos(0.9)]), np.array([-np.cos(0.9), np.sin(0.9)])
    hinge = np.array([4.0, 1.25])
    foot = [hinge, hinge + 0.82 * along, hinge + 0.82 * along + 0.04 * across, hinge + 0.04 * across]
    for (x0, y0), (x1, y1) in zip(foot, foot[1:] + foot[:1], strict=True):
        truth.add([(x0, y0, 0.01), (x1, y1, 0.01), (x1, y1, 2.0), (x0, y0, 2.0)])
    room = cleaned(tmp_path, truth)
    assert room.shape.area_m2("floor") == pytest.approx(4.0 * 3.2, rel=0.02)  # areas within 2 %
    assert [block.name for block in room.objects] == ["door leaf 1"]
    (hole,) = room.holes
    assert hole.area_m2 == pytest.approx(0.85 * 2.02, rel=0.05)  # 10 mm and half a cell all round it


def test_the_rail_of_a_balcony_is_no_wall(tmp_path):
    truth = with_gap(1.0, 2.6, 2.2)
    truth.add([(4.0, 0.2, -0.05), (5.5, 0.2, -0.05), (5.5, 3.0, -0.05), (4.0, 3.0, -0.05)])
    truth.add([(5.5, 0.2, -0.05), (5.5, 0.2, 1.0), (5.5, 3.0, 1.0), (5.5, 3.0, -0.05)])
    room = cleaned(tmp_path, truth)
    assert room.shape.area_m2("floor") == pytest.approx(4.0 * 3.2, rel=0.02)  # areas within 2 %
    assert not room.objects
    (hole,) = room.holes
    assert hole.area_m2 == pytest.approx(1.6 * 2.2, rel=0.05)


def test_a_dormer_is_no_cupboard_and_no_hole(tmp_path):
    truth = gable_room(5.0, 4.4, eaves=0.9, ridge=2.9)
    slope = next(
        k for k, (face, _) in enumerate(truth.faces) if face[:, 1].max() < 2.3 and np.ptp(face[:, 1]) > 1
    )

    def roof(y):
        return 0.9 + 2.0 / 2.2 * y

    (x0, x1), (y0, y1) = (2.0, 3.2), (0.4, 1.6)
    rim = [(x0, y0, roof(y0)), (x1, y0, roof(y0)), (x1, y1, roof(y1)), (x0, y1, roof(y1))]
    truth.faces[slope] = (truth.faces[slope][0], [np.array(rim)])
    truth.add([(x0, y0, roof(y0)), (x1, y0, roof(y0)), (x1, y0, roof(y1)), (x0, y0, roof(y1))])
    truth.add([(x0, y0, roof(y1)), (x1, y0, roof(y1)), (x1, y1, roof(y1)), (x0, y1, roof(y1))])
    for x in (x0, x1):
        truth.add([(x, y0, roof(y0)), (x, y0, roof(y1)), (x, y1, roof(y1))])
    room = cleaned(tmp_path, truth)
    assert room.shape.kind == "gable"
    assert (room.objects, room.holes) == ((), ())
    assert any("dormer" in thing.what for thing in room.set_aside)

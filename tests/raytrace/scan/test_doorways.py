"""Two rooms and a doorway: each room has one opening, as large as it is, however the scan is drawn."""

import tomllib

import numpy as np
import pytest

from raytrace.scan import ScanSettings, clean_scan, draft_scene
from raytrace.scan.openplaces import open_places
from raytrace.scan.surfels import weld
from tests.support.doorways import TwoRooms
from tests.support.scans import AS_DRAWN, COARSE, Rough, obj_text, plan_room, scan_of

ROUGH, ROUGHER = Rough(noise=0.005, **COARSE), Rough(noise=0.010, **COARSE)
CORNER, DESK = (0.06, 0.86), ((3.2, 2.9, 0.0), (4.1, 3.8, 0.73))
CASES = {
    "one sheet between them": (TwoRooms(thick=0.0, door=CORNER, large=(4.66, 3.8)), ROUGHER),
    "two sheets in one place": (TwoRooms(thick=0.0, double=True, sill=0.1, head=2.1), AS_DRAWN),
    "sides of the doorway not seen": (TwoRooms(reveal=False), ROUGHER),
    "corners that do not meet": (TwoRooms(thick=0.15, pieces=True, door=CORNER), ROUGH),
    "no face joined to another": (TwoRooms(apart=True, pieces=True), ROUGH),
    "an elbow with a desk": (TwoRooms(elbow=True, blocks=(DESK,)), ROUGH),
    "an attic": (TwoRooms(attic=True, door=(1.8, 2.6), pieces=True), AS_DRAWN),
}


@pytest.mark.parametrize(("rooms", "rough"), CASES.values(), ids=CASES)
def test_each_of_two_rooms_has_the_doorway_between_them_and_no_other_hole(tmp_path, rooms, rough):
    path = tmp_path / "flat.obj"
    path.write_text(obj_text(*rooms.scan(rough)))
    for number, floor_m2 in enumerate(rooms.floors_m2(), 1):
        room = clean_scan(path, ScanSettings(unit="mm", up="y", room=number))
        (hole,) = room.holes
        assert hole.area_m2 == pytest.approx(rooms.door_m2, rel=0.05)  # 10 mm and half a cell all round it
        assert "doorway" in hole.name
        assert room.shape.area_m2("floor") == pytest.approx(floor_m2, rel=0.02)  # areas within 2 %
        assert len(room.objects) == (len(rooms.blocks) if number == 1 else 0)
        scene = tmp_path / "flat.toml"
        (opening,) = tomllib.loads(draft_scene(room, scene).text)["openings"]
        wide_mm, high_mm = (float(size.removesuffix(" mm")) for size in opening["size"])
        assert wide_mm * high_mm == pytest.approx(1e6 * hole.area_m2, rel=0.002)  # whole millimetres
        assert opening["name"] == hole.name


def test_what_was_seen_of_a_doorways_sides_is_called_so(tmp_path):
    path = tmp_path / "flat.obj"
    path.write_text(obj_text(*TwoRooms(thick=0.2).scan(Rough(noise=0.002, **COARSE))))
    room = clean_scan(path, ScanSettings(unit="mm", up="y"))
    assert {thing.what for thing in room.set_aside} <= {
        "another room", "stray points", "reveal of the back wall doorway middle"
    }  # fmt: skip
    assert any(thing.what.startswith("reveal") for thing in room.set_aside)


def _looked(truth, rough=AS_DRAWN):
    points, triangles = scan_of(truth, rough)
    mesh = weld(points, triangles, np.arange(len(triangles)))
    faces = [(str(k), outline) for k, (outline, _) in enumerate(truth.faces)]
    return open_places(mesh, faces, [], noise_m=0.0)


def test_holes_are_as_large_and_where_they_are_and_a_closed_room_has_none():
    outline = [(0, 0), (4.0, 0), (4.0, 3.0), (2.0, 3.0), (2.0, 2.0), (0, 2.0)]
    assert _looked(plan_room(outline, 2.4)) == ([], 0)
    (hole,), n_hidden = _looked(plan_room(outline, 2.4, hole=((2.6, 2.2), (3.0, 2.7))))
    assert (hole.name, n_hidden) == ("1 hole back right", 0)
    assert hole.area_m2 == pytest.approx(0.4 * 0.5, rel=1e-9)  # its own loop of edges
    assert hole.corners.mean(axis=0) == pytest.approx((2.8, 2.45, 2.4))


def test_a_hole_without_a_loop_of_edges_round_it_is_told_to_the_cell():
    truth = plan_room([(0, 0), (4.0, 0), (4.0, 3.0), (0, 3.0)], 2.4)
    whole = truth.faces[1][0]
    del truth.faces[1]
    # The ceiling in three pieces whose corners do not meet.
    for x0, x1, y0, y1 in (
        (0.0, 1.2, 0.0, 3.0),
        (1.2, 4.0, 0.0, 1.1),
        (1.2, 4.0, 1.7, 3.0),
        (2.1, 4.0, 1.1, 1.7),
    ):
        truth.add([(x0, y1, 2.4), (x1, y1, 2.4), (x1, y0, 2.4), (x0, y0, 2.4)])
    points, triangles = scan_of(truth, AS_DRAWN)
    mesh = weld(points, triangles, np.arange(len(triangles)))
    (hole,), _ = open_places(mesh, [("ceiling", whole)], [], noise_m=0.0)
    assert hole.area_m2 == pytest.approx(0.9 * 0.6, rel=0.02)  # half a cell of 5 mm all round
    assert np.ptp(hole.corners, axis=0)[:2] == pytest.approx((0.9, 0.6), abs=0.0051)


def test_a_crack_is_no_hole():
    truth = plan_room([(0, 0), (4.0, 0), (4.0, 3.0), (0, 3.0)], 2.4)
    for wide_m, n in ((0.03, 0), (0.06, 1)):
        cracked = plan_room(
            [(0, 0), (4.0, 0), (4.0, 3.0), (0, 3.0)], 2.4, hole=((0.5, 1.0), (3.5, 1.0 + wide_m))
        )
        assert len(_looked(cracked)[0]) == n
    assert _looked(truth) == ([], 0)

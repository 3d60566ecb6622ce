"""In which unit, by which axis and how far from level a scan is read, and what is said of each."""

import re

import numpy as np
import pytest

from raytrace.room import MeshError
from raytrace.scan import ScanSettings, clean_scan, draft_scene
from raytrace.scan.levelling import lean_of
from tests.support.scans import (
    AS_DRAWN,
    COARSE,
    Rough,
    gable_room,
    glb_bytes,
    obj_text,
    plan_room,
    scan_of,
    two_storeys,
    written,
)


def test_a_scan_that_no_unit_makes_a_room_says_what_each_would_make(tmp_path):
    path = tmp_path / "tower.obj"
    points, triangles = scan_of(
        plan_room([(0, 0), (1, 0), (1, 1), (0, 1)], 90.0), Rough(noise=0.0, edge=100.0)
    )
    path.write_text(obj_text(points, triangles))
    with pytest.raises(
        MeshError, match=r"no unit makes a room of it: its numbers span .* \(m z-up .*give --unit and --up"
    ):
        clean_scan(path)


def test_unit_and_axis_are_taken_as_they_are_asked_for(tmp_path):
    path = written(tmp_path, plan_room([(0, 0), (3.0, 0), (3.0, 2.6), (0, 2.6)], 2.4))
    room = clean_scan(path, ScanSettings(unit="mm", up="z"))
    assert (room.reading.up, room.reading.asked) == ("z", True)
    assert dict(room.shape.numbers)["height"] == pytest.approx(2.6, abs=0.01)  # as for surfaces


def plain_text(points, triangles):
    """An OBJ of the numbers as they are."""
    text = "".join("v {:.9f} {:.9f} {:.9f}\n".format(*point) for point in points)
    return text + "".join("f {} {} {}\n".format(*corners) for corners in triangles + 1)


def test_a_missing_wall_of_a_file_in_feet_is_told_in_feet(tmp_path):
    foot = 0.3048
    truth = gable_room(16 * foot, 12 * foot, eaves=7 * foot, ridge=10.5 * foot)
    truth.faces = [face for face in truth.faces if not (face[0][:, 1] == 0.0).all()]
    points, triangles = scan_of(truth, AS_DRAWN)
    path = tmp_path / "gable.obj"
    path.write_text(plain_text(points / foot, triangles))
    with pytest.raises(MeshError) as refused:
        clean_scan(path)
    said = str(refused.value)
    assert "(16' 0\", 12' 0\", 12' 0\" long)" in said
    assert "what is missing is the left wall, 16' 0\" long and 7' 0\" high (112 ft²)" in said


@pytest.mark.parametrize(
    ("times", "words"),
    [
        (
            1e-3,
            "seem to count kilometres (2.40 m high on a rectangle of 12.6 m²): multiply them by 1000",
        ),
        (10.0, "seem to count decimetres"),
    ],
)
def test_a_file_in_a_unit_no_scene_takes_says_which_it_seems_to_be(tmp_path, times, words):
    truth = plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4)
    path = tmp_path / "room.obj"
    points, triangles = scan_of(truth, AS_DRAWN)
    path.write_text(plain_text(points * times, triangles))
    for settings in (ScanSettings(), ScanSettings(unit="mm", up="z")):
        with pytest.raises(MeshError, match=re.escape(words)):
            clean_scan(path, settings)


def test_a_unit_that_makes_no_room_names_the_one_that_does(tmp_path):
    path = tmp_path / "room.obj"
    path.write_text(obj_text(*scan_of(plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4), AS_DRAWN)))
    with pytest.raises(MeshError, match=r"As a room of usual size: --unit mm --up y \(2\.40 m high"):
        clean_scan(path, ScanSettings(unit="m", up="y"))


def test_two_storeys_in_one_file_are_asked_after(tmp_path):
    truth = plan_room([(0, 0), (4.2, 0), (4.2, 5.1), (0, 5.1)], 2.4)
    points, triangles = scan_of(truth, AS_DRAWN)
    path = tmp_path / "house.obj"
    both = np.concatenate([points, points + np.array([0.0, 0.0, 2.8])])
    path.write_text(plain_text(both, np.concatenate([triangles, triangles + len(points)])))
    with pytest.raises(MeshError, match=r"Are there several storeys in it\? Export one\."):
        clean_scan(path)
    asked = clean_scan(path, ScanSettings(unit="m", up="z"))
    assert asked.doubts[0].startswith("it is 5.20 m high on a rectangle of 21.4 m², as few rooms are")
    assert asked.doubts[0].endswith("Are there several storeys in it? Export one.")


STAIR = ((0.4, 0.4), (1.3, 2.2))


@pytest.mark.parametrize("rough", [AS_DRAWN, Rough(**COARSE)], ids=["drawn", "scanned"])
@pytest.mark.parametrize("size", [(4.5, 3.6, 2.4), (4.0, 2.6, 2.4)])
def test_a_house_of_a_format_with_an_axis_of_its_own_is_not_laid_on_its_side(tmp_path, size, rough):
    path = tmp_path / "house.glb"
    path.write_bytes(glb_bytes(*scan_of(two_storeys(size, slab=0.25, stair=STAIR), rough)))
    with pytest.raises(MeshError) as refused:
        clean_scan(path)
    said = str(refused.value)
    assert "m y-up 5.0" in said
    assert "z-up" not in said  # its own axis alone is tried
    assert "Are there several storeys in it? Export one." in said
    assert f"--unit m --up z ({size[1]:.1f}" in said
    room = clean_scan(path, ScanSettings(unit="m", up="y"))
    assert room.shape.area_m2("floor") == pytest.approx(size[0] * size[1], rel=0.02)  # as promised
    assert "Are there several storeys in it? Export one." in room.doubts[0]


@pytest.mark.parametrize("size", [(4.5, 3.6, 2.4), (6.0, 4.0, 2.5)])
def test_a_house_whose_floors_may_be_walls_is_asked_after(tmp_path, size):
    points, triangles = scan_of(two_storeys(size, slab=0.25, stair=STAIR), Rough(**COARSE))
    path = tmp_path / "house.obj"
    path.write_text(obj_text(points, triangles))
    with pytest.raises(MeshError, match=r"either one storey \(--up z\).* or 2 storeys of .* \(--up y\)"):
        clean_scan(path)
    with pytest.raises(MeshError, match="several storeys"):
        clean_scan(path, ScanSettings(up="y"))
    assert clean_scan(path, ScanSettings(up="z")).reading.up == "z"
    # A high room as long is none: nothing parts it halfway.
    path.write_text(obj_text(*scan_of(plan_room([(0, 0), (4.5, 0), (4.5, 5.05), (0, 5.05)], 3.6), AS_DRAWN)))
    assert clean_scan(path).reading.height_m == pytest.approx(3.6, abs=1e-3)


@pytest.mark.parametrize(("height", "doubted"), [(2.4, False), (3.9, True)])
def test_a_format_with_an_axis_of_its_own_is_read_by_it(tmp_path, height, doubted):
    points, triangles = scan_of(plan_room([(0, 0), (4.2, 0), (4.2, 2.5), (0, 2.5)], height), AS_DRAWN)
    path = tmp_path / "room.glb"
    path.write_bytes(glb_bytes(points, triangles))
    room = clean_scan(path)
    assert (room.reading.unit, room.reading.up, room.reading.by_format) == ("m", "y", True)
    assert ("m", "z") in room.reading.others
    assert not clean_scan(path, ScanSettings(up="z")).reading.by_format
    assert room.reading.height_m == pytest.approx(height, abs=1e-5)  # of 32 bits
    assert any("--unit m --up z it would be 2.50 m high" in doubt for doubt in room.doubts) == doubted


def test_a_room_higher_than_most_is_doubted(tmp_path):
    truth = plan_room([(0, 0), (8.2, 0), (8.2, 6.1), (0, 6.1)], 3.8)
    path = tmp_path / "hall.obj"
    path.write_text(obj_text(*scan_of(truth, AS_DRAWN)))
    (doubt,) = clean_scan(path).doubts
    assert doubt == "it is 3.80 m high on a rectangle of 50.0 m², as few rooms are: look at --unit and --up"


def test_an_axis_that_makes_the_room_too_high_is_taken_as_asked_and_doubted_first(tmp_path):
    truth = plan_room([(0, 0), (4.2, 0), (4.2, 3.8), (0, 3.8)], 2.4)
    path = tmp_path / "room.obj"
    path.write_text(obj_text(*scan_of(truth, AS_DRAWN)))
    room = clean_scan(path, ScanSettings(up="z"))
    assert room.doubts[0] == (
        "read as asked it is 3.80 m high on a rectangle of 10.1 m²; with --unit mm --up y it would be 2.40 m "
        "high on a rectangle of 16.0 m², as rooms are"
    )
    assert not clean_scan(path, ScanSettings(up="y")).doubts


def leaning(points, lean_deg):
    """Points leant about the x axis."""
    cosine, sine = np.cos(np.radians(lean_deg)), np.sin(np.radians(lean_deg))
    return points @ np.array([[1.0, 0.0, 0.0], [0.0, cosine, sine], [0.0, -sine, cosine]])


@pytest.mark.parametrize("lean_deg", [7.0, -2.5])
def test_a_scan_that_leans_as_a_whole_is_put_level_and_told(tmp_path, lean_deg):
    points, triangles = scan_of(plan_room([(0, 0), (4.4, 0), (4.4, 3.2), (0, 3.2)], 2.4), Rough(**COARSE))
    path = tmp_path / "leant.obj"
    path.write_text(obj_text(leaning(points, lean_deg), triangles))
    room = clean_scan(path)
    assert room.shape.kind == "box"
    assert dict(room.shape.numbers)["height"] == pytest.approx(2.4, abs=0.005)  # as of an upright scan
    assert room.reading.height_m == pytest.approx(2.4, abs=0.06)  # with its noise, of the upright scan too
    assert any("the whole scan leant by" in line for line in room.report)
    assert np.degrees(np.arccos(room.level[2, 2])) == pytest.approx(abs(lean_deg), abs=0.2)
    assert "put level by" in draft_scene(room, tmp_path / "leant.toml").text


def test_a_floor_that_leans_alone_is_told_and_left_as_it_is():
    truth = plan_room([(0, 0), (4.4, 0), (4.4, 3.2), (0, 3.2)], 0.0, tops=lambda _x, y: 2.4 - 0.2 * y)
    points, triangles = scan_of(truth, AS_DRAWN)
    lean = lean_of(points, triangles)
    assert not lean.is_turned  # a sloping ceiling over a level floor is none
    assert not lean.doubt
    turned_over = points * (1.0, 1.0, -1.0)
    lean = lean_of(turned_over, triangles)
    assert not lean.is_turned
    assert "the floor leans by 11.3 degrees" in lean.doubt  # arctan 0.2
    assert "the walls by 0.0" in lean.doubt


@pytest.mark.parametrize("far", [1e30, 1e200])
def test_a_stray_anywhere_keeps_no_scan_from_being_put_level(far):
    points, triangles = scan_of(plan_room([(0, 0), (4.4, 0), (4.4, 3.2), (0, 3.2)], 2.4), Rough(**COARSE))
    points = leaning(points, 5.0)
    points[7] = far, -far, far
    assert lean_of(points, triangles).is_turned


def test_a_scan_that_lies_on_its_side_is_told_and_comes_back_upright_when_asked(tmp_path):
    points, triangles = scan_of(plan_room([(0, 0), (4.4, 0), (4.4, 3.4), (0, 3.4)], 2.4), AS_DRAWN)
    path = tmp_path / "side.obj"
    # Upwards is x.
    path.write_text("".join(f"v {z:.4f} {x:.4f} {y:.4f}\n" for x, y, z in points))
    with path.open("a") as file:
        file.writelines("f {} {} {}\n".format(*corners) for corners in triangles + 1)
    assert "--up x it would be 2.40 m high" in clean_scan(path).doubts[0]
    for up in ("x", "-x"):
        room = clean_scan(path, ScanSettings(up=up))
        sizes = dict(room.shape.numbers)
        assert sizes["height"] == pytest.approx(2.4, abs=1e-3)  # to the figures written
        assert sorted(sizes.values()) == pytest.approx([2.4, 3.4, 4.4], abs=1e-3)

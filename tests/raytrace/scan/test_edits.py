"""Planes of a scan as a person changes them: moved, merged, set aside, renamed."""

import numpy as np
import pytest

from raytrace.room import MeshError
from raytrace.scan import PlaneEdits, clean_scan, fit_scan, grow_scan
from tests.support.scans import Rough, obj_text, plan_room, scan_of

DESK = ((0.5, 0.8, 0.0), (1.1, 2.2, 0.72))


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("scan") / "den.obj"
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4, blocks=(DESK,))
    path.write_text(obj_text(*scan_of(truth, Rough(noise=0.004, edge=0.25, repeated=0, degenerate=0))))
    return path


@pytest.fixture(scope="module")
def grown(file):
    return grow_scan(file)


@pytest.fixture(scope="module")
def room(grown):
    return fit_scan(grown)


def planes_of(room, name):
    return next(surface.planes for surface in room.surfaces if surface.name == name)


def numbers(room):
    return dict(room.shape.numbers)


def test_as_grown_it_is_what_clean_makes_of_it(file, room):
    straight = clean_scan(file)
    assert straight.report == room.report
    assert straight.surfaces == room.surfaces
    assert np.array_equal(straight.owner, room.owner)
    assert straight.move == room.move


@pytest.mark.parametrize(
    ("name", "key"), [("left wall", "width"), ("back wall", "length"), ("ceiling", "height")]
)
def test_a_plane_that_is_moved_into_the_air_makes_the_room_so_much_smaller(grown, room, name, key):
    (plane,) = planes_of(room, name)
    moved = fit_scan(grown, PlaneEdits(moved=((plane, 0.030), (plane, 0.020))))
    others = {other: value for other, value in numbers(room).items() if other != key}
    assert numbers(moved)[key] == pytest.approx(numbers(room)[key] - 0.050, abs=1e-3)  # walls 0.1 deg askew
    assert {k: v for k, v in numbers(moved).items() if k != key} == pytest.approx(others, abs=1e-3)
    off_mm = {surface.name: surface.median_mm for surface in moved.surfaces}
    assert off_mm[name] == pytest.approx(50.0, abs=3.0)  # the scan stays where it was, within its noise


def test_a_plane_that_is_no_part_of_the_room_leaves_what_it_closed_open(grown, room):
    (ceiling,) = planes_of(room, "ceiling")
    with pytest.raises(MeshError, match="no ceiling was found"):
        fit_scan(grown, PlaneEdits(aside=(ceiling,)))
    (wall,) = planes_of(room, "left wall")
    with pytest.raises(MeshError, match="close"):
        fit_scan(grown, PlaneEdits(aside=(wall,)))


def test_two_planes_that_are_one_are_fitted_as_one(grown, room):
    (left,) = planes_of(room, "left wall")
    desk = next(
        k
        for k, plane in enumerate(grown.planes)
        if k not in grown.shell and abs(plane.normal[2]) < 0.2 and len(plane.members) < 80
    )
    merged = fit_scan(grown, PlaneEdits(merged=((left, desk),)))
    assert planes_of(merged, "left wall") == (left,)
    assert all(desk not in surface.planes for surface in merged.surfaces)
    n_before, n_after = (
        next(s.triangles for s in own.surfaces if s.name == "left wall") for own in (room, merged)
    )
    assert n_after > n_before


def test_a_wall_takes_another_name_and_the_room_is_a_plan_then(grown, room):
    (wall,) = planes_of(room, "left wall")
    named = fit_scan(grown, PlaneEdits(names=((wall, "window wall"),)))
    assert named.shape.kind == "plan"
    assert "window wall" in named.shape.walls
    assert [surface.name for surface in named.surfaces if surface.planes == (wall,)] == ["window wall"]
    for plane, name, words in (
        (wall, "right wall", "another surface is"),
        (planes_of(room, "ceiling")[0], "lid", "keeps its name"),
    ):
        with pytest.raises(MeshError, match=words):
            fit_scan(grown, PlaneEdits(names=((plane, name),)))

import numpy as np
import pytest

from raytrace import build_room
from raytrace.room.setout import Orientation, is_overhead, is_steep, is_underfoot, looks_up, orientation
from tests.support.rooms import room_text
from tests.support.tilted import TILTED, TILTS_DEG, tilted_ceilings


def tilted(degrees):
    """Normal of a floor that was turned about the room's width."""
    angle = np.radians(degrees)
    return np.array([np.sin(angle), 0.0, np.cos(angle)])


@pytest.mark.parametrize(
    ("degrees", "lies"),
    [
        (0.0, Orientation.LEVEL_UP),
        (2.9, Orientation.LEVEL_UP),
        (3.1, Orientation.SLOPING),
        (86.9, Orientation.SLOPING),
        (87.1, Orientation.UPRIGHT),
        (92.9, Orientation.UPRIGHT),
        (93.1, Orientation.SLOPING),
        (176.9, Orientation.SLOPING),
        (177.1, Orientation.LEVEL_DOWN),
    ],
)
def test_three_degrees_part_level_upright_and_sloping(degrees, lies):
    assert orientation(tilted(degrees)) is lies
    assert lies.is_level is (degrees < 3.0 or degrees > 177.0)


@pytest.mark.parametrize(
    ("degrees", "expected"), [(90.0, False), (99.0, False), (100.0, True), (180.0, True)]
)
def test_what_leans_over_by_ten_degrees_is_overhead(degrees, expected):
    assert is_overhead(tilted(degrees)) is expected


@pytest.mark.parametrize(("degrees", "expected"), [(0.0, True), (86.9, True), (87.1, False), (93.1, False)])
def test_what_leans_back_by_three_degrees_looks_up(degrees, expected):
    assert looks_up(tilted(degrees)) is expected


@pytest.mark.parametrize(
    ("degrees", "underfoot", "steep"),
    [
        (0.0, True, False),
        (44.9, True, False),
        (45.1, False, True),
        (134.9, False, True),
        (135.1, False, False),
    ],
)
def test_forty_five_degrees_part_what_lies_from_what_stands(degrees, underfoot, steep):
    assert is_underfoot(tilted(degrees)) is underfoot
    assert is_steep(tilted(degrees)) is steep


@pytest.mark.parametrize("tilt_deg", TILTS_DEG)
@pytest.mark.parametrize("shape", TILTED)
def test_only_level_faces_are_set_out_in_plan(shape, tilt_deg, scene_of):
    room = build_room(scene_of(room_text(TILTED[shape](tilt_deg))))
    face = room.surfaces[tilted_ceilings(room)[0]]
    assert np.degrees(np.arccos(abs(face.frame.n[2]))) == pytest.approx(tilt_deg, abs=1e-6)
    point = room.facets[face.facets[0]].outline.mean(axis=0)
    in_plan = np.allclose(face.frame.to_plane(point), point[:2], atol=1e-9)
    assert in_plan == orientation(face.frame.n).is_level
    assert tilt_deg == 3 or in_plan == (tilt_deg < 3)  # at the limit itself the last bit decides

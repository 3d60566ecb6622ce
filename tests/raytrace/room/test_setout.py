"""How flat faces lie, and what set-out frames make of it."""

import numpy as np
import pytest

from raytrace import build_room, orientation
from raytrace.room.setout import Orientation, is_overhead
from tests.support.rooms import room_text
from tests.support.tilted import TILTED, TILTS_DEG, tilted_ceilings


def tilted(tilt_deg, faces):
    """Unit normal of a face that is level, faces up (1) or down (-1), tilted towards x and y."""
    tilt = np.radians(tilt_deg)
    return np.array([0.6 * np.sin(tilt), 0.8 * np.sin(tilt), faces * np.cos(tilt)])


@pytest.mark.parametrize(("tilt_deg", "is_level"), [(0, True), (1, True), (2.999, True), (3.001, False)])
def test_faces_are_level_within_3_degrees(tilt_deg, is_level):
    up, down = orientation(tilted(tilt_deg, 1)), orientation(tilted(tilt_deg, -1))
    assert (up.is_level, down.is_level) == (is_level, is_level)
    assert (up.faces_up, up.faces_down, down.faces_up, down.faces_down) == (True, False, False, True)
    assert (up.is_slope, down.is_slope) == (not is_level, not is_level)


@pytest.mark.parametrize(("lean_deg", "is_upright"), [(0, True), (2.999, True), (3.001, False)])
def test_faces_are_upright_within_3_degrees(lean_deg, is_upright):
    for faces in (1, -1):
        lies = orientation(tilted(90 - lean_deg, faces))
        assert (lies is Orientation.UPRIGHT) == is_upright
        assert not lies.is_level
        assert (lies.faces_up or lies.faces_down) == (not is_upright)


@pytest.mark.parametrize("tilt_deg", TILTS_DEG)
@pytest.mark.parametrize("shape", TILTED)
def test_only_level_faces_are_set_out_in_plan(shape, tilt_deg, scene_of):
    room = build_room(scene_of(room_text(TILTED[shape](tilt_deg))))
    face = room.surfaces[tilted_ceilings(room)[0]]
    tilt = np.degrees(np.arccos(abs(face.frame.n[2])))
    assert tilt == pytest.approx(tilt_deg, abs=1e-6)
    point = room.facets[face.facets[0]].outline.mean(axis=0)
    in_plan = np.allclose(face.frame.to_plane(point), point[:2], atol=1e-9)
    assert in_plan == orientation(face.frame.n).is_level
    assert tilt_deg == 3 or in_plan == (tilt_deg < 3)  # at the limit itself the last bit decides


@pytest.mark.parametrize(("tilt_deg", "expected"), [(90, False), (81, False), (80, True), (0, True)])
def test_what_leans_over_by_ten_degrees_is_overhead(tilt_deg, expected):
    assert is_overhead(tilted(tilt_deg, -1)) is expected

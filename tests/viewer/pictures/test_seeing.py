"""Layers in the room's light: where leaders point, glass, and light that is there once for all pictures."""

import functools

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures import Layer, column, discs, fit_camera, light_room, one_colour, parts, see, set_stage

CORNERS = np.array([[x, y, z] for x in (0, 4.2) for y in (0, 3.0) for z in (0, 2.4)])


@functools.cache
def lighting_of(name):
    return light_room(set_stage(shipped_study(name, up_to_order=2)))


@pytest.mark.parametrize("angle_deg", [None, 24.0])
def test_a_disc_is_drawn_where_leaders_point_and_glass_lets_shine_through(angle_deg):
    camera = fit_camera(CORNERS, (0.7, 0.5, 0.4), up=(0, 0, 1), view_angle_deg=angle_deg, size=(300, 200))
    point = np.array([[1.1, 2.2, 0.4]])
    mesh = discs(point, camera.to_eye(point), radii_m=np.array([0.05]))
    layer = Layer(mesh, one_colour(look.ACCENT, mesh))
    image = np.asarray(see([layer], camera)).astype(int)
    rows, columns = np.nonzero(image[..., 3])
    drawn = [(columns.mean() + 0.5) / look.OVERSAMPLING, (rows.mean() + 0.5) / look.OVERSAMPLING]
    assert drawn == pytest.approx(camera.project(point)[0].tolist(), abs=0.3)  # a disc of some ten pixels
    y, x = round(rows.mean()), round(columns.mean())
    assert image[y, x, :3] / 255 == pytest.approx(look.rgb(look.ACCENT), abs=0.003)  # bytes
    behind = discs(point - 0.3 * camera.to_eye(point), camera.to_eye(point), radii_m=np.array([0.2]))
    pane = Layer(mesh, layer.colours, opacity=0.5)
    mixed = np.asarray(see([Layer(behind, one_colour(look.INK, behind)), pane], camera))
    half = (look.rgb(look.ACCENT) + look.rgb(look.INK)) / 2
    assert mixed[y, x, :3] / 255 == pytest.approx(half, abs=0.006)  # bytes, rounded twice


def test_walls_turned_away_are_left_out():
    stage = set_stage(shipped_study("box", up_to_order=2))
    walls = parts.walls(stage, look.PRINT)["walls"]
    camera = fit_camera(stage.corners, (1, 0, 0), up=(0, 0, 1), view_angle_deg=None, size=(80, 60))
    image = np.asarray(see([walls], camera))
    front = walls.only(column(walls.mesh, "normal", 3)[:, 0] > 0.9)
    assert np.array_equal(image, np.asarray(see([front], camera)))
    assert (image[..., 3] > 0).any()


@pytest.mark.parametrize("name", ["box", "ridge"])
def test_corners_are_darker_than_the_middle_of_a_face(name):
    lighting = lighting_of(name)
    for facet, grid in zip(lighting.facets, lighting.grids, strict=True):
        assert np.isfinite(grid.values).all()
        is_floor = facet.normal[2] > 0.99 and facet.offset == pytest.approx(0.0, abs=1e-6)
        if is_floor:
            middle = grid.values[grid.values.shape[0] // 4 : -1, :].max()
            assert max(grid.values[0, 0], grid.values[-1, -1]) < 0.85 * middle


def test_windows_shine_into_the_room():
    lighting = lighting_of("ridge")
    window, lamp = lighting.glows
    assert window.facing is not None
    assert lamp.facing is None

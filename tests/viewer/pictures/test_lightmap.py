"""The light of a room as a picture: each face finds its own light in it, after a move too."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import moved
from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures import column, light_room, loops_of, map_light, parts, polygons, set_stage

GRAIN = 0.5 / 255  # what a byte rounds off


@pytest.fixture(scope="module")
def stage():
    return set_stage(shipped_study("garage"))


@pytest.fixture(scope="module")
def light(stage):
    return map_light(stage)


def read(light, texels):
    """The picture between its pixels, as a graphics card reads it."""
    at = texels * np.array(light.pixels.shape[::-1]) - 0.5
    low = np.floor(at).astype(int)
    u, v = (at - low).T
    four = [light.pixels[low[:, 1] + j, low[:, 0] + i] / 255 for j in (0, 1) for i in (0, 1)]
    return (1 - v) * ((1 - u) * four[0] + u * four[1]) + v * ((1 - u) * four[2] + u * four[3])


def on_grid(grid, point):
    """Brightness of a place by its grid alone."""
    nv, nu = grid.values.shape
    at = ((point - grid.origin) @ grid.axes.T - grid.low) / grid.step
    at = np.clip(at, 0.0, [nu - 1, nv - 1])
    i, j = np.minimum(at.astype(int), [nu - 2, nv - 2])
    u, v = at - [i, j]
    left, right = (grid.values[j, k] * (1 - v) + grid.values[j + 1, k] * v for k in (i, i + 1))
    return left * (1 - u) + right * u


@pytest.mark.parametrize("name", ["walls", "furniture"])
def test_every_corner_of_a_face_has_the_brightness_of_its_grid(stage, light, name):
    mesh, grids = parts.walls(stage, look.PRINT)[name].mesh, light_room(stage).grids
    shades, texels = light.on(stage.study, mesh)
    wanted = [
        on_grid(grids[facet], corner)
        for facet, loop in zip(column(mesh, "facet").astype(int), loops_of(mesh), strict=True)
        for corner in loop
    ]
    assert (shades == 1.0).all()
    assert read(light, texels) == pytest.approx(np.array(wanted), abs=GRAIN + 1e-9)
    assert np.ptp(wanted) > 0.1  # corners are darker than what lies open


def test_what_is_moved_takes_its_light_with_it(stage, light):
    study = stage.study
    shift = np.array([0.3, 0.2, 0.0])
    scene = moved(study.scene, "objects", 0, tuple(study.scene.objects[0].centre + shift))
    mesh = parts.walls(stage, look.PRINT)["furniture"].mesh
    own = [
        study.room.surfaces[facet.surface].owner == study.scene.objects[0].name for facet in study.room.facets
    ]
    facets = tuple(
        replace(f, outline=f.outline + shift, offset=f.offset + float(f.normal @ shift)) if is_own else f
        for f, is_own in zip(study.room.facets, own, strict=True)
    )
    after = replace(study, scene=scene, room=replace(study.room, facets=facets))
    elsewhere = polygons([loop + shift for loop in loops_of(mesh)], facet=column(mesh, "facet"))
    assert np.allclose(light.on(after, elsewhere)[1], light.on(study, mesh)[1], atol=1e-9)  # rounding
    assert light.fits(study)
    assert not light.fits(after)


def test_speakers_heads_and_what_they_stand_on_have_light_at_their_corners(stage, light):
    study = stage.study
    for mesh in (
        parts.speakers(stage, look.PRINT)["speakers"].mesh,
        parts.seats(stage, look.PRINT)["heads"].mesh,
    ):
        shades, texels = light.on(study, mesh)
        assert np.ptp(shades) > 0.05
        assert (read(light, texels) == 1.0).all()  # the picture adds nothing to it
    rows = np.arange(light.props.n_cells) % 2 == 0
    mesh = parts.props(stage, look.PRINT, light.props)["props"].only(rows).mesh
    assert (light.on(study, mesh)[0] == light.prop_shades[rows].ravel()).all()
    # Of a speaker with another name nothing is known yet.
    renamed = study.scene.speakers[0].model_copy(update={"name": "another"})
    other = replace(
        study, scene=study.scene.model_copy(update={"speakers": (renamed, *study.scene.speakers[1:])})
    )
    shades, _ = light.on(other, parts.speakers(stage, look.PRINT)["speakers"].mesh)
    assert (shades[:24] == light.usual).all()  # six faces of four corners
    assert (shades[24:] != light.usual).any()

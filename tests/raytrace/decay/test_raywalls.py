import numpy as np
import pytest
from numpy.testing import assert_allclose

from raytrace import build_room
from raytrace.acoustics import Material
from raytrace.decay.raywalls import ray_walls, room_materials, scattering_groups
from tests.support.scenes import BOX

DOOR = """
[[openings]]
name = "door"
surface = "back wall"
kind = "door"
at = [1.0, 0.0]
size = [0.8, 2.0]
material = "soft"
[materials.soft]
absorption = [0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1]
scattering = [0.05, 0.05, 0.05, 0.05, 0.1, 0.1, 0.1, 0.1]
source = "invented for the test"
"""


def test_bands_that_scatter_too_unlike_get_rays_of_their_own():
    def groups(*scattering):
        materials = tuple(Material(str(i), np.full(8, 0.1), s) for i, s in enumerate(scattering))
        return [bands for bands, _ in scattering_groups(materials, np.ones(len(materials)))]

    assert groups(np.full(8, 0.3), np.full(8, 0.9)) == [slice(0, 8)]
    assert groups([0.05] * 4 + [0.10] * 4) == [slice(0, 8)]
    assert groups([0.0] * 3 + [0.9] * 5) == [slice(0, 3), slice(3, 8)]


def test_openings_take_their_area_from_the_wall(scene_of):
    materials, area_m2 = room_materials(build_room(scene_of(BOX + DOOR)))
    area = {material.name: size for material, size in zip(materials, area_m2, strict=True)}
    assert area["soft"] == pytest.approx(1.6)
    assert area["hard"] == pytest.approx(86.8 - 1.6)


def test_on_average_each_band_keeps_what_its_own_scattering_says(scene_of):
    room = build_room(scene_of(BOX + DOOR))
    materials, area_m2 = room_materials(room)
    ((bands, chance),) = scattering_groups(materials, area_m2)
    assert bands == slice(0, 8)
    walls = ray_walls(room, materials, chance)
    for index, material in enumerate(materials):
        mirrored, scattered = walls.kept[2 * index], walls.kept[2 * index + 1]
        kept = 1.0 - material.absorption
        assert_allclose((1.0 - chance[index]) * mirrored, kept * (1.0 - material.scattering))
        assert_allclose(chance[index] * scattered, kept * material.scattering)


def test_the_corner_of_an_opening_is_where_the_scene_put_it(scene_of):
    room = build_room(scene_of(BOX + DOOR))
    materials, area_m2 = room_materials(room)
    walls = ray_walls(room, materials, scattering_groups(materials, area_m2)[0][1])
    # Facing the back wall of a box 4 m wide, u = 1.0 is y = 3.0.
    corner = np.array([5.0, 3.0, 0.0])
    assert_allclose(walls.cover_u @ corner, walls.cover_offset[:, 0], atol=1e-12)
    assert_allclose(walls.cover_v @ corner, walls.cover_offset[:, 1], atol=1e-12)
    assert_allclose(walls.cover_size, [[0.8, 2.0]])
    assert np.flatnonzero(np.diff(walls.cover_start)).tolist() == [room.surface_names.index("back wall")]
    assert materials[walls.cover_material[0]].name == "soft"


def test_rays_lose_what_random_incidence_absorbs_however_mirror_reflections_are_reckoned(scene_of):
    panel = '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "wool 50"\ncentre = [2.5, 1.2]\n'
    even, local = (
        room_materials(build_room(scene_of(BOX + DOOR + panel + more)))[0]
        for more in ("", '[method]\nplain_surfaces = "local"\n')
    )
    assert len(even) == len(local) == 3  # walls, door, panel
    for one, other in zip(even, local, strict=True):
        assert_allclose(one.absorption, other.absorption, rtol=0.0, atol=0.0)

"""Sound at panels in a room: what hangs free against what acts as a patch, shading, decay materials."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from raytrace import build_room, find_paths
from raytrace.acoustics import (
    BANDS_HZ,
    Layer,
    Medium,
    Miki,
    band_frequencies_hz,
    random_absorption,
    reflection,
    transmission,
)
from raytrace.reflections import find_reflectors, returned_pressure
from raytrace.room.buildstack import stack_of
from raytrace.room.panelsound import face_reflection, passed_pressure, patch_material, patch_reflection
from raytrace.room.surface_materials import cover_areas_m2, surface_covers
from tests.support.rooms import room_text

HARD = (
    '[materials."hard"]\nabsorption = [0, 0, 0, 0, 0, 0, 0, 0]\nscattering = 0\nsource = "none: a mirror"\n'
)
SLAB = "[builds.slab]\nsize = [{size}, {size}]\nthickness = 0.05\nflow_resistivity = 12000\n{more}\n"
AIR = Medium(343.2, 1.204)
RIGID = np.ones((8, 1))
MIDDLE = np.array([0.4, 0.8, 1.0])


def hall(scene_of, panels, *, size=19.0, more=""):
    """A mirror-walled hall of 20 x 20 x 10 m with panels as large as a scene takes."""
    text = room_text(
        'shape = "box"\nlength = 20\nwidth = 20\nheight = 10',
        HARD + SLAB.format(size=size, more=more) + panels,
        speaker="[8.0, 10.0, 3.0]",
        seat="[12.0, 10.0, 3.0]",
    ).replace('"plasterboard"', '"hard"')
    return scene_of(text)


def cloud(drop):
    return (
        '[[clouds]]\nname = "cloud"\nsurface = "ceiling"\nbuild = "slab"\n'
        f"centre = [10, 10]\nrows = 1\ncolumns = 1\ndrop = {drop}\n"
    )


def overhead(room, scene, up_to_order=5):
    """Pressure with its phase of everything that comes from the ceiling and the cloud alone."""
    paths = find_paths(
        room, scene.speakers[0].position, scene.seats[0].ears, up_to_order=up_to_order, within_s=0.05
    )
    names = ("ceiling", "cloud underside", "cloud top")
    wanted = [room.surface_index(name) for name in names if name in room.surface_names]
    surface = np.array([facet.surface for facet in room.facets])
    rows = [
        k
        for k in range(len(paths.order))
        if np.isin(surface[paths.facets[k, : paths.order[k]]], wanted).all()
    ]
    pressure = returned_pressure(room, find_reflectors(room), paths)[rows]
    k = 2 * np.pi * band_frequencies_hz() / room.speed_of_sound_m_s
    length = paths.length_m[rows][:, None, None]
    return (pressure * np.exp(-1j * k * length) / length).sum(axis=0)


def test_a_large_cloud_does_the_same_as_one_reflector_and_as_separate_paths(scene_of):
    near = hall(scene_of, cloud(0.3))
    room = build_room(near)
    (panel,) = room.panels
    assert panel.acts_as == "patch"
    as_patch = overhead(room, near)
    free = build_room(hall(scene_of, cloud(0.3001)))
    assert free.panels[0].acts_as == "free"
    as_paths = overhead(free, near)
    energy = [np.mean(np.abs(pressure) ** 2, axis=1) for pressure in (as_paths, as_patch)]
    level_db = 10 * np.log10(energy[0] / energy[1])[(BANDS_HZ > 200) & (BANDS_HZ < 2500)]
    # Waves spread a little more on the detour above the cloud; its edges, 6 m off, ripple unlike in the two.
    assert_allclose(level_db, 0.0, atol=0.7)


def test_a_solid_back_lets_nothing_through_and_reflects_all_behind(scene_of):
    scene = hall(scene_of, cloud(1.0), more='back = "solid"')
    room = build_room(scene)
    build = room.panels[0].build
    assert_allclose(passed_pressure(build, MIDDLE, AIR), 0.0)
    assert_allclose(face_reflection(build, False, MIDDLE, AIR), 1.0)
    paths = find_paths(room, (8, 10, 3), (12, 10, 3), up_to_order=1, within_s=0.05)
    ceiling = room.surface_index("ceiling")
    surface = np.array([facet.surface for facet in room.facets])
    (row,) = np.flatnonzero(surface[paths.facets[:, 0]] == ceiling)
    left = np.abs(returned_pressure(room, find_reflectors(room), paths)[row])
    assert left[BANDS_HZ > 200].max() < 0.2  # bent round edges 6 m away


def test_a_wall_of_open_wool_between_them_hides_the_direct_sound(scene_of):
    stand = '[[stands]]\nname = "s"\nbuild = "slab"\nat = [10, 10]\nyaw = 0\n'
    room = build_room(hall(scene_of, stand, size=5.0))
    assert not find_paths(room, (8, 10, 3), (12, 10, 3), up_to_order=1).direct_visible
    assert find_paths(room, (8, 15, 3), (12, 15, 3), up_to_order=1).direct_visible


def test_a_rigid_block_proud_of_a_wall_answers_in_advance(scene_of):
    wall = '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "slab"\ncentre = [10, 3]\ngap = 0.1\n'
    room = build_room(hall(scene_of, wall, size=4.0))
    # Wool so dense that it is a block: R = e^{2jkh cos} with h to its face.
    block = room.panels[0].build.model_copy(update={"flow_resistivity": 1e6})
    panel = replace(room.panels[0], build=block)
    factor = patch_reflection(panel, np.array([1.0]), AIR, RIGID)[0, 0]
    k = 2 * np.pi * band_frequencies_hz()[0] / 343.2
    assert_allclose(
        np.angle(factor / np.exp(2j * k * 0.15)), 0.0, atol=0.12
    )  # the block still gives a little


def test_the_wall_with_a_panel_as_wide_as_the_wall_is_the_panel(scene_of):
    wall = '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "slab"\ncentre = [10, 5]\n'
    scene = hall(scene_of, wall + "", size=10.0)
    room = build_room(scene)
    paths = find_paths(room, (8, 3, 5), (12, 3, 5), up_to_order=1, within_s=0.05)
    surface = np.array([facet.surface for facet in room.facets])
    (row,) = np.flatnonzero(surface[paths.facets[:, 0]] == room.surface_index("left wall"))
    factor = returned_pressure(room, find_reflectors(room), paths)[row]
    cosine = 3 / np.hypot(3, 2)
    expected = patch_reflection(room.panels[0], np.array([cosine]), AIR, RIGID)[0]
    mid = BANDS_HZ > 700
    assert_allclose(np.abs(factor[mid]), np.abs(expected[mid]), atol=0.08)  # side edges 5 m away still ripple


def test_materials_for_decay_take_the_random_incidence_value(scene_of):
    wall = '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "slab"\ncentre = [10, 3]\ngap = 0.1\n'
    room = build_room(hall(scene_of, wall, size=4.0))
    material = patch_material(room.panels[0], AIR, room.surfaces[room.surface_index("left wall")].material)
    at_centres = random_absorption(stack_of(room.panels[0].build, 0.1), BANDS_HZ, AIR)
    assert_allclose(material.absorption[2:], at_centres[2:], atol=0.06)  # octave means beside octave centres
    (rect, covered), *_ = surface_covers(room, room.surface_index("left wall"))
    assert_allclose(rect, room.panels[0].rect)
    assert covered is material or covered.name == material.name
    shown, bare_m2 = cover_areas_m2(room, room.surface_index("left wall"))
    assert [area for area, _ in shown] == [pytest.approx(16.0)]
    assert bare_m2 == pytest.approx(200.0 - 16.0)


def test_a_free_sheet_keeps_what_it_does_not_turn_into_heat(scene_of):
    room = build_room(hall(scene_of, cloud(1.0), size=10.0))
    underside = room.surfaces[room.surface_index("cloud underside")]
    stack = [Layer(Miki(12000.0), 0.05)]
    lost = random_absorption(stack, band_frequencies_hz(), room.medium, backing="free").mean(axis=1)
    assert_allclose(underside.material.absorption, lost, atol=1e-3)  # 32 instead of 200 angles
    assert np.all(np.abs(reflection(stack, BANDS_HZ, 1.0, AIR, backing="free")) < 1.0)


def test_low_down_a_panel_leaves_a_soft_wall_as_it_is(scene_of):
    wall = '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "slab"\ncentre = [10, 3]\n'
    room = build_room(hall(scene_of, wall, size=4.0))
    soft = np.full((8, 1), 0.8)
    factor = patch_reflection(room.panels[0], np.array([1.0]), AIR, soft)[0]
    assert_allclose(np.abs(factor[0]), 0.8, atol=0.03)  # 50 mm of wool at 63 Hz: next to nothing
    assert np.abs(factor[4]).max() < 0.8


def test_a_build_before_a_surface_is_what_bounces_to_and_fro_add_up_to():
    stack = [Layer(Miki(12000.0), 0.05)]
    for behind in (1.0, 0.7, 0.0):
        front = reflection(stack, BANDS_HZ, 0.8, AIR, backing="free")
        back = reflection(stack[::-1], BANDS_HZ, 0.8, AIR, backing="free")
        through = transmission(stack, BANDS_HZ, 0.8, AIR)
        series = front + through**2 * behind / (1 - back * behind)
        whole = reflection(stack, BANDS_HZ, 0.8, AIR, backing=np.full(8, behind))
        assert_allclose(whole, series, atol=1e-12)  # rounding

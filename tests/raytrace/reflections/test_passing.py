import numpy as np
import pytest

from raytrace import build_room
from raytrace.acoustics import band_frequencies_hz, kirchhoff_weight
from raytrace.reflections import decibels, find_arrivals, find_paths, find_reflectors
from raytrace.reflections.passing import left_by_objects
from raytrace.study import Follower
from tests.support.scenes import BOX

SHEET = """
[[objects]]
name = "sheet"
shape = "box"
centre = [{x}, {y}, {z}]
size = [{long}, {wide}, {thick}]
material = "hard"
"""


def legs_of(scene_of, **sheet):
    """The room with a sheet, its paths of one bounce, and what the sheet leaves of them."""
    scene = scene_of(BOX + SHEET.format(**sheet))
    room = build_room(scene)
    paths = find_paths(room, scene.speakers[0].position, scene.seats[0].ears, up_to_order=1)
    return scene, room, paths, left_by_objects(room, find_reflectors(room), paths)


def row_on(room, paths, name):
    met = [room.surfaces[room.facets[facet].surface].name for facet in paths.facets[:, 0]]
    return met.index(name)


def test_a_sheet_beside_a_leg_leaves_what_kirchhoffs_weight_leaves(scene_of):
    own = dict(x=2.5, y=1.40, z=0.5, long=0.5, wide=0.6, thick=0.001)
    scene, room, paths, left = legs_of(scene_of, **own)
    row = row_on(room, paths, "floor")
    source, ears = np.array(scene.speakers[0].position), np.array(scene.seats[0].ears)
    low = source * [1, 1, -1]  # the floor is at 0
    x, y, z, half_x, half_y = own["x"], own["y"], own["z"], 0.5 * own["long"], 0.5 * own["wide"]
    outline = np.array(
        [
            (x - half_x, y - half_y, z),
            (x + half_x, y - half_y, z),
            (x + half_x, y + half_y, z),
            (x - half_x, y + half_y, z),
        ]
    )
    spot = low + z_share(low, ears, z) * (ears - low)
    beyond_m = max(np.abs(spot[0] - x) - half_x, np.abs(spot[1] - y) - half_y)
    assert 0.0 < beyond_m < 0.2  # within half a Fresnel zone, and the other leg far away
    weight = kirchhoff_weight(outline, low, ears, band_frequencies_hz(), speed_of_sound_m_s=343.2)
    told, wanted = (decibels(np.mean(np.abs(some) ** 2, axis=-1)) for some in (left[row], 1.0 - weight))
    # Its edges are followed so far as they bend what is not cancelled beside it.
    assert told[4:] == pytest.approx(wanted[4:], abs=0.2)


def z_share(start, end, z):
    return (z - start[2]) / (end[2] - start[2])


def test_a_leg_that_ends_on_an_object_is_not_cut_by_it(scene_of):
    _, room, paths, left = legs_of(scene_of, x=2.1, y=1.65, z=0.7, long=1.2, wide=1.2, thick=0.04)
    top = row_on(room, paths, "sheet top")
    assert np.array_equal(left[top], np.ones_like(left[top]))  # nothing else is in its way


def floor_pressure(scene_of, y):
    """Pressure of what comes off the floor past a sheet, path or near miss, and how many there are."""
    scene = scene_of(BOX + SHEET.format(x=2.6, y=y, z=0.5, long=0.8, wide=0.6, thick=0.02))
    room = build_room(scene)
    found = find_arrivals(scene, room, up_to_order=1, within_s=0.005, zone=False)
    pressures = []
    for table in (found, found.near_misses):
        (own,) = table.at_ears
        names = [room.surfaces[room.facets[facet].surface].name for facet in own.paths.facets[:, 0]]
        pressures += [own.pressure[k] for k, name in enumerate(names) if name == "floor"]
    return pressures


def test_a_reflection_fades_as_an_object_comes_into_its_leg(scene_of):
    pressures = [floor_pressure(scene_of, y) for y in np.arange(1.30, 1.60, 0.001)]
    assert all(len(some) == 1 for some in pressures)  # it is a path or a near miss, never both or neither
    seen = np.array(pressures)[:, 0, 4:]  # 1 kHz and above
    whole = np.abs(seen[0]).max()
    # A step of 1 mm is a fifth of the Fresnel zone at 8 kHz over 0.1 m: 0.3 dB of the whole reflection.
    assert np.abs(np.diff(seen, axis=0)).max() < 0.035 * whole
    levels_db = decibels(np.mean(np.abs(seen) ** 2, axis=(1, 2)))
    assert levels_db[-1] < levels_db[0] - 7.0


def test_what_comes_in_by_hand_knows_the_same_legs(scene_of):
    scene = scene_of(BOX + SHEET.format(x=2.6, y=1.45, z=0.5, long=0.8, wide=0.6, thick=0.02))
    followed = Follower().ears(scene).arrivals
    whole = find_arrivals(scene, build_room(scene), up_to_order=4, within_s=0.016, zone=False)
    by_way = {tuple(facets): k for k, facets in enumerate(whole.path_facets.tolist())}
    rows = [by_way[tuple(facets)] for facets in followed.path_facets.tolist()]
    # The same kernels on the same legs, but all octaves at once.
    assert followed.band_level_db == pytest.approx(whole.band_level_db[rows], abs=1e-9)

import numpy as np
import pytest

from raytrace import build_room, find_arrivals
from raytrace.acoustics import (
    BANDS_HZ,
    air_attenuation_db_per_m,
    band_frequencies_hz,
    kirchhoff_weight,
    two_way,
)
from raytrace.kernels import is_cold
from raytrace.reflections import N_CORNERS, zone_points
from raytrace.reflections.reflectors import find_reflectors
from raytrace.verdicts import find_peaks
from tests.support.scenes import BOX, HARD_WALLS

# First reflections of the worked room (reference values computed from the image formula of J. B. Allen,
# D. A. Berkley, J. Acoust. Soc. Am. 65 (1979) 943): delay [ms], spreading [dB], spot.
WORKED = {
    "front wall": (5.6796, -5.317, (0.0, 1.4667, 1.2)),
    "back wall": (10.2955, -8.064, (5.0, 1.7828, 1.2)),
    "left wall": (4.8293, -4.700, (1.8667, 0.0, 1.2)),
    "right wall": (8.3937, -7.035, (2.2638, 4.0, 1.2)),
    "floor": (2.9764, -3.182, (2.1, 1.65, 0.0)),
    "ceiling": (3.8472, -3.929, (2.1, 1.65, 2.6)),
}


def first_reflections(scene, room):
    arrivals = find_arrivals(scene, room, up_to_order=1)
    names = [room.surfaces[s].name for s in arrivals.path_surfaces[:, 0]]
    return arrivals, {name: row for row, name in enumerate(names)}


def test_the_worked_room_gives_its_delays_levels_and_spots(scene_of):
    scene = scene_of(BOX)
    room = build_room(scene)
    arrivals, row_of = first_reflections(scene, room)
    assert set(row_of) == set(WORKED)
    air = air_attenuation_db_per_m(BANDS_HZ, 20.0, 50.0, 101.325)
    for name, (delay_ms, spreading_db, spot) in WORKED.items():
        row = row_of[name]
        assert arrivals.delay_s[row] * 1e3 == pytest.approx(delay_ms, abs=1e-4)  # printed digits
        detour_m = arrivals.length_m[row] - arrivals.direct.length_m[0]
        assert np.allclose(arrivals.level_db[row] + air * detour_m, spreading_db, atol=1e-3)  # printed digits
        assert np.allclose(arrivals.path_points[row, 1], spot, atol=1e-4)  # printed digits
    assert np.all(np.diff(arrivals.delay_s) > 0)


def test_spots_are_given_in_the_surfaces_own_frame(scene_of):
    scene = scene_of(BOX)
    arrivals, row_of = first_reflections(scene, build_room(scene))
    # Box of design: front wall u = y, back wall u = width - y, left wall u = length - x, right wall u = x.
    assert np.allclose(arrivals.spots[row_of["front wall"], 0], (1.4667, 1.2), atol=1e-4)
    assert np.allclose(arrivals.spots[row_of["back wall"], 0], (4.0 - 1.7828, 1.2), atol=1e-4)
    assert np.allclose(arrivals.spots[row_of["left wall"], 0], (5.0 - 1.8667, 1.2), atol=1e-4)
    assert np.allclose(arrivals.spots[row_of["right wall"], 0], (2.2638, 1.2), atol=1e-4)
    assert np.allclose(arrivals.spots[row_of["ceiling"], 0], (2.1, 1.65), atol=1e-4)


def test_a_bounce_keeps_the_unscattered_unabsorbed_share(scene_of):
    hard = scene_of(BOX)
    soft = scene_of(
        BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8]").replace(
            "scattering = 0", "scattering = 0.25"
        )
    )
    a = find_arrivals(hard, build_room(hard), up_to_order=2)
    b = find_arrivals(soft, build_room(soft), up_to_order=2)
    share = 0.75 * (1 - np.array([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8]))
    assert np.allclose(b.energy / a.energy, share ** a.order[:, None], rtol=1e-12)  # rounding


def test_full_absorption_leaves_no_reflection(scene_of):
    scene = scene_of(BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[1, 1, 1, 1, 1, 1, 1, 1]"))
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=2)
    assert len(arrivals.order)
    assert np.all(np.isneginf(arrivals.level_db))
    assert not arrivals.over_limit.any()


def glazed(at, size):
    return (
        BOX
        + f"""
[materials.pane]
absorption = [0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5]
scattering = 0
source = "invented for the test"
[[openings]]
name = "window"
surface = "left wall"
at = {at}
size = {size}
kind = "window"
material = "pane"
"""
    )


def test_an_opening_from_corner_to_corner_is_the_wall(scene_of):
    plain, all_glass = scene_of(BOX), scene_of(glazed([0, 0], [5.0, 2.6]))
    bare, row_of = first_reflections(plain, build_room(plain))
    arrivals, _ = first_reflections(all_glass, build_room(all_glass))
    row = row_of["left wall"]
    assert arrivals.path_openings[row, 0] == 0
    assert np.allclose(arrivals.energy[row] / bare.energy[row], 0.5, rtol=1e-12)  # rounding
    others = [r for name, r in row_of.items() if name != "left wall"]
    assert np.array_equal(arrivals.path_openings[others], np.full((5, 1), -1))
    assert np.allclose(arrivals.energy[others], bare.energy[others], rtol=1e-12)  # rounding


def test_a_small_pane_counts_by_its_weight_not_by_the_spot(scene_of):
    scene, plain = scene_of(glazed([2.9, 0.9], [0.5, 0.6])), scene_of(BOX)
    arrivals, row_of = first_reflections(scene, build_room(scene))
    bare, _ = first_reflections(plain, build_room(plain))
    row = row_of["left wall"]
    # Left wall: u = length - x. The pane as a polygon, the image of the source behind the wall.
    pane = np.array([[2.1, 0, 0.9], [1.6, 0, 0.9], [1.6, 0, 1.5], [2.1, 0, 1.5]])
    weight_of_pane = kirchhoff_weight(
        pane, [1.0, -1.3, 1.2], [3.2, 2.0, 1.2], band_frequencies_hz(), speed_of_sound_m_s=343.2
    )
    kept = np.mean(np.abs(1 + (np.sqrt(0.5) - 1) * weight_of_pane) ** 2, axis=1)
    assert np.allclose(arrivals.energy[row] / bare.energy[row], kept, rtol=1e-9)  # the same sum
    assert kept[0] > 0.9  # at 63 Hz half a square metre hardly counts


def test_a_desk_returns_little_at_low_frequencies(scene_of):
    desk = """
[[objects]]
name = "desk"
shape = "box"
centre = [2.1, 1.65, 0.7]
size = [0.7, 1.4, 0.03]
material = "hard"
"""
    scene = scene_of(BOX + desk)
    arrivals, row_of = first_reflections(scene, build_room(scene))
    level = arrivals.level_db[row_of["desk top"]]
    assert level[0] < level[5] - 8.0  # 63 Hz: shorter side an eighth of a wavelength


def test_edges_are_free_where_the_air_goes_round_them(scene_of):
    desk = """
[[objects]]
name = "desk"
shape = "box"
centre = [0.35, 1.65, 0.7]
size = [0.7, 1.4, 0.03]
material = "hard"
"""
    plan = 'shape = "plan"\ncorners = [[0, 0], [5, 0], [5, 5.2], [3.4, 5.2], [3.4, 4.0], [0, 4.0]]'
    elbow = BOX.replace('shape = "box"\nlength = 5.0\nwidth = 4.0', plan)
    room = build_room(scene_of(elbow + desk))
    free = {}
    for facet, is_open in zip(room.facets, find_reflectors(room).open_edges, strict=True):
        free[room.surfaces[facet.surface].name] = int(is_open.sum())
    # The elbow's inner corner is the one edge of two walls; the desk's back edges lie in the front wall.
    assert {n: k for n, k in free.items() if k and "desk" not in n} == {"wall 4": 1, "wall 5": 1}
    assert free["desk top"] == 3
    assert free["desk front"] == 0


def test_directivity_counts_against_the_direction_of_the_seat(scene_of):
    omni = scene_of(BOX)
    away = scene_of(BOX.replace('directivity = "omni"', "aim = {yaw = 180}"))
    a, row_of = first_reflections(omni, build_room(omni))
    b, _ = first_reflections(away, build_room(away))
    row = row_of["front wall"]
    shape = two_way(speed_of_sound_m_s=343.2)
    leaving = a.path_points[row, 1] - a.path_points[row, 0]
    seat = np.array([3.2, 2.0, 1.2]) - a.path_points[row, 0]
    ways = np.array([v / np.linalg.norm(v) for v in (leaving, seat)])
    sent = shape.pressure(ways, np.array([-1.0, 0.0, 0.0]))
    ratio = np.mean(np.abs(sent[0] / sent[1]) ** 2, axis=1)
    assert np.allclose(b.energy[row] / a.energy[row], ratio, rtol=1e-9)  # rounding
    assert b.level_db[row, 5] > a.level_db[row, 5] + 10  # the speaker faces the front wall


def test_the_margin_is_limit_less_level_inside_the_window_only(scene_of):
    scene = scene_of(BOX)
    arrivals = find_arrivals(scene, build_room(scene))
    inside = arrivals.delay_s <= 0.015
    assert np.allclose(arrivals.margin_db[inside], -10.0 - arrivals.band_level_db[inside])
    assert np.isnan(arrivals.margin_db[~inside]).all()
    assert np.array_equal(arrivals.over_limit, inside & (arrivals.band_level_db > -10.0))


def test_subs_are_listed_but_not_judged(scene_of):
    scene = scene_of(BOX + '[[speakers]]\nname = "sub"\nposition = [0.4, 3.0, 0.3]\nuse = "sub"\n')
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
    assert len(arrivals.at(1, 0)) == 6
    assert np.isnan(arrivals.margin_db[arrivals.at(1, 0)]).all()
    assert {h.zone_point for h in arrivals.at_points if h.speaker == 1} == {0}  # no verdict, no head zone


@pytest.mark.parametrize(("low", "high"), [(1000, 8000), (800, 5000)])
def test_a_head_zone_has_all_octaves_that_its_curve_is_made_of(scene_of, monkeypatch, low, high):
    usual = "from_hz = 1000\nto_hz = 8000"
    assert usual in HARD_WALLS
    scene = scene_of(HARD_WALLS.replace(usual, f"from_hz = {low}\nto_hz = {high}"))
    room = build_room(scene)
    few = find_arrivals(scene, room, up_to_order=2)
    monkeypatch.setattr("raytrace.reflections.arrivalsearch.zone_bands", lambda _: np.arange(8))
    every = find_arrivals(scene, room, up_to_order=2)
    left_out = [(own.pressure == 0.0).all(axis=(0, 2)).sum() for own in few.at_points]
    assert left_out[0] == 0  # the ears have all octaves
    assert min(left_out[1:]) > 0
    a, b = (find_peaks(scene, arrivals, until_s=0.015) for arrivals in (few, every))
    assert [p.arrivals for p in a] == [p.arrivals for p in b]
    # The same sums: an edge is cut into pieces by the highest frequency of those asked for, K within 1e-7.
    assert np.allclose([p.level_db for p in a], [p.level_db for p in b], rtol=0.0, atol=1e-5)


def test_the_zone_is_the_ears_the_corners_and_the_middles_between_them(scene_of):
    points = zone_points(scene_of(BOX).seats[0])
    assert np.allclose(points[0], (3.2, 2.0, 1.2))
    assert np.allclose(np.abs(points[1:N_CORNERS] - points[0]), (0.15, 0.20, 0.05))
    steps = np.unique(((points - points[0]) / (0.15, 0.20, 0.05)).round(9), axis=0)
    assert len(steps) == 27
    assert set(steps.ravel()) == {-1.0, 0.0, 1.0}


def test_the_zones_worst_is_never_below_the_ears(scene_of):
    scene = scene_of(BOX)
    arrivals = find_arrivals(scene, build_room(scene))
    assert np.all(arrivals.zone_worst_db >= arrivals.band_level_db)
    assert np.any(arrivals.zone_worst_db > arrivals.band_level_db + 0.1)


@pytest.mark.parametrize("cold", [True, False])
def test_a_cold_start_is_said(scene_of, monkeypatch, cold):
    said = []
    monkeypatch.setattr("raytrace.kernels.is_cold", lambda: cold)
    scene = scene_of(BOX)
    find_arrivals(scene, build_room(scene), up_to_order=1, progress=lambda text, _share: said.append(text))
    assert said[0].startswith("how far to search")
    assert ("compiling for this machine, once" in said[0]) is cold


def test_a_fresh_cache_is_cold(tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    assert is_cold()
    (tmp_path / "kernels").mkdir()
    (tmp_path / "kernels" / "hits.nbi").touch()
    assert not is_cold()

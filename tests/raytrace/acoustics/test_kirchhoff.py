from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from raytrace.acoustics.air import band_frequencies_hz
from raytrace.acoustics.kirchhoff import (
    hung_reflection,
    hung_transmission,
    kirchhoff_weight,
    open_edges_weight,
    to_wall_plane,
)
from tests.support.oracles_waves import rindel_energy_weight, straight_edge_weight, surface_weight

C = 343.2  # speed of sound of every check value here. [m/s]
OCTAVES = [125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0]
SOURCE, LISTENER = np.array([-0.7, 0.2, -1.1]), np.array([0.9, -0.1, 1.3])  # reference-values 8.1, mirrored


def rectangle(x0, x1, y0, y1, z=0.0):
    """Corners anticlockwise seen from above."""
    return np.array([[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]])


def level_db(factors):
    """Octave means of |F|^2 over the last axis. [dB]"""
    return 10.0 * np.log10((np.abs(factors) ** 2).mean(axis=-1))


def at(polygons, source, listener, frequency_hz):
    return kirchhoff_weight(polygons, source, listener, frequency_hz, speed_of_sound_m_s=C)


def oblique_geometry(rng, where):
    """A random polygon in a random plane, and two points whose line meets it where asked."""
    n = rng.integers(3, 7)
    turns = (np.arange(n) + rng.uniform(0.0, 0.6, n)) * 2.0 * np.pi / n
    outline = np.stack([np.cos(turns), np.sin(turns), 0.0 * turns], axis=-1) * rng.uniform(0.25, 0.8, (n, 1))
    edge = outline[1] - outline[0]
    on_edge = outline[0] + rng.uniform(0.2, 0.8) * edge
    outwards = np.array([edge[1], -edge[0], 0.0]) / np.hypot(*edge[:2])
    spot = {
        "inside": 0.1 * on_edge,
        "outside": on_edge + rng.uniform(0.05, 0.5) * outwards,
        "within 1 mm": on_edge + rng.uniform(-1e-3, 1e-3) * outwards,
        "on an edge": on_edge,
        "on a corner": outline[0],
    }[where]
    angle, round_z = rng.uniform(0.0, np.radians(65.0)), rng.uniform(0.0, 2.0 * np.pi)
    ray = np.array([np.sin(angle) * np.cos(round_z), np.sin(angle) * np.sin(round_z), np.cos(angle)])
    source, listener = spot - rng.uniform(0.6, 2.5) * ray, spot + rng.uniform(0.6, 2.5) * ray
    turned, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turned *= np.linalg.det(turned)
    return outline @ turned.T, turned @ source, turned @ listener


@pytest.mark.parametrize("where", ["inside", "outside", "within 1 mm", "on an edge", "on a corner"])
def test_the_edge_integral_equals_the_surface_integral(where):
    rng = np.random.default_rng(41)
    for _ in range(10):
        outline, source, listener = oblique_geometry(rng, where)
        edges = at(outline, source, listener, OCTAVES)
        surface = [surface_weight(outline, source, listener, 2.0 * np.pi * f / C) for f in OCTAVES]
        # Ten times what the count of nodes aims at.
        np.testing.assert_allclose(edges, surface, rtol=0.0, atol=1e-6)


@pytest.mark.parametrize(
    ("panel", "expected"),
    [
        (rectangle(-0.6, 0.6, -0.3, 0.3), [0.1368 + 0.2628j, 0.7057 + 0.6940j, 1.0657 + 0.1708j]),
        (rectangle(0.3, 1.5, -0.3, 0.3), [0.1726 + 0.0856j, 0.2945 - 0.0145j, -0.0644 - 0.2822j]),
    ],
)
def test_worked_complex_values(panel, expected):
    # reference-values 8.1, computed there from the surface integral; four decimals are printed.
    np.testing.assert_allclose(at(panel, SOURCE, LISTENER, [125, 500, 2000]), expected, rtol=0.0, atol=1e-4)


KIRCHHOFF_TABLE = {  # reference-values 8.1: a1 = a2 = 1.5 m, normal incidence, 63 Hz to 4 kHz. [dB]
    ("residual", 1.2, 0.6): [-0.86, -0.98, -1.45, -3.43, -10.27, -6.63, -11.47],
    ("weight", 1.2, 0.6): [-14.46, -9.41, -4.03, 0.29, 0.74, 2.51, -0.04],
    ("residual", 1.2, 1.2): [-1.62, -1.68, -1.94, -2.93, -6.24, -9.38, -12.36],
    ("residual", 2.4, 1.2): [-3.22, -4.64, -9.97, -8.26, -12.64, -14.73, -17.77],
    ("residual", 2.4, 2.4): [-5.31, -5.93, -8.16, -11.97, -14.54, -17.56, -20.57],
}


@pytest.mark.parametrize("row", KIRCHHOFF_TABLE, ids=str)
def test_kirchhoff_residual_table(row):
    what, width, height = row
    panel = rectangle(-width / 2, width / 2, -height / 2, height / 2)
    K = at(panel, [0, 0, -1.5], [0, 0, 1.5], band_frequencies_hz()[:7])
    factors = K if what == "weight" else hung_transmission(np.zeros((1, 7, 24)), K[None])
    # In dB; the farthest figure of the table is 0.052 off.
    np.testing.assert_allclose(level_db(factors), KIRCHHOFF_TABLE[row], atol=0.06)


@pytest.mark.parametrize("spot", [(0.0, 0.0), (0.15, 0.05), (0.5, 0.1), (0.2, 0.25)])
def test_rindels_form_at_normal_incidence_far_away(spot):
    sides, a1, a2 = np.array([1.2, 0.6]), 4.0, 5.0  # both legs exceed three panel sides
    low, high = sides / 2 + spot, sides / 2 - spot
    panel = rectangle(-low[0], high[0], -low[1], high[1])
    bands = band_frequencies_hz()[3:]
    ours = level_db(at(panel, [0, 0, -a1], [0, 0, a2], bands))
    theirs = 10.0 * np.log10(rindel_energy_weight(low, high, a1, a2, C / bands).mean(axis=-1))
    np.testing.assert_allclose(ours, theirs, atol=0.5)  # the paraxial form's own error


def test_high_up_an_edge_halves_and_a_corner_leaves_its_angle():
    triangle = np.array([[0.0, 0, 0], [1.5, 0, 0], [0.4, 1.3, 0]])
    straight = np.array([0.3, -0.2, 1.0])
    for spot, to in [(triangle[0], triangle[1:]), (triangle[1], triangle[[2, 0]])]:
        # The corner's angle as the ray sees it: between the sides' parts across the ray.
        across = [(s - spot) - ((s - spot) @ straight) * straight / (straight @ straight) for s in to]
        cosine = across[0] @ across[1] / np.prod([np.linalg.norm(a) for a in across])
        share = np.arccos(cosine) / (2.0 * np.pi)
        K = at(triangle, spot - 1.5 * straight, spot + 1.2 * straight, np.geomspace(1e5, 2e5, 200))
        assert abs(K.mean() - share) < 0.005  # ripple of the far edges, averaged over an octave
    spot = 0.6 * triangle[0] + 0.4 * triangle[1]
    K = at(triangle, spot - 1.5 * straight, spot + 1.2 * straight, np.geomspace(1e5, 2e5, 200))
    assert abs(K.mean() - 0.5) < 0.005  # likewise


def test_the_weight_is_smooth_across_an_edge():
    panel = rectangle(-0.6, 0.6, -0.3, 0.3)
    steps = np.array([-1e-3, -1e-5, -1e-7, -1e-12, 0.0, 1e-12, 1e-7, 1e-5, 1e-3])
    spots = np.stack([0.6 + steps, 0.0 * steps, 0.0 * steps], axis=-1)
    ray = np.array([0.3, 0.0, 1.5])
    K = at(panel, spots - ray, spots + ray, [125.0, 1000.0, 8000.0])
    slope = np.diff(K, axis=0) / np.diff(steps)[:, None]
    # dK/dx on an edge is about sqrt(1/(lambda a)): 7 per metre at 8 kHz. Steps of 1e-12 only show rounding.
    assert np.abs(slope[np.diff(steps) > 1e-9]).max() < 20.0
    np.testing.assert_allclose(K[3:6], K[4] * np.ones((3, 1)), rtol=0.0, atol=1e-10)  # 20 per metre x 1e-12


def test_tiles_add_up_to_the_big_panel():
    knots_x, knots_y = [-1.0, -0.35, 0.0, 0.9], [-0.5, 0.1, 0.7]
    tiles = [
        at(rectangle(x0, x1, y0, y1), SOURCE, LISTENER, band_frequencies_hz())
        for x0, x1 in pairwise(knots_x)
        for y0, y1 in pairwise(knots_y)
    ]
    whole = at(rectangle(-1.0, 0.9, -0.5, 0.7), SOURCE, LISTENER, band_frequencies_hz())
    # Ten times what the count of nodes aims at.
    np.testing.assert_allclose(sum(tiles), whole, rtol=0.0, atol=1e-6)


def test_a_hole_is_taken_out():
    frame, hole = rectangle(-1.0, 0.9, -0.5, 0.7), rectangle(-0.2, 0.4, -0.3, 0.3)
    with_hole = at([frame, hole[::-1]], SOURCE, LISTENER, OCTAVES)
    apart = at(frame, SOURCE, LISTENER, OCTAVES) - at(hole, SOURCE, LISTENER, OCTAVES)
    np.testing.assert_allclose(with_hole, apart, rtol=0.0, atol=1e-13)  # the same sums, regrouped


points = st.tuples(*[st.floats(-1.5, 1.5)] * 2, st.floats(0.3, 2.0)).map(np.array)


@given(points, points, st.floats(0.2, 5.0), st.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_swapped_ends_other_winding_moved_rooms_and_scaled_ones_weigh_alike(source, listener, scale, seed):
    panel, image = rectangle(-0.6, 0.5, -0.3, 0.4), source * [1, 1, -1]
    K = at(panel, image, listener, OCTAVES)
    # Rounding of distances: 1e-15 m times k = 73 per metre, over a few hundred nodes.
    same = {"rtol": 0.0, "atol": 1e-10}
    np.testing.assert_allclose(at(panel, listener, image, OCTAVES), K, **same)
    np.testing.assert_allclose(at(panel[::-1], image, listener, OCTAVES), K, **same)
    rng = np.random.default_rng(seed)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    moved = [scale * (p @ turn.T + [2.0, 1.0, 3.0]) for p in (panel, image, listener)]
    np.testing.assert_allclose(at(*moved, np.array(OCTAVES) / scale), K, **same)


def test_nine_zone_points_at_once_equal_one_by_one():
    ears = LISTENER + np.random.default_rng(3).uniform(-0.2, 0.2, (9, 3))
    panel, bands = rectangle(-0.6, 0.6, -0.3, 0.3), band_frequencies_hz()
    together = at(panel, SOURCE, ears, bands)
    assert together.shape == (9, 8, 24)
    for ear, K in zip(ears, together, strict=True):
        np.testing.assert_array_equal(at(panel, SOURCE, ear, bands), K)


def test_shared_nodes_cost_no_accuracy():
    # 24 neighbours share the nodes of their highest; alone, each frequency chooses its own.
    panel, frequencies = rectangle(0.3, 1.5, -0.3, 0.3), band_frequencies_hz().ravel()[::7]
    shared = at(panel, SOURCE, LISTENER, frequencies)
    alone = [at(panel, SOURCE, LISTENER, [f])[0] for f in frequencies]
    np.testing.assert_allclose(shared, alone, rtol=0.0, atol=2e-7)  # twice the 1e-7 of the node count


def test_long_edges_and_points_close_to_them_are_resolved():
    long = rectangle(-8.0, 6.0, -0.5, 0.7)
    close = np.array([0.4, -0.52, 0.03])  # 36 mm off the middle of a 14 m edge
    k = 2.0 * np.pi * np.array([500.0, 8000.0]) / C
    tiles = [rectangle(x, x + 1.0, -0.5, 0.7) for x in np.arange(-8.0, 6.0)]
    K = at(long, SOURCE, close, k * C / (2.0 * np.pi))
    np.testing.assert_allclose(
        K, sum(at(tile, SOURCE, close, k * C / (2.0 * np.pi)) for tile in tiles), rtol=0.0, atol=1e-6
    )  # other pieces of the same edges, each aimed at 1e-7
    assert np.isfinite(at(long, SOURCE, [0.4, -0.5, 0.0], OCTAVES)).all()  # a listener standing on the edge


def test_points_that_do_not_fit_are_refused():
    panel = rectangle(-0.6, 0.6, -0.3, 0.3)
    with pytest.raises(ValueError, match="3 or more"):
        at(panel[:2], SOURCE, LISTENER, OCTAVES)
    with pytest.raises(ValueError, match="points"):
        at(panel, SOURCE[:2], LISTENER[:2], OCTAVES)
    with pytest.raises(ValueError, match="4 edges"):
        open_edges_weight(panel, [True], (SOURCE, LISTENER), OCTAVES, speed_of_sound_m_s=C, tolerance_m=1e-9)


def facet_weight(outline, is_open, spot, frequency_hz, across=(0.2, 0.1)):
    """Weight of a facet in z = 0 for a ray through the spot, 1.5 m below to 1.2 m above."""
    ray = np.array([*across, 1.0])
    spot = np.array([*spot, 0.0])
    return open_edges_weight(
        outline, is_open, (spot - 1.5 * ray, spot + 1.2 * ray), frequency_hz,
        speed_of_sound_m_s=C, tolerance_m=1e-9,
    )  # fmt: skip


def test_an_edge_in_a_corner_of_the_room_contributes_nothing():
    wall, closed = rectangle(0.0, 4.0, 0.0, 2.5), [False] * 4
    for spot in [(1.0, 1.0), (0.01, 2.49), (0.0, 1.0), (2.0, 2.5), (4.0, 0.0), (-5e-10, 1.0)]:
        np.testing.assert_allclose(facet_weight(wall, closed, spot, OCTAVES), 1.0, atol=1e-12)  # rounding
    for spot in [(-1e-6, 1.0), (2.0, 3.0), (5.0, 5.0)]:
        np.testing.assert_allclose(facet_weight(wall, closed, spot, OCTAVES), 0.0, atol=1e-12)


def test_with_every_edge_open_a_facet_is_a_panel():
    outline = rectangle(0.0, 1.2, 0.0, 0.8)
    for spot in [(0.3, 0.3), (-0.2, 0.5), (1.2, 0.4), (0.0, 0.0)]:
        ray, foot = np.array([0.2, 0.1, 1.0]), np.array([*spot, 0.0])
        K = facet_weight(outline, [True] * 4, spot, OCTAVES)
        np.testing.assert_array_equal(K, at(outline, foot - 1.5 * ray, foot + 1.2 * ray, OCTAVES))


@pytest.mark.parametrize("distance", [-0.25, -0.1, -1e-3, 0.0, 1e-3, 0.1, 0.25])
def test_one_free_edge_is_the_textbook_straight_edge(distance):
    # Fresnel's half plane (Born and Wolf, Principles of Optics, 8.7, from memory); ends 30 m away.
    wall = rectangle(0.0, 30.0, -30.0, 30.0)
    K = facet_weight(wall, [False, False, False, True], (distance, 0.0), OCTAVES, across=(0.0, 0.0))
    fresnel_form = straight_edge_weight(distance, 1.5, 1.2, C / np.array(OCTAVES))
    np.testing.assert_allclose(K, fresnel_form, atol=0.03)  # the form is paraxial, without obliquity
    if distance == 0.0:
        np.testing.assert_allclose(K, 0.5, atol=1e-12)  # the edge's own integrand is 0 there: exact


def test_two_facets_that_share_a_free_edge_make_up_the_whole():
    left, right = rectangle(-2.0, 0.0, 0.0, 2.5), rectangle(0.0, 2.0, 0.0, 2.5)
    for spot in [(0.7, 1.0), (-1e-4, 1.0), (0.0, 1.2), (0.3, 2.4)]:
        both = facet_weight(left, [False, True, False, False], spot, OCTAVES) + facet_weight(
            right, [False, False, False, True], spot, OCTAVES
        )
        np.testing.assert_allclose(both, 1.0, atol=1e-12)  # the shared edge cancels to rounding


def test_a_near_miss_beside_a_free_edge_is_continuous_with_a_hit():
    side = rectangle(0.0, 0.4, 0.0, 2.5)  # the cheek of a chimney breast
    free = [False, True, False, False]
    hit, miss = (facet_weight(side, free, (0.4 + s, 1.1), OCTAVES) for s in (-1e-7, 1e-7))
    np.testing.assert_allclose(hit, miss, atol=1e-5)  # 2e-7 m times dK/dx of 20 per metre
    far = facet_weight(side, free, (0.9, 1.1), OCTAVES)
    assert (np.abs(far) < np.abs(miss)).all()


def test_a_proud_face_is_nearer_by_its_height_both_ways():
    # A rigid face h proud reflects from its own image, 2h nearer: the factor is that detour's phase.
    height, f = 0.08, np.array(OCTAVES)
    source, listener = np.array([-0.9, 0.0, 1.4]), np.array([0.8, 0.3, 1.2])
    wall, face = (np.linalg.norm(listener - (source * [1, 1, -1] + [0, 0, 2 * z])) for z in (0.0, height))
    cosine = (source[2] + listener[2]) / wall
    factor = to_wall_plane(height, cosine, f, speed_of_sound_m_s=C)
    detour = np.exp(2j * np.pi * f / C * (wall - face))
    # Second order in h: 2 h^2 sin^2(theta) / D = 1.7 mm, k = 73 per metre at 4 kHz.
    np.testing.assert_allclose(factor, detour, atol=0.13)


def test_hung_panels_pass_what_they_do_not_cover():
    K = at(rectangle(-0.6, 0.6, -0.3, 0.3), SOURCE, LISTENER, OCTAVES)
    np.testing.assert_array_equal(hung_transmission(np.ones((1, 6)), K[None]), np.ones(6))  # nothing there
    np.testing.assert_allclose(hung_transmission(np.zeros((1, 6)), K[None]), 1.0 - K, rtol=1e-14)  # Babinet
    # An opaque screen with a window: what passes is what the window alone weighs, but for the rim 5 m away.
    window = rectangle(-0.6, 0.6, -0.3, 0.3)
    screen = at([rectangle(-5, 5, -5, 5), window[::-1]], SOURCE, LISTENER, [4000.0])
    passed = hung_transmission(np.zeros((1, 1)), screen[None])
    np.testing.assert_allclose(passed, at(window, SOURCE, LISTENER, [4000.0]), atol=0.06)  # the rim's ripple
    np.testing.assert_allclose(hung_reflection([0.5 * np.ones(6)] * 2, [K, K]), K, rtol=1e-14)

"""What two crossings share: its limits, its symmetry, and integrals over both screens."""

import numpy as np
import pytest
from scipy.special import erfc

from raytrace.acoustics.kirchhoff import kirchhoff_weight
from raytrace.acoustics.twocrossings import half_plane_weight, shared_weight
from tests.support.oracles_waves import strip_weight_2d, two_strips_weight_2d

C = 343.2
OCTAVES = np.array([250.0, 500.0, 1000.0, 2000.0, 4000.0])
LONG = 15.0  # half a strip: its ends are out of sight


def rectangle(u0, u1, v0, v1, z):
    """Corners (4, 3) at a height."""
    return np.array([[u0, v0, z], [u1, v0, z], [u1, v1, z], [u0, v1, z]])


def shared(first, second, source, receiver, frequency=OCTAVES):
    """Of screens (n_panels, 4, 3) for one line."""
    screens = [np.asarray(s)[None] for s in (first, second)]
    ends = np.array([source]), np.array([receiver])
    return shared_weight(*screens, *ends, frequency, speed_of_sound_m_s=C)[0]


def weight(outline, source, receiver):
    """K of one rectangle."""
    return kirchhoff_weight(outline, source, receiver, OCTAVES, speed_of_sound_m_s=C)


def test_half_planes_weigh_as_the_complementary_error_function_says():
    x = np.linspace(-40.0, 40.0, 401)
    np.testing.assert_allclose(half_plane_weight(x), 0.5 * erfc(-np.sqrt(0.5j) * x), atol=1e-13)  # rounding


@pytest.mark.parametrize("gap", [0.05, 0.3, 2.0])
@pytest.mark.parametrize(("low", "high"), [(-0.3, 0.3), (-0.9, 0.3), (0.1, 0.7)])
def test_strips_share_what_the_integral_over_both_says(gap, low, high):
    source, receiver = np.array([-0.8, -gap - 1.5]), np.array([0.9, gap + 1.2])
    k = 2.0 * np.pi * OCTAVES / C
    ends = [np.insert(p, 1, 0.0) for p in (source, receiver)]
    ours = shared(*([rectangle(low, high, -LONG, LONG, z)] for z in (-gap, gap)), *ends)
    strip = (low, high)
    both = [two_strips_weight_2d((strip, strip), (-gap, gap), source, receiver, q, nodes=250) for q in k]
    alone = [
        [strip_weight_2d(*strip, source - [0.0, z], receiver - [0.0, z], q) for q in k] for z in (-gap, gap)
    ]
    # Amplitudes are those of small angles; 40 mm of 1 at 250 Hz, where the gap is a fraction of a wave.
    np.testing.assert_allclose(ours, np.array(both) - np.prod(alone, axis=0), atol=0.08)
    np.testing.assert_allclose(ours[2:], (np.array(both) - np.prod(alone, axis=0))[2:], atol=0.03)


@pytest.mark.parametrize(("u", "v"), [(0.0, 0.0), (0.25, -0.1), (0.3, 0.6), (0.8, 0.2)])
def test_with_no_gap_both_screens_are_one(u, v):
    outline = rectangle(-0.3, 0.3, -0.6, 0.6, 0.0)
    source, receiver = [u, v, -7.0], [u, v, 5.0]
    near = [rectangle(-0.3, 0.3, -0.6, 0.6, z) for z in (-1e-6, 1e-6)]
    K = weight(outline, source, receiver)
    # Amplitudes are those of small angles: the corners lie 0.2 rad off the line.
    np.testing.assert_allclose(shared([near[0]], [near[1]], source, receiver), K * (1.0 - K), atol=0.03)


def test_far_apart_nothing_is_shared():
    screens = [[rectangle(-0.3, 0.3, -0.6, 0.6, z)] for z in (-500.0, 500.0)]
    assert np.abs(shared(*screens, [0.1, 0.2, -501.5], [0.0, 0.1, 501.2])).max() < 0.01
    assert (
        np.abs(shared(*([s[0] * [1, 1, 1e-3]] for s in screens), [0.1, 0.2, -2.0], [0, 0.1, 1.7])).max() > 0.1
    )


def test_ends_may_be_exchanged():
    first, second = rectangle(-0.3, 0.4, -0.6, 0.6, -0.35), rectangle(-0.2, 0.5, -0.5, 0.7, 0.35)
    source, receiver = np.array([-0.7, 0.4, -1.9]), np.array([0.9, -0.5, 1.3])
    there, back = shared([first], [second], source, receiver), shared([second], [first], receiver, source)
    np.testing.assert_allclose(there, back, atol=1e-6)  # the quadrature's own
    turned = shared([np.roll(first, 1, axis=0)], [np.roll(second, 1, axis=0)], source, receiver)
    np.testing.assert_allclose(there, turned, atol=1e-6)
    upside = shared([first[::-1]], [second], source, receiver)  # a mirror image runs the other way round
    np.testing.assert_allclose(there, upside, atol=1e-6)


def test_panels_side_by_side_share_as_one():
    source, receiver = [-0.5, 0.2, -1.6], [0.8, -0.1, 1.9]
    whole, parts = (
        [[rectangle(u0, u1, -0.6, 0.6, z) for u0, u1 in pieces] for z in (-0.4, 0.4)]
        for pieces in ([(-0.5, 0.7)], [(-0.5, -0.1), (-0.1, 0.3), (0.3, 0.7)])
    )
    np.testing.assert_allclose(
        shared(*parts, source, receiver), shared(*whole, source, receiver), atol=1e-6
    )  # the quadrature's own


def test_a_line_through_an_edge_is_continuous_with_those_beside_it():
    def beside(x):
        screens = [[rectangle(-0.3, 0.3, -0.6, 0.6, z)] for z in (-0.3, 0.3)]
        return shared(*screens, [0.3 + x, 0.0, -1.5], [0.3 + x, 0.0, 1.5], OCTAVES)

    np.testing.assert_allclose(beside(0.0), 0.5 * (beside(-1e-5) + beside(1e-5)), atol=1e-4)


def test_no_line_shares_nothing():
    none, ends = np.zeros((0, 1, 4, 3)), np.zeros((0, 3))
    assert shared_weight(none, none, ends, ends, OCTAVES, speed_of_sound_m_s=C).shape == (0, 5)


def test_shapes_that_do_not_fit_are_refused():
    outline = rectangle(-0.3, 0.3, -0.6, 0.6, 0.0)
    with pytest.raises(ValueError, match="1 lines, but panels"):
        shared(outline, outline, [0, 0, -1], [0, 0, 1])

"""Colours: legible, ordered in grey, kept apart by the common forms of colour blindness."""

import itertools

import numpy as np
import pytest

from tests.support.colours import contrast, luminance
from viewer import look

# sRGB (linear) to OKLab, B. Ottosson, "A perceptual color space for image processing", 2020 (from memory;
# white comes out as (1, 0, 0) to 1e-4, which the test below asks for).
TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
# Dichromats, linear RGB: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, IEEE TVCG 15 (2009) 1291,
# severity 1.0 (from memory; rows add up to 1, so greys stay grey).
DICHROMATS = {
    "protanopia": np.reshape(
        [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998], (3, 3)
    ),
    "deuteranopia": np.reshape(
        [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881], (3, 3)
    ),
    "tritanopia": np.reshape(
        [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900], (3, 3)
    ),
}


def linear(colours):
    return np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)


def oklab(linear_colours):
    return np.cbrt(linear_colours @ TO_CONES.T) @ TO_LAB.T


def scale():
    return look.level_colours(np.linspace(look.LEVEL_FROM_DB, look.LEVEL_TO_DB, len(look.LEVEL_COLOURS)))


def test_the_colour_space_of_these_tests_sends_white_to_lightness_one():
    assert oklab(np.ones(3)) == pytest.approx([1, 0, 0], abs=1e-4)  # digits of the published matrices


@pytest.mark.parametrize("text", [look.INK, look.MUTED, look.ACCENT])
@pytest.mark.parametrize("ground", [look.WHITE, look.WINDOW])
def test_text_stands_out_from_its_ground(text, ground):
    assert contrast(text, ground) >= 4.5  # WCAG 2.1, success criterion 1.4.3


def test_contrast_of_black_on_white_is_21():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0, rel=1e-12)  # WCAG 2.1, definition


def test_a_stronger_level_is_darker_in_grey():
    fine = look.level_colours(np.linspace(look.LEVEL_FROM_DB, look.LEVEL_TO_DB, 400))
    assert (np.diff(luminance(fine)) < 0).all()


@pytest.mark.parametrize("kind", DICHROMATS)
def test_a_stronger_level_is_darker_to_the_colour_blind(kind):
    seen = np.clip(linear(scale()) @ DICHROMATS[kind].T, 0, 1)
    lightness = oklab(seen)[:, 0]
    assert (np.diff(lightness) < -0.02).all()  # about the smallest step of lightness seen side by side


def test_equal_steps_of_level_look_equally_far_apart():
    steps = np.linalg.norm(np.diff(oklab(linear(scale())), axis=0), axis=1)
    # Each colour is rounded to 1/255 in each part: up to 0.004 in OKLab on a step of 0.05.
    assert steps == pytest.approx(np.full(len(steps), steps.mean()), abs=0.005)


def test_levels_beyond_the_scale_take_its_end_colours():
    ends = look.level_colours(np.array([-80.0, look.LEVEL_FROM_DB, look.LEVEL_TO_DB, 30.0]))
    assert (ends[0] == ends[1]).all()
    assert (ends[2] == ends[3]).all()


def test_a_level_without_verdict_is_grey_and_not_on_the_scale():
    grey = look.level_colours(np.array([np.nan]))[0]
    assert grey == pytest.approx(look.rgb(look.UNJUDGED))
    assert np.abs(scale() - grey).max(axis=1).min() > 0.03


def test_accent_panel_and_scale_are_told_apart_by_everyone():
    colours = np.vstack([look.rgb(look.ACCENT), look.rgb(look.PANEL), scale()[-1], scale()[8]])
    for matrix in [np.eye(3), *DICHROMATS.values()]:
        seen = oklab(np.clip(linear(colours) @ matrix.T, 0, 1))
        for one, other in itertools.combinations(seen, 2):
            assert np.linalg.norm(one - other) > 0.1  # twice the step of the scale


def test_a_tint_lies_between_the_colour_and_white():
    assert look.tinted(look.ACCENT, 1.0) == look.ACCENT
    assert look.tinted(look.ACCENT, 0.0) == look.WHITE
    assert contrast(look.tinted(look.ACCENT, 0.3), look.WHITE) < contrast(look.ACCENT, look.WHITE)


def test_surfaces_of_a_scan_have_colours_of_their_own_beyond_the_list_too():
    n = len(look.SCAN_COLOURS)
    colours = [look.scan_colour(k) for k in range(3 * n)]
    assert colours[:n] == list(look.SCAN_COLOURS)
    assert len(set(colours)) == 3 * n
    assert all(rgb[0] == "#" and len(rgb) == 7 for rgb in colours)

"""A long room is shown as far as something matters; nothing that matters is cut off."""

import functools
from dataclasses import replace

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures.faces import loops_of, polygons, polylines
from viewer.pictures.framing import cut_off, listening_end
from viewer.pictures.layers import choose_camera, layers
from viewer.pictures.stage import Layer, one_colour, set_stage


@functools.cache
def stage_of(name):
    return set_stage(shipped_study(name, up_to_order=2))


def test_only_a_room_with_an_empty_end_is_cut():
    assert listening_end(stage_of("box")) is None  # the back wall's reflections are shown
    stage = stage_of("ridge")
    end = listening_end(stage)
    assert end is not None
    ears = stage.study.scene.seats[0].ears
    assert ears[0] + 0.8 < end < 0.75 * stage.study.room.bounds[1, 0]


def test_the_same_pixels_show_more_of_what_matters():
    stage = stage_of("ridge")
    cut = replace(stage, cut_m=listening_end(stage))
    size, place = (600, 400), np.array(stage.study.scene.seats[0].ears)
    whole, end = (choose_camera(each, look.VIEWS[0], size) for each in (stage, cut))
    assert end.pixels_per_metre(place) > 1.15 * whole.pixels_per_metre(place)
    for layer in layers(cut, end):
        for loop in loops_of(layer.mesh):
            assert (loop[:, 0] <= cut.cut_m + 1e-6).all()


def test_what_is_cut_keeps_its_colours_and_its_share():
    square = np.array([[0.0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]])
    mesh = polygons([square, square + np.array([5.0, 0, 0])], part=[3, 4])
    layer = Layer(mesh, np.array([look.rgb(look.ACCENT), look.rgb(look.INK)]))
    (kept,) = loops_of(cut_off(layer, 0.5).mesh)
    assert np.ptp(kept, axis=0) == pytest.approx([0.5, 1.0, 0.0])
    line = polylines([np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0.2, 1, 0]])])
    pieces = loops_of(cut_off(Layer(line, one_colour(look.INK, line), radius_m=0.1), 0.5).mesh)
    assert sum(float(np.linalg.norm(p[1] - p[0])) for p in pieces) == pytest.approx(0.5 + 0.3)
    assert cut_off(layer, None) is layer

"""Data sheets say what a build does, beside its thinner and thicker neighbours."""

import numpy as np
import pytest

from raytrace import build_room
from raytrace.acoustics import Medium, random_absorption
from raytrace.making.datasheets import list_datasheets, make_datasheet, neighbours_m
from raytrace.room import stack_of
from raytrace.scene import Air, load_builds
from tests.support.panelled import cloud, panel, scene_text


def test_neighbours_are_the_next_usual_slabs_in_their_own_units():
    builds = load_builds()
    assert neighbours_m(builds["wool 50"]) == pytest.approx((0.03, 0.075))
    assert neighbours_m(builds["wool 4 in"]) == pytest.approx((3 * 0.0254, 6 * 0.0254))
    thin = builds["wool 30"].model_copy(update={"thickness": 0.02})
    assert neighbours_m(thin)[0] is None


def test_thicker_wool_takes_more_of_the_low_octaves():
    sheet = make_datasheet("wool 50", load_builds()["wool 50"], gap_m=0.0, air=Air())
    for low in (0, 1, 2):
        assert sheet.thinner.random[low] < sheet.own.random[low] < sheet.thicker.random[low]
    assert sheet.thinner.rating.nrc <= sheet.own.rating.nrc <= sheet.thicker.rating.nrc
    assert sheet.thinner.mass_kg < sheet.own.mass_kg < sheet.thicker.mass_kg


def test_octave_figures_are_near_the_value_at_the_middle_of_a_smooth_octave():
    build = load_builds()["wool 100"]
    sheet = make_datasheet("wool 100", build, gap_m=0.0, air=Air())
    at_centre = random_absorption(stack_of(build), [501.19, 1000.0, 1995.3], Medium(343.2, 1.204))
    # 0.03: the curve bends within an octave.
    assert sheet.own.random[3:6] == pytest.approx(at_centre, abs=0.03)


def test_depth_counts_slab_and_air():
    sheet = make_datasheet("wool 50", load_builds()["wool 50"], gap_m=0.05, air=Air())
    assert sheet.own.depth_m == pytest.approx(0.1)
    assert sheet.thicker.depth_m == pytest.approx(0.125)


def test_one_sheet_for_each_build_and_air_gap(scene_of):
    text = panel("A", gap=0.05) + panel("B", centre=[1.0, 1.2], gap=0.05) + panel("C", centre=[4.0, 1.2])
    scene = scene_of(scene_text(text + cloud(drop=0.6)))
    sheets = list_datasheets(scene, build_room(scene))
    assert [(s.build_name, s.gap_m, s.used_for) for s in sheets] == [
        ("wool 50", 0.05, ("A", "B")),
        ("wool 50", 0.0, ("C", "cloud A1")),
    ]
    assert any("from behind" in str(note) for note in sheets[1].notes)
    assert not any("from behind" in str(note) for note in sheets[0].notes)


def test_air_behind_a_solid_back_changes_nothing(scene_of):
    scene = scene_of(scene_text(panel(build="wool 100 solid back", gap=0.1)))
    (sheet,) = list_datasheets(scene, build_room(scene))
    flush = make_datasheet("flush", scene.build("wool 100 solid back"), gap_m=0.0, air=Air())
    assert np.array_equal(sheet.own.random, flush.own.random)
    assert any("solid back" in str(note) for note in sheet.notes)

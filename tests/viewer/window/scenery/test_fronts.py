"""Wave fronts of the window are where the sound is at the time cursor."""

from dataclasses import replace

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer.pictures import loops_of, set_stage
from viewer.window.scenery.fronts import Fronts
from viewer.window.state import LAYERS_AT_FIRST, OnScreen, named_view


@pytest.fixture(scope="module")
def shown():
    study = shipped_study("box")
    stage = set_stage(study)
    layers = LAYERS_AT_FIRST | {"fronts"}
    return OnScreen(study, stage, named_view(stage, "room", (800, 600)), layers=layers, time_s=0.0)


def test_at_time_nought_the_direct_front_is_at_the_ears(shown):
    front = Fronts().layers(shown)["direct front"].mesh
    scene = shown.study.scene
    source, ears = np.array(scene.speakers[0].position), np.array(scene.seats[0].ears)
    away = np.linalg.norm(np.concatenate(loops_of(front)) - source, axis=1)
    assert np.abs(away - np.linalg.norm(ears - source)).max() < 1e-9  # the same length in both
    assert (
        np.linalg.norm(np.concatenate(loops_of(front)) - ears, axis=1).min() < 0.06
    )  # between two rays of 2 degrees


def test_mirrored_fronts_come_later_and_another_speaker_has_its_own(shown):
    fronts = Fronts()
    early = fronts.layers(replace(shown, time_s=-0.003))
    late = fronts.layers(replace(shown, time_s=0.004))
    assert early["mirrored fronts"].mesh.n_cells == 0
    assert late["mirrored fronts"].mesh.n_cells > 1000
    other = fronts.layers(replace(shown, chosen=(1, 0, ())))
    assert (
        other["direct front"].mesh.GetCenter()[1]
        > 1.5
        > fronts.layers(shown)["direct front"].mesh.GetCenter()[1]
    )


def test_fronts_that_are_off_are_not_drawn(shown):
    off = Fronts().layers(replace(shown, layers=LAYERS_AT_FIRST))
    assert all(layer.mesh.n_cells == 0 for layer in off.values())

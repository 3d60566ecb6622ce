"""Outlines of what is selected, by where they lie."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import Follower, load_scene
from tests.support.scenes import SCENES
from viewer.pictures import loops_of, set_stage
from viewer.window.scenery.marks import marks
from viewer.window.state import OnScreen, named_view, partner_of, point_of, things_of


@pytest.fixture(scope="module", params=["treated-box", "garage"])
def shown(request):
    study = Follower().ears(load_scene(SCENES / f"{request.param}.toml"))
    stage = set_stage(study)
    return OnScreen(study=study, stage=stage, eye=named_view(stage, "room", (900, 600)))


def test_everything_that_can_be_selected_has_an_outline_round_its_place(shown):
    assert marks(shown)["mark"].mesh.n_cells == 0
    for thing in things_of(shown.study):
        lines = loops_of(marks(replace(shown, thing=thing, in_pairs=False))["mark"].mesh)
        points = np.concatenate(lines)
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        away = np.linalg.norm(middle[:2] - point_of(shown.study, thing)[:2])
        assert away < 0.2, thing  # a speaker's place is its front, a panel's its back


def test_what_moves_with_a_thing_is_outlined_too(shown):
    for thing in things_of(shown.study):
        partner = partner_of(shown.study, thing)
        both = [thing] if partner is None else [thing, partner]
        alone = [marks(replace(shown, thing=own, in_pairs=False))["mark"].mesh.n_cells for own in both]
        assert marks(replace(shown, thing=thing))["mark"].mesh.n_cells == sum(alone)
    has_pairs = any(partner_of(shown.study, thing) for thing in things_of(shown.study))
    assert has_pairs == (shown.study.scene.title == "Treated box room")


def test_a_place_that_is_refused_is_outlined_as_far_off_as_it_was_asked_for(shown):
    thing = things_of(shown.study)[0]
    here = replace(shown, thing=thing)
    assert marks(here)["refused mark"].mesh.n_cells == 0
    step = np.array([0.30, -0.20, 0.10])
    there = replace(here, wanted=tuple(point_of(shown.study, thing) + step))
    layers = marks(there)
    old, new = (np.concatenate(loops_of(layers[name].mesh)) for name in ("mark", "refused mark"))
    assert new.min(axis=0) == pytest.approx(old.min(axis=0) + step, abs=0.06)  # dashes may end early
    assert new.max(axis=0) == pytest.approx(old.max(axis=0) + step, abs=0.06)

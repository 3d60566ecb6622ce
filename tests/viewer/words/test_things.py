"""What the things of a room are called."""

import pytest

from raytrace import load_scene, run_study
from tests.support.scenes import SCENES
from viewer.words.things import both_words, met_names, path_phrase, path_text, path_words, things_met


@pytest.fixture(scope="module")
def study():
    return run_study(load_scene(SCENES / "treated-box.toml"), up_to_order=2)


def test_what_is_met_is_what_the_arrivals_say(study):
    table = study.arrivals
    for row in range(len(table.order)):
        met = things_met(table, row)
        order = int(table.order[row])
        assert [m.surface for m in met] == table.path_surfaces[row, :order].tolist()
        assert [m.opening for m in met] == table.path_openings[row, :order].tolist()
        assert [m.panel for m in met] == table.path_panels[row, :order].tolist()


def test_every_way_to_say_a_path_names_each_bounce(study):
    table, room = study.arrivals, study.room
    on_panels = 0
    for row in range(len(table.order)):
        order = int(table.order[row])
        assert len(path_phrase(study, row).split(" › ")) == order
        assert len(path_text(study, row).split(" › ")) == order
        assert path_words(study, row).split(" › ") == met_names(study, table, row)
        for name, met in zip(met_names(study, table, row), things_met(table, row), strict=True):
            if met.panel >= 0 and room.surfaces[met.surface].owner is None:
                on_panels += 1
                assert name == f"{room.surfaces[met.surface].name} ({room.panels[met.panel].group})"
    assert on_panels > 0


def test_two_names_of_one_kind_share_the_word():
    assert both_words("left speaker", "right speaker") == "left and right speaker"
    assert both_words("left speaker", "sub") == "left speaker, sub"

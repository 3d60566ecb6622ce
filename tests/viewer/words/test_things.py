"""What the things of a room are called."""

import pytest

from raytrace import run_study
from tests.support.scenes import BOX
from tests.support.studies import shipped_study
from viewer.words.things import (
    both_words,
    met_names,
    path_phrase,
    path_text,
    path_words,
    seat_words,
    speaker_words,
    things_met,
)


@pytest.fixture(scope="module")
def study():
    return shipped_study("treated-box", up_to_order=2)


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


@pytest.mark.parametrize(
    ("seat", "thing", "words"),
    [
        ("sofa", "bench", "sofa"),
        ("sofa", "sofa", "sofa seat"),
        ("sofa", "sofa seat", "sofa"),
        ("mix", "mix seat", "mix seat (the listener)"),
        ("left seat", "left seat", "left seat (the listener)"),
    ],
)
def test_a_seat_is_told_from_an_object_of_the_same_name(scene_of, seat, thing, words):
    block = 'shape = "box"\ncentre = [4.3, 0.6, 0.2]\nsize = [0.5, 1.0, 0.4]\nmaterial = "hard"\n'
    text = BOX.replace('"mix"', f'"{seat}"') + f'[[objects]]\nname = "{thing}"\n{block}'
    found = run_study(scene_of(text), up_to_order=1)
    assert seat_words(found, 0) == words
    assert speaker_words(found, 0) == "left speaker"


def test_a_speaker_is_told_from_an_object_of_the_same_name(scene_of):
    block = 'shape = "box"\ncentre = [4.3, 0.6, 0.2]\nsize = [0.5, 1.0, 0.4]\nmaterial = "hard"\n'
    found = run_study(scene_of(BOX + f'[[objects]]\nname = "left speaker"\n{block}'), up_to_order=1)
    assert speaker_words(found, 0) == "left speaker (what plays)"

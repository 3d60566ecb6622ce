"""Distances between what is clicked are those of the tape."""

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer.pictures import set_stage
from viewer.window.state import Measuring, measure_words, named_view, with_end

SIZE = (1000, 700)


@pytest.fixture(scope="module")
def seen():
    study = shipped_study("box")
    return study, named_view(set_stage(study), "room", SIZE).camera(SIZE)


def clicked(seen, *points):
    study, camera = seen
    found = Measuring()
    for point in points:
        found = with_end(found, study, camera, tuple(camera.project(np.array(point)).tolist()))
    return found


def test_from_one_speaker_to_the_other_is_what_the_scene_says(seen):
    speakers = [own.position for own in seen[0].scene.speakers]
    found = clicked(seen, *speakers)
    assert found.ends == tuple(speakers)
    assert measure_words(found, "metric").startswith(
        "1200 mm from left to right: 0 mm along the room, 1200 mm"
    )


def test_an_edge_is_measured_to_squarely(seen):
    ears = seen[0].scene.seats[0].ears  # 1.79, 1.50 of a floor 4.2 by 3
    found = clicked(seen, ears, (4.2, 0.7, 0.0))  # somewhere along the edge of floor and back wall
    assert found.what[1] == "an edge"
    assert found.ends[1] == pytest.approx((4.2, ears[1], 0.0), abs=1e-9)  # the foot, not where it was clicked


def test_a_corner_is_caught_and_a_third_click_begins_anew(seen):
    found = clicked(seen, (4.2, 0.0, 0.0), seen[0].scene.speakers[0].position, (4.2, 3.0, 0.0))
    assert found.what == ("a corner",)
    assert found.ends[0] == pytest.approx((4.2, 3.0, 0.0), abs=1e-8)


def test_a_click_beside_the_room_changes_nothing(seen):
    study, camera = seen
    assert with_end(Measuring(), study, camera, (2.0, 2.0)) == Measuring()

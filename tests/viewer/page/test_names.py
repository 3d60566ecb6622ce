"""Words laid over the room on the page."""

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer.page.names import names
from viewer.pictures import set_stage


@pytest.fixture(scope="module")
def stage():
    return set_stage(shipped_study("ridge", up_to_order=1))


def test_speakers_and_seats_come_first_then_things_then_surfaces(stage):
    found = [name["text"] for name in names(stage)]
    assert found[:3] == ["left speaker", "right speaker", "mix seat"]
    rooms = [s.name for i, s in enumerate(stage.study.room.surfaces) if stage.study.room.is_room_surface[i]]
    assert found[-len(rooms) :] == rooms
    assert {"desk", "door"} <= set(found)


def test_a_surfaces_name_stands_on_it_and_turns_away_with_it(stage):
    low, high = stage.study.room.bounds
    inside = (low + high) / 2
    for name in names(stage):
        if name["kind"] == "surface":
            normal, offset = np.array(name["plane"][:3]), name["plane"][3]
            # Places are written in whole millimetres.
            assert np.dot(name["at"], normal) == pytest.approx(offset, abs=0.002)
            assert inside @ normal > offset

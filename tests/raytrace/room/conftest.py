import pytest

from raytrace import build_room
from tests.support.rooms import room_text


@pytest.fixture
def room_of(scene_of):
    """Builds a room of one of the shapes of `tests/support/rooms.py`."""

    def build(shape="box", more="", **places):
        return build_room(scene_of(room_text(shape, more, **places)))

    return build

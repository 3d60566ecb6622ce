"""Furniture flush with a wall, behind and under which nothing was scanned, is furniture and no wall."""

import numpy as np
import pytest

from raytrace.scan import clean_scan
from tests.support.scans import Rough, furnished_box, obj_text, plan_room, scan_of

SIZE = (4.5, 3.2, 2.4)
ROUGH = Rough(noise=0.004, edge=0.13, repeated=0, degenerate=0)


def cleaned(folder, truth, rough=ROUGH):
    path = folder / "room.obj"
    path.write_text(obj_text(*scan_of(truth, rough)))
    return clean_scan(path)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("table", (1.0, 0.0, 0.0), (2.4, 0.7, 0.74)),
        ("table", (0.0, 0.0, 0.0), (1.4, 0.7, 0.74)),  # in a corner
        ("cupboard", (1.0, 0.0, 0.0), (2.8, 0.6, 2.0)),
        ("cupboard", (0.0, 0.0, 0.0), (0.9, 0.6, 1.83)),
        ("table", (1.0, 0.0, 0.0), (2.0, 0.5, 0.8)),
        ("seat", (1.5, 0.0, 0.0), (2.9, 2.0, 0.5)),
    ],
)
def test_furniture_flush_with_walls_leaves_the_room_whole(tmp_path, name, low, high):
    room = cleaned(tmp_path, furnished_box(SIZE, low, high))
    assert room.shape.kind == "box"
    found = dict(room.shape.numbers)
    assert [found[key] for key in ("length", "width", "height")] == pytest.approx(
        SIZE, abs=0.01
    )  # as promised
    (block,) = room.objects
    assert block.name == f"{name} 1"
    # Its edges are rounded off by one of the mesh, the far one to 12 mm more than the noise.
    assert block.size == pytest.approx(np.subtract(high, low), abs=0.02)
    assert block.centre == pytest.approx(np.add(low, high) / 2, abs=0.012)
    assert not room.holes


def test_a_chimney_breast_up_to_the_ceiling_stays_a_wall(tmp_path):
    outline = [(0, 0), (1.0, 0), (1.0, 0.5), (2.4, 0.5), (2.4, 0), (4.5, 0), (4.5, 3.2), (0, 3.2)]
    room = cleaned(tmp_path, plan_room(outline, 2.4))
    assert len(room.shape.corners) == len(outline)
    assert not room.objects

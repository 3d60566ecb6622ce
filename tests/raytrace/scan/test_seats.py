"""A seat with a back and arms is told as one piece: its parts by their names, each as long as it is."""

import numpy as np
import pytest

from raytrace.scan import clean_scan
from tests.support.scans import Rough, obj_text, scan_of, sofa_room

LOW, SIZE, SEAT, BACK, ARM = (1.0, 1.2), (2.0, 0.9), 0.44, (0.22, 0.82), (0.16, 0.62)


@pytest.fixture(scope="module")
def blocks(tmp_path_factory):
    path = tmp_path_factory.mktemp("sofa") / "sofa.obj"
    truth = sofa_room(LOW, SIZE, seat=SEAT, back=BACK, arm=ARM)
    path.write_text(obj_text(*scan_of(truth, Rough(noise=0.008, edge=0.12, repeated=0, degenerate=0))))
    return {block.name: block for block in clean_scan(path).objects}


def test_back_and_arms_are_named_after_their_seat(blocks):
    assert set(blocks) == {"seat 1", "seat 1 back", "seat 1 arm 1", "seat 1 arm 2"}


def test_each_part_reaches_as_far_as_it_does(blocks):
    (x, y), (long, deep), (back, back_high), (arm, arm_high) = LOW, SIZE, BACK, ARM
    true = {
        "seat 1": ((x + arm, y + back, 0.0), (x + long - arm, y + deep, SEAT)),
        "seat 1 back": ((x, y, 0.0), (x + long, y + back, back_high)),
        "arm": ((x, y + back, 0.0), (x + arm, y + deep, arm_high)),
        "other arm": ((x + long - arm, y + back, 0.0), (x + long, y + deep, arm_high)),
    }
    arms = sorted((own for name, own in blocks.items() if "arm" in name), key=lambda own: own.centre[0])
    found = {**blocks, "arm": arms[0], "other arm": arms[1]}
    for name, ends in true.items():
        for sign, end in zip((-0.5, 0.5), ends, strict=True):
            own = np.add(found[name].centre, np.multiply(sign, found[name].size))
            assert own == pytest.approx(end, abs=0.02)  # 12 mm of the mesh that rounds edges, and the noise

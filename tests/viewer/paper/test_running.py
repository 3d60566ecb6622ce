"""Running dimensions: a stroke stands at its place, its figure beside it and over no other."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer.paper.drafting import boxes_overlap
from viewer.paper.running import depth_mm, run_along

PLACES = st.lists(st.integers(1, 150), min_size=1, max_size=12, unique=True).map(sorted)


@pytest.mark.parametrize("below", [True, False])
@given(PLACES)
def test_no_two_figures_touch_however_near_the_stops_are(below, stops):
    texts = [str(20 * stop) for stop in stops]
    marks = run_along([0.0, *map(float, stops)], texts, 10.0, below=below, low=-5.0, high=160.0)
    boxes = [mark.box for mark in marks if mark.kind == "text"]
    assert len(boxes) == len(stops)
    assert not any(boxes_overlap(a, b) for i, a in enumerate(boxes) for b in boxes[:i])
    reach = [abs(side - 10.0) for box in boxes for side in ((box[1], box[3]) if below else (box[0], box[2]))]
    assert max(reach) <= depth_mm(texts)


def test_strokes_stand_at_the_stops_and_a_ring_at_the_datum():
    marks = run_along([100.0, 70.0, 20.0], ["600", "1600"], 10.0, below=False, low=0.0, high=110.0)
    (ring,) = [mark for mark in marks if mark.kind == "disc"]
    assert ring.points == ((10.0, 100.0),)
    strokes = [mark.points for mark in marks if mark.kind == "line" and mark.width_pt == 1.0]
    assert [(a[1] + b[1]) / 2.0 for a, b in strokes] == [70.0, 20.0]

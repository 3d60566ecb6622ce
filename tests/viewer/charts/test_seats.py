"""The map of places for a seat: words stand apart, back to back too."""

from types import SimpleNamespace

import numpy as np

from raytrace import build_room, load_scene
from tests.support.chartchecks import assert_clean
from tests.support.scenes import SCENES
from viewer.charts.seats import SIZE, draw_seats


def place(ears, ahead, wall):
    """What the map reads of one place: its speakers stand a metre ahead, half a metre to either side."""
    ears, ahead = np.array([*ears, 1.2]), np.array([*ahead, 0.0])
    aside = np.array([-ahead[1], ahead[0], 0.0])
    return SimpleNamespace(
        place=SimpleNamespace(wall=wall),
        ears=ears,
        speakers=np.array([ears + ahead - 0.5 * aside, ears + ahead + 0.5 * aside]),
        **dict(is_proven=True, score=11.2, over_db=3.8, n_over=2, n_undecided=0, left_right_db=-1.1),
        **dict(evenness_db=5.5, dip_db=-13.7, dip_hz=339.0, near_m=1.2, near="left wall"),
    )


def test_two_who_sit_back_to_back_have_a_number_each(tmp_path):
    scene = load_scene(SCENES / "box.toml")
    best = [place((2.1, 1.48), (0, 1), "right wall"), place((2.1, 1.52), (0, -1), "left wall")]
    now = place((1.9, 1.5), (-1, 0), "front wall")
    seats = SimpleNamespace(
        scene=scene, room=build_room(scene), now=now, best=best, others=[], refused=[], blocked=[], notes=[]
    )
    path = tmp_path / "map.png"
    boxes = draw_seats(seats, path)
    assert_clean(SimpleNamespace(boxes=boxes, path=path), SIZE)
    first, second = (next(box for box in boxes if box.text == number) for number in "12")
    # Whole discs, of 49 px.
    assert abs(0.5 * (first.left + first.right) - 0.5 * (second.left + second.right)) > 49

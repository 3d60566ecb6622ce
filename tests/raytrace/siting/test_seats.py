"""What is told of a place is what a run of the scene that is written for it finds."""

import numpy as np
import pytest

from raytrace.bass import find_bass
from raytrace.room import build_room
from raytrace.scene import load_scene
from raytrace.siting import SeatWish, find_seats
from raytrace.siting.judging import judge_place, task_of
from raytrace.siting.scoring import over_db
from raytrace.spreading import Crew, Hands, TaskRecord
from raytrace.study import Setting, run_study
from tests.support.scenes import SCENES

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """Places before one side wall of the box, and the record of what was judged."""
    record = TaskRecord(tmp_path_factory.mktemp("seats") / "record.jsonl")
    scene = load_scene(SCENES / "box.toml")
    wish = SeatWish(walls=("left wall",), step_m=1.8)
    return find_seats(scene, wish, record=record), record, wish


def test_the_written_scene_has_the_verdicts_and_the_bass_that_were_told(kept):
    seats, _, _ = kept
    best = seats.best[0]
    text = seats.text_of(best)
    written = load_scene(seats.scene.path, text)
    first, *comments = [line for line in text.splitlines() if line.startswith("#")]
    assert '"left wall"' in first
    assert comments == [line for line in seats.scene.text.splitlines() if line.startswith("#")]
    study = run_study(written)
    assert best.n_over == sum(v.n_over for v in study.verdicts)
    assert best.n_undecided == sum(v.n_undecided for v in study.verdicts)
    assert best.worst_margin_db == pytest.approx(min(v.worst_margin_db for v in study.verdicts))
    assert best.left_right_db == pytest.approx(study.left_right.difference_db)
    bass = find_bass(written, build_room(written))
    # A shape in another position has its grid turned with it: the same to rounding.
    assert best.evenness_db == pytest.approx(bass.now_db, abs=1e-6)


def test_the_seat_faces_the_wall_that_was_asked_for(kept):
    seats, _, _ = kept
    assert seats.best
    for one in (*seats.best, *seats.others):
        assert one.place.wall == "left wall"
        assert one.ears[1] == pytest.approx(one.place.depth_m)  # the left wall is y = 0
        assert (one.speakers[:, 1] < one.ears[1]).all()
        # As they stand now: 1.04 m ahead, 0.6 m to either side; who faces left has left at the back.
        ahead = one.ears - one.speakers
        assert np.abs(ahead[:, 1]) == pytest.approx([1.04, 1.04])
        assert ahead[:, 0] == pytest.approx([-0.6, 0.6])


def test_the_bass_of_all_places_from_one_set_of_modes_is_that_of_each_by_itself(kept):
    from raytrace.bass import layouts_db
    from raytrace.siting.seats import SeatSearch

    seats, _, _ = kept
    search = SeatSearch.of(seats.scene, seats.room, ("left",))
    together = layouts_db(seats.room, [search.layout(one.place) for one in seats.best])
    # Modes of the room as it is, and of the room turned: each right to 1e-4, which is 0.9e-3 dB.
    assert together == pytest.approx([one.evenness_db for one in seats.best], abs=1e-3)


def test_a_run_that_goes_on_does_nothing_twice(kept):
    seats, record, wish = kept
    told = []
    again = find_seats(seats.scene, wish, record=record, progress=lambda text, _share: told.append(text))
    assert [one.score for one in again.best] == [one.score for one in seats.best]
    assert sum("of" in text for text in told if text.startswith("places looked at")) == 1


def test_processes_judge_as_one_does(kept):
    seats, record, _ = kept
    ears = Setting(("seats", 0, "ears"), (1.9, 1.5, 1.2))
    tasks = [task_of(seats.scene, edits, full=full) for edits, full in (((), True), ((ears,), False))]
    alone = [judge_place(task) for task in tasks]
    with Crew(Hands(2)) as crew:
        assert crew.spread(judge_place, tasks) == alone
    assert len(record) >= 3


def test_a_hidden_speaker_is_told_not_scored(scene_of):
    screen = '\n[[objects]]\nname = "screen"\nshape = "box"\nmaterial = "wood door"\n'
    screen += "centre = [1.3, 1.15, 1.2]\nsize = [0.05, 0.8, 0.9]\n"
    scene = scene_of((SCENES / "box.toml").read_text(encoding="utf-8") + screen)
    assert judge_place(task_of(scene, (), full=False)) == {"refused": "hidden: left"}


def test_energy_over_the_limit_is_none_below_it_and_the_excess_of_one_that_is_over():
    assert over_db([[3.0, 0.5], [1.0]]) == 0.0
    assert over_db([[-4.0], [-4.0]]) == pytest.approx(4.0)
    # Two of 4 dB each: 10 lg(1 + 2 (10^0.4 - 1)).
    assert over_db([[-4.0, -4.0, 7.0]]) == pytest.approx(10.0 * np.log10(1.0 + 2.0 * (10.0**0.4 - 1.0)))

"""What is followed while things move agrees with the whole study of the scene at rest."""

import numpy as np
import pytest

from raytrace import Follower, SceneError, find_arrivals, load_scene, moved, run_study
from raytrace.room import build_room
from tests.support.scenes import SCENES


@pytest.fixture(scope="module")
def garage():
    return load_scene(SCENES / "garage.toml")


def within(study, until_s, order):
    """Rows of a study in a window, by speaker, seat and facets."""
    table = study.arrivals
    kept = np.flatnonzero((table.delay_s <= until_s) & (table.order <= order))
    return {
        (
            int(table.speaker[r]),
            int(table.seat[r]),
            tuple(table.path_facets[r][table.path_facets[r] >= 0].tolist()),
        ): r
        for r in kept
    }


def test_the_ears_hear_what_the_whole_study_finds_in_the_window(garage):
    follower = Follower()
    follower.ears(garage)
    place = (0.9, 0.8, 1.25)
    there = moved(garage, "speakers", 0, place)
    quick, whole = follower.ears(there), run_study(there, up_to_order=4)
    until_s = garage.limits.within_ms / 1e3
    fast, slow = within(quick, until_s, 4), within(whole, until_s, 4)
    assert set(fast) == set(slow)
    for key, row in fast.items():
        assert quick.arrivals.delay_s[row] == pytest.approx(whole.arrivals.delay_s[slow[key]], abs=1e-12)
        # The same functions on the same numbers.
        assert quick.arrivals.band_level_db[row] == pytest.approx(
            whole.arrivals.band_level_db[slow[key]], abs=1e-9
        )


def test_at_rest_zone_and_patches_are_those_of_the_whole_study(garage):
    follower = Follower()
    follower.ears(garage)
    there = moved(garage, "seats", 0, (2.0, 1.35, 1.2))
    quick, whole = follower.zone(there), run_study(there, up_to_order=4)
    own = {(p.speaker, p.surface, p.rows and round(p.worst_db, 6)) for p in quick.treatment_areas}
    assert own == {(p.speaker, p.surface, p.rows and round(p.worst_db, 6)) for p in whole.treatment_areas}


def test_what_did_not_move_is_not_computed_again(garage):
    follower = Follower()
    first = follower.ears(garage)
    second = follower.ears(moved(garage, "speakers", 0, (0.9, 0.8, 1.25)))
    assert second.arrivals.at_points[1] is first.arrivals.at_points[1]
    assert second.arrivals.at_points[0] is not first.arrivals.at_points[0]
    assert second.room is first.room


def test_a_moved_seat_turns_the_speakers_that_aim_at_it(garage):
    there = moved(garage, "seats", 0, (2.4, 1.2, 1.2))
    follower = Follower()
    follower.ears(garage)
    quick = follower.ears(there)
    plain = find_arrivals(there, build_room(there), up_to_order=4, within_s=garage.limits.within_ms / 1e3)
    first = plain.at(0, 0)
    assert quick.arrivals.band_level_db[quick.arrivals.at(0, 0)][:5] == pytest.approx(
        plain.band_level_db[first][:5],
        abs=1e-9,  # the same functions on the same numbers
    )


def test_a_place_inside_the_desk_is_refused_while_moving(garage):
    follower = Follower()
    follower.ears(garage)
    with pytest.raises(SceneError, match="desk"):
        follower.ears(moved(garage, "speakers", 0, (1.3, 1.35, 0.715)))
    assert follower.ears(garage).arrivals.order.size


def test_moving_a_cloud_changes_centre_and_drop():
    scene = load_scene(SCENES / "treated-box.toml")
    old = scene.clouds[0]
    start = np.mean([panel.centre for panel in old.panels], axis=0) if old.panels else np.array(old.centre)
    there = moved(scene, "clouds", 0, (*(start + 0.05), old.drop + 0.02))
    new = there.clouds[0]
    end = np.mean([panel.centre for panel in new.panels], axis=0) if new.panels else np.array(new.centre)
    assert end == pytest.approx(start + 0.05, abs=1e-12)
    assert new.drop == pytest.approx(old.drop + 0.02, abs=1e-12)


def test_a_moved_panel_moves_in_the_room():
    scene = load_scene(SCENES / "treated-box.toml")
    follower = Follower()
    before = follower.ears(scene).room.panels[0]
    centre = scene.panels[0].centre
    after = follower.ears(moved(scene, "panels", 0, (centre[0] + 0.05, centre[1]))).room.panels[0]
    assert np.linalg.norm(after.centre - before.centre) == pytest.approx(0.05, abs=1e-9)


@pytest.mark.parametrize(
    ("kind", "step"), [("panels", (0.1, 0.05)), ("clouds", (-0.1, 0.05)), ("stands", (-0.02, -0.01))]
)
def test_what_hangs_is_followed_as_if_the_room_were_built_anew(kind, step):
    scene = load_scene(SCENES / "treated-box.toml")
    follower = Follower()
    first = follower.ears(scene)
    entry = getattr(scene, kind)[0]
    start = {
        "panels": lambda: entry.centre,
        "clouds": lambda: np.mean([panel.centre for panel in entry.panels], axis=0),
        "stands": lambda: entry.at,
    }[kind]()
    there = moved(scene, kind, 0, tuple(np.add(start, step)))
    quick, fresh = follower.ears(there), Follower().ears(there)
    # Walls are the same objects, so nothing about them was worked out again; the figures are the same bits.
    assert quick.room.facets[0] is first.room.facets[0]
    assert np.array_equal(quick.arrivals.level_db, fresh.arrivals.level_db)
    assert not np.array_equal(quick.arrivals.level_db, first.arrivals.level_db)


@pytest.mark.parametrize(
    ("name", "index", "step"),
    [("garage", 0, (0.0, 0.03, 0.0)), ("rented", 1, (0.01, 0.0, 0.0)), ("beams", 0, (0.02, 0.01, 0.0))],
)
def test_furniture_is_followed_as_if_the_room_were_built_anew(name, index, step):
    scene = load_scene(SCENES / f"{name}.toml")
    start = np.array(scene.objects[index].centre)
    follower = Follower()
    first = follower.ears(scene)
    for k in (1, 2):  # from the second step on there is something to remember
        there = moved(scene, "objects", index, tuple(start + np.multiply(k, step)))
        quick = follower.ears(there)
    fresh = Follower().ears(there)
    assert quick.room.facets[0] is first.room.facets[0]
    assert np.array_equal(quick.arrivals.level_db, fresh.arrivals.level_db)
    assert quick.peaks == fresh.peaks
    assert not np.array_equal(quick.arrivals.level_db, first.arrivals.level_db)


def test_a_cabinet_is_followed_as_if_the_room_were_built_anew(garage):
    bodied = garage.speakers[0].model_copy(update={"body": (0.25, 0.2, 0.35)})
    scene = garage.model_copy(update={"speakers": (bodied, *garage.speakers[1:])})
    follower = Follower()
    follower.ears(scene)
    for k in (1, 2):
        place = tuple(np.add(bodied.position, (0.0, 0.01 * k, 0.02 * k)))
        there = moved(scene, "speakers", 0, place)
        quick = follower.ears(there)
    fresh = Follower().ears(there)
    assert np.array_equal(quick.arrivals.level_db, fresh.arrivals.level_db)
    assert quick.peaks == fresh.peaks


def test_a_panel_moved_step_by_step_is_heard_as_in_the_room_built_anew():
    scene = load_scene(SCENES / "treated-box.toml")
    start = np.array(scene.panels[0].centre)
    follower = Follower()
    follower.ears(scene)
    for k in (1, 2, 3):
        there = moved(scene, "panels", 0, tuple(start + 0.03 * k))
        quick = follower.ears(there)
    fresh = Follower().ears(there)
    # Lines that are known are not summed in one go with the others: rounding, nothing else.
    assert np.abs(quick.arrivals.energy - fresh.arrivals.energy).max() < 1e-12
    assert [peak.verdict for peak in quick.peaks] == [peak.verdict for peak in fresh.peaks]


def test_peaks_of_what_did_not_move_are_kept(garage):
    follower = Follower()
    first = follower.ears(garage)
    there = moved(garage, "speakers", 0, (0.9, 0.8, 1.25))
    second = follower.ears(there)
    kept = [[peak for peak in study.peaks if peak.speaker == 2] for study in (first, second)]
    # The right speaker and the sub are heard in other rows where the left one has more or fewer paths.
    same_rows = len(first.arrivals.at(0, 0)) == len(second.arrivals.at(0, 0))
    assert all(own is before for before, own in zip(*kept, strict=True)) == same_rows
    assert second.peaks == Follower().ears(there).peaks


@pytest.mark.parametrize(("own", "other"), [(0, 1), (1, 0)])
def test_a_panel_moved_onto_another_is_refused_as_in_the_room_built_anew(own, other):
    scene = load_scene(SCENES / "treated-box.toml")
    beside = scene.panels[other].model_copy(
        update={"centre": tuple(np.add(scene.panels[own].centre, (0.7, 0.0)))}
    )
    beside = beside.model_copy(update={"surface": scene.panels[own].surface})
    panels = list(scene.panels)
    panels[other] = beside
    scene = scene.model_copy(update={"panels": tuple(panels)})
    follower = Follower()
    follower.ears(scene)
    there = moved(scene, "panels", own, tuple(np.add(scene.panels[own].centre, (0.3, 0.0))))
    with pytest.raises(SceneError, match="overlaps") as anew:
        build_room(there)
    with pytest.raises(SceneError) as followed:
        follower.ears(there)
    assert str(followed.value) == str(anew.value)
    assert follower.ears(scene).room.panels


def test_a_speaker_within_a_panel_that_stays_is_refused_once_another_moves():
    scene = load_scene(SCENES / "treated-box.toml")
    follower = Follower()
    panel = follower.ears(scene).room.panels[0]
    inside = tuple((panel.centre - 0.5 * panel.thickness_m * panel.normal).tolist())
    there = moved(scene, "speakers", 0, inside)
    there = moved(there, "panels", 1, tuple(np.add(scene.panels[1].centre, (0.05, 0.0))))
    with pytest.raises(SceneError, match="holds the speaker"):
        follower.ears(there)

import numpy as np
import pytest
from conftest import SCENES

from raytrace import build_room, find_arrivals, load_scene
from raytrace.candidates import find_candidates, place_entries
from raytrace.panelgrid import listening_axis, wanted_spots


def candidates_of(scene, build="wool 50"):
    room = build_room(scene)
    arrivals = find_arrivals(scene, room)
    spots = wanted_spots(scene, room, arrivals)
    return room, *find_candidates(scene, room, spots, [build], axis_m=listening_axis(scene))


@pytest.mark.parametrize("name", ["box", "ridge", "half-slope", "rented"])
def test_every_candidate_may_be_built_where_it_is(name):
    scene = load_scene(SCENES / f"{name}.toml")
    _, candidates, refusals = candidates_of(scene)
    assert candidates
    assert refusals
    for candidate in candidates[:: max(len(candidates) // 12, 1)]:
        kind = candidate.panel.key[0]
        build_room(scene.model_copy(update={kind: (candidate.entry,)}))  # raises where it is refused


def test_where_nothing_may_be_drilled_there_are_stands_only():
    _, candidates, refusals = candidates_of(load_scene(SCENES / "rented.toml"))
    assert {candidate.panel.kind for candidate in candidates} == {"stand"}
    assert any("may not be drilled" in refusal.reason for refusal in refusals)


def test_candidates_of_a_symmetric_room_come_in_pairs():
    _, candidates, _ = candidates_of(load_scene(SCENES / "garage.toml"))
    for index, candidate in enumerate(candidates):
        other = candidates[candidate.mirror]
        assert candidate.mirror >= 0
        assert other.mirror == index
        mirrored = candidate.panel.centre * [1, -1, 1] + [0, 2.7, 0]
        assert np.abs(other.panel.centre - mirrored).max() < 1e-3  # set out to the millimetre


def test_joists_decide_where_clouds_go():
    room, candidates, _ = candidates_of(load_scene(SCENES / "box.toml"))
    hung = [c for c in candidates if c.panel.kind == "cloud"]
    on_joists = [c for c in hung if c.n_battens == 0]
    assert len(on_joists) > len(hung) / 3
    for candidate in on_joists:
        across = room.surfaces[candidate.surface].frame.to_plane(candidate.panel.centre)[0]
        # Joists at 0.4 m from 0.4 m on: the middle is on one or half-way between two.
        assert (across / 0.2) == pytest.approx(round(across / 0.2), abs=1e-6)


def test_the_reason_against_a_window_names_it():
    _, candidates, refusals = candidates_of(load_scene(SCENES / "ridge.toml"))
    assert any('"roof window"' in refusal.reason for refusal in refusals)
    assert len(candidates)


def test_entries_keep_their_order_when_they_are_placed():
    scene = load_scene(SCENES / "rented.toml")
    room, candidates, _ = candidates_of(scene)
    entries = [candidate.entry for candidate in candidates][::-1]
    assert [panel.name for panel in place_entries(scene, room, entries)] == [entry.name for entry in entries]

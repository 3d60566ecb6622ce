from dataclasses import replace

import numpy as np
import pytest

from raytrace import build_room, find_arrivals, load_scene
from raytrace.making import find_battens, find_hooks
from raytrace.proposing.candidates import find_candidates, place_entries
from raytrace.proposing.choice import pose
from raytrace.proposing.panelgrid import BESIDE_M, HOLDS_M, WantedSpot
from raytrace.scene import Cloud
from tests.support.places import heard, places_in, shipped_places
from tests.support.scenes import HARD_WALLS, SCENES


@pytest.mark.parametrize("name", ["box", "ridge", "half-slope", "rented"])
def test_every_candidate_may_be_built_where_it_is(name):
    scene, _, candidates, refusals = shipped_places(name)
    assert candidates
    assert refusals
    for candidate in candidates[:: max(len(candidates) // 12, 1)]:
        kind = candidate.panel.key[0]
        build_room(scene.model_copy(update={kind: (candidate.entry,)}))  # raises where it is refused


def test_where_nothing_may_be_drilled_there_are_stands_only():
    _, _, candidates, refusals = shipped_places("rented")
    assert {candidate.panel.kind for candidate in candidates} == {"stand"}
    assert any("may not be drilled" in str(refusal.reason) for refusal in refusals)


def test_candidates_of_a_symmetric_room_come_in_pairs():
    _, _, candidates, _ = shipped_places("garage")
    for index, candidate in enumerate(candidates):
        other = candidates[candidate.mirror]
        assert candidate.mirror >= 0
        assert other.mirror == index
        mirrored = candidate.panel.centre * [1, -1, 1] + [0, 2.7, 0]
        assert np.abs(other.panel.centre - mirrored).max() < 1e-3  # set out to the millimetre


def test_joists_decide_where_clouds_go():
    _, room, candidates, _ = shipped_places("box")
    hung = [c for c in candidates if c.panel.kind == "cloud"]
    on_joists = [c for c in hung if c.n_battens == 0]
    assert len(on_joists) > len(hung) / 3
    for candidate in on_joists:
        across = room.surfaces[candidate.surface].frame.to_plane(candidate.panel.centre)[0]
        # Joists at 0.4 m from 0.4 m on: the middle is on one or half-way between two.
        assert (across / 0.2) == pytest.approx(round(across / 0.2), abs=1e-6)


def test_a_panel_holds_what_meets_it_well_inside_and_half_of_what_meets_its_edge():
    scene = load_scene(SCENES / "box.toml")
    room = build_room(scene)
    wall = next(k for k, surface in enumerate(room.surfaces) if surface.name == "left wall")
    first, weak = np.array([2.1, 1.2]), np.array([0.9, 1.2])
    spots = (WantedSpot(wall, first, 4.0), WantedSpot(wall, weak, 0.04))
    candidates, _ = find_candidates(scene, room, spots, ["wool 50"], axis_m=None)
    inside = []
    for candidate in candidates:
        uv = room.surfaces[wall].frame.to_plane(candidate.panel.corners)
        depth = (0.5 * np.ptp(uv, axis=0) - np.abs(first - uv.mean(axis=0))).min()
        inside.append((float(depth), candidate.held))
    # The weak spot weighs a ten-thousandth of the strong one.
    assert all(held == pytest.approx(1.0, abs=2e-4) for depth, held in inside if depth >= BESIDE_M)
    assert all(held == pytest.approx(0.0, abs=2e-4) for depth, held in inside if depth <= -BESIDE_M)
    partly = [(depth, held) for depth, held in inside if abs(depth) < BESIDE_M]
    assert all((held >= 0.5) is (depth >= 0.0) for depth, held in partly if abs(depth) > 1e-3)
    assert [held for _, held in sorted(partly)] == pytest.approx(sorted(h for _, h in partly), abs=2e-4)
    assert max(depth for depth, _ in inside) >= BESIDE_M


def test_a_mirror_point_is_held_by_what_has_it_well_inside_and_no_other_spot_counts_as_one():
    scene = load_scene(SCENES / "box.toml")
    room = build_room(scene)
    wall = room.surface_index("left wall")
    mirror_point = np.array([2.1, 1.2])
    spots = (
        WantedSpot(wall, np.array([2.4, 1.5]), 9.0),
        WantedSpot(wall, mirror_point, 0.0, is_mirror_point=True),
    )
    candidates, _ = find_candidates(scene, room, spots, ["wool 50"], axis_m=None)
    assert {candidate.mirror_points for candidate in candidates} == {frozenset({1})}
    for candidate in candidates:
        uv = room.surfaces[wall].frame.to_plane(candidate.panel.corners)
        inside = (0.5 * np.ptp(uv, axis=0) - np.abs(mirror_point - uv.mean(axis=0))).min()
        assert (1 in candidate.holds) is bool(inside >= HOLDS_M)
    assert 0 < sum(bool(candidate.holds) for candidate in candidates) < len(candidates)


def test_the_reason_against_a_window_names_it():
    _, _, candidates, refusals = shipped_places("ridge")
    assert any('"roof window"' in str(refusal.reason) for refusal in refusals)
    assert len(candidates)


def test_entries_keep_their_order_when_they_are_placed():
    scene, room, candidates, _ = shipped_places("rented")
    entries = [candidate.entry for candidate in candidates][::-1]
    assert [panel.name for panel in place_entries(scene, room, entries)] == [entry.name for entry in entries]


def test_neighbours_on_the_grid_leave_room_for_both_frames_and_stand_no_farther_than_they_must():
    _, _, candidates, _ = shipped_places("garage")
    on_wall = [c for c in candidates if c.panel.kind == "surface" and c.panel.turned == 90]
    clear = {
        round(float(b.panel.rect[0] - a.panel.rect[2]), 3)
        for a in on_wall
        for b in on_wall
        if a.surface == b.surface and abs(a.panel.rect[1] - b.panel.rect[1]) < 1e-6
    }
    assert 0.04 in clear  # two frames of 20 mm
    clash = pose(None, tuple(candidates), (), symmetric=False).clash  # no arrival has a say in it
    for a, b in np.argwhere(~clash):
        first, second = candidates[a].panel, candidates[b].panel
        if a != b and first.surface == second.surface and first.kind == second.kind == "surface":
            apart = np.maximum(first.rect[:2] - second.rect[2:], second.rect[:2] - first.rect[2:]).max()
            assert apart >= 0.04 - 0.0006  # half a millimetre is let pass


def test_no_candidate_hangs_where_nothing_known_holds_it_and_the_reason_is_kept():
    scene, room, candidates, refusals = shipped_places("garage")
    hung = [c for c in candidates if c.panel.kind == "cloud"]
    assert hung
    for candidate in hung:
        alone = replace(room, panels=(candidate.panel,))
        hooks = find_hooks(scene, alone)
        carried = {hook.key for batten in find_battens(scene, alone, hooks) for hook in batten.hooks}
        assert all(hook.joist is not None or hook.key in carried for hook in hooks)
        assert candidate.n_battens == sum(hook.batten for hook in hooks)
    beyond = [refusal for refusal in refusals if refusal.would_fit]
    assert beyond
    assert all("beyond the first or last known joist" in str(refusal.reason) for refusal in beyond)


def test_stands_before_a_window_only_where_the_scene_allows_them():
    text = (SCENES / "rented.toml").read_text()
    forbidden = load_scene(SCENES / "rented.toml", text.replace("stands = true", "stands = false"))
    _, *allowed = shipped_places("rented")
    for places, may in ((allowed, True), (places_in(forbidden, heard("rented")), False)):
        room, candidates, refusals = places
        window = next(opening for opening in room.openings if opening.kind == "window")
        rects = [c.panel.rect for c in candidates if c.panel.surface == window.surface]
        shared = [np.minimum(r[2:], window.rect[2:]) - np.maximum(r[:2], window.rect[:2]) for r in rects]
        assert any((size > 0.0).all() for size in shared) is may
        assert any("stand before the window" in str(refusal.reason) for refusal in refusals) is not may


def test_on_a_steep_slope_panels_are_fixed_and_under_a_flat_ceiling_they_hang():
    _, room, candidates, _ = shipped_places("half-slope")
    kinds = {room.surfaces[c.surface].name: c.panel.kind for c in candidates}
    assert kinds["left slope"] == "surface"
    assert kinds["ceiling"] == "cloud"


@pytest.mark.parametrize("first", [0.4, 1.0, 3.6])
def test_knowing_the_studs_puts_no_stand_where_a_wall_panel_was(first):
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    for wall in ("left", "right"):
        text += f'\n[[joists]]\nsurface = "{wall} wall"\nalong = "v"\nfirst = {first}\nspacing = 0.6\n'
    scene = load_scene(SCENES / "box.toml", text)
    room, candidates, _ = places_in(scene, heard("box"))  # studs reflect nothing
    kinds = {c.panel.kind for c in candidates if room.surfaces[c.surface].name in ("left wall", "right wall")}
    assert kinds == {"surface"}


def test_what_hangs_beside_a_cloud_hangs_as_deep():
    cloud = """
[[clouds]]
name = "there"
surface = "ceiling"
build = "wool 30"
centre = [3.2, 1.5]
rows = 1
columns = 1
drop = 0.16
"""
    drops = []
    for more in ("", cloud):
        scene = load_scene("hard-walls.toml", HARD_WALLS + more)
        arrivals = find_arrivals(scene, build_room(scene), up_to_order=1)
        _, candidates, _ = places_in(scene, arrivals)
        drops.append({c.entry.drop for c in candidates if isinstance(c.entry, Cloud)})
    assert drops == [{0.1}, {0.16}]

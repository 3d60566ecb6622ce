from dataclasses import replace

import numpy as np
import pytest

from raytrace import build_room, load_scene, run_study
from raytrace.making import with_frame
from raytrace.proposing.candidates import place_entries
from raytrace.proposing.panelgrid import (
    TOP_GAP_M,
    WantedSpot,
    grid_places,
    listening_axis,
    wanted_spots,
)
from raytrace.scene import Stand
from tests.support.scenes import SCENES


def test_the_listening_axis_is_where_the_speakers_mirror_each_other():
    assert listening_axis(load_scene(SCENES / "box.toml")) == 1.5
    askew = (SCENES / "box.toml").read_text().replace('["750 mm", "900 mm"', '["750 mm", "800 mm"')
    assert listening_axis(load_scene(SCENES / "box.toml", askew)) is None


def test_only_spots_of_peaks_over_the_limit_are_wanted():
    scene = load_scene(SCENES / "elbow.toml")
    study = run_study(scene)
    over = {name for peak in study.peaks if peak.over_limit for name in peak.facets}
    met = {surface for facet in over if (surface := study.room.facets[facet].surface) is not None}
    found = {spot.surface for spot in wanted_spots(scene, study.room, study.arrivals)}
    assert met <= found
    quiet = scene.model_copy(update={"limits": replace(scene.limits, below_db=1.0)})
    assert wanted_spots(quiet, study.room, study.arrivals) == ()


def test_spots_of_a_symmetric_room_mirror_each_other():
    scene = load_scene(SCENES / "garage.toml")
    study = run_study(scene)
    spots = wanted_spots(scene, study.room, study.arrivals)
    points = [study.room.surfaces[s.surface].frame.to_room(s.uv) for s in spots]
    y = np.array([point[1] for point in points]) - 1.35
    assert abs(np.sort(y) + np.sort(y)[::-1]).max() < 1e-6  # to the micrometre: the search rounds at 1e-9


def test_what_leans_rests_on_the_wall_and_stands_on_the_floor():
    scene = load_scene(SCENES / "rented.toml")
    room = build_room(scene)
    spot = WantedSpot(room.surface_index("left wall"), np.array([2.0, 0.6]), 1.0)
    places = grid_places(scene, room, [spot], "wool 100", {}, None)
    leaning = [e for place in places for e in place.options if getattr(e, "lean", 0.0) > 0.0]
    assert leaning
    for panel in place_entries(scene, room, leaning):
        assert with_frame(panel).rear[:, 1].min() == pytest.approx(TOP_GAP_M, abs=1e-4)  # set out to 0.1 mm
        assert panel.corners[:, 2].min() >= 0.0
        assert panel.rear[:, 2].min() == pytest.approx(0.0, abs=1e-9)  # in closed form


@pytest.mark.parametrize(("turned", "stacked"), [(0, 3), (90, 2)])
def test_stands_stand_on_the_floor_and_are_high_enough(turned, stacked):
    scene = load_scene(SCENES / "rented.toml")
    room = build_room(scene)
    spot = WantedSpot(room.surface_index("left wall"), np.array([2.0, 1.2]), 1.0)
    places = grid_places(scene, room, [spot], "wool 50", {}, None)
    stands = [e for p in places for e in p.options if isinstance(e, Stand) and e.turned == turned]
    assert all(entry.lift == 0.0 for entry in stands)
    high = [panel for panel in place_entries(scene, room, stands) if panel.stacked == stacked]
    assert high
    # At ear height 1.2 m: two slabs of 1.2 m or three of 0.6 m, with two timbers of 20 mm between each two.
    tall_m = {0: 3 * 0.6 + 2 * 0.04, 90: 2 * 1.2 + 0.04}[turned]
    for panel in high:
        assert panel.rect[1] == pytest.approx(0.0, abs=1e-4)  # set out to 0.1 mm
        assert panel.rect[3] == pytest.approx(tall_m, abs=1e-4)


def test_panels_are_held_up_off_the_floor_only_where_the_scene_says_so():
    plain = load_scene(SCENES / "rented.toml")
    raised = plain.model_copy(update={"job": plain.job.model_copy(update={"raised": True})})
    lifts = []
    for scene in (plain, raised):
        room = build_room(scene)
        spot = WantedSpot(room.surface_index("left wall"), np.array([2.0, 1.2]), 1.0)
        places = grid_places(scene, room, [spot], "wool 50", {}, None)
        lifts.append(max(e.lift for p in places for e in p.options if isinstance(e, Stand)))
    assert lifts[0] == 0.0
    assert lifts[1] > 0.5


def test_nothing_leans_against_a_spot_that_it_cannot_reach_from_the_floor():
    scene = load_scene(SCENES / "rented.toml")
    room = build_room(scene)
    spot = WantedSpot(room.surface_index("left wall"), np.array([2.0, 1.9]), 1.0)
    places = grid_places(scene, room, [spot], "wool 100", {}, None)
    entries = [e for place in places for e in place.options]
    assert entries
    assert all(getattr(e, "lean", 0.0) == 0.0 for e in entries)


def test_a_panel_at_an_edge_leaves_room_for_its_frame_and_what_leans_still_stands_on_the_floor():
    scene = load_scene(SCENES / "box.toml")
    room = build_room(scene)
    frame_m = 0.020  # 20 x 50 timber stands round the slab: the build's usual frame
    for name, corner in (("ceiling", (0.0, 0.0)), ("left wall", (0.0, 0.3))):
        surface = room.surface_index(name)
        frame = room.surfaces[surface].frame
        spot = WantedSpot(surface, np.array(corner), 1.0)
        places = grid_places(scene, room, [spot], "wool 50", {}, None)
        panels = place_entries(scene, room, [entry for place in places for entry in place.options])
        hung = [panel for panel in panels if panel.kind != "stand"]
        assert len(hung) > 2
        for panel in hung:
            u0, v0, u1, _ = panel.rect
            assert min(u0, frame.width - u1) >= frame_m - 1e-4  # set out to 0.1 mm
            assert v0 >= frame_m - 1e-4
    stands = [panel for panel in panels if panel.kind == "stand"]
    assert any(panel.rect[1] == pytest.approx(0.0, abs=1e-4) for panel in stands)

from dataclasses import replace

import numpy as np
import pytest
from conftest import SCENES

from raytrace import build_room, load_scene, run_study
from raytrace.candidates import place_entries
from raytrace.panelgrid import TOP_GAP_M, _stand, listening_axis, wanted_spots


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
    wall = room.surfaces[room.surface_index("left wall")]
    stand = _stand("a", scene.build("wool 100"), "wool 100", wall.frame, np.array([2.0, 0.6]), 90, None)
    (panel,) = place_entries(scene, room, [stand])
    assert panel.back[:, 1].min() == pytest.approx(TOP_GAP_M, abs=1e-4)  # set out to 0.1 mm
    assert panel.corners[:, 2].min() >= 0.0
    assert panel.back[:, 2].min() == pytest.approx(0.0, abs=1e-9)  # in closed form
    high = _stand("b", scene.build("wool 100"), "wool 100", wall.frame, np.array([2.0, 1.2]), 90, None)
    assert high is None

from dataclasses import replace

import numpy as np
from conftest import SCENES

from raytrace import load_scene, run_study
from raytrace.panelgrid import listening_axis, wanted_spots


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

import os
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

sys.path.insert(0, str(Path(__file__).parent))  # oracles.py and broken_scenes.py are test data, not a package

from raytrace import Scene, load_scene

# The same examples in every run, and no time limit on a busy machine.
settings.register_profile(
    "hitspot",
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
settings.load_profile("hitspot")


def pytest_collection_modifyitems(items):
    """A file's tests stay together, and so do all that open windows: they share one display."""
    for item in items:
        group = "window" if "qtbot" in getattr(item, "fixturenames", ()) else item.path.name
        item.add_marker(pytest.mark.xdist_group(group))


SCENES = Path(__file__).parent.parent / "scenes"
DATA = Path(os.environ.get("HITSPOT_DATA", Path(__file__).parent.parent.parent / "shared" / "data"))

BOX = """
title = "test room"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.6
[surfaces]
default = "hard"
[materials.hard]
absorption = [0, 0, 0, 0, 0, 0, 0, 0]
scattering = 0
source = "invented for the test"
[[speakers]]
name = "left"
position = [1.0, 1.3, 1.2]
directivity = "omni"
[[seats]]
name = "mix"
ears = [3.2, 2.0, 1.2]
"""

# With the head off the middle the right wall, below the limit by itself, arrives together with left wall
# then ceiling: only the two together are over it.
BEDROOM = """
title = "bedroom"
[room]
shape = "box"
length = 4.6
width = 3.4
height = 2.45
[surfaces]
default = "plasterboard"
[[speakers]]
name = "left"
position = [0.57, 1.02, 1.2]
directivity = "two-way"
[[seats]]
name = "mix"
ears = [1.75, 1.7, 1.2]
"""


@pytest.fixture
def scene_of(tmp_path):
    """Turns the text of a scene into a Scene."""

    def load(text: str, name: str = "scene.toml") -> Scene:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return load_scene(path)

    return load


HARD_WALLS = """
title = "test room"
[room]
shape = "box"
length = 4.2
width = 3.0
height = 2.4
[surfaces]
default = "plasterboard"
floor = "deep"
[materials.deep]
absorption = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
source = "invented for the test"
[[speakers]]
name = "left"
position = [0.75, 0.9, 1.2]
[[seats]]
name = "mix"
ears = [1.79, 1.5, 1.1]
zone = [0.05, 0.05, 0.02]
[limits]
below_db = 15
within_ms = 12
from_hz = 1000
to_hz = 8000
"""


@pytest.fixture
def small(scene_of):
    """A scene and the problem of twelve places in it that overlap here and there."""
    from raytrace import build_room, find_arrivals
    from raytrace.candidates import find_candidates
    from raytrace.choice import Supply, excess_db, pose
    from raytrace.panelgrid import wanted_spots
    from raytrace.surrogate import build_surrogate

    scene = scene_of(HARD_WALLS)
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=2)
    spots = wanted_spots(scene, room, arrivals)
    candidates, _ = find_candidates(scene, room, spots, ["wool 50"], axis_m=None)
    surrogate = build_surrogate(scene, room, arrivals, candidates)
    supplies = (Supply("wool 50", 0, True, 40.0),)
    every = pose(surrogate, candidates, supplies, symmetric=False)
    helpful = sorted(range(len(candidates)), key=lambda k: (excess_db(every.levels_db((k,))), k))
    twelve = tuple(candidates[k] for k in sorted(helpful[::3][:12]))
    surrogate = build_surrogate(scene, room, arrivals, twelve)
    return scene, pose(surrogate, twelve, supplies, symmetric=False)

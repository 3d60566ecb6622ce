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


@pytest.fixture
def scene_of(tmp_path):
    """Turns the text of a scene into a Scene."""

    def load(text: str, name: str = "scene.toml") -> Scene:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return load_scene(path)

    return load

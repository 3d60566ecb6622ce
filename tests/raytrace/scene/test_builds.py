"""Builds that come with the program: usual sizes, plain values, and open to every scene by name."""

import pytest

from raytrace import SceneError, load_scene
from raytrace.scene.builds import load_builds

BOX = """
[room]
shape = "box"
length = 4.2
width = 3.0
height = 2.4
[surfaces]
default = "plasterboard"
[[speakers]]
name = "left"
position = [0.75, 0.90, 1.20]
[[seats]]
name = "mix"
ears = [1.79, 1.50, 1.20]
[[panels]]
name = "P"
surface = "left wall"
"""


def scene_of(tmp_path, text):
    path = tmp_path / "scene.toml"
    path.write_text(BOX + text, encoding="utf-8")
    return load_scene(path)


def test_slabs_come_in_the_usual_metric_and_imperial_sizes():
    sizes = {tuple(round(1000 * side) for side in build.size) for build in load_builds().values()}
    assert sizes == {(1200, 600), (1000, 600), (1219, 610), (610, 610)}
    metric = {round(1000 * b.thickness) for b in load_builds().values() if b.size == (1.2, 0.6)}
    assert metric == {30, 50, 75, 100, 150, 200}


def test_every_build_of_the_library_can_be_weighed_and_framed():
    for build in load_builds().values():
        assert build.density is not None
        assert build.frame is not None


def test_a_scene_may_name_a_build_of_the_library(tmp_path):
    scene = scene_of(tmp_path, 'build = "wool 100"\ncentre = [3.0, 1.2]\n')
    assert scene.build("wool 100") is load_builds()["wool 100"]


def test_a_build_of_the_scene_goes_before_one_of_the_library(tmp_path):
    own = '[builds."wool 100"]\nsize = [0.6, 0.6]\nthickness = 0.1\nflow_resistivity = 7000\n'
    scene = scene_of(tmp_path, 'build = "wool 100"\ncentre = [3.0, 1.2]\n' + own)
    assert scene.build("wool 100").flow_resistivity == 7000


def test_a_misspelt_build_is_answered_with_the_nearest_of_the_library(tmp_path):
    with pytest.raises(SceneError, match='unknown build "wol 100", did you mean "wool 100"'):
        scene_of(tmp_path, 'build = "wol 100"\ncentre = [3.0, 1.2]\n')

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


OWN = '[builds.{name}]\nlike = "{like}"\n{more}'
PANEL = 'build = "{}"\ncentre = [3.0, 1.2]\n'


def test_what_a_build_leaves_out_comes_from_the_one_it_is_like(tmp_path):
    facing = "facing = { resistance = 30, mass = 0.2 }"
    text = (
        PANEL.format("c")
        + OWN.format(name="c", like="b", more='thickness = "80 mm"\n')  # before what it is like
        + OWN.format(name="b", like="wool 100", more=facing + '\nback = "solid"\n')
    )
    made, library = scene_of(tmp_path, text).build("c"), load_builds()["wool 100"]
    assert (made.thickness, made.back, made.facing.resistance) == (0.08, "solid", 30.0)
    kept = ("size", "flow_resistivity", "density", "frame", "pack")
    assert [getattr(made, key) for key in kept] == [getattr(library, key) for key in kept]


def test_a_build_like_its_own_name_is_the_librarys_but_for_what_it_says(tmp_path):
    text = PANEL.format("wool 100") + OWN.format(name='"wool 100"', like="wool 100", more="density = 30\n")
    made = scene_of(tmp_path, text).build("wool 100")
    assert made.density == 30.0
    assert made.thickness == load_builds()["wool 100"].thickness


def test_a_price_stands_in_prices_or_in_the_entry_or_where_the_build_is_like(tmp_path):
    text = (
        PANEL.format("wool 100")
        + '[prices]\n"wool 100" = 95\nb = 60.5\n'
        + OWN.format(name="a", like="wool 100", more="density = 30\n")
        + OWN.format(name="b", like="a", more="density = 20\n")
        + OWN.format(name="c", like="b", more="price = 10\n")
        + OWN.format(name="d", like="c", more="density = 20\n")
        + OWN.format(name="e", like="wool 50", more="density = 20\n")
    )
    scene = scene_of(tmp_path, text)
    prices = {name: scene.build(name).price for name in ("wool 100", *"abcde", "wool 50")}
    assert prices == {"wool 100": 95, "a": 95, "b": 60.5, "c": 10, "d": 10, "e": None, "wool 50": None}


def test_what_is_wrong_in_a_build_is_shown_where_it_stands_not_where_it_is_taken_over(tmp_path):
    text = PANEL.format("b") + OWN.format(name="b", like="a", more="")
    text += OWN.format(name="a", like="wool 100", more="thickness = 5.0\n")
    with pytest.raises(SceneError, match=r"builds\.a\.thickness"):
        scene_of(tmp_path, text)

"""The data behind the page: every path once, faces turned into the air, before matched with after."""

import json

import numpy as np
import pytest
from conftest import BOX, SCENES

from raytrace import load_scene, run_study
from viewer.meshes import shown_rows
from viewer.pagecontents import page_contents
from viewer.pagewords import path_rows

SOFT = """
[materials.soft]
absorption = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
scattering = 0
source = "invented for the test"
"""
DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [2.1, 1.6, 0.7]
size = [0.6, 1.4, 0.04]
material = "wood"
"""

PANEL = """
[[panels]]
name = "soft one"
surface = "left wall"
build = "wool 100"
centre = [2.9, 1.2]
gap = "50 mm"
"""


@pytest.fixture(scope="module")
def ridge():
    return run_study(load_scene(SCENES / "ridge.toml"), up_to_order=2)


@pytest.fixture(scope="module")
def contents(ridge):
    return page_contents(ridge)


def state_of(contents):
    assert len(contents["states"]) == 1
    return contents["states"][0]


def test_it_is_plain_data_without_holes(contents):
    json.dumps(contents, allow_nan=False)


def test_every_early_reflection_of_a_main_speaker_is_a_path_once(ridge, contents):
    table = ridge.arrivals
    paths = state_of(contents)["paths"]
    assert len(paths) == len(path_rows(ridge))
    for row, path in zip(path_rows(ridge), paths, strict=True):
        points = table.path_points[row, : table.order[row] + 2]
        assert np.allclose(path["points"], points, atol=0.00051)  # written in whole millimetres
        assert len(path["spots"]) == table.order[row]
        assert path["speaker"] == table.speaker_names[table.speaker[row]]


def test_layers_hold_what_the_pictures_show_and_more(ridge, contents):
    layer_of = {
        row: path["layer"] for row, path in zip(path_rows(ridge), state_of(contents)["paths"], strict=True)
    }
    shown = shown_rows(ridge)
    assert {layer_of[row] for row in shown.main} <= {"over", "first"}
    alone = shown.main[ridge.arrivals.zone_worst_db[shown.main] > -ridge.scene.limits.below_db]
    assert len(alone)
    assert {layer_of[row] for row in alone} == {"over"}


def test_the_list_calls_above_the_limit_only_what_is_so_alone():
    study = run_study(load_scene(SCENES / "cupboard.toml"))
    limit, n_joint = study.scene.limits.below_db, 0
    for path in state_of(page_contents(study))["paths"]:
        assert (path["verdict"] == "above the limit") == (path["rank"] > -limit)
        assert (path["layer"] == "over") == (path["verdict"] != "")
        if path["verdict"] == "together above the limit":
            assert "below the limit by itself, " in path["text"]
            n_joint += 1
    assert n_joint > 0


def test_faces_of_the_room_are_wound_towards_the_air(contents):
    skins = [skin for skin in state_of(contents)["skins"] if skin["kind"] == "face"]
    planes = np.array(state_of(contents)["planes"])
    area = 0.0
    for skin in skins:
        a, b, c = np.reshape(skin["triangles"], (-1, 3, 3)).swapaxes(0, 1)
        normals = np.cross(b - a, c - a)
        lengths = np.linalg.norm(normals, axis=1)
        area += lengths.sum() / 2
        large = lengths > 1e-3  # slivers written in millimetres have no direction to speak of
        units = normals[large] / lengths[large, None]
        # Turned the same way as one of the room's planes that they lie in; a millimetre over 0.1 m is 0.01.
        fits = (units @ planes[:, :3].T > 0.99) & (np.abs(a[large] @ planes[:, :3].T - planes[:, 3]) < 0.002)
        assert fits.any(axis=1).all()
    assert area > 60  # m2: the floor alone is about 20


def test_a_switch_is_offered_only_for_what_is_there(scene_of, contents):
    bare = page_contents(run_study(scene_of(BOX), up_to_order=1))
    assert "objects" not in {layer["key"] for layer in bare["layers"]}
    assert "objects" in {layer["key"] for layer in contents["layers"]}
    for state in (*bare["states"], *contents["states"]):
        used = {thing["layer"] for key in ("skins", "lines", "paths", "names") for thing in state[key]}
        assert used <= {"room", *contents["layers_on"]}


def test_a_panel_is_drawn_named_and_touched_at_its_face(scene_of):
    hung = run_study(scene_of(BOX + PANEL), up_to_order=1)
    state = state_of(page_contents(hung, units="metric"))
    (skin,) = (skin for skin in state["skins"] if skin["layer"] == "panels")
    assert skin["text"] == "Soft one: wool 100, 1.20 m × 0.60 m, 100 mm thick, 50 mm of air behind"
    corners = np.reshape(skin["triangles"], (-1, 3))
    frame = 0.02  # m: what the build adds round its slab
    assert np.ptp(corners, axis=0) == pytest.approx([1.2, 0.1, 0.6], abs=2 * frame + 0.001)
    assert corners[:, 1].min() == pytest.approx(0.05, abs=0.0005)  # written in whole millimetres
    path = next(path for path in state["paths"] if path["way"].startswith("Soft one"))
    assert path["points"][1][1] == path["spots"][0][0][1] == pytest.approx(0.15, abs=0.0005)
    assert any(name["text"] == "soft one" and name["layer"] == "panels" for name in state["names"])


def test_before_and_after_name_each_others_levels(scene_of):
    before = run_study(scene_of(BOX), up_to_order=1)
    soft = BOX.replace("[surfaces]", '[surfaces]\n"left wall" = "soft"').replace(
        "[materials.hard]",
        SOFT + "[materials.hard]",
    )
    after = run_study(scene_of(soft, "after.toml"), up_to_order=1)
    contents = page_contents(before, after)
    assert [state["name"] for state in contents["states"]] == ["Before", "After"]
    assert contents["change"].endswith(".")
    old, new = (
        next(path for path in state["paths"] if path["way"].startswith("Left wall"))
        for state in contents["states"]
    )
    # 90 % absorbed is 10 dB weaker.
    assert new["rank"] == pytest.approx(old["rank"] - 10.0, abs=0.02)  # written to 0.01 dB each
    assert f" After: {-new['rank']:.1f} dB weaker." in old["text"]
    assert f" Before: {-old['rank']:.1f} dB weaker." in new["text"]


def test_what_only_one_of_two_scenes_has_is_said_so(scene_of):
    before = run_study(scene_of(BOX), up_to_order=1)
    after = run_study(scene_of(BOX + DESK, "after.toml"), up_to_order=1)
    texts = [[path["text"] for path in state["paths"]] for state in page_contents(before, after)["states"]]
    assert any(text.startswith("Desk top") and text.endswith("Before: not there.") for text in texts[1])
    back = [[path["text"] for path in state["paths"]] for state in page_contents(after, before)["states"]]
    assert any(text.startswith("Desk top") and text.endswith("After: gone.") for text in back[0])

"""The data behind the page: every path once, faces turned into the air, before matched with after."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from raytrace import find_bass, find_hooks, load_scene, run_study
from tests.support.scenes import BOX, SCENES
from tests.support.studies import shipped_study
from viewer.page.bass import bass_section
from viewer.page.contents import page_contents
from viewer.page.words import path_rows
from viewer.pictures import shown_rows
from viewer.words import headline, judged, judged_how, strong_rows, today

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
    return shipped_study("ridge", up_to_order=2)


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
    strong = strong_rows(ridge)
    assert {row for row, layer in layer_of.items() if layer in ("over", "undecided")} == strong
    assert strong <= set(shown.main.tolist())
    assert {layer_of[row] for row in shown.main if row not in strong} == {"first"}


@pytest.fixture(scope="module")
def cupboard():
    return shipped_study("cupboard")


def test_lines_that_are_too_strong_together_say_with_what():
    # Floor and ceiling arrive at the same moment at ears and speakers in the middle of the height.
    study, n_joint = shipped_study("box", up_to_order=2), 0
    for path in state_of(page_contents(study))["paths"]:
        if path["layer"] == "over":
            assert re.search(r"with [a-z ,]*(floor|ceiling)[a-z ,]*, which arrives? at", path["text"])
            n_joint += 1
    assert n_joint > 0


def test_the_page_has_the_sentences_and_counts_of_the_reports_page_one(cupboard):
    state = state_of(page_contents(cupboard))
    assert state["findings"] == [
        judged_how(cupboard),
        *today(cupboard),
    ]  # what the report's page one is made of
    for figure, verdict in zip(headline(cupboard), judged(cupboard), strict=False):
        name = cupboard.arrivals.speaker_names[verdict.speaker]
        own = [peak for peak in state["peaks"] if peak["verdict"] == "over" and peak["speaker"] == name]
        assert len(own) == int(figure["figure"]) == verdict.n_over > 0
        if verdict.n_over > 1:
            assert f" {verdict.n_over} early reflections are too strong. " in " ".join(state["findings"])


def test_a_listed_reflection_leads_to_the_lines_that_it_is_drawn_as(cupboard):
    state = state_of(page_contents(cupboard))
    joint = [peak for peak in state["peaks"] if len(peak["paths"]) > 1]
    assert joint
    for peak in state["peaks"]:
        for index in peak["paths"]:
            path = state["paths"][index]
            assert (path["speaker"], path["seat"]) == (peak["speaker"], peak["seat"])
            assert path["layer"] == "over" or peak["verdict"] != "over"


def test_cords_and_hooks_are_drawn_where_they_hang():
    scene = load_scene(SCENES / "treated-box.toml")
    study = run_study(scene, up_to_order=1)
    hooks = find_hooks(study.scene, study.room)
    state = state_of(page_contents(study))
    assert np.allclose(state["hooks"], [hook.anchor for hook in hooks], atol=0.00051)  # whole millimetres
    (cords,) = (line for line in state["lines"] if line["kind"] == "cord")
    assert cords["layer"] == "panels"
    lengths = [np.linalg.norm(np.subtract(*ends)) for ends in cords["segments"]]
    hung = [hook.cord_m for hook in hooks if hook.kind == "cord"]
    assert len(hung) == 24
    assert np.allclose(lengths, hung, atol=0.0015)  # both ends in whole millimetres


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
    assert skin["text"] == (
        "Soft one: wool 100, 1.20 m x 0.60 m, 100 mm thick, 50 mm of air behind, held at 2 points"
    )
    corners = np.reshape(skin["triangles"], (-1, 3))
    frame = 0.02  # m: what the build adds round its slab
    assert np.ptp(corners, axis=0) == pytest.approx([1.2, 0.1, 0.6], abs=2 * frame + 0.001)
    assert corners[:, 1].min() == pytest.approx(0.05, abs=0.0005)  # written in whole millimetres
    path = next(path for path in state["paths"] if path["text"].startswith("Soft one panel, from"))
    assert path["points"][1][1] == path["spots"][0][0][1] == pytest.approx(0.15, abs=0.0005)
    assert any(name["text"] == "soft one panel" and name["layer"] == "panels" for name in state["names"])


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
    for kind, key in (("paths", "text"), ("peaks", "way")):
        old, new = (
            next(thing["text"] for thing in state[kind] if thing[key].startswith("Left wall"))
            for state in contents["states"]
        )
        was, now = (float(re.search(r"([\d.]+) dB weaker", text)[1]) for text in (old, new))
        # 90 % absorbed is 10 dB weaker, printed to 0.1 dB; a peak holds what arrives beside it as well.
        assert now == pytest.approx(was + 10.0, abs=0.11 if kind == "paths" else 1.0)
        assert old.endswith(f" After: {now} dB weaker.")
        assert new.endswith(f" Before: {was} dB weaker.")


def test_what_only_one_of_two_scenes_has_is_said_so(scene_of):
    before = run_study(scene_of(BOX), up_to_order=1)
    after = run_study(scene_of(BOX + DESK, "after.toml"), up_to_order=1)
    texts = [[path["text"] for path in state["paths"]] for state in page_contents(before, after)["states"]]
    assert any(text.startswith("Desk top") and text.endswith("Before: not there.") for text in texts[1])
    back = [[path["text"] for path in state["paths"]] for state in page_contents(after, before)["states"]]
    assert any(text.startswith("Desk top") and text.endswith("After: gone.") for text in back[0])


def test_edges_of_what_stands_against_a_wall_wait_for_no_face(scene_of):
    shelf = DESK.replace("desk", "shelf").replace("[2.1, 1.6, 0.7]", "[4.7, 3.3, 1.0]")
    contents = page_contents(run_study(scene_of(BOX + DESK + shelf), up_to_order=1))
    edges = contents["states"][0]["edges"]
    # Of the shelf's twelve edges the one in the corner of the room belongs to no face in the air.
    assert sum(not edge["facets"] for edge in edges if edge["layer"] == "objects") == 11
    assert all(edge["facets"] for edge in edges if edge["layer"] == "room")


def test_the_page_knows_whose_direct_sound_is_hidden(scene_of):
    screen = (
        '[[objects]]\nname = "screen"\nshape = "box"\nmaterial = "hard"\n'
        "centre = [2.0, 1.6, 1.2]\nsize = [0.1, 1.0, 1.0]\n"
    )
    state = state_of(page_contents(run_study(scene_of(BOX + screen), up_to_order=1)))
    assert state["hidden"] == [{"seat": "mix", "speaker": "left"}]
    assert {peak["verdict"] for peak in state["peaks"]} == {"not judged"}
    assert {path["layer"] for path in state["paths"]} <= {"first", "others"}
    assert any(line.startswith("Not judged: left speaker. The screen stands") for line in state["findings"])


def test_the_bass_is_there_when_asked_for_with_the_figures_that_were_found(ridge, contents):
    bass = find_bass(ridge.scene, ridge.room)
    asked = page_contents(ridge, bass=bass)
    assert "bass" not in [layer["key"] for layer in contents["layers"]]
    assert asked["layers_on"]["bass"] is False
    state = state_of(asked)
    areas = {}
    for skin in state["skins"]:
        if skin["layer"] == "bass":
            a, b, c = np.array(skin["triangles"]).reshape(-1, 3, 3).transpose(1, 0, 2)
            areas[skin["text"]] = np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2
    # Squares of 0.1 m between the places of the floor, each part of it in one band.
    assert 0.5 * 0.01 * len(bass.floor_m) < sum(areas.values()) < 0.01 * len(bass.floor_m)
    named = [name["text"] for name in state["names"] if name["layer"] == "bass"]
    assert named == [f"{k}: {place.evenness_db:.1f} dB" for k, place in enumerate(bass.places, 1)]
    section = bass_section(bass)
    assert section.count("<polyline") == 2
    assert f"now, from left and right, uneven by {bass.now_db:.1f} dB" in section
    both = replace(bass, evenness=(*bass.evenness, bass.evenness[0]))
    assert f"over the seats uneven by {bass.now_db:.1f} dB" in bass_section(both)
    assert bass_section(None) == ""

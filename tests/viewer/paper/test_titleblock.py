"""A title block says what, whose, which sheet, at what scale, and that local codes come first."""

import hashlib
import os

import pytest

from raytrace import load_scene
from tests.support.scenes import BOX
from viewer.paper.drafting import boxes_overlap
from viewer.paper.titleblock import TitleLines, block_mm, title_block

JOB = """
[job]
client = "a client with a rather long name, and its branch office"
place = "the room over the garage, second door on the left"
surveyed_by = "demo surveyor, laser"
survey_error = "3 mm"
author = "demo studio"
date = 2026-03-04
"""


@pytest.mark.parametrize("wide", [194.0, 281.0, 404.0])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_its_words_stay_in_it_and_clear_of_each_other(scene_of, wide, units):
    scene = scene_of(BOX + JOB)
    scale, in_words = (25, "1 : 25") if units == "metric" else (24, "1/2 in = 1 ft")
    lines = TitleLines(
        "Left slope, true shape", "Seen from inside, facing it.", scale, "A3", "Sheet 12 of 12"
    )
    marks = title_block(scene, lines, 8.0, 100.0, wide, units)
    boxes = [mark.box for mark in marks if mark.kind == "text"]
    assert not any(boxes_overlap(a, b) for i, a in enumerate(boxes) for b in boxes[:i])
    assert max(box[3] for box in boxes) <= 100.0 + block_mm(wide)
    assert max(box[2] for box in boxes) <= 8.0 + wide
    told = " ".join(mark.text for mark in marks if mark.kind == "text")
    assert in_words in told
    assert "Sheet 12 of 12" in told
    assert hashlib.sha256(scene.text.encode()).hexdigest()[:12] in told


def test_a_file_name_that_is_no_text_is_printed_all_the_same(tmp_path):
    scene = load_scene(tmp_path / os.fsdecode(b"caf\xe9.toml"), BOX.replace("title = ", "# "))
    marks = title_block(scene, TitleLines("Plan", "", None, "A4", "Sheet 1 of 1"), 8.0, 0.0, 281.0, "metric")
    told = [mark.text for mark in marks if mark.kind == "text"]
    assert "caf\N{REPLACEMENT CHARACTER}" in told
    assert "caf\N{REPLACEMENT CHARACTER}.toml" in told


def test_it_prints_no_date_that_was_not_given(scene_of):
    scene = scene_of(BOX)
    marks = title_block(scene, TitleLines("Plan", "", None, "A4", "Sheet 1 of 1"), 8.0, 0.0, 281.0, "metric")
    told = " ".join(mark.text for mark in marks if mark.kind == "text")
    assert "20" not in told.replace(hashlib.sha256(scene.text.encode()).hexdigest()[:12], "")
    assert "Local codes and licensed practice come first." in told

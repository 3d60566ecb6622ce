"""The SVG is the sheet: millimetres on paper, layers by name, words as wide as on the page."""

import json
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from raytrace import build_room
from tests.support.treatedrooms import treated_pages, treated_text
from viewer.sheets.drawings import draw_panels
from viewer.sheets.svgfile import svg_text

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def pages():
    return treated_pages("box")[2]


def test_its_units_are_millimetres_and_a_slab_of_1200_is_48_at_1_to_25(pages):
    root = ET.fromstring(svg_text(pages[0]))
    assert (root.get("width"), root.get("viewBox")) == ("420mm", "0 0 420 297")
    (panels,) = [group for group in root.iter(f"{SVG}g") if group.get("id") == "panels"]
    spans = []
    for polygon in panels.iter(f"{SVG}polygon"):
        corners = np.array([tuple(map(float, p.split(","))) for p in polygon.get("points").split()])
        spans.append(np.ptp(corners, axis=0))
    flat = [span for span in spans if span == pytest.approx([24.0, 48.0], abs=0.002)]  # three digits
    assert len(flat) == 3
    # The others are tilted by 8 degrees.
    tilted = [
        span for span in spans if span == pytest.approx([24.0, 48.0 * np.cos(np.radians(8))], abs=0.002)
    ]
    assert len(flat) + len(tilted) == len(spans) == 6


def test_every_word_of_the_sheet_is_in_it_once(pages):
    for page in pages:
        root = ET.fromstring(svg_text(page))
        found = sorted(text.text for text in root.iter(f"{SVG}text"))
        wanted = sorted(row for mark in page.marks if mark.kind == "text" for row in mark.text.split("\n"))
        assert found == wanted


def test_the_same_sheet_gives_the_same_text(pages):
    assert svg_text(pages[0]) == svg_text(pages[0])


@pytest.mark.parametrize("name", ["]]>", "<b>&amp;", "a & b", "'\"", "--><!--", "<![CDATA[x", "&#x0;"])
def test_a_hostile_name_is_text_to_a_reader_of_xml(scene_of, name):
    # As TOML has it between single quotes or double ones.
    quoted = json.dumps(name, ensure_ascii=False)
    scene = scene_of(treated_text("box").replace('title = "', f"title = {quoted} #", 1))
    assert scene.title == name
    for page in draw_panels(scene, build_room(scene)):
        found = [text.text for text in ET.fromstring(svg_text(page)).iter(f"{SVG}text")]
        wanted = [row for mark in page.marks if mark.kind == "text" for row in mark.text.split("\n")]
        assert sorted(found) == sorted(wanted)
        assert any(name in words for words in found)

"""What was measured, as a section of the page."""

import xml.etree.ElementTree as ET

from raytrace import Take, find_measured, hold_against, load_scene
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav
from viewer.page.measured import measured_section


def test_the_section_has_both_curves_and_no_markup_of_the_scene(tmp_path):
    assert measured_section(None) == ""
    (tmp_path / "box.toml").write_text(BOX.replace('"left"', '"<left>"'), encoding="utf-8")
    scene = load_scene(tmp_path / "box.toml")
    file = write_wav(tmp_path / "left.wav", pulses([0.0, 0.0029764], [1.0, 0.5], lasts_s=0.1))
    held = hold_against(scene, [Take(0, 0, file)], up_to_order=1, within_s=0.012)
    text = measured_section(find_measured([("measured", held)]))
    section = ET.fromstring(text)  # well-formed: what a name holds stays words
    svg = section.find("svg")
    curves = [line.get("points").split() for line in svg.findall("polyline")]
    assert len(curves) == 2
    places = [tuple(map(float, pair.split(","))) for curve in curves for pair in curve]
    assert all(0.0 <= x <= 330.0 and 0.0 <= y <= 190.0 for x, y in places)  # within the drawing
    assert "<left> at mix" in "".join(section.itertext())

"""One room has one look: the same faces in the same colours in pictures, window and page."""

import json
import re

import numpy as np
import pytest

from tests.support.studies import shipped_study
from viewer import look
from viewer.page import write_page
from viewer.pictures import column, loops_of, parts, set_stage
from viewer.window.scenery import scenery
from viewer.window.state import LAYERS, OnScreen, named_view

SIZE = (1000, 620)


def drawn(stage, palette):
    """All layers of faces."""
    named = parts.walls(stage, palette) | parts.panes(stage, palette) | parts.panels(stage, palette)
    named |= parts.speakers(stage, palette) | parts.seats(stage, palette)
    named["areas"] = parts.areas(stage, palette, stage.patches)
    return {name: layer for name, layer in named.items() if layer.radius_m == 0.0}


def area(corners):
    fans = [(corners[i] - corners[0], corners[i + 1] - corners[0]) for i in range(1, len(corners) - 1)]
    return sum(np.linalg.norm(np.cross(one, other)) / 2 for one, other in fans)


def areas_by_colour(layers):
    """Area of all faces of one colour. [m2]"""
    found = {}
    for layer in layers:
        for loop, colour in zip(loops_of(layer.mesh), layer.colours, strict=True):
            key = tuple(np.round(255 * colour).astype(int))
            found[key] = found.get(key, 0.0) + area(loop)
    return found


@pytest.mark.parametrize("name", ["box", "ridge", "treated-box"])
def test_page_and_window_draw_the_faces_of_the_pictures(name, tmp_path):
    study = shipped_study(name, up_to_order=2)
    stage = set_stage(study)
    wanted = areas_by_colour(drawn(stage, look.PRINT).values())
    shown = OnScreen(study=study, stage=stage, eye=named_view(stage, "room", SIZE), layers=frozenset(LAYERS))
    camera = shown.eye.camera(SIZE)
    window = scenery.walls(shown) | scenery.panes(shown, camera) | scenery.panels(shown, camera)
    window |= scenery.speakers(shown) | scenery.seats(shown) | scenery.areas(shown)
    faces = [layer for layer in window.values() if layer.radius_m == 0.0]
    assert areas_by_colour(faces) == pytest.approx(wanted, rel=1e-12)  # the same numbers in another sequence
    # Legs and stands are in pictures and on the page, not in the window; frames on walls in pictures alone.
    props = parts.props(stage, look.PRINT)["props"]
    legs = props.only(column(props.mesh, "surface") < 0)
    wanted = areas_by_colour([*drawn(stage, look.PRINT).values(), legs])
    page = {}
    text = write_page(study, tmp_path / "page.html").read_text(encoding="utf-8")
    (state,) = json.loads(re.search(r'id="room">(.*?)</script>', text, re.DOTALL)[1])["states"]
    for skin in state["skins"]:
        colour = tuple(int(skin["colour"][i : i + 2], 16) for i in (1, 3, 5))
        corners = np.reshape(skin["triangles"], (-1, 3, 3))
        page[colour] = page.get(colour, 0.0) + sum(area(triangle) for triangle in corners)
    assert page.keys() == wanted.keys()
    for colour, area_m2 in wanted.items():
        # Written in millimetres: each of the small faces of a head is off by some hundredths of its area.
        assert page[colour] == pytest.approx(area_m2, rel=0.02)

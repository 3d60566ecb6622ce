from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from raytrace import SceneError, build_room, find_arrivals, load_scene, with_prices, with_stock
from raytrace.proposing.candidates import find_candidates
from raytrace.proposing.panelgrid import listening_axis, wanted_spots
from raytrace.proposing.proposed_scene import name_panels, scene_text
from tests.support.scenes import SCENES


def candidates_of(scene):
    room = build_room(scene)
    spots = wanted_spots(scene, room, find_arrivals(scene, room, up_to_order=2))
    return room, find_candidates(scene, room, spots, ["wool 50"], axis_m=listening_axis(scene))[0]


def some(candidates, kind, count):
    found = [k for k, c in enumerate(candidates) if c.panel.kind == kind]
    return found[:: max(len(found) // count, 1)][:count]


def text_of(scene, room, candidates, chosen, out):
    named = name_panels(scene, room, candidates, chosen)
    answers = dict.fromkeys(chosen, "answers something")
    return scene_text(scene, candidates, named, answers=answers, out=out)


def test_the_old_text_stands_first_to_the_last_byte():
    scene = load_scene(SCENES / "box.toml")
    room, candidates = candidates_of(scene)
    text = text_of(scene, room, candidates, some(candidates, "surface", 1), SCENES / "new.toml")
    assert text.startswith((SCENES / "box.toml").read_text(encoding="utf-8"))
    assert "# answers something\n[[panels]]" in text


def test_what_is_written_is_read_back_in_the_same_place():
    scene = load_scene(SCENES / "half-slope.toml")
    room, candidates = candidates_of(scene)
    slope = [k for k, c in enumerate(candidates) if room.surfaces[c.surface].name == "left slope"][:1]
    chosen = [*some(candidates, "surface", 1), *slope]
    named = name_panels(scene, room, candidates, chosen)
    text = text_of(scene, room, candidates, chosen, SCENES / "new.toml")
    again = build_room(load_scene(SCENES / "new.toml", text))
    places = {panel.name: panel for panel in again.panels}
    for panel in named:
        was = candidates[panel.candidate].panel
        assert (
            np.abs(places[panel.name].corners - was.corners).max() < 1e-4
        )  # written to a tenth of a millimetre
        assert places[panel.name].acts_as == was.acts_as


def test_panels_of_one_ceiling_are_one_cloud():
    scene = load_scene(SCENES / "garage.toml")
    room, candidates = candidates_of(scene)
    chosen = [k for k, c in enumerate(candidates) if c.panel.kind == "cloud"][:2]
    named = name_panels(scene, room, candidates, chosen)
    assert [(n.name, n.group) for n in named] == [
        ("ceiling cloud 1", "ceiling cloud"),
        ("ceiling cloud 2", "ceiling cloud"),
    ]
    assert text_of(scene, room, candidates, chosen, SCENES / "new.toml").count("[[clouds]]") == 1


def test_names_in_use_are_passed_over():
    more = (
        '\n[[panels]]\nname = "left wall 1"\nsurface = "left wall"\nbuild = "wool 50"\ncentre = [0.7, 1.2]\n'
    )
    scene = load_scene(SCENES / "box.toml", (SCENES / "box.toml").read_text() + more)
    room, candidates = candidates_of(scene)
    left = [k for k, c in enumerate(candidates) if room.surfaces[c.surface].name == "left wall"][:1]
    assert name_panels(scene, room, candidates, left)[0].name == "left wall 2"
    numbered = [replace(s, name="wall 5") if s.name == "left wall" else s for s in room.surfaces]
    other = replace(room, surfaces=tuple(numbered))
    assert name_panels(scene, other, candidates, left)[0].name == "wall 5 panel 1"


def test_line_ends_of_windows_stay(tmp_path):
    path = tmp_path / "crlf.toml"
    path.write_bytes((SCENES / "box.toml").read_bytes().replace(b"\n", b"\r\n"))
    scene = load_scene(path)
    room, candidates = candidates_of(scene)
    text = text_of(scene, room, candidates, some(candidates, "surface", 1), tmp_path / "new.toml")
    assert text.startswith(path.read_bytes().decode())
    assert "\n" not in text.replace("\r\n", "")


def test_files_are_named_from_where_the_scene_goes(tmp_path):
    scene = load_scene(SCENES / "half-slope.toml")
    room, candidates = candidates_of(scene)
    out = tmp_path / "new.toml"
    again = load_scene(out, text_of(scene, room, candidates, some(candidates, "surface", 1), out))
    assert again.resolve(again.room.file).resolve() == (SCENES / "half-slope.obj").resolve()


def test_a_list_in_one_line_is_refused_with_the_line():
    inline = '\npanels = [{name = "a", surface = "left wall", build = "wool 50", centre = [0.7, 1.2]}]\n'
    text = (
        (SCENES / "box.toml").read_text().replace('\ntitle = "Box room"\n', '\ntitle = "Box room"' + inline)
    )
    scene = load_scene(SCENES / "box.toml", text)
    room, candidates = candidates_of(scene)
    with pytest.raises(SceneError, match=r"\[\[panels\]\]"):
        text_of(scene, room, candidates, some(candidates, "surface", 1), Path("new.toml"))


WORKSHOP = """
[stock]
"wool 50" = 4
"my 'slab'" = 2
[prices]
"wool 100" = 95.5
[builds."my 'slab'"]
like = "wool 100 solid back"
facing = { resistance = 30, mass = 0.2 }
thickness = "80 mm"
price = 48.5
"""


@pytest.mark.parametrize("said", ["", '\n[stock]\n"wool 50" = 9 # on the shelf\n"wool 30" = 1\n'])
def test_what_lists_say_is_written_into_the_new_scene(tmp_path, said):
    workshop = tmp_path / "workshop.toml"
    workshop.write_text(WORKSHOP, encoding="utf-8")
    bare = load_scene(SCENES / "box.toml", (SCENES / "box.toml").read_text() + said)
    scene = with_prices(with_stock(bare, workshop), workshop)
    room, candidates = candidates_of(scene)
    text = text_of(scene, room, candidates, some(candidates, "surface", 1), SCENES / "new.toml")
    again = load_scene(SCENES / "new.toml", text)
    assert (again.stock, again.prices) == (scene.stock, scene.prices)
    assert "# on the shelf" in text or not said
    own = {**dict(again.build("my 'slab'")), "like": None}  # written out: nothing else knows it
    assert own == {**dict(scene.build("my 'slab'")), "like": None}

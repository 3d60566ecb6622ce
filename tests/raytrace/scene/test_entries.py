"""Whole entries put into a scene's text and taken out of it, in usual and unusual styles of TOML."""

import tomllib
from pathlib import Path

import pytest

from raytrace import add_in_text, load_scene, put_in_text, remove_in_text, rename_in_text, retyped

SCENES = Path(__file__).parents[3] / "scenes"
RENTED = (SCENES / "rented.toml").read_text()
LAMP = {"name": "lamp", "surface": "ceiling", "centre": ["1200 mm", 1.0], "radius": 0.2}

INLINE = """\
title = "inline" # one line each
room = { shape = "box", length = 4.2, width = 3, height = 2.4 }
surfaces.default = "plasterboard" # dotted
speakers = [
\t{ name = "left", position = [0.75, 0.9, 1.2] }, # left, of course
\t{ name = "right", position = [0.75, 2.1, 1.2], aim = { yaw = -30 } }, # a comma, more
]
seats = [{ name = "mix", ears = [1.79, 1.5, 1.2] }]
"""


def test_an_entry_is_added_behind_the_last_of_its_list():
    text = add_in_text(RENTED, "keep_outs", LAMP)
    assert text == RENTED + (
        '\n[[keep_outs]]\nname = "lamp"\nsurface = "ceiling"\ncentre = ["1200 mm", 1.0]\nradius = 0.2\n'
    )
    added = add_in_text(RENTED, "speakers", {"name": "sub", "position": [0.5, 0.5, 0.3], "use": "sub"})
    assert '2.25, 1.20]\naim = "seat"\ndirectivity = "two-way"\n\n[[speakers]]\nname = "sub"' in added
    assert [s.name for s in load_scene("x.toml", added).speakers] == ["left", "right", "sub"]


def test_the_first_entry_of_a_list_stands_behind_the_lists_before_it():
    text = add_in_text(RENTED, "joists", {"surface": "ceiling", "along": "u", "first": 0.2, "spacing": 0.4})
    assert text.index("[[keep_outs]]") < text.index("[[joists]]")
    assert load_scene("x.toml", text).joists[0].spacing == 0.4


def test_what_is_added_and_removed_again_leaves_every_byte():
    for text in (RENTED, RENTED.replace("\n", "\r\n"), "\ufeff" + RENTED, INLINE):
        for kind in ("speakers", "keep_outs") if text != INLINE else ("speakers", "seats"):
            n = len(tomllib.loads(text.removeprefix("\ufeff"))[kind])
            added = add_in_text(text, kind, {"name": "new", "ears": [1.0, 1.0, 1.2]})
            found = tomllib.loads(added.removeprefix("\ufeff"))[kind]
            assert found[n] == {"name": "new", "ears": [1.0, 1.0, 1.2]}
            assert remove_in_text(added, (kind, n)) == text


def test_an_entry_goes_with_its_own_remarks_and_nothing_else():
    text = remove_in_text(RENTED, ("objects", 1))
    gone = RENTED[RENTED.index("# A folding table") : RENTED.index("[[speakers]]")]
    assert text == RENTED.replace(gone, "")
    text = remove_in_text(RENTED, ("keep_outs", 1))
    assert text == RENTED[: RENTED.index('\n[[keep_outs]]\nname = "window handle"')]


@pytest.mark.parametrize("index", [0, 1])
def test_an_entry_of_an_inline_list_goes_with_its_comma(index):
    found = tomllib.loads(remove_in_text(INLINE, ("speakers", index)))
    assert [s["name"] for s in found["speakers"]] == [["right", "left"][index]]


def test_keys_are_removed_from_lines_inline_tables_and_dotted_keys():
    text = remove_in_text(RENTED, ("openings", 0, "depth"))
    assert text == RENTED.replace('depth = "120 mm"\n', "")
    assert remove_in_text(RENTED, ("openings", 0, "swing", "out")).count('swing = { hinge = "left" }') == 1
    assert "surfaces" not in tomllib.loads(remove_in_text(INLINE, ("surfaces", "default")))
    assert tomllib.loads(remove_in_text(INLINE, ("room", "width")))["room"].keys() == {
        "shape",
        "length",
        "height",
    }
    with pytest.raises(ValueError, match="no openings\\[9\\]"):
        remove_in_text(RENTED, ("openings", 8, "depth"))


def test_a_value_may_take_another_form():
    text = put_in_text(RENTED, ("speakers", 0, "aim"), {"yaw": 20, "pitch": 0})
    assert text == RENTED.replace('aim = "seat"', "aim = { yaw = 20, pitch = 0 }", 1)
    assert put_in_text(text, ("speakers", 0, "aim"), "seat") == RENTED
    text = put_in_text(RENTED, ("job", "drilling"), ["floor"])
    assert 'drilling = ["floor"]' in text
    headed = RENTED + '\n[[openings]]\nname = "x"\n[openings.swing]\nhinge = "left"\nout = 0.5\n'
    text = put_in_text(headed, ("openings", 2, "swing"), {"hinge": "right", "out": 0.6})
    assert tomllib.loads(text)["openings"][2]["swing"] == {"hinge": "right", "out": 0.6}


def test_a_length_keeps_its_way_of_being_written():
    text = put_in_text(RENTED, ("objects", 1, "size"), [0.65, 1.2, 0.02])
    assert text == RENTED.replace('"600 mm", "1200 mm"', '"650 mm", "1200 mm"')


def test_faces_of_an_object_go_by_its_new_name():
    text = RENTED.replace('floor = "laminate floor"', 'floor = "laminate floor"\n"table top" = "glass"')
    text = add_in_text(text, "keep_outs", {**LAMP, "surface": "table top"})
    text = rename_in_text(text, ("objects", 1), "big desk")
    found = tomllib.loads(text)
    assert found["objects"][1]["name"] == "big desk"
    assert found["surfaces"]["big desk top"] == "glass"
    assert found["keep_outs"][-1]["surface"] == "big desk top"
    assert text.count("table top") == 0


def test_typed_lines_end_as_those_of_the_file():
    text = "\ufeffa = 1\r\nb = 2\r\n"
    assert retyped(text, "a = 1\nb = 3\n") == "\ufeffa = 1\r\nb = 3\r\n"
    assert retyped(text, "a = 1\n") == "\ufeffa = 1\r\n"
    assert retyped(text, "a = 1\nb = 2\n") == text
    assert retyped("a = 1\n", "") == ""

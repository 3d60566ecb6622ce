"""Sheets can be read: nothing leaves the paper, no words touch, figures are those of the room."""

import itertools
import re

import numpy as np
import pytest

from raytrace import build_room, find_hooks, format_length, load_scene
from tests.support.scenes import SCENES
from tests.support.treatedrooms import TREATED, treated_pages, treated_text
from viewer.paper import boxes_overlap, scale_words
from viewer.sheets.drawings import draw_panels
from viewer.sheets.elevation import SCALES

FORMS = [("metric", None), ("metric", "A4"), ("imperial", "A3"), ("imperial", "A4")]


@pytest.mark.parametrize(("name", "form"), list(itertools.product(TREATED, FORMS)))
def test_nothing_leaves_the_paper_and_no_words_touch(name, form):
    units, paper = form
    _, _, pages = treated_pages(name, units, paper)
    for page in pages:
        assert page.paper == paper or paper is None
        boxes = [(mark.text, mark.box) for mark in page.marks if mark.kind == "text"]
        for (one, a), (other, b) in itertools.combinations(boxes, 2):
            assert not boxes_overlap(a, b), (page.name, one, other)
        for mark in page.marks:
            left, top, right, bottom = mark.box
            over_mm = max(-left, -top, right - page.size_mm[0], bottom - page.size_mm[1])
            assert over_mm <= -5.0, (page.name, mark)  # printers need about 5 mm


@pytest.mark.parametrize("name", TREATED)
def test_every_panel_is_drawn_in_its_true_size_at_the_scale_of_its_sheet(name):
    _, room, pages = treated_pages(name)
    for page in pages:
        if page.scale is None or page.name.endswith("stands"):
            continue
        assert page.scale in SCALES["metric"]
        drawn = [m for m in dict(page.layers).get("panels", ()) if m.fill and not m.dash]
        spans = [np.sort(np.ptp(np.array(mark.points), axis=0)) * page.scale for mark in drawn]
        if "ceiling-plan" in page.name:
            continue  # tilted and sloping ones are shorter from below
        for span in spans:
            # A panel on its surface: its own width and height to a hundredth of a millimetre.
            assert any(
                span == pytest.approx(sorted((1000 * p.width_m, 1000 * p.height_m)), abs=0.01)
                for p in room.panels
            )


def test_a_slab_of_1200_mm_is_48_mm_on_paper_at_1_to_25():
    _, _, pages = treated_pages("box")
    page = pages[0]
    assert (page.paper, page.scale) == ("A3", 25)
    spans = [np.ptp(np.array(m.points), axis=0) for m in dict(page.layers)["panels"]]
    assert [24.0, 48.0] in [span.round(6).tolist() for span in spans]


@pytest.mark.parametrize("name", ["box", "lean-to", "ridge"])
def test_every_hook_is_listed_with_its_cord_and_its_place(name):
    scene, room, pages = treated_pages(name)
    rows = {}
    for page in pages:
        at = {}
        for mark in page.marks:
            if mark.kind == "text" and not mark.turned:
                at.setdefault(round(mark.points[0][1], 2), []).append((mark.points[0][0], mark.text))
        for texts in at.values():
            words = [text for _, text in sorted(texts)]
            for k, word in enumerate(words):
                if re.fullmatch(r".* [a-f]", word):
                    rows.setdefault(word, []).append(words[k + 1 :])
    hooks = find_hooks(scene, room)
    assert set(rows) >= {hook.name for hook in hooks}
    for hook in hooks:
        figures = [row[:3] for row in rows[hook.name]]
        off = hook.cord_m if hook.kind == "cord" else np.linalg.norm(hook.anchor - hook.eyelet)
        for on_sheet in figures:
            assert on_sheet[2] == format_length(float(off)).removesuffix(" mm")
        plan = [format_length(float(x)).removesuffix(" mm") for x in hook.anchor[:2]]
        face = [format_length(float(x)).removesuffix(" mm") for x in hook.anchor_uv]
        wanted = [plan] if hook.kind == "cord" else []
        if abs(room.surfaces[hook.surface].frame.n[2]) < 0.99:
            wanted.append(face)
        assert all(places in [row[:2] for row in figures] for places in wanted)


def test_sheets_say_what_must_be_known_and_never_the_forbidden_word():
    _, _, pages = treated_pages("box")
    told = " ".join(mark.text for page in pages for mark in page.marks if mark.kind == "text")
    for needed in (
        "Local codes and licensed practice come first",
        "Overhead loads: fix to structure",
        "as surveyed",
        "socket: double socket",
        "as built",
        "its frame reaches 20 mm beyond",
    ):
        assert needed in told.replace("\n", " "), needed
    assert not re.search(r"\bsafe", told, re.IGNORECASE)


def test_a_drawing_holds_its_cautions_or_the_first_of_them_and_where_the_others_are():
    found = set()
    for page in treated_pages("box", "metric", "A4")[2]:
        if page.scale is not None:
            has_them = any(mark.text == "Cautions" for mark in page.marks)
            told = " ".join(mark.text for mark in page.marks if mark.kind == "text")
            assert has_them != ("Cautions, in full on the lists that follow." in told)
            assert has_them or "Ladders: work in pairs" in told or "Stands and leaning panels" in told
            found.add(has_them)
    assert found == {True, False}  # both ways are tried


def test_an_outline_that_is_not_upright_gets_its_distance_at_the_panels_own_middle():
    _, _, pages = treated_pages("lean-to")
    (page,) = [p for p in pages if p.title == "Left wall"]
    # It rises from 2.05 to 2.75 over 4.5 m; the panel's middle is 1.5 m from the high end, its top at 1.9.
    wanted = round(1000 * (2.75 - 0.7 * 1.5 / 4.5 - 1.9))
    assert str(wanted) in [mark.text for mark in page.marks]


def test_names_that_find_no_room_stand_in_the_notes(scene_of):
    spots = "".join(
        f'[[keep_outs]]\nname = "spot {k}"\nsurface = "left wall"\nat = [{0.3 + 0.12 * k}, 1.8]\n'
        'size = [0.1, 0.1]\nreason = "one of many lamps that stand close together, each with its own cable"\n'
        for k in range(14)
    )
    scene = scene_of(treated_text("box") + spots)
    room = build_room(scene)
    pages = draw_panels(scene, room, paper="A4")
    told = " ".join(m.text for page in pages for m in page.marks if m.kind == "text").replace("\n", " ")
    for k in range(14):
        assert f"spot {k}" in told


@pytest.mark.parametrize(("name", "form"), list(itertools.product(TREATED, FORMS)))
def test_no_name_is_struck_by_a_dimension_line(name, form):
    units, paper = form
    _, _, pages = treated_pages(name, units, paper)
    for page in pages:
        layers = dict(page.layers)
        lines = [mark.box for mark in layers.get("dimensions", ()) if mark.kind == "line"]
        names = [mark for mark in layers.get("names", ()) if mark.kind == "text" and not mark.plate]
        panels = [mark.box for mark in layers.get("panels", ()) if mark.kind == "area"]
        for mark in names:
            # Panels are drawn over the lines: a name on one is struck by none of them.
            on_panel = any(
                p[0] <= mark.box[0] and p[1] <= mark.box[1] and mark.box[2] <= p[2] and mark.box[3] <= p[3]
                for p in panels
            )
            assert on_panel or not any(boxes_overlap(mark.box, box) for box in lines), (page.name, mark.text)


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_plans_of_the_treated_box_need_one_more_sheet_each_at_most_on_small_paper(units):
    scene = load_scene(SCENES / "treated-box.toml")
    pages = draw_panels(scene, build_room(scene), units=units, paper="A4")
    lists = [page.title for page in pages if page.scale is None]
    # 24 hooks and 6 slabs take two; so may the lists of what has a side section at its side.
    titles = ["Reflected ceiling plan", "Front wall", "Back wall", "Floor plan of what stands"]
    assert lists[0] == "Reflected ceiling plan: lists, continued"
    assert len(set(lists)) == len(lists)
    assert set(lists) <= {f"{title}: lists, continued" for title in titles}


def test_a_wall_with_a_comma_in_its_name_keeps_it_on_its_sheets(scene_of):
    scene = scene_of(
        """
[room]
shape = "plan"
corners = [[0, 0], [4, 0], [4, 3], [0, 3]]
height = 2.6
walls = ["long, with door", "far", "right", "near"]
[surfaces]
default = "plasterboard"
[[speakers]]
name = "left"
position = [0.5, 1.0, 1.2]
[[seats]]
name = "mix"
ears = [2.2, 1.5, 1.2]
[[panels]]
name = "x leans 3"
surface = "long, with door"
build = "wool 50"
centre = [2.0, 1.2]
"""
    )
    pages = draw_panels(scene, build_room(scene), units="metric", paper="A4")
    assert [page.subject for page in pages] == ["Long, with door"] * len(pages)
    assert pages[0].title == "Long, with door"
    assert pages[0].facing
    texts = [mark.text.replace("\n", " ") for mark in pages[0].marks if mark.kind == "text"]
    assert any(pages[0].facing[:40] in text for text in texts)


def test_every_scale_in_feet_can_be_read_off_a_rule_in_thirty_seconds_of_an_inch():
    for scale in SCALES["imperial"]:
        part = scale_words(scale, "imperial").removesuffix(" in = 1 ft").split()[-1]
        assert int(part.rpartition("/")[2] if "/" in part else 1) in (1, 2, 4, 8, 16, 32)

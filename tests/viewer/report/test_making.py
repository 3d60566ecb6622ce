"""The pages on making and on hanging hold every figure, the cautions and the stated practice."""

import re
from dataclasses import replace

import pytest

from raytrace import CAUTIONS, PRACTICE, Treatment, build_room, list_datasheets, load_scene, run_study
from tests.support.panelled import JOISTS, cloud, scene_text
from tests.support.scenes import SCENES
from viewer.report.hanging import hanging_pages
from viewer.report.workshop import datasheet_pages, shopping_page
from viewer.words import cover_step


@pytest.fixture(scope="module")
def scene():
    return load_scene(SCENES / "treated-box.toml")


@pytest.fixture(scope="module")
def pages(scene):
    treatment = Treatment(scene, build_room(scene))
    return [shopping_page(treatment, units="metric"), *hanging_pages(treatment, units="metric")]


def words_of(page):
    """Everything a page says, blocks one after the other."""
    found = [page["title"]]
    for block in page["blocks"]:
        found += [block.get("text", ""), *block.get("items", ()), *block.get("head", ())]
        found += [cell for row in block.get("rows", ()) for cell in row]
        if block["kind"] == "keep":
            found.append(words_of({"title": "", "blocks": block["blocks"]}))
    return " ".join(found)


def test_there_is_a_page_to_make_and_a_page_to_hang(pages):
    assert [page["title"] for page in pages] == ["Shopping and cut list", "Loads and hanging"]


def test_every_row_is_as_long_as_its_columns(pages):
    for page in pages:
        for block in page["blocks"]:
            if block["kind"] == "table":
                assert {len(row) for row in block["rows"]} == {len(block["columns"])} == {len(block["head"])}


def test_every_hook_has_its_cord_and_place(pages, scene):
    treatment = Treatment(scene, build_room(scene))
    rows = {row[0]: row for block in pages[1]["blocks"] for row in block.get("rows", ())}
    for hook in treatment.hooks:
        row = rows[hook.name]
        assert f"{1000 * hook.anchor_uv[0]:.0f} mm" in row
        assert f"{1000 * hook.anchor_uv[1]:.0f} mm" in row
        if hook.kind == "cord":
            assert f"{1000 * hook.cord_m:.0f} mm" in row
            assert f"joist {hook.joist + 1}" in row


def test_loads_stand_beside_practice_with_its_sources_and_cautions(pages):
    words = words_of(pages[1])
    for text, source in PRACTICE:
        assert f"{text} ({source})" in words
    for start in ("Local codes and licensed practice come first", "Overhead loads", "Ladders"):
        assert start in words
    assert "not an approval" in words
    assert "Fibres" in words_of(pages[0])


def test_no_page_promises_anything(pages, scene):
    charts = ["a.png"] * len(list_datasheets(scene, build_room(scene)))
    sheets = datasheet_pages(list_datasheets(scene, build_room(scene)), charts, units="metric")
    for page in (*pages, *sheets):
        assert not re.search(r"\bsafe|\bpass\b|\bapproved\b(?! for)", words_of(page).lower())
    assert all(not re.search(r"\bsafe", caution.lower()) for caution in CAUTIONS)


def test_a_hook_off_the_joists_asks_for_a_batten(scene_of):
    scene = scene_of(scene_text(JOISTS + cloud()))
    (page,) = hanging_pages(Treatment(scene, build_room(scene)), units="metric")
    assert "batten across joists, 150 mm off the nearest" in words_of(page)


def test_data_sheets_name_each_build_once_and_common_notes_once(scene):
    sheets = list_datasheets(scene, build_room(scene))
    (page,) = datasheet_pages(sheets, ["a.png"] * len(sheets), units="metric")
    words = words_of(page)
    for sheet in sheets:
        assert str(sheet.own.rating.weighted) in words
        assert f"{sheet.own.rating.nrc:.2f}" in words
    assert words.count("Computed, not measured") == 1
    assert datasheet_pages([], [], units="metric") == []


def test_data_sheets_follow_the_cut_list_without_a_new_page(pages, scene):
    assert not any(page["flows"] for page in pages)
    sheets = list_datasheets(scene, build_room(scene))
    (page,) = datasheet_pages(sheets, ["a.png"] * len(sheets), units="metric")
    assert page["flows"]
    assert page["blocks"][0]["kind"] == "lead"  # stays with the first sheet


def test_owned_panels_are_listed_and_nothing_is_cut_for_them(scene_of):
    owned = '[stock]\n"wool 50" = 9\n'
    scene = scene_of(scene_text(owned + cloud(rows=1, columns=3, spacing=0.06)))
    page = shopping_page(Treatment(scene, build_room(scene)), units="metric")
    words = words_of(page)
    assert "cloud A1, A2, A3 (owned, nothing to make)" in words
    assert "Owned and left over: 6 x wool 50." in words
    assert "does not go overhead until it has them" in words
    assert "cord or wire" in words
    headings = [block["text"] for block in page["blocks"] if block["kind"] == "sub"]
    assert "Buy" in headings
    assert "Cut" not in headings
    assert "staples" not in words


def test_a_cover_goes_where_the_scene_puts_it(scene_of):
    rug = (
        '[[openings]]\nname = "rug"\nsurface = "floor"\nkind = "cover"\ncover = "thick rug"\n'
        "at = [0.12, 0.7]\nsize = [2.3, 1.6]\n"
    )
    scene = scene_of(scene_text(rug))
    study = run_study(scene, up_to_order=1)
    (cover,) = Treatment(scene, study.room).bill_of_materials.covers
    words = cover_step(study, cover, "metric")
    assert words == (
        "Lay the thick rug on the floor: 2300 x 1600 mm, its corner 120 mm from the front wall and 700 mm "
        "from the left wall."
    )
    aside = replace(cover, at=None, place="window")
    assert "before the window: 2300 x 1600 mm" in cover_step(study, aside, "metric")

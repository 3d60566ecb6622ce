"""Variants by the buttons and keys of the window: files beside the first, each with its own undo."""

import numpy as np
import pytest

from raytrace import load_scene
from tests.support.windows import driver
from viewer.window.scenery import differences
from viewer.window.session import find_recovery, open_draft
from viewer.window.state import LINES, figure_words
from viewer.window.varying import NO_OTHER

__all__ = ["driver"]
WAIT_MS = 280_000  # two studies and decays, on a machine that may be busy otherwise


@pytest.fixture
def two(driver):
    """A room with a second variant, which is shown."""
    path = driver.copy("box")
    driver.open(path)
    driver.window.main.variants.add.click()
    driver.rest()
    return path, path.with_name("box.B.toml")


def edited(text):
    return text.replace('["750 mm", "900 mm",', '["750 mm", "800 mm",')


def test_a_variant_is_a_file_beside_the_first_with_its_text(driver, two):
    first, second = two
    window = driver.window
    assert second.read_bytes() == first.read_bytes()
    assert window.session.path == second
    assert not window.session.draft.dirty
    assert [own.name for own in window.varying.sheet.variants] == ["A", "B"]
    assert load_scene(second).speakers == load_scene(first).speakers


def test_each_variant_keeps_its_own_changes_and_its_own_undo(driver, two):
    first, second = two
    window, before = driver.window, first.read_text()
    assert window.session.change(edited(before)) is None
    driver.rest()
    window.varying.turn_to(first)
    driver.rest()
    assert window.session.draft.text == before
    assert not window.session.history.can_undo
    assert find_recovery(second).text == edited(before)  # a crash now would lose nothing
    window.varying.turn_to(second)
    driver.rest()
    assert window.session.draft.text == edited(before)
    assert window.shown.study.scene.speakers[0].position == (0.75, 0.8, 1.2)
    window.editing.undo()
    driver.rest()
    assert window.session.draft.text == before


def test_leaving_asks_once_for_all_variants_and_saves_them_all(driver, two):
    first, second = two
    session, text = driver.window.session, edited(first.read_text())
    session.change(text)
    driver.window.varying.turn_to(first)
    session.change(text + "\n# a note\n")
    driver.answers = [0]
    assert driver.window.filing.may_leave()
    assert len(driver.asked) == 1
    assert "box.toml and" in driver.asked[0][1]
    assert second.read_text() == text
    assert first.read_text() == text + "\n# a note\n"


def test_discarding_leaves_every_file_as_it_was_and_nothing_to_restore(driver, two):
    first, second = two
    before = first.read_text()
    driver.window.session.change(edited(before))
    driver.window.varying.turn_to(first)
    driver.answers = [1]
    assert driver.window.filing.may_leave()
    assert second.read_text() == before
    assert find_recovery(second) is None


@pytest.mark.usefixtures("two")
def test_the_look_of_the_room_stays_from_one_variant_to_the_next(driver):
    window = driver.window
    window.looking.view_plan()
    eye = window.shown.eye
    window.varying.next()
    driver.rest()
    assert window.shown.eye == eye
    assert window.shown.view == "plan"


def test_a_variant_is_renamed_with_its_changes_and_no_name_is_given_twice(driver, two):
    first, second = two
    window, text = driver.window, edited(first.read_text())
    window.session.change(text)
    window.questions.ask_name = lambda *_: "narrow"
    window.varying.rename()
    target = first.with_name("box.narrow.toml")
    assert target.is_file()
    assert not second.exists()
    assert window.session.path == target
    assert window.session.draft.text == text
    assert find_recovery(target).text == text
    window.main.variants.add.click()
    window.questions.ask_name = lambda *_: "Narrow"
    window.varying.rename()
    assert driver.asked[-1] == ("The name stays", "Narrow is there already")


def test_a_deleted_variant_goes_to_the_trash_with_its_changes_and_the_first_is_shown(driver, two, tmp_path):
    first, second = two
    text, trash = edited(first.read_text()), tmp_path / "trashed.toml"
    driver.window.varying.trash = lambda path: bool(path.rename(trash))
    driver.window.session.change(text)
    driver.answers = [0]
    driver.window.varying.delete()
    driver.rest()
    assert trash.read_text() == text
    assert driver.window.session.path == first
    assert [own.name for own in driver.window.varying.sheet.variants] == ["A"]
    assert find_recovery(second) is None
    driver.window.varying.delete()  # the first cannot be
    assert first.is_file()


def test_figures_and_differences_are_told_side_by_side(driver, two):
    first, _ = two
    window = driver.window
    window.session.change(edited(first.read_text()))
    window.show_variants()
    page = window.main.variants
    driver.qtbot.waitUntil(lambda: all(own.figures for own in window.varying.sheet.variants), timeout=WAIT_MS)
    over = page.table.item(LINES.index("Over the limit"), 1).text()
    assert over == f"{sum(v.n_over for v in window.shown.study.verdicts)}"
    assert page.table.item(LINES.index("Decay"), 0).text().endswith(" s")
    page.beside.setCurrentIndex(1)
    page.beside.activated.emit(1)
    assert window.shown.beside.name == "A"
    assert page.words.text().startswith("From A to B: ")
    ghost = differences(window.shown)
    old = load_scene(first).speakers[0].position
    assert ghost["there"].mesh.n_cells > 0
    assert np.abs(np.asarray(ghost["there"].mesh.GetCenter()) - old).max() < 0.3  # within the cabinet
    assert window.main.strip.beside_curve().speaker == 0
    page.table.selectColumn(0)
    driver.rest()
    assert window.session.path == first
    assert window.shown.beside.name == "B"


def test_a_variant_that_is_no_scene_says_so_and_the_others_are_told(driver, two):
    first, second = two
    window = driver.window
    window.varying.turn_to(first)
    driver.rest()
    second.write_text("[room]\n")
    window.show_variants()
    driver.qtbot.waitUntil(lambda: all(own.figures for own in window.varying.sheet.variants), timeout=WAIT_MS)
    bad, good = (figure_words(window.varying.sheet.variants[k].figures) for k in (1, 0))
    assert bad[0] == "no scene"
    assert good[0].isdigit()


def test_a_room_without_a_file_is_saved_before_a_variant_is_added(driver, tmp_path):
    driver.window.filing.show_example()
    driver.rest()
    driver.window.questions.file_to_write = lambda *_: str(tmp_path / "example.toml")
    driver.window.varying.add()
    driver.rest()
    assert driver.window.session.path == tmp_path / "example.B.toml"
    assert open_draft(tmp_path / "example.toml").text == open_draft(tmp_path / "example.B.toml").text


def test_panels_that_are_proposed_become_a_variant_in_which_undo_takes_them_away(driver):
    first = driver.copy("box")
    driver.open(first)
    session, before = driver.window.session, first.read_text()
    text = (
        before + '\n[[panels]]\nname = "one"\nsurface = "left wall"\nbuild = "wool 50"\ncentre = [3.0, 1.2]\n'
    )
    session.take_proposed(text)  # what a finished search hands over
    driver.rest()
    second = first.with_name("box.B.toml")
    assert session.path == second
    assert second.read_text() == session.draft.text == text
    assert first.read_text() == before
    assert len(driver.window.shown.study.room.panels) == 1
    driver.window.editing.undo()
    assert session.draft.text == before


def test_where_there_is_no_other_variant_nothing_is_compared_and_that_is_said(driver):
    driver.open(driver.copy("box"))
    compare = driver.window.main.menu_actions["varying.toggle_compare"]
    compare.trigger()
    assert not compare.isChecked()
    assert driver.window.main.state_line.text() == NO_OTHER


@pytest.mark.usefixtures("two")
def test_the_tick_of_comparing_stands_while_what_is_compared_is_on_its_way(driver):
    compare = driver.window.main.menu_actions["varying.toggle_compare"]
    compare.trigger()
    assert compare.isChecked()
    driver.window.screen.put(driver.window.shown)  # whatever is drawn in the meantime
    assert compare.isChecked()
    compare.trigger()
    assert not compare.isChecked()
    driver.rest()
    assert driver.window.shown.beside is None

"""The window by real mouse and key events: what is selected, what moves, what is undone and saved."""

import numpy as np
import pytest
from windows import SCENES, driver

from raytrace import load_scene
from viewer.shown import row_of, way_of

__all__ = ["driver"]
ALL_SCENES = sorted(path.stem for path in SCENES.glob("*.toml"))


@pytest.mark.slow
@pytest.mark.parametrize("name", ALL_SCENES)
def test_every_scene_opens_and_is_drawn(driver, name):
    shown = driver.open(SCENES / f"{name}.toml")
    assert not driver.asked
    assert shown.settled
    picture = driver.window.room.picture()
    ground = picture[2, 2].astype(int)
    drawn = (np.abs(picture.astype(int) - ground).max(axis=2) > 12).mean()
    assert 0.1 < drawn < 0.95  # a room fills a good part of the view, and leaves some of it empty


def test_selecting_in_list_tape_or_room_selects_in_all(driver):
    shown = driver.open(SCENES / "box.toml")
    table = shown.study.arrivals
    ceiling = [
        r
        for r in range(len(table.order))
        if table.order[r] == 1
        and table.spots[r, 0, 0] > 0
        and shown.study.room.surfaces[table.path_surfaces[r, 0]].name == "ceiling"
    ]
    window = driver.window
    driver.click(driver.surface, window.room.pixel_of_row(ceiling[0]))
    assert window.shown.chosen == way_of(shown.study, ceiling[0])
    assert window.list.table.currentIndex().row() == window.list.model.rows.index(ceiling[0])
    driver.click(window.strip, window.strip.pixel_of_row(int(np.flatnonzero(table.order == 1)[-1])))
    assert window.shown.chosen_row is not None
    assert table.order[window.shown.chosen_row] == 1
    assert window.shown.chosen_row != ceiling[0]
    window.list.table.selectRow(window.list.model.rows.index(ceiling[1]))
    assert window.shown.chosen_row == ceiling[1]


def test_pointing_at_a_spot_tells_surface_delay_level_and_millimetres(driver):
    shown = driver.open(SCENES / "box.toml")
    table = shown.study.arrivals
    row = next(
        r
        for r in range(len(table.order))
        if table.order[r] == 1 and shown.study.room.surfaces[table.path_surfaces[r, 0]].name == "ceiling"
    )
    driver.point(driver.surface, driver.window.room.pixel_of_row(row))
    words = driver.window.words_pointed
    assert "ceiling" in words
    assert "ms after the direct sound" in words
    assert "mm from the front" in words
    assert f"{table.spots[row, 0, 0] * 1e3:.0f} mm" in words


@pytest.mark.parametrize("kind", ["speakers", "seats"])
def test_dragging_a_thing_moves_it_over_the_floor_and_undo_gives_the_same_bytes(driver, kind):
    path = driver.copy("garage")
    before = path.read_bytes()
    shown = driver.open(path)
    window, old = driver.window, shown.study
    height = {"speakers": old.scene.speakers, "seats": old.scene.seats}[kind][0]
    window.view_plan()
    driver.drag(window.room.pixel_of_thing((kind, 0)), (30, 22))
    driver.rest()
    moved = getattr(window.shown.study.scene, kind)[0]
    place = (lambda entry: entry.position) if kind == "speakers" else (lambda entry: entry.ears)
    assert place(moved)[2] == place(height)[2]
    assert np.linalg.norm(np.subtract(place(moved), place(height))) > 0.02
    assert window.desk.draft.dirty
    assert path.read_bytes() == before
    window.undo()
    driver.rest()
    assert window.desk.draft.text.encode() == before
    assert place(getattr(window.shown.study.scene, kind)[0]) == place(height)


def test_shift_moves_a_thing_up_and_nowhere_else(driver):
    from PySide6.QtCore import Qt

    shown = driver.open(driver.copy("box"))
    old = shown.study.scene.speakers[1].position
    window = driver.window
    driver.drag(window.room.pixel_of_thing(("speakers", 1)), (0, -30), Qt.KeyboardModifier.ShiftModifier)
    driver.rest()
    new = window.shown.study.scene.speakers[1].position
    assert new[:2] == old[:2]
    assert new[2] > old[2] + 0.02


def test_arrivals_follow_while_the_hand_still_holds(driver):
    shown = driver.open(driver.copy("garage"))
    window = driver.window
    window.view_plan()
    first = shown.study.arrivals.direct.length_m[0]
    driver.drag(window.room.pixel_of_thing(("speakers", 0)), (40, 0), release=False)
    driver.qtbot.waitUntil(lambda: not window.shown.settled, timeout=20_000)
    driver.qtbot.waitUntil(lambda: not window.desk.worker.is_busy, timeout=20_000)
    driver.qtbot.wait(20)
    assert window.shown.study.arrivals.direct.length_m[0] != first
    assert len(window.shown.study.arrivals.heard) == 3  # ears only: one listening point per speaker


def test_a_place_outside_the_room_is_refused_in_words_and_changes_nothing(driver):
    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    window.change(thing=("speakers", 0))
    window.desk.place(("speakers", 0), (9.0, 1.0, 1.2))
    assert "outside the room" in window.shown.trouble
    driver.rest()
    assert not window.desk.draft.dirty


def test_typed_lengths_move_the_selected_thing_and_saving_keeps_the_comments(driver):
    path = driver.copy("box")
    comments = [line for line in path.read_text().splitlines() if line.startswith("#")]
    driver.open(path)
    window = driver.window
    window.change(thing=("seats", 0))
    field = window.place.fields[0]
    field.setFocus()
    field.selectAll()
    driver.qtbot.keyClicks(field, "1850 mm")
    driver.qtbot.keyClick(field, "\r")
    driver.rest()
    assert window.shown.study.scene.seats[0].ears[0] == 1.85
    assert window.save()
    text = path.read_text()
    assert [line for line in text.splitlines() if line.startswith("#")] == comments
    assert load_scene(path).seats[0].ears[0] == 1.85
    assert driver.open(path).study.scene.seats[0].ears[0] == 1.85


def test_the_selected_reflection_stays_selected_while_its_speaker_moves(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    window.strongest_row()
    way = window.shown.chosen
    window.desk.place(("speakers", 0), (0.8, 0.95, 1.2))
    driver.rest()
    assert window.shown.chosen == way
    assert row_of(window.shown.study, way) == window.shown.chosen_row


def test_filters_and_headings_change_what_is_listed_and_in_which_sequence(driver):
    shown = driver.open(SCENES / "garage.toml")
    window, table = driver.window, shown.study.arrivals
    window.list.combos["order"].setCurrentIndex(1)
    window.list.combos["order"].activated.emit(1)
    assert set(table.order[window.list.model.rows]) == {1}
    window.list.sorted.emit("level")
    levels = table.band_level_db[window.list.model.rows]
    assert (np.diff(levels) <= 0).all()
    window.list.over_only.setChecked(True)
    assert len(window.list.model.rows) < len(levels)
    worst = table.zone_worst_db[window.list.model.rows]
    assert (worst > -shown.study.scene.limits.below_db).all()


def test_before_shows_the_file_as_it_was_and_after_the_change(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    old = window.shown.study.scene.speakers[0].position
    window.desk.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.rest()
    window.toggle_before(True)
    assert window.shown.study.scene.speakers[0].position == old
    window.toggle_before(False)
    assert window.shown.study.scene.speakers[0].position == (0.9, 0.95, 1.2)


def test_a_broken_file_is_refused_in_its_own_words_and_what_was_open_stays(driver):
    driver.open(SCENES / "box.toml")
    broken = driver.folder / "broken.toml"
    broken.write_text((SCENES / "box.toml").read_text().replace("width", "widht"))
    assert not driver.window.open(broken)
    assert "did you mean" in driver.asked[-1][1]
    assert driver.window.desk.draft.path == SCENES / "box.toml"


def test_unsaved_changes_are_asked_about_before_they_are_lost(driver):
    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    window.desk.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.answers = [2]
    assert not window.may_leave()
    driver.answers = [0]
    assert window.may_leave()
    assert load_scene(path).speakers[0].position == (0.9, 0.95, 1.2)
    assert [title for title, _ in driver.asked] == ["Save the changes?"] * 2
    driver.rest()


@pytest.mark.slow
def test_proposed_panels_come_as_one_step_that_undo_takes_away(driver):
    path = driver.copy("box")
    driver.open(path)
    window, before = driver.window, path.read_bytes()
    over = sum(v.n_over for v in window.shown.study.verdicts)
    driver.answers = [0, 0]
    window.propose()
    driver.qtbot.waitUntil(lambda: len(driver.asked) == 2, timeout=280_000)
    driver.rest()
    assert "Undo takes them away" in driver.asked[-1][1]
    assert window.shown.study.room.panels
    assert sum(v.n_over for v in window.shown.study.verdicts) < over
    window.undo()
    driver.rest()
    assert window.desk.draft.text.encode() == before
    assert not window.shown.study.room.panels


def test_a_proposal_that_is_stopped_changes_nothing(driver):
    from PySide6.QtWidgets import QPushButton

    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    driver.answers = [0]
    window.propose()
    window.progress.findChild(QPushButton).click()
    driver.qtbot.waitUntil(lambda: not window.desk.worker.is_busy, timeout=280_000)
    driver.rest()
    assert not window.desk.draft.dirty
    assert len(driver.asked) == 1

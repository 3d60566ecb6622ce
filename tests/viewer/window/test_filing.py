"""Files and the window: recovery, reloading, dropping, saving as, and what is written for others."""

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from raytrace import load_scene
from tests.support.windows import SCENES, driver
from viewer.window.session import autosave, find_recovery, open_draft

__all__ = ["driver"]
ROOT = Path(__file__).parents[3]


def test_after_a_crash_the_unsaved_changes_are_offered_and_taken_up(driver):
    path = driver.copy("box")
    autosave(open_draft(path).with_position("speakers", 0, (0.9, 0.95, 1.2)))
    driver.answers = [0]
    shown = driver.open(path)
    assert driver.asked[0][0] == "Restore the unsaved changes?"
    assert shown.study.scene.speakers[0].position == (0.9, 0.95, 1.2)
    assert driver.window.session.draft.dirty


def test_a_new_room_that_was_never_saved_is_offered_again(driver):
    from raytrace import sketch_scene
    from viewer.window.session import Draft

    autosave(Draft(None, sketch_scene("box", {"length": "5.1"}), ""))
    driver.answers = [0]
    driver.window.filing.offer_unnamed()
    driver.rest()
    assert driver.asked[0][0] == "Restore the new room?"
    assert driver.window.shown.study.scene.room.length == 5.1
    assert driver.window.session.draft.dirty


def test_declined_changes_are_forgotten(driver):
    path = driver.copy("box")
    autosave(open_draft(path).with_position("speakers", 0, (0.9, 0.95, 1.2)))
    driver.answers = [1]
    shown = driver.open(path)
    assert shown.study.scene.speakers[0].position == load_scene(path).speakers[0].position
    assert find_recovery(path) is None


def test_where_changes_cannot_be_kept_it_is_said_once(driver, monkeypatch, tmp_path):
    (tmp_path / "state").write_text("a file where the folder should be")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    driver.open(driver.copy("box"))
    session = driver.window.session
    session.change(session.draft.text + "\n# a note\n")
    for _ in range(2):
        session.keep()
    told = [words for title, words in driver.asked if "kept nowhere" in title]
    assert len(told) == 1
    assert str(tmp_path / "state") in told[0]


def kept_of(path):
    autosave(open_draft(path).with_position("speakers", 0, (0.9, 0.95, 1.2)))
    return find_recovery(path)


def test_closing_the_question_opens_nothing_and_keeps_the_changes(driver):
    path = driver.copy("box")
    kept = kept_of(path)
    driver.answers = []  # whoever closes a question gets its last answer
    assert not driver.window.filing.open(path)
    assert not driver.window.session.is_open
    assert find_recovery(path) == kept


def test_closing_the_question_about_a_new_room_keeps_it_from_the_next_one(driver):
    from viewer.window.session import Draft

    autosave(Draft(None, "older", ""))
    driver.window.filing.offer_unnamed()
    driver.window.filing.show_example()
    assert not driver.window.session.is_open
    assert find_recovery(None).text == "older"
    assert [title for title, _ in driver.asked] == ["Restore the new room?"] * 2


@pytest.mark.parametrize("left", [None, b"title = ", b"\xff\xfe", b""])
def test_a_file_that_is_gone_or_broken_still_offers_what_was_kept_of_it(driver, left):
    path = driver.copy("box")
    kept_of(path)
    if left is None:
        path.unlink()
    else:
        path.write_bytes(left)
    driver.answers = [0]
    shown = driver.open(path)
    assert shown.study.scene.speakers[0].position == (0.9, 0.95, 1.2)
    assert driver.window.session.draft.dirty
    driver.window.session.watch()
    assert len(driver.asked) == 1  # what was taken up is held against the file as it is now


def test_a_broken_file_that_is_wanted_all_the_same_loses_nothing(driver):
    path = driver.copy("box")
    kept = kept_of(path)
    path.write_text("title = ")
    driver.answers = [1]
    assert not driver.window.filing.open(path)
    assert find_recovery(path) == kept


def test_reading_a_broken_file_again_keeps_what_was_changed_here(driver):
    path = driver.copy("box")
    driver.open(path)
    driver.window.editing.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.window.session.keep()
    path.write_text("title = ")
    driver.answers = [0]
    driver.window.session.watch()
    assert driver.asked[0][0] == "Read the file again?"
    assert driver.window.session.draft.dirty
    assert find_recovery(path).scene().speakers[0].position == (0.9, 0.95, 1.2)
    driver.rest()


@pytest.mark.slow
def test_whoever_is_killed_in_a_row_of_changes_loses_at_most_the_last(driver):
    path = driver.copy("box")
    program = (
        "import sys, time\n"
        "from pathlib import Path\n"
        "from PySide6.QtCore import QTimer\n"
        "from viewer.window.opening import make_window\n"
        "application, window = make_window(Path(sys.argv[1]))\n"
        "window.main.show()\n"
        "def change(steps=iter(range(1000))):\n"
        "    if window.shown is None:\n"
        "        return\n"
        "    step = next(steps)\n"
        "    window.editing.place(('speakers', 0), (0.5 + 0.01 * step, 0.95, 1.2))\n"
        "    print(step, flush=True)\n"
        "timer = QTimer(interval=200)\n"
        "timer.timeout.connect(change)\n"
        "timer.start()\n"
        "application.exec()\n"
    )
    child = subprocess.Popen([sys.executable, "-c", program, str(path)], cwd=ROOT, stdout=subprocess.PIPE)
    last = -1
    try:
        while last < 9:
            last = int(child.stdout.readline())
    finally:
        child.kill()
        child.wait()
        child.stdout.close()
    kept = round((find_recovery(path).scene().speakers[0].position[0] - 0.5) / 0.01)
    assert kept >= last - 1


@pytest.mark.slow
def test_a_process_that_is_killed_in_the_middle_of_a_change_leaves_it_to_be_recovered(driver):
    path = driver.copy("box")
    program = (
        "import sys\n"
        "from pathlib import Path\n"
        "from PySide6.QtCore import QTimer\n"
        "from viewer.window.opening import make_window\n"
        "application, window = make_window(Path(sys.argv[1]))\n"
        "window.main.show()\n"
        "def change():\n"
        "    if window.shown is not None and not window.session.draft.dirty:\n"
        "        window.editing.place(('speakers', 0), (0.9, 0.95, 1.2))\n"
        "timer = QTimer(interval=50)\n"
        "timer.timeout.connect(change)\n"
        "timer.start()\n"
        "application.exec()\n"
    )
    child = subprocess.Popen([sys.executable, "-c", program, str(path)], cwd=ROOT)
    try:
        until = time.monotonic() + 60
        while find_recovery(path) is None and time.monotonic() < until:
            time.sleep(0.1)  # nothing tells when another process has written
    finally:
        child.kill()
        child.wait()
    driver.answers = [0]
    assert driver.open(path).study.scene.speakers[0].position == (0.9, 0.95, 1.2)


def test_a_file_that_changes_on_disk_is_read_again(driver):
    path = driver.copy("box")
    driver.open(path)
    path.write_text(open_draft(path).with_position("seats", 0, (1.9, 1.5, 1.2)).text)
    driver.window.session.watch()
    driver.rest()
    assert driver.window.shown.study.scene.seats[0].ears[0] == 1.90


def test_own_changes_are_not_lost_to_a_file_that_changes_on_disk(driver):
    path = driver.copy("box")
    driver.open(path)
    driver.window.editing.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.rest()
    path.write_text(path.read_text() + "\n# someone else was here\n")
    driver.answers = [1]
    driver.window.session.watch()
    driver.rest()
    assert driver.window.shown.study.scene.speakers[0].position == (0.9, 0.95, 1.2)
    driver.window.editing.place(("speakers", 0), (0.9, 1.0, 1.2))
    driver.window.session.watch()
    assert [title for title, _ in driver.asked] == ["Read the file again?"]  # nobody is asked twice
    driver.rest()


def test_a_scene_file_dropped_on_the_window_opens(driver):
    from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
    from PySide6.QtGui import QDropEvent

    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(SCENES / "box.toml"))])
    buttons, modifiers = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    driver.window.main.dropEvent(
        QDropEvent(QPointF(400, 300), Qt.DropAction.CopyAction, data, buttons, modifiers)
    )
    driver.rest()
    assert driver.window.shown.study.scene.title == load_scene(SCENES / "box.toml").title


def test_saving_under_a_new_name_leaves_the_old_file_alone(driver, monkeypatch):
    path = driver.copy("box")
    before = path.read_bytes()
    driver.open(path)
    driver.window.editing.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.rest()
    target = driver.folder / "other"
    monkeypatch.setattr("viewer.window.questions.QFileDialog.getSaveFileName", lambda *_: (str(target), ""))
    assert driver.window.filing.ask_save_as()
    assert path.read_bytes() == before
    assert load_scene(target.with_suffix(".toml")).speakers[0].position == (0.9, 0.95, 1.2)
    assert driver.window.questions.folder == str(driver.folder)


def test_the_example_and_a_sketched_room_open_without_a_file(driver):
    driver.window.filing.show_example()
    driver.rest()
    assert driver.window.shown.study.scene.title == "Example room"
    assert not driver.window.session.draft.dirty
    start = driver.window.main.start
    driver.window.filing.begin_new()
    start.fields["length"].setText("5200 mm")
    start.make.click()
    driver.rest()
    assert driver.window.shown.study.scene.room.length == 5.2
    assert driver.window.session.draft.dirty


def test_answers_that_do_not_fit_are_refused_in_words(driver):
    start = driver.window.main.start
    start.fields["height"].setText("2,4")
    start.make.click()
    assert "Height" in start.trouble.text()
    assert driver.window.shown is None


def test_enter_behind_an_answer_goes_to_the_next_and_behind_the_last_draws_the_room(driver):
    start = driver.window.main.start
    start.fields["length"].setFocus()
    for _ in range(len(start.fields)):
        own = driver.window.main.focusWidget()
        assert own in start.fields.values()
        driver.qtbot.keyClicks(own, "5.1" if own is start.fields["length"] else "")
        driver.qtbot.keyClick(own, Qt.Key.Key_Return)
    driver.rest()
    assert driver.window.shown.study.scene.room.length == 5.1


def test_a_scan_is_asked_for_on_the_first_page(driver):
    asked = []
    driver.window.questions.file_to_open = lambda title, _kinds: asked.append(title) or ""
    start = driver.window.main.start
    next(own for own in start.findChildren(QPushButton) if own.text().startswith("Scan")).click()
    assert asked == ["Scan or floor plan"]


@pytest.mark.slow
def test_the_view_is_written_as_a_picture_in_report_quality(driver, monkeypatch):
    driver.open(SCENES / "box.toml")
    window, target = driver.window, driver.folder / "view.png"
    window.looking.view_section()
    monkeypatch.setattr("viewer.window.questions.QFileDialog.getSaveFileName", lambda *_: (str(target), ""))
    with driver.qtbot.waitSignal(window.exporting.exporter.finished, timeout=120_000):
        window.exporting.ask_picture()
    with Image.open(target) as picture:
        assert picture.width == 2400
        assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.1)  # PNG keeps pixels per metre
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    assert (pixels[0, 0] == 255).all()
    assert 0.05 < (np.abs(pixels - 255).max(axis=2) > 12).mean() < 0.98  # a room on white paper


def test_layout_theme_units_and_folder_are_remembered(driver):
    from PySide6.QtCore import QSettings

    from viewer.window.workbench import Workbench

    window = driver.window
    window.looking.toggle_dark(True)
    window.looking.toggle_imperial(True)
    window.questions.folder = driver.folder
    window.main.across.setSizes([700, 500])
    sizes = window.main.across.sizes()
    window.main.remember()
    again = Workbench(QSettings(window.main.settings.fileName(), QSettings.Format.IniFormat))
    again.main.show()
    driver.qtbot.waitExposed(again.main)
    assert (again.main.theme, again.main.units, again.questions.folder) == (
        "dark",
        "imperial",
        str(driver.folder),
    )
    assert again.main.across.sizes()[1] == pytest.approx(sizes[1], abs=2)  # whole pixels of the handle
    again.main.close()


def test_the_form_takes_feet_and_inches_and_names_what_does_not_fit(qtbot):
    from viewer.window.controls import StartPage

    page = StartPage()
    qtbot.addWidget(page)
    page.tape.setCurrentText("feet, or feet and inches")
    assert page.fields["length"].placeholderText() == "13 ft 9 in"  # 4.2 m to the inch
    page.fields["length"].setText("13'4")
    page.fields["width"].setText("10 2")
    page.fields["door"].setText("rear, 1, 2'8")
    page.fields["door"].editingFinished.emit()
    assert page.trouble.text().endswith('no such wall, did you mean "back wall"?')
    page.fields["door"].setText("back, 1, 2'8")
    with qtbot.waitSignal(page.room_sketched) as sketched:
        page.sketch()
    assert 'length = "13 ft 4 in"' in sketched.args[0]
    assert 'width = "10 ft 2 in"' in sketched.args[0]

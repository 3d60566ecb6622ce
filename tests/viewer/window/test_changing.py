"""Changes from the list of what a room holds and its form, by real key events: one edit and one step each."""

from PySide6.QtCore import Qt

from tests.support.pixels import listed
from tests.support.windows import driver

__all__ = ["driver"]


def test_the_form_of_what_is_selected_changes_its_keys_in_the_text_one_step_each(driver):
    path = driver.copy("treated-box")
    before = path.read_bytes()
    driver.open(path)
    window = driver.window
    window.show_contents()
    contents, session = window.main.contents, window.session
    contents.tree.setCurrentItem(listed(contents.tree, ("panels", 2)))
    assert window.shown.thing == ("panels", 2)  # and in the room
    driver.type(contents.form.row_of("gap").fields[0], "0.06")
    assert session.draft.text.encode() == before.replace(
        b'centre = [1.50, 1.20]\ngap = "50 mm"', b'centre = [1.50, 1.20]\ngap = "60 mm"'
    )
    # What cannot be is told at its field, and changes nothing.
    text = session.draft.text
    driver.type(contents.form.row_of("gap").fields[0], "60 m")
    assert "accepted: 0 m to 10 m" in contents.form.row_of("gap").why.text()
    assert contents.form.row_of("gap").why.isVisible()
    assert session.draft.text == text
    window.step_back()  # what Escape does
    assert contents.form.row_of("gap").fields[0].text() == "60 mm"
    driver.type(contents.form.row_of("centre").fields[0], "1480 mm")
    assert contents.form.row_of("gap").why.text() == ""
    assert "centre = [1.48, 1.20]" in session.draft.text
    driver.type(contents.form.row_of("centre").fields[1], "60 m")
    driver.type(contents.form.row_of("gap").fields[0], "")
    assert "[1.48, 1.20]\n\n" in session.draft.text
    # Several at once: what all of them take, as one step.
    for index in (0, 1):
        listed(contents.tree, ("panels", index)).setSelected(True)
    assert len(window.changing.state.chosen) == 3
    driver.type(contents.form.row_of("gap").fields[0], "40 mm")
    assert session.draft.text.count('gap = "40 mm"') == 3
    for _ in range(4):
        window.editing.undo()
    assert session.draft.text.encode() == before
    assert not session.history.can_undo
    driver.rest()


def type_at(driver, old, new):
    """Put the cursor behind a piece of the text beside the room, take that out and type another."""
    page = driver.window.main.text.page
    page.setFocus()
    cursor = page.textCursor()
    cursor.setPosition(page.toPlainText().index(old) + len(old))
    page.setTextCursor(cursor)
    for _ in old:
        driver.qtbot.keyClick(page, Qt.Key.Key_Backspace)
    driver.qtbot.keyClicks(page, new)


def test_text_and_room_follow_each_other_and_errors_stand_at_their_line(driver):
    path = driver.copy("box")
    before = path.read_bytes()
    driver.open(path)
    window, page, session = driver.window, driver.window.main.text.page, driver.window.session
    window.show_text()
    window.changing.choose((("speakers", 1),))
    selections = page.extraSelections()  # held: its cursors go with it
    marked = selections[0].cursor.selectedText()
    assert marked.startswith("[[speakers]]")
    assert 'name = "right"' in marked
    type_at(driver, '"1790 mm", "1500 mm"', '"1830 mm", "1500 mm"')
    driver.qtbot.waitUntil(lambda: session.scene.seats[0].ears[0] == 1.83, timeout=5000)
    assert window.changing.state.chosen == (("seats", 0),)  # where the cursor stood
    driver.rest()
    assert window.shown.study.scene.seats[0].ears[0] == 1.83
    # A text that is no scene is told at its line; it goes before all other changes, and is never saved.
    type_at(driver, '"1500 mm", "1200 mm"', '"1500 mm", 120')
    driver.qtbot.waitUntil(lambda: window.main.text.trouble.isVisible(), timeout=5000)
    line = page.toPlainText()[: page.toPlainText().index(", 120]")].count("\n") + 1
    assert window.main.text.trouble.text().startswith(f"Line {line}: seats[1].ears[3]: read as 120 m")
    window.editing.place(("speakers", 0), (0.9, 0.95, 1.2))
    assert "the text beside the room comes first" in window.shown.trouble
    assert not window.filing.save()
    driver.answers = [1]
    assert not window.filing.may_leave()
    assert path.read_bytes() == before
    window.step_back()  # what Escape does
    assert not window.main.text.trouble.isVisible()
    assert page.toPlainText() == session.scene.text
    window.editing.undo()
    assert page.toPlainText().encode() == before
    driver.rest()

"""Changes from the list of what a room holds and its form, by real key events: one edit and one step each."""

from PySide6.QtCore import Qt

from tests.support.windows import driver

__all__ = ["driver"]


def test_the_form_of_what_is_selected_changes_its_keys_in_the_text_one_step_each(driver):
    path = driver.copy("treated-box")
    before = path.read_bytes()
    driver.open(path)
    window = driver.window
    window.show_contents()
    contents, session = window.main.contents, window.session
    contents.tree.setCurrentItem(contents.item_of(("panels", 2)))
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
    driver.qtbot.keyClick(contents.form.row_of("gap").fields[0], Qt.Key.Key_Escape)
    assert contents.form.row_of("gap").fields[0].text() == "60 mm"
    driver.type(contents.form.row_of("centre").fields[0], "1480 mm")
    assert contents.form.row_of("gap").why.text() == ""
    assert "centre = [1.48, 1.20]" in session.draft.text
    driver.type(contents.form.row_of("centre").fields[1], "60 m")
    driver.type(contents.form.row_of("gap").fields[0], "")
    assert "[1.48, 1.20]\n\n" in session.draft.text
    # Several at once: what all of them take, as one step.
    for index in (0, 1):
        contents.item_of(("panels", index)).setSelected(True)
    assert len(window.changing.desk.chosen) == 3
    driver.type(contents.form.row_of("gap").fields[0], "40 mm")
    assert session.draft.text.count('gap = "40 mm"') == 3
    for _ in range(4):
        window.editing.undo()
    assert session.draft.text.encode() == before
    assert not session.history.can_undo
    driver.rest()

"""A room laid out by real mouse and key events, from the empty window to a saved scene, and undone again."""

import tomllib

import numpy as np
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from raytrace import LISTS, Follower, add_in_text, build_room, load_scene, sketch_scene
from tests.support.pixels import listed
from tests.support.windows import SCENES, WAIT_MS, driver
from viewer.window.session import Draft
from viewer.window.state import STARTERS, Placing, entry_of, first_place, kept_inside, placed

__all__ = ["driver"]


def add(driver, words, surface, uv):
    """Choose something in the menu and click where it goes, seen from inside straight on."""
    window = driver.window
    window.looking.view(surface)
    menu = next(a.menu() for a in window.main.menuBar().actions() if a.text() == "&Add")
    next(a for a in menu.actions() if a.text() == words).trigger()
    room = window.shown.study.room
    frame = room.surfaces[room.surface_index(surface)].frame
    pixel = window.main.room.camera.project(frame.to_room(np.array(uv)))
    driver.point(driver.surface, tuple(float(x) for x in pixel))
    assert window.shown.placing is not None
    driver.click(driver.surface, tuple(float(x) for x in pixel))
    assert window.shown.trouble == ""
    assert window.shown.placing is None


def test_a_room_is_laid_out_without_a_text_editor_and_undone_to_the_same_bytes(driver):
    window = driver.window
    start, session = window.main.start, window.session
    driver.type(start.title, "Laid out")
    driver.qtbot.mouseClick(start.make, Qt.MouseButton.LeftButton)
    driver.rest()
    first = session.draft.text
    n_steps = 0
    for words, surface, uv in (
        ("Door", "back wall", (0.8, 1.0)),
        ("Window", "front wall", (1.5, 1.5)),
        ("Rug", "floor", (2.2, 1.5)),
        ("Desk", "floor", (1.2, 1.5)),
        ("Sub", "floor", (0.4, 0.5)),
        ("Panel", "left wall", (2.6, 1.4)),
        ("Cloud", "ceiling", (1.6, 1.5)),
        ("Joists", "ceiling", (0.4, 0.3)),
        ("Part to be kept free", "ceiling", (3.4, 0.5)),
    ):
        add(driver, words, surface, uv)
        n_steps += 1
    # The other side, one more held by the keyboard alone, one thing less, another name.
    window.show_contents()
    contents = window.main.contents
    contents.tree.setCurrentItem(listed(contents.tree, ("panels", 0)))
    driver.qtbot.mouseClick(contents.mirror, Qt.MouseButton.LeftButton)
    assert window.shown.trouble == ""
    assert session.scene.panels[1].surface == "right wall"
    contents.tree.setCurrentItem(listed(contents.tree, ("objects", 0)))
    driver.type(contents.form.row_of("name").fields[0], "long desk")
    window.adding.begin("Shelf")
    driver.type(window.main.place.fields[0], "3.4")
    assert session.scene.objects[1].centre[0] == 3.4
    driver.qtbot.mouseClick(contents.delete, Qt.MouseButton.LeftButton)
    n_steps += 4
    assert [own.name for own in session.scene.objects] == ["long desk"]
    path = driver.folder / "laid-out.toml"
    window.questions.file_to_write = lambda _title, name, _kinds: str(driver.folder / name)
    assert window.filing.save()
    scene = load_scene(path)
    build_room(scene)
    assert {kind: len(getattr(scene, kind)) for kind in LISTS} == {
        **{kind: len(tomllib.loads(first).get(kind, [])) for kind in LISTS},
        "openings": 3,
        "objects": 1,
        "speakers": 3,
        "keep_outs": 1,
        "joists": 1,
        "panels": 2,
        "clouds": 1,
    }
    text = path.read_text()
    assert '[[objects]]\nname = "long desk"\nshape = "box"\ncentre = [' in text
    assert "size = [0.7, 1.5, 0.03]" in text
    assert [line for line in first.splitlines() if line.startswith("#")] == [
        line for line in text.splitlines() if line.startswith("#")
    ]
    for _ in range(n_steps):
        assert session.history.can_undo
        window.editing.undo()
    assert session.draft.text == first
    assert not session.history.can_undo
    driver.rest()


@pytest.mark.slow
def test_a_room_is_laid_out_saved_reported_and_undone_by_keys_alone(driver, monkeypatch):
    window, key = driver.window, Qt.Key
    main, start, session = window.main, window.main.start, window.session

    def take_keys():
        """Keys go to whichever window on the display has them, and no window manager gives them back."""
        driver.qtbot.waitUntil(lambda: (main.activateWindow(), main.isActiveWindow())[1], timeout=WAIT_MS)

    take_keys()

    def press(*keys, modifier=Qt.KeyboardModifier.NoModifier):
        for own in keys:
            QTest.keyClick(main.windowHandle(), own, modifier)

    def go_to(what, by=key.Key_Tab, at_most=40):
        """Press a key until something is reached."""
        for _ in range(at_most):
            if what():
                return
            press(by)
        raise AssertionError("not reached by the keyboard")

    def write(text):
        press(key.Key_A, modifier=Qt.KeyboardModifier.ControlModifier)
        for sign in text:
            QTest.keyClick(main.windowHandle(), sign)
        press(key.Key_Return)

    go_to(lambda: main.focusWidget() is start.title)
    write("By keys")
    go_to(lambda: main.focusWidget() is start.make)
    press(key.Key_Space)
    driver.rest()
    first = session.draft.text
    press(key.Key_A, modifier=Qt.KeyboardModifier.AltModifier)
    menu = QApplication.activePopupWidget()
    go_to(lambda: menu.activeAction() is not None and menu.activeAction().text() == "Desk", key.Key_Down)
    press(key.Key_Return)
    held = window.shown.placing.place
    press(key.Key_Right, key.Key_Right, key.Key_Return)
    (desk,) = session.scene.objects
    assert desk.centre[1] == pytest.approx(held[1] + 0.02)
    press(key.Key_C)
    form = main.contents.form
    go_to(lambda: main.focusWidget() is form.row_of("name").fields[0])
    write("long desk")
    driver.rest()
    press(key.Key_Escape)  # leaves the field, not what is selected
    assert window.shown.thing == ("objects", 0)
    press(key.Key_E)
    assert main.focusWidget() is main.place.fields[0]
    write("1.3")
    assert session.scene.objects[0].name == "long desk"
    assert session.scene.objects[0].centre[0] == pytest.approx(1.3)
    path = driver.folder / "keys.toml"
    window.questions.file_to_write = lambda *_: str(path)
    press(key.Key_S, modifier=Qt.KeyboardModifier.ControlModifier)
    assert load_scene(path).objects == session.scene.objects
    # The report, with its form as it opens.
    report = driver.folder / "report"
    window.questions.file_to_write = lambda *_: str(report)
    monkeypatch.delattr(window.questions, "ask_output")  # the real one

    def answer():
        form = QApplication.activeModalWidget()
        if form is not None and form.isVisible():
            asks.stop()
            QTest.keyClick(form.windowHandle(), key.Key_Return)

    asks = QTimer(interval=50)
    asks.timeout.connect(answer)
    asks.start()
    take_keys()
    window.exporting.exporter.failed.connect(pytest.fail)
    with driver.qtbot.waitSignal(window.exporting.exporter.finished, timeout=900_000):
        press(key.Key_R, modifier=Qt.KeyboardModifier.ControlModifier)
    assert (report / "client.pdf").read_bytes().startswith(b"%PDF")
    assert '"long desk' in (report / "arrivals.json").read_text()
    assert sorted(own.name for own in driver.folder.glob("*.toml")) == [path.name]  # no scratch is left
    take_keys()
    for _ in range(3):
        press(key.Key_Z, modifier=Qt.KeyboardModifier.ControlModifier)
    assert session.draft.text == first
    assert not session.history.can_undo
    driver.rest()


def test_escape_lets_go_of_what_is_held_and_what_cannot_be_there_stays_held(driver):
    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    window.looking.view("back wall")
    window.adding.begin("Door")
    assert window.shown.placing.surface == "front wall"
    driver.type(window.main.place.fields[0], "0.1")  # half of it beside the wall
    assert "Not possible there" in window.shown.trouble
    assert window.shown.placing is not None
    window.step_back()  # what Escape does: it leaves the field first
    assert window.shown.placing is not None
    window.step_back()
    assert window.shown.placing is None
    assert window.shown.trouble == ""
    assert not window.session.draft.dirty
    window.changing.choose((("seats", 0),))
    window.adding.delete()
    assert "has to stay" in window.shown.trouble
    window.editing.place(("seats", 0), (1.8, 1.5, 1.2))
    assert window.shown.trouble == ""  # a valid change takes the words away
    driver.rest()


@pytest.mark.parametrize("starter", STARTERS, ids=lambda own: own.words)
def test_everything_that_can_be_added_has_a_first_place_on_a_surface(starter):
    from tests.support.studies import shipped_study

    study = shipped_study("garage")
    surface, place = first_place(study, starter)
    named = study.room.surfaces[study.room.surface_index(surface)]
    assert named.owner is None
    assert len(place) == 2
    assert (SCENES / "garage.toml").exists()


@pytest.mark.parametrize("words", ["Desk", "Rug", "Cloud"])
def test_what_belongs_between_speakers_and_seat_begins_there(words):
    from tests.support.studies import shipped_study

    study = shipped_study("box")
    starter = next(own for own in STARTERS if own.words == words)
    surface, place = first_place(study, starter)
    frame = study.room.surfaces[study.room.surface_index(surface)].frame
    x, y = place if words == "Desk" else frame.to_room(np.array(place))[:2]
    assert study.scene.speakers[0].position[0] < x < study.scene.seats[0].ears[0]
    assert y == pytest.approx(study.scene.seats[0].ears[1])


@pytest.mark.parametrize("length", ["3.2", "4.6", "6.0"])
@pytest.mark.parametrize("words", ["Desk", "Rug", "Panel", "Cloud", "Joists", "Part to be kept free"])
def test_where_something_begins_it_can_stay(words, length):
    text = sketch_scene("box", {"length": length, "width": "3.25"}, title="room")
    study = Follower().ears(Draft(None, text, "").scene())
    starter = next(own for own in STARTERS if own.words == words)
    held = placed(study, Placing(starter, "new"), *first_place(study, starter))
    build_room(Draft(None, add_in_text(text, starter.kind, entry_of(study, held)), "").scene())


def test_what_is_pointed_over_an_edge_stays_inside(driver):
    study = driver.open(driver.copy("box")).study
    desk, cloud, speaker = (
        next(own for own in STARTERS if own.words == w) for w in ("Desk", "Cloud", "Speaker")
    )
    assert kept_inside(study, desk, "", (0.1, 1.5)) == (0.35, 1.5)  # 0.7 m deep
    assert kept_inside(study, desk, "", (4.1, 2.9)) == pytest.approx((3.85, 2.25))  # 1.5 m wide
    assert kept_inside(study, cloud, "ceiling", (1.0, 1.5)) == (1.2, 1.5)  # two slabs of 1.2 m
    assert kept_inside(study, speaker, "", (0.05, 1.5)) == (0.05, 1.5)  # may be built into a wall


def test_a_cloud_is_pointed_at_through_the_ceiling_and_elsewhere_told_where_it_goes(driver):
    driver.open(driver.copy("garage"))
    window = driver.window
    window.looking.view_room()
    window.adding.begin("Cloud")
    frame = window.shown.study.room.surfaces[window.shown.study.room.surface_index("ceiling")].frame
    camera = window.main.room.camera
    ceiling = tuple(float(x) for x in camera.project(frame.to_room(np.array([2.4, 1.35]))))
    floor = tuple(float(x) for x in camera.project(np.array([5.2, 2.5, 0.0])))
    driver.point(driver.surface, ceiling)
    # Drawn to the grid and to other things.
    assert window.shown.placing.place == pytest.approx((2.4, 1.35), abs=0.02)
    driver.click(driver.surface, floor)
    assert window.shown.trouble == "Point at the ceiling: cloud goes there"
    assert window.shown.placing is not None

"""A scan dropped on the window: looked over, its planes changed by hand, written as a scene and opened."""

import json

import pytest
from PySide6.QtCore import QEvent, Qt

from raytrace import MeshError, load_scene
from tests.raytrace.scan.test_floorplan import ELBOW, door_block, drawn
from tests.support.doorways import TwoRooms
from tests.support.pixels import pixel_of_scanned
from tests.support.scans import AS_DRAWN, Rough, glb_bytes, obj_text, plan_room, scan_of
from tests.support.windows import WAIT_MS, driver
from viewer.window import scanning
from viewer.window.main_window import SCAN, START
from viewer.window.scenery import scan_layers, scan_names

__all__ = ["driver"]

DESK = ((0.5, 0.8, 0.0), (1.1, 2.2, 0.72))


@pytest.fixture(scope="module")
def scan(tmp_path_factory):
    path = tmp_path_factory.mktemp("scan") / "den.obj"
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4, blocks=(DESK,))
    path.write_text(obj_text(*scan_of(truth, Rough(noise=0.004, edge=0.25, repeated=0, degenerate=0))))
    return path


def settled(driver):
    """Wait until what was asked of the scan is shown."""
    page = driver.window.main.scan
    driver.qtbot.waitUntil(lambda: not page.bar.isVisible(), timeout=WAIT_MS)
    driver.qtbot.wait(20)
    return driver.window.scanning.shown


def row_of(shown, name):
    return [surface.name for surface in shown.room.surfaces].index(name)


def pull(driver, row, step):
    """Click a surface, then drag it."""
    view = driver.window.main.scan.view
    x, y = pixel_of_scanned(driver.window, row)
    driver.click(view, (x, y))
    assert driver.window.scanning.shown.chosen == (row,)
    held = Qt.MouseButton.LeftButton
    driver.send(view, QEvent.Type.MouseButtonPress, (x, y), held)
    for k in (1, 2, 3):
        driver.send(view, QEvent.Type.MouseMove, (x + k * step[0] / 3, y + k * step[1] / 3), held)
        driver.qtbot.wait(5)
    pulled_m = driver.window.scanning.shown.pulled_m
    driver.send(view, QEvent.Type.MouseButtonRelease, (x + step[0], y + step[1]))
    return pulled_m


def test_a_scan_is_corrected_by_hand_and_becomes_a_scene(driver, scan):
    window = driver.window
    page = window.main.scan
    assert driver.drop(scan)
    shown = settled(driver)
    assert window.main.pages.currentIndex() == SCAN
    assert not window.main.menu_actions["adding.delete"].isEnabled()  # of a room that is not seen
    assert page.read.text().startswith("Read as mm with y upwards (proposed from its size)")
    names = [page.table.item(row, 0).text() for row in range(page.table.rowCount())]
    assert sorted(names) == sorted(surface.name for surface in shown.room.surfaces)
    before = dict(shown.room.shape.numbers)
    # A wall is dragged along its normal: told in millimetres while it moves, the room fitted when it rests.
    wall = row_of(shown, "front wall")
    pulled_m = pull(driver, wall, (0.0, 40.0))
    assert abs(pulled_m) > 0.05  # 40 px of a room some 600 px wide
    shown = settled(driver)
    assert page.table.item(wall, 3).text() == f"{round(1000 * pulled_m):+d}"
    after = dict(shown.room.shape.numbers)
    assert after["length"] == pytest.approx(before["length"] - pulled_m, abs=1e-3)  # walls 0.1 deg askew
    page.undo.click()
    assert dict(settled(driver).room.shape.numbers) == pytest.approx(before)
    pull(driver, wall, (0.0, 40.0))
    settled(driver)
    # What makes no room is refused in place, and the planes stay as they were.
    window.main.scan.view.chosen.emit(row_of(window.scanning.shown, "ceiling"), False)
    page.aside.click()
    shown = settled(driver)
    assert "no ceiling was found" in page.says.text()
    assert shown.edits.aside == ()
    # A name is typed over another one.
    page.table.item(wall, 0).setText("window wall")
    shown = settled(driver)
    assert "window wall" in shown.room.shape.walls
    target = driver.folder / "den.toml"
    window.questions.file_to_write = lambda *_: str(target)
    page.accept.click()
    driver.rest()
    assert window.session.path == target
    assert window.main.menu_actions["adding.delete"].isEnabled()
    assert "window wall" in load_scene(target).room.walls
    told = json.loads((driver.folder / "den-import.json").read_text())
    assert any(line.startswith("the window wall was moved by hand") for line in told["report"])


def test_what_is_seen_is_named_with_its_size_and_holes_are_drawn(driver, tmp_path):
    path = tmp_path / "den.obj"
    truth = plan_room(
        [(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4, blocks=(DESK,), hole=((2.0, 0.3), (2.5, 2.5))
    )
    path.write_text(obj_text(*scan_of(truth, Rough(noise=0.0, edge=0.25, repeated=0, degenerate=0))))
    driver.drop(path)
    shown = settled(driver)
    assert "3.60 m long, 2.80 m wide, 2.40 m high, floor 10.1 m²" in driver.window.main.scan.read.text()
    camera = driver.window.main.scan.view.camera
    words = {name.words for name in scan_names(shown, camera)}
    assert {"left wall, 3.60 m", "hole 1, 1.1 m²", shown.room.objects[0].name} <= words
    assert scan_layers(shown, camera)["holes"].mesh.GetNumberOfCells() > 0


def test_unit_and_axis_are_changed_by_a_key_and_what_makes_no_room_is_said(driver, scan):
    window, page = driver.window, driver.window.main.scan
    driver.drop(scan)
    settled(driver)
    driver.qtbot.keyClick(page.table, Qt.Key.Key_Y)
    shown = settled(driver)
    assert (shown.settings.unit, shown.settings.up) == ("mm", "z")
    assert page.says.text() or shown.grown.reading.asked
    driver.qtbot.keyClick(page, Qt.Key.Key_Y)
    assert settled(driver).grown.reading.up == "y"
    broken = driver.folder / "broken.obj"
    broken.write_text("v 0 0 0\nf 1 2 3\n")
    driver.drop(broken)
    settled(driver)
    assert "broken.obj" in page.says.text()
    assert not page.accept.isEnabled()
    page.cancel.click()
    assert window.main.pages.currentIndex() == START


def test_two_walls_are_made_one_plane(driver, tmp_path):
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0.06, 2.8), (0.06, 2.3), (0, 2.3)], 2.4)
    path = tmp_path / "stepped.obj"
    path.write_text(obj_text(*scan_of(truth, Rough(noise=0.003, edge=0.25, repeated=0, degenerate=0))))
    window, page = driver.window, driver.window.main.scan
    driver.drop(path)
    before = settled(driver).room
    assert before.shape.kind == "plan"
    sides = [row for row, surface in enumerate(before.surfaces) if "front" in surface.name]
    assert len(sides) == 2
    window.main.scan.view.chosen.emit(sides[0], False)
    assert not page.merge.isEnabled()
    window.main.scan.view.chosen.emit(sides[1], True)
    page.merge.click()
    after = settled(driver).room
    (front,) = (surface for surface in after.surfaces if "front" in surface.name)
    assert front.planes in {before.surfaces[row].planes for row in sides}
    assert len(after.shape.corners) == 4
    assert any("made part of others by hand" in line for line in after.report)
    page.undo.click()
    assert settled(driver).room.shape.walls == before.shape.walls
    # What makes no room is said in place, and nothing is written.
    window.main.scan.view.chosen.emit(row_of(window.scanning.shown, "floor"), False)
    window.main.scan.view.chosen.emit(sides[1], True)
    page.merge.click()
    assert page.says.text() == scanning.TWO_OF_A_KIND
    page.cancel.click()


def test_faces_that_make_no_room_are_refused_where_the_scan_stands(driver, scan, monkeypatch):
    window, page = driver.window, driver.window.main.scan
    driver.drop(scan)
    settled(driver)

    def refused(*_):
        raise MeshError("den.obj: the flat faces that fit it make no room")

    monkeypatch.setattr(scanning, "draft_scene", refused)
    window.questions.file_to_write = lambda *_: str(driver.folder / "none.toml")
    page.accept.click()
    assert page.says.text() == "den.obj: the flat faces that fit it make no room"
    assert not (driver.folder / "none.toml").exists()
    page.cancel.click()


def test_a_floor_plan_that_is_dropped_becomes_a_scene_of_the_height_that_is_asked_for(driver, tmp_path):
    def door(document, place):
        door_block(document, place, at=(1.0, -0.1), size=(0.9, 0.1))

    path = drawn(tmp_path / "flat.dxf", ELBOW, fill=door)
    window, target = driver.window, driver.folder / "flat.toml"
    asked = []
    window.questions.ask_name = lambda title, _: asked.append(title) or "2450 mm"
    window.questions.file_to_write = lambda *_: str(target)
    assert driver.drop(path)
    driver.rest()
    assert asked == [scanning.HEIGHT]
    assert window.session.path == target
    scene = load_scene(target)
    assert (scene.room.shape, scene.room.height) == ("plan", 2.45)
    assert len(scene.room.corners) == len(ELBOW)
    assert (driver.folder / "flat-import.json").is_file()
    # What is no height, and a drawing without an outline, are told in a box, and what is open stays.
    told = []
    window.questions.tell_plain = lambda title, text: told.append((title, text))
    window.questions.ask_name = lambda *_: "tall"
    driver.drop(path)
    window.questions.ask_name = lambda *_: "2400 mm"
    driver.drop(drawn(tmp_path / "empty.dxf", None))
    assert [title for title, _ in told] == ["No room was made of this plan"] * 2
    assert window.session.path == target


def test_another_of_the_rooms_in_a_scan_is_chosen_from_a_list(driver, scan, tmp_path):
    page = driver.window.main.scan
    driver.drop(scan)
    settled(driver)
    assert not page.room.isVisible()  # there is one
    path = tmp_path / "flat.glb"
    path.write_bytes(glb_bytes(*TwoRooms(thick=0.0).scan(AS_DRAWN)))
    driver.drop(path)
    shown = settled(driver)
    said = "Read as m with y upwards (unit proposed from its size, axis by its format)"
    assert page.read.text().startswith(said)
    assert page.room.isVisible()
    offered = [page.room.itemText(row) for row in range(page.room.count())]
    assert offered == ["1: 4.60 m by 3.80 m", "2: 3.80 m by 2.90 m", "all of it as one"]
    assert page.room.currentIndex() == 0
    page.room.setCurrentIndex(1)
    page.room.activated.emit(1)
    shown = settled(driver)
    assert shown.room.shape.area_m2("floor") == pytest.approx(2.9 * 3.8, rel=1e-3)  # drawn, single precision
    assert page.room.currentText().startswith("2:")

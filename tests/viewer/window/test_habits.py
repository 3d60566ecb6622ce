"""What a person takes for granted of a window: names for those who hear it, recent files, plain words."""

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QAccessible, QImage, QNativeGestureEvent, QPointingDevice, QWheelEvent
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import QAbstractScrollArea, QApplication, QComboBox, QWidget

from tests.support.windows import driver
from viewer.window.scenery import marks

__all__ = ["driver"]


def nameless(root):
    """What can be reached by keyboard and says nothing of itself to a screen reader."""
    found = []
    for widget in root.findChildren(QWidget):
        own = QAccessible.queryAccessibleInterface(widget)
        around = widget.parent(), widget.parent().parent()
        is_inner = isinstance(around[0], QAbstractScrollArea) or isinstance(around[1], QComboBox)
        is_inner |= widget.objectName().startswith("qt_")
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not is_inner and own is not None:
            name = own.text(QAccessible.Text.Name) or own.text(QAccessible.Text.Value)
            if not name.strip():
                found.append(f"{type(widget).__name__} in {type(widget.parent()).__name__}")
    return sorted(set(found))


def test_all_that_the_keyboard_reaches_has_a_name_and_wrong_values_leave_no_trace(driver):
    window = driver.window
    assert nameless(window.main) == []  # the start page
    window.looking.toggle_imperial(True)
    path = driver.copy("box")
    driver.open(path)
    for chosen in (("room",), ("speakers", 0), ("seats", 0), ("surfaces",)):
        window.changing.choose((chosen,))
        assert nameless(window.main) == []
    # A value that cannot be, in the other units, then the one that was there.
    window.changing.choose((("speakers", 0),))
    before = window.session.scene.speakers[0].position
    driver.type(window.main.place.fields[0], "-1 m")
    assert "Not possible there" in window.shown.trouble
    window.editing.place(("speakers", 0), before)
    assert window.shown.trouble == ""
    # In a form, too; and no stroke before a quote.
    window.changing.choose((("room",),))
    row = window.main.contents.form.row_of("height")
    driver.type(row.fields[0], "500'")
    assert row.why.isVisibleTo(row.why.parentWidget())
    assert "\\" not in row.why.text()
    driver.type(row.fields[0], str(window.session.scene.room.height))
    assert row.why.text() == ""
    assert not window.session.draft.dirty
    assert window.questions.recent == [path.resolve()]
    window.main.recent.aboutToShow.emit()
    assert "box.toml" in window.main.recent.actions()[0].text()


def test_wheel_and_touchpad_go_nearer_and_turn(driver):
    driver.open(driver.copy("box"))
    window, surface = driver.window, driver.surface
    first, at = window.shown.eye, QPointF(300.0, 200.0)
    there = QPointF(surface.mapToGlobal(at))

    def scroll(x, y):
        how = Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False
        QApplication.sendEvent(surface, QWheelEvent(at, there, QPoint(), QPoint(x, y), *how))
        return window.shown.eye

    def pinch(share, kind=Qt.NativeGestureType.ZoomNativeGesture):
        pad = QPointingDevice.primaryPointingDevice()
        QApplication.sendEvent(surface, QNativeGestureEvent(kind, pad, 2, at, at, there, share, QPointF()))
        return window.shown.eye

    nearer = scroll(0, 120)
    assert nearer.distance_m < first.distance_m
    assert scroll(0, -120).distance_m == pytest.approx(first.distance_m)  # rounding
    assert pinch(0.25).distance_m == pytest.approx(first.distance_m / 1.25)
    assert pinch(-0.2).distance_m == pytest.approx(first.distance_m)  # 1.25 times 0.8
    assert pinch(0.5, Qt.NativeGestureType.RotateNativeGesture).distance_m == window.shown.eye.distance_m
    sideways = scroll(120, 10)
    assert sideways.distance_m == pytest.approx(first.distance_m)
    assert sideways.azimuth_deg != first.azimuth_deg
    assert sideways.elevation_deg == pytest.approx(first.elevation_deg)


def test_several_things_are_lined_up_and_spaced_evenly_in_one_step_each(driver):
    driver.open(driver.copy("garage"))
    window = driver.window
    scene = window.session.scene
    mains = [("speakers", k) for k, own in enumerate(scene.speakers) if own.use == "main"][:2]
    window.changing.choose(mains[:1])
    window.arranging.align_height()
    assert "Select 2" in window.shown.trouble
    window.editing.place(mains[1], (1.0, 2.1, 1.5))
    window.changing.choose(mains)
    window.arranging.align_height()
    first, second = (window.session.scene.speakers[k] for _, k in mains)
    assert second.position[2] == first.position[2]
    assert second.position[:2] == (1.0, 2.1)
    third = ("seats", 0)
    window.changing.choose((*mains, third))
    before = window.session.draft.text
    window.arranging.space_evenly()
    assert window.session.draft.text != before
    places = [window.session.scene.speakers[k].position for _, k in mains]
    places = np.array([*places, window.session.scene.seats[0].ears])
    axis = int(np.argmax(np.ptp(places, axis=0)))
    steps = np.diff(np.sort(places[:, axis]))
    assert steps[0] == pytest.approx(steps[1], abs=0.0011)  # places are written to the millimetre
    window.editing.undo()
    assert window.session.draft.text == before


def test_a_new_speaker_stands_on_the_desk_under_the_pointer(driver):
    driver.open(driver.copy("garage"))
    window = driver.window
    desk = window.session.scene.objects[0]
    top_m = desk.centre[2] + desk.size[2] / 2
    window.looking.view("plan")
    window.adding.begin("Speaker")
    x, y = window.main.room.camera.project(np.array([*desk.centre[:2], top_m]))
    driver.point(driver.surface, (float(x), float(y)))
    assert window.shown.placing.ground == desk.name
    assert "New" in window.main.place.name.text()
    assert desk.name in window.main.place.name.text()
    driver.click(driver.surface, (float(x), float(y)))
    added = window.session.scene.speakers[-1]
    assert added.position[2] == pytest.approx(top_m + 0.175, abs=0.001)  # half of a usual cabinet, to the mm


def test_a_view_is_printed_as_its_picture(driver):
    driver.open(driver.copy("box"))
    window, target = driver.window, driver.folder / "printed.pdf"

    def printer():
        made = QPrinter()
        made.setOutputFileName(str(target))
        return made

    window.questions.printer = printer
    exporter = window.exporting.exporter

    def picture(job, drawn):  # that the picture itself is right, other tests look
        job.unlink()
        made = QImage(400, 300, QImage.Format.Format_RGB32)
        made.fill(Qt.GlobalColor.white)
        assert made.save(str(drawn))
        exporter.finished.emit(str(drawn))

    exporter.picture = picture
    window.exporting.ask_print()
    assert target.read_bytes().startswith(b"%PDF")


def test_a_corner_of_the_plan_is_pulled_and_what_does_not_fit_is_told(driver):
    driver.open(driver.copy("elbow"))
    window = driver.window
    before, text = window.session.scene.room.corners, window.session.draft.text
    window.looking.view("plan")
    window.looking.toggle_parallel(True)
    camera = window.main.room.camera
    x, y = before[1]
    start, end = (camera.project(np.array([*place, 0.0])) for place in ((x, y), (x + 0.3, y)))
    driver.drag(tuple(map(float, start)), tuple(map(float, end - start)), release=False)
    assert window.shown.plan is not None
    driver.send(driver.surface, QEvent.Type.MouseButtonRelease, tuple(map(float, end)))
    after = window.session.scene.room.corners
    assert after[1] == pytest.approx((x + 0.3, y), abs=0.011)  # the grid is 10 mm
    assert after[0] == before[0]
    window.editing.undo()
    assert window.session.draft.text == text
    # Pulled over the seat it stays where it was.
    far = camera.project(np.array([0.5, 1.5, 0.0]))
    driver.drag(tuple(map(float, start)), tuple(map(float, far - start)))
    assert window.session.draft.text == text
    assert "corner stays" in window.shown.trouble
    assert window.shown.plan is None
    # What a corner leaves no place for is drawn dashed where it is, until something else is done.
    start, end = (camera.project(np.array([*place, 0.0])) for place in (before[5], (1.5, 2.9)))
    driver.drag(tuple(map(float, start)), tuple(map(float, end - start)))
    assert window.session.draft.text == text
    assert window.shown.misfits == (("speakers", 1),)
    assert marks(window.shown)["refused mark"].mesh.n_cells
    window.changing.choose(())
    assert not marks(window.shown)["refused mark"].mesh.n_cells

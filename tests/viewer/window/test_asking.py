"""The room is asked about a peak: why it is so strong, and what one panel would bring."""

import numpy as np
import pytest
from PySide6.QtCore import QEvent

from tests.support.pixels import pixel_of_thing
from tests.support.windows import driver
from viewer.window.asking import NO_PEAK
from viewer.window.scenery import plane_of
from viewer.window.state import Cut
from viewer.words import peak_of

__all__ = ["driver"]


def test_without_a_selection_it_is_said_what_to_select(driver):
    driver.open(driver.copy("box"))
    said = []
    driver.window.main.say = said.append
    driver.window.asking.why()
    assert said == [NO_PEAK]
    assert driver.asked == []


def test_why_and_the_best_panel_are_told_and_it_is_put_up_as_one_step(driver):
    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    window.selecting.strongest_row()
    peak = peak_of(window.shown.study, window.shown.chosen_row)
    window.asking.why()
    assert "farther than the direct way" in driver.asked[-1][1]
    assert "over the limit of −10.0 dB" in driver.asked[-1][1]
    driver.answers = [0]
    window.asking.mend()
    driver.qtbot.waitUntil(lambda: len(driver.asked) == 2, timeout=280_000)
    driver.rest()
    told = driver.asked[-1][1]
    assert "Best: one panel wool 50 on the " in told
    assert len(window.shown.study.room.panels) == 1
    margin_db = min(own.margin_db for own in window.shown.study.peaks if own.facets == peak.facets)
    assert margin_db > peak.margin_db + 1.0  # less than any panel over a first spot takes
    window.editing.undo()
    assert window.session.draft.text == path.read_text()


def test_two_clicks_in_the_room_measure_between_them_and_escape_ends_it(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    window.selecting.measure(True)
    for k in (0, 1):
        driver.click(driver.surface, pixel_of_thing(window, ("speakers", k)))
    assert window.main.verdict_line.text().startswith("1200 mm from left to right")
    assert window.shown.thing is None  # nothing was selected by the clicks
    window.step_back()
    assert window.shown.measuring is None
    driver.click(driver.surface, pixel_of_thing(window, ("speakers", 0)))
    assert window.shown.thing == ("speakers", 0)


def test_the_sheet_is_of_the_surface_under_the_pointer_elsewhere_of_the_selection(driver, monkeypatch):
    driver.open(driver.copy("treated-box"))
    window, room = driver.window, driver.window.main.room
    shown, asked = window.shown, []
    monkeypatch.setattr(window.asking, "sheets_of", lambda _shown, what: asked.append(what) or [])
    row = next(k for k in range(len(shown.study.arrivals.order)) if shown.study.arrivals.order[k] == 1)
    window.selecting.choose(row)
    selected = int(shown.study.arrivals.path_surfaces[row, 0])
    driver.send(driver.surface, QEvent.Type.Leave, (0, 0))
    window.asking.sheet()
    assert [what for what in asked if what is not None] == [selected]
    floor = shown.study.room.surface_index("floor")
    low = shown.study.room.bounds[0]
    x, y = room.camera.project(np.array([low[0] + 0.2, shown.study.room.bounds[1, 1] - 0.15, low[2]]))
    driver.point(driver.surface, (float(x), float(y)))
    asked.clear()
    window.asking.sheet()
    assert next(what for what in asked if what is not None) == floor


@pytest.mark.parametrize("view", ["plan", "section"])
def test_the_outline_of_a_cut_is_pulled_and_its_plane_stays_under_the_pointer(driver, view):
    driver.open(driver.copy("box"))
    window, room = driver.window, driver.window.main.room
    window.looking.view(view)
    window.looking.toggle_parallel(True)
    window.looking.cut(Cut(0, 0.5))  # across x, which runs in both pictures
    before = plane_of(window.shown).at_m
    bounds = window.shown.study.room.bounds
    start, end = (room.camera.project(np.array([at, *bounds[0, 1:]])) for at in (before, before + 0.5))
    middle = room.camera.project(np.array([before, *bounds.mean(axis=0)[1:]]))
    start = start + 0.3 * (middle - start) if view == "plan" else start
    step = tuple(map(float, end - room.camera.project(np.array([before, *bounds[0, 1:]]))))
    driver.drag(tuple(map(float, start)), step)
    assert plane_of(window.shown).at_m == pytest.approx(before + 0.5, abs=0.005)  # half a pixel
    assert not window.session.draft.dirty


def test_a_cut_seen_from_ahead_goes_deeper_as_the_pointer_goes_up(driver):
    driver.open(driver.copy("box"))
    window, room = driver.window, driver.window.main.room
    window.looking.view("section")
    window.looking.toggle_parallel(True)
    window.looking.cut(Cut(1, 0.5, keeps_far=room.camera.forward[1] > 0))
    before, (low, high) = plane_of(window.shown).at_m, window.shown.study.room.bounds
    corner = room.camera.project(np.array([low[0], before, (low[2] + high[2]) / 2]))
    driver.drag(tuple(map(float, corner)), (0.0, -40.0))
    deeper_m = (plane_of(window.shown).at_m - before) * np.sign(room.camera.forward[1])
    assert deeper_m == pytest.approx(
        40.0 / room.camera.pixels_per_metre(low), abs=1e-6
    )  # the same arithmetic

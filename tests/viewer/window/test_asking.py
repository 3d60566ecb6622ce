"""The room is asked about a peak: why it is so strong, and what one panel would bring."""

from tests.support.windows import driver
from viewer.window.asking import NO_PEAK
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
    window, room = driver.window, driver.window.main.room
    window.selecting.measure(True)
    for k in (0, 1):
        driver.click(driver.surface, room.pixel_of_thing(("speakers", k)))
    assert window.main._verdicts.text().startswith("1200 mm from left to right")
    assert window.shown.thing is None  # nothing was selected by the clicks
    window.step_back()
    assert window.shown.measuring is None
    driver.click(driver.surface, room.pixel_of_thing(("speakers", 0)))
    assert window.shown.thing == ("speakers", 0)

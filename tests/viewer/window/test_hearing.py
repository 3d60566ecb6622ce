"""Measurements dropped on the window: held against the room, their peaks selected, refusals in place."""

import numpy as np
import pytest

from tests.support.soundfiles import pulses, write_wav
from tests.support.windows import WAIT_MS, driver
from viewer.window.hearing import NO_ROOM
from viewer.window.scenery import heard_paths
from viewer.window.state import SoundFile, Sounds

__all__ = ["driver"]

UNDRAWN_MS = 1.5  # nothing of the box arrives so early


def drawn_shells(shown):
    return {name: layer.mesh.n_cells for name, layer in heard_paths(shown).items() if layer.mesh.n_cells}


@pytest.fixture
def box(driver):
    """The window with a room, and files of its left speaker as the room has it, one pulse added."""
    driver.open(driver.copy("box"))
    table = driver.window.shown.study.arrivals
    rows = np.flatnonzero((table.speaker == 0) & (table.order == 1))
    delays = np.array([0.0, 1e-3 * UNDRAWN_MS, *table.delay_s[rows]])
    levels = np.array([0.0, -9.0, *table.band_level_db[rows]])
    samples = pulses(delays, 10.0 ** (levels / 20.0), lasts_s=0.1)
    for name in ("left.wav", "room 1.wav"):
        write_wav(driver.folder / name, samples)
    quiet = 10.0 ** (np.append(0.0, levels[1:] - 6.0) / 20.0)
    write_wav(driver.folder / "left after.wav", pulses(delays, quiet, lasts_s=0.1))
    return driver


def dropped(driver, *names):
    """Drop files and wait for what they tell."""
    before = driver.window.shown.measured
    assert driver.drop(*(driver.folder / name for name in names))
    driver.qtbot.waitUntil(lambda: driver.window.shown.measured is not before, timeout=WAIT_MS)
    driver.qtbot.wait(20)
    return driver.window.shown


def test_a_dropped_measurement_lies_on_the_tape_and_its_peaks_show_their_candidates(box):
    shown = dropped(box, "left.wav")
    window, own, names = box.window, shown.measurement, []
    assert box.asked == []  # the name says whose it is, and there is one seat
    assert window.main.side.current == "Measured"
    assert len(own.peaks) >= 5  # the undrawn one and what first reflections the ear can part
    page = window.main.measured
    assert page.table.rowCount() == len(own.peaks)
    assert "nothing drawn explains it" in page.notes.text()
    strip = window.main.strip
    for k, peak in enumerate(own.peaks):
        box.click(strip, (strip.x_of(peak.peak.delay_s), strip.y_of(peak.peak.level_db)))
        assert window.shown.measured_chosen == k
        assert page.table.currentRow() == k
        drawn = drawn_shells(window.shown)
        if peak.made_by is None:
            assert {"heard air"} <= set(drawn) <= {"heard air", "heard shell"}
            assert 1e3 * peak.peak.delay_s == pytest.approx(UNDRAWN_MS, abs=0.01)  # as made
            names.append(k)
        else:
            assert drawn["heard made by"] >= 2  # a leg to the wall and one from it
    assert len(names) == 1
    window.step_back()
    assert window.shown.measured_peak is None
    assert drawn_shells(window.shown) == {}


def test_before_and_after_are_told_apart_and_follow_the_room(box):
    window, copy = box.window, box.folder / "left before.wav"
    (box.folder / "left.wav").rename(copy)
    shown = dropped(box, "left before.wav", "left after.wav")
    assert [name for name, _ in shown.measured.states] == ["before", "after"]
    assert "It worked" in window.main.measured.words.text()
    # The room is moved about: what was measured is held against it anew.
    before = shown.measured
    window.session.place(shown.study, ("seats", 0), (2.2, *shown.study.scene.seats[0].ears[1:]))
    box.rest()
    box.qtbot.waitUntil(lambda: window.shown.measured is not before, timeout=WAIT_MS)
    assert window.shown.held.scene is window.session.scene
    window.hearing.forget()
    assert window.shown.measured is None
    assert not window.main.measured.table.isVisible()


def test_whose_a_file_is_is_asked_where_its_name_does_not_say(box):
    told = []

    def answer(_scene, sounds):
        told.append(sounds)
        return Sounds((SoundFile(sounds.files[0].path, "right", "mix"),), sounds.sweep)

    box.window.questions.ask_sounds = answer
    shown = dropped(box, "room 1.wav")
    assert told[0].files[0].speaker is None
    assert shown.measurement.take.speaker == 1
    box.window.questions.ask_sounds = lambda *_: None  # no answer: nothing changes
    assert box.drop(box.folder / "room 1.wav")
    assert box.window.shown.measured is shown.measured


def test_a_file_that_is_no_measurement_is_refused_in_place_and_nothing_is_lost(box):
    shown = dropped(box, "left.wav")
    (box.folder / "right.wav").write_bytes(b"RIFF of nothing")
    assert box.drop(box.folder / "right.wav")
    page = box.window.main.measured
    box.qtbot.waitUntil(lambda: "is no sound file" in page.says.text(), timeout=WAIT_MS)
    assert box.window.shown.measured is shown.measured
    assert page.says.isVisible()
    assert box.asked == []
    assert not page.stop.isVisible()
    # The next file is held against the room without the one that was refused.
    assert dropped(box, "left after.wav").measured is not shown.measured

    # What is on its way can be stopped.
    window = box.window
    window.hearing.forget()
    assert box.drop(box.folder / "left.wav")
    assert window.main.measured.stop.isVisible()
    window.main.measured.stop.click()
    assert not window.main.measured.stop.isVisible()
    assert window.main.measured.says.text() == "stopped"
    box.qtbot.waitUntil(lambda: not window.hearing.search.is_busy, timeout=WAIT_MS)
    assert window.shown.measured is None


def test_without_a_room_it_is_said_what_to_open_first(driver):
    write_wav(driver.folder / "left.wav", pulses([0.0], [1.0], lasts_s=0.1))
    assert driver.drop(driver.folder / "left.wav")
    assert driver.asked == [("No room is open", NO_ROOM)]
    assert not driver.drop(driver.folder / "left.mp3")

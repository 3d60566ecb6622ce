"""What the hand pulls while a key changes the scene under it, and what it may not do at the same time."""

import numpy as np
from PySide6.QtCore import QEvent, Qt

from tests.support.pixels import pixel_of_thing
from tests.support.windows import driver
from viewer.window.state import STARTERS

__all__ = ["driver"]

SPEAKER = ("speakers", 0)


def pull(driver, start, step):
    """Pull what is under the pointer, and keep it; returns where the pointer is."""
    driver.drag(start, step, release=False)
    return start[0] + step[0], start[1] + step[1]


def let_go(driver, at):
    """Pull on a little, then let the button go."""
    end = at[0] + 12.0, at[1]
    driver.send(driver.surface, QEvent.Type.MouseMove, end, Qt.MouseButton.LeftButton)
    driver.send(driver.surface, QEvent.Type.MouseButtonRelease, end)
    driver.rest()


def corner(window, index):
    """Where a corner of the plan is in the picture."""
    place = np.array([*window.session.scene.room.corners[index], 0.0])
    return tuple(float(x) for x in window.main.room.camera.project(place))


def test_what_is_pulled_in_one_variant_is_not_put_down_in_the_next(driver):
    first = driver.copy("box")
    driver.open(first)
    window = driver.window
    window.varying.add()
    driver.rest()
    at = pull(driver, pixel_of_thing(window, SPEAKER), (30, 10))
    assert window.session.drag.wanted is not None
    window.varying.next()
    driver.rest()
    let_go(driver, at)
    assert window.session.path == first
    assert not any(draft.dirty for draft in window.session.drafts)


def test_a_corner_pulled_in_one_variant_is_not_put_down_in_the_next(driver):
    first = driver.copy("elbow")
    driver.open(first)
    window = driver.window
    window.varying.add()
    driver.rest()
    window.looking.view_plan()
    at = pull(driver, corner(window, 2), (20, 10))
    assert window.shown.plan is not None
    window.varying.next()
    driver.rest()
    let_go(driver, at)
    assert window.session.path == first
    assert window.shown.plan is None
    assert not any(draft.dirty for draft in window.session.drafts)


def test_what_is_taken_out_while_it_is_pulled_is_held_no_more(driver):
    driver.open(driver.copy("treated-box"))
    window = driver.window
    before = window.session.draft.text
    last = ("panels", len(window.session.scene.panels) - 1)
    at = pull(driver, pixel_of_thing(window, last), (15, 0))
    assert window.session.drag.wanted is not None
    window.adding.delete()
    let_go(driver, at)  # an exception in a slot fails the test
    assert len(window.session.scene.panels) == last[1]
    window.editing.undo()
    driver.rest()
    assert window.session.draft.text == before


def test_escape_leaves_what_is_pulled_where_it_was(driver):
    driver.open(driver.copy("elbow"))
    window = driver.window
    before = window.session.draft.text
    places = window.shown.study.scene.speakers
    at = pull(driver, pixel_of_thing(window, SPEAKER), (30, 10))
    window.step_back()
    let_go(driver, at)
    assert window.session.draft.text == before
    assert window.shown.study.scene.speakers == places
    assert window.shown.thing == SPEAKER
    window.looking.view_plan()
    at = pull(driver, corner(window, 2), (20, 10))
    window.step_back()
    assert window.shown.plan is None
    let_go(driver, at)
    assert window.session.draft.text == before


def test_what_is_saved_while_it_is_pulled_stays_in_the_hand(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    before = window.session.draft.text
    at = pull(driver, pixel_of_thing(window, SPEAKER), (30, 10))
    window.filing.save()
    let_go(driver, at)
    assert window.session.draft.text != before
    assert window.session.draft.dirty


def test_as_it_was_when_opened_no_corner_is_pulled_and_nothing_put_in(driver):
    driver.open(driver.copy("elbow"))
    window = driver.window
    window.editing.place(SPEAKER, (1.0, 1.0, 1.2))
    driver.rest()
    window.looking.view_plan()
    at = pull(driver, corner(window, 2), (20, 10))
    window.editing.toggle_before(True)
    let_go(driver, at)
    window.editing.toggle_before(False)
    assert window.shown.plan is None
    window.adding.begin(STARTERS[0].words)
    assert window.shown.placing is not None
    window.editing.toggle_before(True)
    assert window.shown.placing is None
    # Whoever adds something means the room as it stands.
    window.adding.begin(STARTERS[0].words)
    assert not window.screen.shows_before
    assert window.shown.placing is not None


def test_measuring_and_putting_something_in_exclude_each_other(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    window.adding.begin(STARTERS[0].words)
    window.selecting.measure(True)
    assert window.shown.placing is None
    assert window.shown.measuring is not None
    window.adding.begin(STARTERS[0].words)
    assert window.shown.measuring is None
    assert window.shown.placing is not None

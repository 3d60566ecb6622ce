import pytest
from PySide6.QtWidgets import QPushButton

from raytrace import PanelWish
from tests.support.pixels import is_resting
from tests.support.windows import driver
from tests.viewer.words.test_verdicts import ALL_BELOW, BOTH_HIDDEN, CASES, SUBS, with_verdicts
from viewer.window.controls import Asked
from viewer.window.proposing import what_stays
from viewer.words import TOO_CLOSE

__all__ = ["driver"]

CLEAR = "all peaks that were found are below the limit then"


@pytest.mark.parametrize("case", CASES)
def test_a_proposal_is_all_clear_only_where_all_was_judged_and_is_below(case):
    words = what_stays(with_verdicts(case))
    assert (words == CLEAR) == (case == ALL_BELOW)
    assert ("the screen hides" in words) == (None in case)
    assert (TOO_CLOSE in words) == any(own[1] > 0 for own in case if isinstance(own, tuple))
    assert ("no verdict is passed" in words) == (case in (SUBS, BOTH_HIDDEN))


def test_proposed_panels_come_as_a_variant_in_which_undo_takes_them_away(driver):
    path = driver.copy("box")
    driver.open(path)
    window, before = driver.window, path.read_bytes()
    margin_db = min(v.worst_margin_db for v in window.shown.study.verdicts)
    driver.wishes = [Asked(PanelWish(panels_only=True), up_to_order=2, within_s=0.018)]
    window.proposing.propose()
    driver.qtbot.waitUntil(lambda: len(driver.asked) == 1, timeout=280_000)
    driver.rest()
    assert "in variant B, box.B.toml; box.toml stays as it was" in driver.asked[-1][1]
    assert path.read_bytes() == before
    assert window.session.path == path.with_name("box.B.toml")
    assert window.session.path.read_text() == window.session.draft.text
    assert window.shown.study.room.panels
    assert min(v.worst_margin_db for v in window.shown.study.verdicts) > margin_db + 1.0
    window.editing.undo()
    driver.rest()
    assert window.session.draft.text.encode() == before
    assert not window.shown.study.room.panels


def test_a_proposal_that_is_stopped_changes_nothing(driver):
    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    driver.wishes = [Asked(PanelWish())]
    window.proposing.propose()
    window.proposing.progress.findChild(QPushButton).click()
    driver.qtbot.waitUntil(lambda: not window.session.worker.is_busy, timeout=280_000)
    driver.rest()
    assert not window.session.draft.dirty
    assert not driver.asked


def test_a_list_that_cannot_be_read_is_named_and_nothing_is_proposed(driver, tmp_path):
    stock = tmp_path / "owned.toml"
    stock.write_text('[stock]\n"wool 55" = 3\n')
    driver.open(driver.copy("box"))
    driver.wishes = [Asked(PanelWish(), stock=stock)]
    refused = []
    driver.window.session.refused.connect(refused.append)
    driver.window.proposing.propose()
    assert len(refused) == 1
    assert "owned.toml:2:1" in refused[0]
    assert 'unknown build "wool 55"' in refused[0]
    assert driver.window.proposing.progress is None
    assert not driver.window.session.draft.dirty


def test_closing_the_form_proposes_nothing(driver):
    driver.open(driver.copy("box"))
    driver.window.proposing.propose()
    assert driver.window.proposing.progress is None
    assert is_resting(driver.window)

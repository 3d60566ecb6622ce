"""Pages come out of report.typ as PDF or picture, with the same bytes every time."""

import threading

import pytest

from viewer.paper import typesetting
from viewer.paper.typesetting import Press, typeset


def test_contents_that_the_pages_do_not_know_are_refused(tmp_path):
    with pytest.raises(Exception, match="dictionary does not contain key"):
        typeset({}, tmp_path)


def printed(folder, contents, *, then=lambda: None):
    """Three files put into a press in a folder, before something else happens."""
    with Press(folder) as press:
        for name, own in zip(("one", "two", "three"), contents, strict=True):
            press.put(folder / name, own)
        then()


def test_what_a_press_cannot_lay_out_is_raised_at_its_end_and_nothing_is_written(tmp_path):
    with pytest.raises(Exception, match="dictionary does not contain key"):
        printed(tmp_path, [{}, {}, {}])
    assert list(tmp_path.iterdir()) == []


def test_a_press_that_is_interrupted_begins_nothing_more(tmp_path, monkeypatch):
    begun, may_go = [], threading.Event()

    def slow(contents, _root, **_options):
        begun.append(contents)
        assert may_go.wait(60)
        return b"pages"

    def interrupt():
        threading.Timer(0.2, may_go.set).start()  # after the end of the press has been reached
        raise KeyboardInterrupt

    monkeypatch.setattr(typesetting, "typeset", slow)
    monkeypatch.setattr(typesetting.os, "cpu_count", lambda: 1)
    with pytest.raises(KeyboardInterrupt):
        printed(tmp_path, ["one", "two", "three"], then=interrupt)
    assert begun in ([], ["one"])
    assert [path.name for path in tmp_path.iterdir()] == begun

"""What is written beside the window tells how far it is, and can be stopped."""

import tempfile

import pytest

from tests.support.windows import SCENES
from viewer.window.session import Exporter

WAIT_MS = 280_000


@pytest.fixture
def exporter(qtbot):
    made = Exporter()
    yield made
    made.stop()
    qtbot.waitUntil(lambda: not made.is_busy, timeout=WAIT_MS)


def begin(exporter, command, target, *options):
    scene = SCENES / "treated-box.toml"
    exporter.write(command, (scene.read_text(), scene), target, options)


def test_what_is_stopped_is_not_written_and_nothing_stays_behind(
    qtbot, exporter, tmp_path, tmp_path_factory, monkeypatch
):
    said, shares, elsewhere = [], [], tmp_path_factory.mktemp("scratch")
    monkeypatch.setattr(tempfile, "tempdir", str(elsewhere))
    exporter.said.connect(said.append)
    exporter.progressed.connect(lambda _, share: shares.append(share))
    with qtbot.waitSignal(exporter.progressed, timeout=WAIT_MS):
        begin(exporter, "report", tmp_path / "out")
    assert [path.suffix for path in elsewhere.iterdir()] == [".toml"]  # the text that is in the window
    exporter.stop()
    qtbot.waitUntil(lambda: not exporter.is_busy, timeout=WAIT_MS)
    assert said[-1] == f"stopped: {tmp_path / 'out'} is not written"
    assert 0.0 <= min(shares) <= max(shares) <= 1.0
    assert list(tmp_path.iterdir()) == []
    assert list(elsewhere.iterdir()) == []


def test_what_cannot_be_written_says_why_without_a_line_of_progress(qtbot, exporter, tmp_path):
    with qtbot.waitSignal(exporter.failed, timeout=WAIT_MS) as failed:
        begin(exporter, "drawings", tmp_path / "out", "--paper", "A9")
    assert failed.args[0].startswith('Invalid value "A9" for --paper.')
    assert "\x1e" not in failed.args[0]
    assert "--help" not in failed.args[0]


@pytest.mark.slow
@pytest.mark.parametrize(("command", "name"), [("drawings", "out"), ("page", "out.html")])
def test_drawings_and_page_are_written_of_the_text_in_the_window(qtbot, exporter, tmp_path, command, name):
    with qtbot.waitSignal(exporter.finished, timeout=WAIT_MS):
        begin(exporter, command, tmp_path / name)
    written = tmp_path / name
    assert (written if written.is_file() else written / "drawings.pdf").stat().st_size > 10_000

"""What a killed run leaves is swept up by the next one, and what it had moved away is put back."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.support.scenes import ROOT
from viewer.files.unfinished import sweep, written_beside

# A run that stops where it is told and waits there to be killed.
RUN = """
import sys, time
from pathlib import Path
from viewer.files import unfinished
place, at = Path(sys.argv[1]), sys.argv[2]
def wait():
    print("there", flush=True)
    time.sleep(60)
if at == "between":
    def halfway(scratch, path):
        path.rename(scratch / "old")
        wait()
    unfinished.take_place = halfway
with unfinished.written_beside(place) as new:
    new.mkdir()
    (new / "list.txt").write_text("new")
    if at == "within":
        wait()
"""


def names_in(folder):
    return sorted(path.name for path in folder.iterdir())


def run_until(place, at):
    child = subprocess.Popen(
        [sys.executable, "-c", RUN, str(place), at], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert child.stdout.readline() == "there\n"
    return child


@pytest.mark.skipif(sys.platform == "win32", reason="locks of open files are those of POSIX")
@pytest.mark.parametrize("at", ["within", "between"])
def test_what_a_killed_run_left_is_swept_and_the_old_folder_is_back(tmp_path, at):
    place = tmp_path / "out"
    place.mkdir()
    (place / "list.txt").write_text("old")
    child = run_until(place, at)
    sweep(tmp_path)  # it still runs: its work is left to it
    assert len(names_in(tmp_path)) == (2 if at == "within" else 1)
    child.send_signal(signal.SIGKILL)
    child.communicate()
    sweep(tmp_path)
    assert names_in(tmp_path) == ["out"]
    assert (place / "list.txt").read_text() == "old"


def test_a_folder_of_somebody_elses_making_is_not_swept(tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / ".hitspot-unfinished-link").symlink_to(elsewhere)
    (tmp_path / ".hitspot-unfinished-file").write_text("mine")
    new = tmp_path / ".hitspot-unfinished-new"  # a run may be about to lock it
    new.mkdir()
    sweep(tmp_path)
    assert len(names_in(tmp_path)) == 4
    long_ago = time.time() - 2 * 86_400
    os.utime(new, (long_ago, long_ago))
    sweep(tmp_path)
    assert len(names_in(tmp_path)) == 3


def test_where_the_last_step_fails_the_old_folder_is_put_back(tmp_path, monkeypatch):
    place = tmp_path / "out"
    place.mkdir()
    real = Path.rename

    def rename(self, target):
        if self.name == "new":
            raise PermissionError
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(PermissionError), written_beside(place) as new:
        new.mkdir()
    assert names_in(tmp_path) == ["out"]


def test_a_file_of_output_is_replaced_in_one_step_and_as_readable_as_any(tmp_path):
    place, usual = tmp_path / "list.txt", tmp_path / "usual.txt"
    usual.write_text("")
    for text in ("old", "new"):
        with written_beside(place) as new:
            new.write_text(text)
            assert not place.exists() or place.read_text() == "old"
    assert place.read_text() == "new"
    assert place.stat().st_mode == usual.stat().st_mode
    assert names_in(tmp_path) == ["list.txt", "usual.txt"]

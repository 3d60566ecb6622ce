"""Tests that share what is slow to make run in one process."""

import os

import pytest

from tests.support.groups import group_of
from tests.support.scenes import ROOT


def test_a_file_stays_together_and_so_do_all_that_open_windows_or_look_at_proposals():
    groups = {}
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        name = path.relative_to(ROOT).as_posix()
        groups.setdefault(group_of(f"{name}::test_it[some-value]"), []).append(name)
    shared = {group: names for group, names in groups.items() if names != [group]}
    assert set(shared) == {"proposals", "windows"}
    assert "tests/viewer/window/test_window.py" in shared["windows"]
    assert {"tests/raytrace/proposing/test_proposal.py", "tests/viewer/report/test_proposal.py"} <= set(
        shared["proposals"]
    )


@pytest.mark.parametrize("_number", range(8))
def test_one_process_runs_a_whole_file(_number, tmp_path_factory):
    folder = tmp_path_factory.getbasetemp()
    # Each worker has a folder of its own in that of the run.
    seen = (folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder) / "who-ran-this-file"
    with seen.open("a", encoding="utf-8") as file:
        file.write(f"{os.getpid()}\n")
    assert set(seen.read_text(encoding="utf-8").split()) == {str(os.getpid())}

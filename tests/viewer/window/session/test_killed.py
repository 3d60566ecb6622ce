"""What is kept of a scene whose window is killed in the middle of its edits."""

import pytest

from tests.support.killed_edits import kill_once, step_found
from viewer.window.session import find_recovery


@pytest.mark.parametrize("seed", [0, 1])
def test_every_change_that_was_done_before_a_kill_is_offered_again(seed, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    path, told = kill_once(seed, tmp_path)
    assert step_found(path, find_recovery) >= told  # one more may have been kept than was told of

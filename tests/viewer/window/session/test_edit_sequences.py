"""Random sequences of edits on unusual styles of TOML leave what they were not asked for."""

import pytest

from tests.support.edit_sequences import STEPS, STYLES, run


@pytest.mark.parametrize("style", STYLES)
def test_sequences_of_edits_read_back_and_change_nothing_else(style, tmp_path):
    # One of each style here; 500 by hand: python -m tests.support.edit_sequences 500
    assert run(list(STYLES).index(style), style, tmp_path) >= STEPS - 1  # few of them are told to wait

import pytest

from tests.viewer.words.test_verdicts import ALL_BELOW, BOTH_HIDDEN, CASES, SUBS, with_verdicts
from viewer.window.proposing import what_stays
from viewer.words import TOO_CLOSE

CLEAR = "all peaks that were found are below the limit then"


@pytest.mark.parametrize("case", CASES)
def test_a_proposal_is_all_clear_only_where_all_was_judged_and_is_below(case):
    words = what_stays(with_verdicts(case))
    assert (words == CLEAR) == (case == ALL_BELOW)
    assert ("the screen hides" in words) == (None in case)
    assert (TOO_CLOSE in words) == any(own[1] > 0 for own in case if isinstance(own, tuple))
    assert ("no verdict is passed" in words) == (case in (SUBS, BOTH_HIDDEN))

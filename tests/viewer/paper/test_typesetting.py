"""Pages come out of report.typ as PDF or picture, with the same bytes every time."""

import pytest

from viewer.paper.typesetting import typeset


def test_contents_that_the_pages_do_not_know_are_refused(tmp_path):
    with pytest.raises(Exception, match="dictionary does not contain key"):
        typeset({}, tmp_path)

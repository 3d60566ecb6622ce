import json

import pytest
from rich.console import Console

from tests.support.proposals import proposal
from viewer.tables.proposal import proposal_json, proposal_tables


def printed(name, units="metric"):
    console = Console(width=160, highlight=False, record=True, file=None)
    with console.capture() as capture:
        console.print(proposal_tables(proposal(name), units=units))
    return capture.get()


@pytest.mark.slow
def test_the_terminal_says_what_why_how_much_and_what_remains():
    text = printed("box")
    assert "Proposed: 3 panels of wool 50" in text
    assert "by way of right wall, ceiling, 6.8 ms" in text
    assert "What fewer panels bring" in text
    assert "Still over the limit, and what stands in the way" in text
    assert "floor: is walked on" in text
    assert "Local codes and licensed practice come first" in text
    assert " safe" not in text.lower()


@pytest.mark.slow
def test_stands_come_with_what_tips_them():
    text = printed("rented", units="imperial")
    assert "left wall leaning panel 1: 9.6 lb; a pull of" in text
    assert "right wall stand 1: 9.6 lb; without feet a push of" in text
    assert "'" in text  # feet and inches


@pytest.mark.slow
def test_the_json_object_holds_plain_numbers():
    found = proposal_json(proposal("box"))
    text = json.dumps(found, allow_nan=False)
    assert json.loads(text) == found
    assert len(found["panels"]) == found["ladder"][-1]["panels"]
    assert found["agreement_db"]["one_bounce"] <= 0.5
    assert found["unreached"][0]["in_the_way"]
    assert found["cautions"]

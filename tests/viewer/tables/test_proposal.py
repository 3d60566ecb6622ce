import json
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from raytrace import Answer, ProposedPanel, Unreached, load_scene, propose
from tests.support.proposals import PANELS_ONLY, proposal
from tests.support.scenes import SCENES
from viewer.tables.proposal import (
    before_words,
    build_words,
    held_by,
    proposal_json,
    proposal_tables,
    unreached_lines,
)


def printed(name, units="metric"):
    console = Console(width=160, highlight=False, record=True, file=None)
    with console.capture() as capture:
        console.print(proposal_tables(proposal(name), units=units))
    return capture.get()


@pytest.mark.slow
def test_the_terminal_says_what_why_how_much_and_what_remains():
    text = printed("box")
    panels = proposal("box").panels
    assert f"Proposed: {len(panels)} panels of wool 50" in text
    for panel in panels:
        answers = panel.answers
        assert f"speaker, {' › '.join(answers.way)}, {answers.delay_ms:.1f} ms" in text
    assert "What fewer panels bring" in text
    assert {peak.verdict for peak in proposal("box").unreached} == {"over"}
    assert "Still over the limit, and what stands in the way" in text
    assert "floor: is walked on" in text
    assert "Local codes and licensed practice come first" in text
    assert " safe" not in text.lower()


def test_what_stays_too_close_to_say_is_not_told_as_still_over():
    near, over = (
        Unreached("left", "mix", ("floor",), 2e-3, margin_db, verdict, ())
        for margin_db, verdict in ((0.3, "undecided"), (-0.4, "over"))
    )
    (line,) = unreached_lines((near,), "metric")
    assert line.startswith("left at mix, floor, 2.0 ms: too close to the limit to say.")
    (line,) = unreached_lines((over,), "metric")
    assert line.startswith("left at mix, floor, 2.0 ms: 0.4 dB over the limit.")


@pytest.mark.slow
def test_stands_come_with_what_tips_them():
    text = printed("rented", units="imperial")
    standing = [panel.name for panel in proposal("rented").panels if panel.kind == "stand"]
    assert len(standing) > 1
    assert all(f"{name}: " in text for name in standing)
    assert "lb in all, centre of mass" in text
    assert "asked for) or turned by" in " ".join(text.split())
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


def stand(name, leans):
    reflection = Answer("left", ("left wall",), None, 3.2)
    return ProposedPanel(
        panel=0,
        name=name,
        group=name,
        kind="stand",
        leans=leans,
        surface="left wall",
        build="wool 50",
        is_owned=False,
        centre_uv=np.array([1.0, 1.2]),
        turned=0,
        stacked=1,
        before_m=0.8,
        answers=reflection,
        n_hooks=0,
        n_on_joists=0,
        n_battens=0,
    )


def test_a_stand_is_set_out_with_its_distance_from_the_wall():
    assert before_words(stand("a", leans=False), "metric") == ", 800 mm before it"
    assert before_words(stand("a", leans=True), "metric") == ""


def test_a_stand_that_holds_several_panels_says_how_many():
    assert build_words(replace(stand("a", leans=False), stacked=3)) == "3 x wool 50"
    assert build_words(stand("a", leans=False)) == "wool 50"


def test_what_holds_a_stand_is_no_matter_of_its_name():
    assert held_by(stand("the leaning panel wall stand 1", leans=False)) == "stands"
    assert held_by(stand("x leans 3", leans=False)) == "stands"
    assert held_by(stand("left wall stand 1", leans=True)) == "leans"


@pytest.mark.slow
def test_a_proposed_panel_that_shares_its_name_has_its_own_hooks_and_size():
    # The proposal's cloud has a panel of the same name as the one on the back wall.
    given = (
        '\n[[panels]]\nname = "ceiling cloud 1"\nsurface = "back wall"\nbuild = "wool 100"\n'
        "centre = [1.0, 1.3]\n"
    )
    scene = load_scene(SCENES / "box.toml", (SCENES / "box.toml").read_text() + given)
    found = propose(scene, PANELS_ONLY, out=SCENES / "box-proposed.toml", up_to_order=1)
    (cloud,) = [panel for panel in found.panels if panel.name == "ceiling cloud 1"]
    assert cloud.n_hooks == 4
    assert found.after.room.panels[cloud.panel].kind == "cloud"
    assert [p.name for p in found.after.room.panels].count("ceiling cloud 1") == 2


@pytest.mark.slow
def test_what_stays_is_told_by_what_is_known_of_it():
    found = proposal("box")
    near = tuple(replace(peak, verdict="undecided") for peak in found.unreached)
    for peaks, told in (
        (near, "Still too close to the limit to say, and what stands in the way"),
        (found.unreached + near, "Still over the limit or too close to the limit to say, and what stands"),
    ):
        console = Console(width=160, highlight=False, record=True, file=None)
        with console.capture() as capture:
            console.print(proposal_tables(replace(found, unreached=peaks), units="metric"))
        assert told in capture.get()

import dataclasses
from types import SimpleNamespace

import pytest

from raytrace import Change, Freedom, Variant, load_scene
from tests.support.proposals import proposal
from tests.support.scenes import SCENES
from viewer.report.proposal import arrangement_blocks, mending_lines, moved_lines, proposal_pages


def texts(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from texts(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from texts(inner)


@pytest.mark.slow
def test_the_chapter_says_what_why_what_less_brings_and_what_remains():
    found = proposal("box")
    (page,) = proposal_pages(found, units="metric")
    tables = [block for block in page["blocks"] if block["kind"] == "table"]
    panels, ladder, margins = tables
    assert [row[0] for row in panels["rows"]] == [panel.name for panel in found.panels]
    assert [row[0] for row in ladder["rows"]] == [str(step.n_panels) for step in found.ladder]
    assert len(margins["rows"]) == len(found.margins)
    assert all(
        len(row) == len(table["head"]) == len(table["columns"]) for table in tables for row in table["rows"]
    )
    (remains,) = (
        block["items"]
        for head, block in zip(page["blocks"], page["blocks"][1:], strict=False)
        if head.get("text", "").startswith("What stays ")
    )
    assert len(remains) == 1  # left and right alike are one line
    assert "walked on" in remains[0]
    assert remains[0].endswith(".")


def test_what_no_other_arrangement_mends_is_said_too():
    scene = load_scene(SCENES / "rented.toml")
    target = SimpleNamespace(speakers=(0,), seat=0, way=("table top",))
    found = SimpleNamespace(target=target, mending=(), nearest=None, ranges=())
    proposed = SimpleNamespace(after=SimpleNamespace(scene=scene), variants=(found,))
    title, words = arrangement_blocks(proposed, "metric")
    assert "table top: what another arrangement would do" in title["text"]
    assert words["text"] == "There is nothing in the scene whose place, height, tilt or size would change it."


def test_the_client_reads_what_another_arrangement_brings():
    own = SimpleNamespace(freedom=Freedom.HEIGHT, things=("desk",), now=0.74)
    lower = Variant((Change(own, 0.68),), (), 1.0, "below", (2, 0), (1, 1), (), (0.0, 0.0))
    target = SimpleNamespace(speakers=(0,), seat=0, way=("desk top",))
    stays = [SimpleNamespace(target=target, mending=own) for own in ((lower,), (lower,), ())]
    proposed = SimpleNamespace(variants=stays, moved=(lower,))
    brings = (
        "then 1 early reflection at the seat is too strong or too close to the limit to say, instead of 3"
    )
    changed = f"with its top at 680 mm instead of 740 mm; {brings} without that."
    assert mending_lines(proposed, "metric") == [f"What would mend desk top: desk {changed}"]
    assert moved_lines(proposed, "metric") == [f"Desk {changed}"]


@pytest.mark.slow
def test_stands_come_with_what_tips_them_and_nothing_is_called_safe():
    words = " ".join(texts(proposal_pages(proposal("rented"), units="imperial")))
    assert "tips at a push of" in words
    assert " safe" not in words.lower()
    assert "nan" not in words


@pytest.mark.slow
def test_nothing_to_propose_and_nothing_too_strong_needs_no_chapter():
    quiet = dataclasses.replace(proposal("box"), panels=(), unreached=())
    assert proposal_pages(quiet, units="metric") == []


@pytest.mark.slow
def test_the_client_is_not_told_of_options_and_keys():
    found = proposal("box")
    (page,) = proposal_pages(found, units="metric")
    words = " ".join(texts(page))
    assert any("--build names another one" in str(note) for note in found.notes)
    assert 'Planned with the library build "wool 50".' in words
    assert "--build" not in words

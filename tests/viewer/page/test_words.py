"""What the client's page says of one reflection."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import build_room, find_hooks, load_scene, run_study
from tests.support.panelled import cloud, scene_text
from tests.support.scenes import BEDROOM, BOX, SCENES
from viewer.page.words import (
    group_of,
    mains,
    panel_words,
    path_rows,
    path_sentence,
    peak_figures,
    peak_rows,
    peak_sentence,
    weaker,
)
from viewer.words import (
    in_sentence,
    judged,
    named_rows,
    off_limit,
    path_phrase,
    peak_of,
    strong_rows,
    too_strong,
    worst_first,
)

SECOND = '[[speakers]]\nname = "sub"\nuse = "sub"\nposition = [0.6, 3.5, 0.3]\n[[seats]]'
SCREEN = """
[[objects]]
name = "screen"
shape = "box"
centre = [2.0, 1.6, 1.2]
size = [0.1, 1.0, 1.0]
material = "wood"
"""


@pytest.fixture
def study(scene_of):
    return run_study(scene_of(BOX.replace("[[seats]]", SECOND)), up_to_order=2)


def test_a_hard_floor_is_read_out_with_its_closed_form(study):
    # Speaker and ears 1.2 m high, 2.309 m apart: the floor's path is 2 sqrt(1.1545² + 1.2²) m long.
    apart = np.hypot(2.2, 0.7)
    long = np.hypot(apart, 2.4)
    delay_ms = (long - apart) / 343.2 * 1e3
    row = next(i for i in path_rows(study) if path_phrase(study, i) == "floor")
    text = path_sentence(study, row)
    assert text.startswith(f"Floor, from the left speaker: {delay_ms:.1f} ms after the direct sound, ")
    # All of the head's range: at most 5 cm nearer the floor, so a few tenths of a dB above the ears' level.
    level = -float(text.split("direct sound, ")[1].split(" dB weaker")[0])
    assert 20 * np.log10(apart / long) - 0.15 < level < 20 * np.log10(apart / long) + 0.9


def test_what_is_said_of_the_limit_is_what_the_study_found(study):
    for row in path_rows(study):
        text = path_sentence(study, row)
        assert f"{weaker(float(study.arrivals.zone_worst_db[row]))} by itself: " in text
        peak = peak_of(study, row)
        if peak is None:
            assert text.endswith("too weak beside the others to count by itself.")
        else:
            assert text.endswith(f"{in_sentence(peak)}.")
            assert ("at the same moment" in text) == (named_rows(study, peak) != [row] or bool(peak.joined))
            is_strong = peak.may_be_over and row in named_rows(study, peak)
            assert (group_of(study, row) in ("over", "undecided")) == is_strong


def test_the_list_counts_what_the_verdicts_count_with_the_reports_figures(study):
    strong = worst_first([peak for peak in peak_rows(study) if peak.may_be_over])
    assert len(strong) == sum(verdict.n_over + verdict.n_undecided for verdict in judged(study)) > 0
    lines, left_out = too_strong(study, 0, {})
    assert len(lines) + left_out == len(strong)
    for peak, line in zip(strong, lines, strict=False):
        late, against_limit = peak_figures(peak)
        assert late == f"{line.delay_ms} ms, {weaker(peak.level_db)}"
        assert line.below_direct_db.removeprefix("−") in (late.split()[2], "0.0")
        assert against_limit == (in_sentence(peak) if peak.over_limit else "")
        assert f": {in_sentence(peak)}" in peak_sentence(study, peak)


def test_a_level_that_prints_as_none_is_as_strong():
    assert [weaker(level) for level in (-0.04, 0.04, -0.06, 0.06)] == [
        "as strong",
        "as strong",
        "0.1 dB weaker",
        "0.1 dB stronger",
    ]


def test_what_is_too_strong_never_reads_as_nothing():
    assert [off_limit(value) for value in (0.0, 0.04, -0.04, 0.06, 3.0)] == [
        "0.0",
        "<0.1",
        "<0.1",
        "0.1",
        "3.0",
    ]


def test_the_list_is_of_main_speakers_early_and_the_strongest_come_first(study):
    listed = peak_rows(study)
    assert {peak.speaker for peak in listed} == {0}
    early = [peak.delay_s * 1e3 <= study.scene.limits.within_ms for peak in listed]
    assert all(is_early or peak.verdict != "not judged" for is_early, peak in zip(early, listed, strict=True))
    levels = [round(peak.level_db, 1) for peak in listed]
    assert levels == sorted(levels, reverse=True)


def test_a_panel_is_read_out_with_what_holds_it():
    scene = load_scene(SCENES / "treated-box.toml")
    room = build_room(scene)
    hooks = find_hooks(scene, room)
    texts = {
        panel.name: panel_words(panel, [hook for hook in hooks if hook.panel == i], "metric")
        for i, panel in enumerate(room.panels)
    }
    assert texts["corner"].endswith(" of air behind")  # it stands
    assert texts["left"].endswith(", held at 2 points")
    cloud = next(hook for hook in hooks if hook.kind == "cord")
    assert texts[room.panels[cloud.panel].name].endswith(
        f", hanging on 4 cords, {1e3 * cloud.cord_m:.0f} mm long"
    )


def test_floor_and_ceiling_as_far_away_are_read_as_one(scene_of):
    # Ears and speaker in the middle of the height: both arrive at the same moment, 6 dB above either.
    level = BOX.replace("1.2]", "1.3]")
    study = run_study(scene_of(level), up_to_order=1)
    row = next(i for i in path_rows(study) if path_phrase(study, i) == "floor")
    peak = peak_of(study, row)
    assert peak is not None
    assert len(named_rows(study, peak)) == 2
    text = path_sentence(study, row)
    assert "with ceiling, which arrives at the same moment: " in text
    assert text.endswith(" dB over the limit.")
    assert peak_sentence(study, peak).startswith("Floor, with ceiling, from the left speaker: ")


def test_only_main_speakers_and_the_limits_window_are_read_out(study):
    rows = path_rows(study)
    assert mains(study) == [0]
    assert set(study.arrivals.speaker[rows]) == {0}
    late = study.arrivals.delay_s[rows] * 1e3 > study.scene.limits.within_ms
    assert set(np.array(rows)[late]) <= strong_rows(study)
    assert len(rows) > 6


def test_a_way_names_what_is_touched_in_order(study):
    row = next(i for i in path_rows(study) if study.arrivals.order[i] == 2)
    names = [study.room.surfaces[i].name for i in study.arrivals.path_surfaces[row, :2]]
    assert path_phrase(study, row) == " › ".join(names)


def test_a_hidden_speaker_is_read_out_without_a_verdict(scene_of):
    hidden = run_study(scene_of(BOX + SCREEN), up_to_order=1)
    assert not hidden.arrivals.direct.visible[0]
    for row in path_rows(hidden):
        assert path_sentence(hidden, row).endswith(
            "not judged, because the screen hides the speaker from the seat."
        )


def test_a_page_says_what_joins_a_reflection_where_the_head_moves(scene_of):
    study = run_study(scene_of(BEDROOM), up_to_order=2)
    peak = next(p for p in study.peaks if p.joined and len(p.arrivals) == 1)
    (row,) = peak.arrivals
    assert peak_sentence(study, peak).startswith("Left wall, with ceiling where the head moves, from")
    assert "with ceiling where the head moves, which" in path_sentence(study, row)


def test_a_reflection_that_the_ears_miss_says_its_way(scene_of):
    study = run_study(scene_of(BEDROOM), up_to_order=1)
    peak = replace(next(p for p in study.peaks if len(p.arrivals) == 1), arrivals=(), joined=())
    name = study.room.surfaces[study.room.facets[peak.facets[0]].surface].name.capitalize()
    assert peak_sentence(study, peak).startswith(f"{name}, only where the head is off the middle, from")
    beyond = replace(peak, near_misses=(0,))
    assert peak_sentence(study, beyond).startswith(f"{name}, just beyond an edge, from")


def test_a_slab_of_a_raft_is_said_to_hang_with_the_others(scene_of):
    scene = scene_of(scene_text(cloud(rows=1, columns=3) + "raft = true\n"))
    room = build_room(scene)
    hooks = find_hooks(scene, room)
    for index, panel in enumerate(room.panels):
        words = panel_words(panel, [hook for hook in hooks if index in hook.holds], "metric")
        assert words.endswith(f" in a raft of 3, hanging on {len(hooks)} cords, 300 mm long")

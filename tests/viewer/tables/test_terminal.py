"""What `arrivals` says above its rows."""

import io
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from raytrace import run_study
from tests.support.scenes import BEDROOM, BOX
from viewer.tables.terminal import (
    ROWS_EXPLAINED,
    arrivals_tables,
    peak_lines,
    verdict_sentence,
)
from viewer.words import judged


@pytest.fixture
def level(scene_of):
    """Floor and ceiling as far away as each other: two rows, one peak."""
    return run_study(scene_of(BOX.replace("1.2]", "1.3]")), up_to_order=1)


def test_the_peaks_that_the_verdict_counts_are_listed_before_the_rows(level):
    (verdict,) = judged(level)
    lines = [line.plain for line in peak_lines(level, verdict)]
    assert len(lines) == verdict.n_over + verdict.n_undecided > 0
    assert lines[0].startswith("  peak 1: ")
    assert any("floor and ceiling" in line for line in lines)
    console = Console(width=200, record=True, file=io.StringIO())
    rows = np.arange(len(level.arrivals.delay_s))
    console.print(arrivals_tables(level, rows, units="metric", everything=False))
    text = console.export_text()
    assert text.index(verdict_sentence(level, verdict)) < text.index(lines[0]) < text.index(ROWS_EXPLAINED)
    assert text.index(ROWS_EXPLAINED) < text.index("delay ms")


def test_what_counts_as_over_never_reads_as_nothing(level):
    (verdict,) = judged(level)
    just = replace(verdict, n_over=1, worst_margin_db=-0.02)
    assert "the strongest is <0.1 dB over the limit" in verdict_sentence(level, just)


def test_a_peak_that_takes_two_where_the_head_moves_names_both(scene_of):
    study = run_study(scene_of(BEDROOM), up_to_order=2)
    (verdict,) = judged(study)
    (line,) = [line.plain for line in peak_lines(study, verdict) if "4.67 ms" in line.plain]
    assert line.endswith(", left wall, and ceiling where the head is off the middle")


def test_what_is_undecided_is_listed_with_its_margin_and_uncertainty(level):
    (verdict,) = judged(level)
    peak = next(peak for peak in level.peaks if peak.over_limit)
    near = replace(peak, verdict="undecided", margin_db=-0.2, uncertainty_db=0.6, share_over=0.15)
    study = replace(level, peaks=(near,))
    (line,) = [line.plain for line in peak_lines(study, verdict)]
    assert "too close to the limit to say (0.2 dB over the limit ± 0.6 dB; over at 15 % of the head" in line


def test_a_hidden_speaker_without_a_single_reflection_is_still_said_to_be_hidden(level):
    (verdict,) = judged(level)
    hides = replace(verdict, status="hidden", hidden_by="screen", n_over=0, n_undecided=0, n_below=0)
    table = replace(level.arrivals, speaker=np.full_like(level.arrivals.speaker, 1))
    study = replace(level, verdicts=(hides,), arrivals=table)
    console = Console(width=200, record=True, file=io.StringIO())
    console.print(arrivals_tables(study, np.empty(0, np.int64), units="metric", everything=False))
    assert (
        "Not judged: the screen hides the direct sound. Reflections are listed only." in console.export_text()
    )


@pytest.mark.parametrize("everything", [False, True])
def test_rows_of_a_sub_are_printed_only_where_all_are_asked_for_and_no_verdict_explains_them(
    scene_of, everything
):
    sub = '[[speakers]]\nname = "sub"\nuse = "sub"\nposition = [0.4, 3.0, 0.3]\n[[seats]]'
    study = run_study(scene_of(BOX.replace("[[seats]]", sub)), up_to_order=1)
    console = Console(width=200, record=True, file=io.StringIO())
    rows = np.flatnonzero(study.arrivals.speaker == study.arrivals.speaker_names.index("sub"))
    console.print(arrivals_tables(study, rows, units="metric", everything=everything))
    text = console.export_text()
    assert "A sub: not judged here" in text
    assert ROWS_EXPLAINED not in text
    assert ("delay ms" in text) == everything
    assert (f"{len(rows)} reflections not shown; --all shows them." in text) != everything

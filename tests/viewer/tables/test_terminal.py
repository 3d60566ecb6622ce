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
    signed_margin,
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
    assert len(lines) == verdict.n_over > 0
    assert lines[0].startswith("  peak 1: ")
    assert any("floor + ceiling" in line for line in lines)
    console = Console(width=200, record=True, file=io.StringIO())
    rows = np.arange(len(level.arrivals.delay_s))
    console.print(arrivals_tables(level, rows, units="metric", everything=False))
    text = console.export_text()
    assert text.index(verdict_sentence(level, verdict)) < text.index(lines[0]) < text.index(ROWS_EXPLAINED)
    assert text.index(ROWS_EXPLAINED) < text.index("delay ms")


def test_what_counts_as_over_never_reads_as_nothing(level):
    (verdict,) = judged(level)
    just = replace(verdict, n_over=1, worst_margin_db=-0.02)
    assert "the strongest is <0.1 dB over it" in verdict_sentence(level, just)
    assert [signed_margin(x) for x in (-3.0, -0.04, -0.001, 0.0, 0.04, 2.0, np.nan)] == [
        "-3.0",
        "-0.04",
        "-0.01",
        "+0.0",
        "+0.0",
        "+2.0",
        "",
    ]


def test_a_peak_that_takes_two_where_the_head_moves_names_both(scene_of):
    study = run_study(scene_of(BEDROOM), up_to_order=2)
    (verdict,) = judged(study)
    (line,) = [line.plain for line in peak_lines(study, verdict) if "8.41 ms" in line.plain]
    assert line.endswith("2.2 dB over the limit, right wall + left wall – ceiling, head off the middle")

"""What the window says of verdicts: counts, what hides a speaker, and no all-clear that is none."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import main_arrivals
from tests.support.studies import shipped_study
from tests.viewer.words.test_verdicts import (
    BOTH_HIDDEN,
    CASES,
    ONE_HIDDEN,
    OVER_AND_NEAR,
    SUBS,
    with_verdicts,
)
from viewer.window.state.verdictwords import counts_words, hidden_words, limit_column, limit_text
from viewer.words import NEAR, TOO_CLOSE, peak_of


@pytest.mark.parametrize("case", CASES)
def test_the_line_on_a_seat_counts_every_verdict_and_names_what_hides_a_speaker(case):
    line = counts_words(with_verdicts(case), 0)
    if case == SUBS:
        assert line.endswith("only subs: nothing is judged")
    for name, own in zip(("left", "right"), case, strict=True):
        if own is None:
            assert f"{name}: not judged, the screen hides it" in line
        elif own != "sub":
            over, near, below = own
            between = f", {near} {NEAR}" if near else ""
            assert f"{name}: {over} over{between}, {below} below the limit" in line


def test_speakers_behind_the_same_thing_are_told_together():
    assert hidden_words(with_verdicts(BOTH_HIDDEN), 0) == "left and right not judged: the screen hides them"
    assert hidden_words(with_verdicts(ONE_HIDDEN), 0) == "left not judged: the screen hides it"
    assert hidden_words(with_verdicts(OVER_AND_NEAR), 0) == ""


def test_a_reflection_says_what_its_peak_is_against_the_limit():
    study = shipped_study("box", up_to_order=1)
    peak = next(peak for peak in study.peaks if peak.verdict != "not judged")
    row = main_arrivals(study.arrivals, peak)[0]
    assert peak_of(study, row) is peak
    for verdict, margin_db, sentence, column in (
        ("over", -3.7, "3.7 dB over the limit, over at 40 % of the head positions", "3.7 over"),
        ("undecided", 0.2, f"{TOO_CLOSE}, over at 40 % of the head positions", NEAR),
        ("below", 2.0, "2.0 dB below the limit", "2.0 below"),
    ):
        other = replace(peak, verdict=verdict, margin_db=margin_db, share_over=0.4)
        told = replace(study, peaks=tuple(other if own is peak else own for own in study.peaks))
        assert limit_text(told, row) == sentence
        assert limit_column(told, row, other) == column


def test_what_is_in_no_judged_peak_says_why():
    study = shipped_study("box", up_to_order=1)
    early = int(np.argmin(study.arrivals.delay_s))
    bare = replace(study, peaks=())
    assert limit_text(bare, early) == "too weak beside the others to count by itself"
    late = replace(bare, arrivals=replace(bare.arrivals, delay_s=bare.arrivals.delay_s + 0.1))
    assert (limit_column(late, early, None), limit_text(late, early)) == (
        "later",
        "later than the limit looks",
    )
    for case, words in (
        (BOTH_HIDDEN, "not judged: the screen hides the direct sound"),
        (SUBS, "a sub is not judged"),
    ):
        there = replace(with_verdicts(case), peaks=())
        assert (limit_column(there, early, None), limit_text(there, early)) == ("not judged", words)


def test_a_weak_member_of_a_peak_is_not_told_as_over_the_limit():
    study = shipped_study("box")
    told = [
        (row, peak)
        for peak in study.peaks
        if peak.verdict == "over"
        for row in set(peak.arrivals) - set(main_arrivals(study.arrivals, peak))
    ]
    assert told
    assert all(limit_column(study, row, peak) == "with a stronger" for row, peak in told)
    assert not any("over the limit" in limit_text(study, row) for row, _ in told)

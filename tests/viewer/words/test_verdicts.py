"""What verdicts say in a client's words: no all-clear but where everything was judged and is below."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import compare, load_scene, run_study
from raytrace import headline as change_headline
from tests.support.scenes import BOX
from tests.support.studies import shipped_study
from viewer.tables import verdict_sentence
from viewer.words import (
    NEAR,
    TOO_CLOSE,
    headline,
    in_column,
    in_sentence,
    is_all_clear,
    limit_side,
    peak_words,
    today,
    too_strong,
    will_change,
    worst_first,
)

SCREEN = """
[[objects]]
name = "screen"
shape = "box"
centre = [1.6, 2.0, 1.3]
size = [0.03, 3.4, 2.4]
material = "hard"
"""
RIGHT = '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'

# How many are over, undecided and below, from left and from right; None: hidden; "sub": not judged at all.
ALL_BELOW = ((0, 0, 9), (0, 0, 8))
SOME_OVER = ((3, 0, 6), (0, 0, 8))
SOME_NEAR = ((0, 2, 7), (0, 0, 8))
OVER_AND_NEAR = ((3, 1, 6), (1, 2, 8))
ONE_HIDDEN = (None, (0, 0, 8))
BOTH_HIDDEN = (None, None)
SUBS = ("sub", "sub")
CASES = (ALL_BELOW, SOME_OVER, SOME_NEAR, OVER_AND_NEAR, ONE_HIDDEN, BOTH_HIDDEN, SUBS)


def with_verdicts(case):
    """The box with other verdicts, searched to the end of the limit's window, its peaks as counted."""
    study = shipped_study("box", up_to_order=1)
    verdicts, peaks = [], []
    for verdict, own in zip(study.verdicts, case, strict=True):
        peak = next(p for p in study.peaks if p.speaker == verdict.speaker and p.verdict != "not judged")
        if own is None or own == "sub":
            status, hidden_by = ("sub", None) if own else ("hidden", "screen")
            blank = {"n_over": 0, "n_undecided": 0, "n_below": 0, "worst_margin_db": np.nan}
            verdicts.append(replace(verdict, status=status, hidden_by=hidden_by, **blank))
            continue
        words = ("over",) * own[0] + ("undecided",) * own[1] + ("below",) * own[2]
        margin_db = {"over": -4.0, "undecided": 0.2, "below": 3.0}
        peaks += [replace(peak, verdict=word, margin_db=margin_db[word], share_over=0.4) for word in words]
        counts = dict(zip(("n_over", "n_undecided", "n_below"), own, strict=True))
        worst_db = min(margin_db[word] for word in words)
        verdicts.append(replace(verdict, status="judged", hidden_by=None, worst_margin_db=worst_db, **counts))
    table = study.arrivals
    level_db = np.where([own is None for own in case], -12.0, 0.0)
    table = replace(
        table,
        direct=replace(table.direct, level_db=level_db),
        reach=replace(table.reach, complete_to_s=study.scene.limits.within_s),
    )
    return replace(study, verdicts=tuple(verdicts), peaks=tuple(peaks), arrivals=table)


@pytest.mark.parametrize("case", CASES)
def test_nothing_needs_treating_only_where_all_was_judged_and_is_below(case):
    study = with_verdicts(case)
    said = " ".join(will_change(study, 0, []))
    assert is_all_clear(study) == (case == ALL_BELOW) == ("Nothing needs treating" in said)


@pytest.mark.parametrize("case", CASES)
def test_every_headline_says_over_undecided_and_hidden_by_their_counts(case):
    study = with_verdicts(case)
    findings = " ".join(today(study))
    clear = [own for own in case if isinstance(own, tuple) and own[:2] == (0, 0)]
    assert findings.count("no early reflection is too strong.") == bool(clear)
    figures = headline(study)[:2]
    figures += [{}] * (2 - len(figures))
    for verdict, own, figure in zip(study.verdicts, case, figures, strict=True):
        line = verdict_sentence(study, verdict)
        if own == "sub":
            assert line == "A sub: not judged here; see hitspot bass."
        elif own is None:
            assert "the screen hides the direct sound" in line
            assert (figure["figure"], "screen" in figure["text"]) == ("–", True)
        else:
            over, near, below = own
            are = "is" if over == 1 else "are"
            assert line.startswith(f"{over} of {over + near + below} peaks within 15 ms {are} over the limit")
            assert (f"{near} {'is' if near == 1 else 'are'} {TOO_CLOSE}" in line) == (near > 0)
            assert figure["figure"] == (f"0–{near}" if near and not over else str(over))
            assert (TOO_CLOSE in figure["text"]) == (near > 0)


@pytest.mark.parametrize("case", [ONE_HIDDEN, BOTH_HIDDEN])
def test_what_hides_a_speaker_is_named_and_left_is_not_held_against_right(case):
    study = with_verdicts(case)
    who = "left and right speaker" if case == BOTH_HIDDEN else "left speaker"
    first = today(study)[0]
    assert first.startswith(f"Not judged: {who}. The screen stands in the way to the mix seat: ")
    assert "the direct sound arrives 12 dB weaker than it should." in first
    assert not any(line.startswith("Left and right: ") for line in today(study))
    assert (headline(study)[-1]["figure"], headline(study)[-1]["text"]) == ("–", "not compared")


def test_without_a_main_speaker_nothing_is_said_to_be_well():
    study = with_verdicts(SUBS)
    assert "No main speaker plays here, so no reflection was judged." in today(study)
    assert will_change(study, 0, []) == ["Nothing was judged, so nothing can be said of treatment yet."]


def test_a_search_that_ends_before_the_limits_window_gives_no_all_clear():
    study = with_verdicts(ALL_BELOW)
    reach = replace(study.arrivals.reach, complete_to_s=8.2e-3, early_order=5)
    early = replace(study.arrivals, reach=reach)
    short = replace(study, arrivals=early)
    (said,) = will_change(short, 0, [])
    assert "no further than 8 ms after the direct sound" in said
    # Said before any verdict, not in a note at the end.
    missing = "after 8.2 ms those of more than 5 bounces may be missing"
    assert today(short)[0] == f"Not every reflection of the 15 ms that count was found: {missing}."
    assert not any("missing" in line for line in today(study))
    assert f"within 15 ms ({missing})" in verdict_sentence(short, short.verdicts[0])
    # While something is moved it is not searched for up to when nothing is missing.
    unknown = replace(study, arrivals=replace(early, reach=replace(reach, complete_to_s=0.0)))
    missing = "those of more than 5 bounces may be missing"
    assert f"within 15 ms ({missing})" in verdict_sentence(unknown, unknown.verdicts[0])


@pytest.mark.parametrize("case", CASES)
def test_a_comparison_gives_no_all_clear_where_a_speaker_is_hidden(case):
    study = with_verdicts(case)
    said = change_headline(compare(study, study))
    hidden = [name for name, own in zip(("left", "right"), case, strict=True) if own is None]
    assert (f"{' and '.join(hidden)} not judged, as the direct sound is hidden" in said) == bool(hidden)
    assert said.startswith("No early reflection over the limit, before or after") == (
        case in (ALL_BELOW, SOME_NEAR, ONE_HIDDEN)
    )
    assert ("too close to it to say" in said) == (case in (SOME_NEAR, OVER_AND_NEAR))


def test_a_screen_before_a_speaker_reaches_the_clients_words(tmp_path):
    study = run_study(load_scene(tmp_path / "scene.toml", BOX + RIGHT + SCREEN), up_to_order=1)
    assert {v.status for v in study.verdicts} == {"hidden"}
    said = " ".join([*today(study), *will_change(study, 0, [])])
    assert "Not judged: left and right speaker. The screen stands in the way" in said
    assert "Nothing needs treating" not in said
    assert "no early reflection is too strong" not in said


def test_the_table_has_what_is_over_first_and_never_a_figure_for_what_is_undecided():
    study = with_verdicts(OVER_AND_NEAR)
    lines, left_out = too_strong(study, 0, {})
    assert [line.against_limit for line in lines] == ["4.0 over"] * 4 + [NEAR] * 3
    assert left_out == 0
    assert {line.share_over for line in lines} == {"40 %"}


def test_a_margin_has_its_side_in_words():
    assert [limit_side(x) for x in (-3.71, -0.01, 0.0, 0.04, 2.0, np.inf, np.nan)] == [
        "3.7 over",
        "<0.1 over",
        "0.0 below",
        "<0.1 below",
        "2.0 below",
        "below",
        "–",
    ]
    peaks = {peak.verdict: peak for peak in with_verdicts(OVER_AND_NEAR).peaks}
    assert in_sentence(peaks["over"]) == "4.0 dB over the limit"
    assert in_sentence(peaks["below"]) == "3.0 dB below the limit"
    assert in_sentence(peaks["undecided"]) == TOO_CLOSE
    assert in_column(replace(peaks["over"], verdict="not judged", margin_db=np.nan)) == "not judged"
    order = [peak.verdict for peak in worst_first(list(peaks.values()))]
    assert order == ["over", "undecided", "below"]


def test_a_peak_that_no_path_to_the_ears_makes_says_why():
    study = shipped_study("box", up_to_order=1)
    peak = replace(study.peaks[0], arrivals=(), near_misses=(0,), joined=())
    assert peak_words(study, peak).endswith(", just beyond an edge")
    assert peak_words(study, replace(peak, near_misses=())).endswith(
        ", only where the head is off the middle"
    )

"""The report's chapter on before and after as plain data, and what page one takes from it."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from raytrace import (
    Comparison,
    Peak,
    PeakPair,
    Study,
    Verdict,
    VerdictPair,
    covers_to_buy,
    headline,
)
from viewer.report.decay import captioned
from viewer.report.findings import Change, Chart
from viewer.tables import area_figure
from viewer.words import (
    TOO_CLOSE,
    WHY_TOO_CLOSE,
    aimed_at,
    count_figure,
    count_text,
    decibels,
    first_verdicts,
    furniture_advice,
    limit_side,
    listed,
    pair_is_heard,
    panels_words,
    peak_words,
    ringing,
    signed,
    speaker_words,
    today,
    verdict_figure,
    verdict_sentences,
)

HEAD = ("speaker", "by way of", "ms later", "before dB", "after dB", "change dB", "limit dB")
_TABLE = "The table comparison.csv has every single reflection before and after, low to high pitch."
_ROWS_PER_SEAT = 10  # more would leave the charts too small to read


def change_pages(change: Change, charts: Sequence[Chart]) -> list[dict[str, Any]]:
    """What report.typ needs for the chapter: one page for every seat that is judged in both.

    Parameters
    ----------
    change : Change
        Before and after.
    charts : sequence of (speaker, seat, path, caption)
        Seats by their indices after; paths are relative to the report's folder.
    """
    verdicts = change.comparison.verdicts
    seats = dict.fromkeys((pair.seat, pair.after.seat) for pair in verdicts)
    return [
        _page(change.comparison, name, [c for c in charts if c[1] == after])
        | {"lead": headline(change.comparison) if number == 0 else ""}
        for number, (name, after) in enumerate(seats)
    ]


def _page(comparison: Comparison, seat: str, charts: Sequence[Chart]) -> dict[str, Any]:
    pairs = [pair for pair in comparison.peaks if pair.seat == seat and _was_or_is_near(pair)]
    order = [entry.name for entry in comparison.after.scene.speakers]
    pairs.sort(key=lambda p: (round(p.worst_margin_db, 1), round(p.delay_s, 4), order.index(p.speaker)))
    left_out = len(pairs) - _ROWS_PER_SEAT
    after = (
        "Strength against the direct sound: the level that is judged, exceeded at a tenth of the places "
        f"where the head may be. Bold: still too strong. “?”: {TOO_CLOSE}, {WHY_TOO_CLOSE}. "
    )
    if left_out > 0:
        after += f"{left_out} weaker {'one is' if left_out == 1 else 'ones are'} left out here. "
    if not pairs:
        after = "No early reflection that was judged is too strong, before or after. "
    several = len(comparison.after.scene.seats) > 1
    return {
        "kind": "change",
        "title": f"Before and after: {seat}" if several else "Before and after",
        "intro": "Before is the room as it stands, without what this report puts up; after is with it.",
        "curves": captioned(charts),
        "head": HEAD,
        "rows": [_row(comparison, pair) for pair in pairs[:_ROWS_PER_SEAT]],
        "after": " ".join((f"{after}{_TABLE}", *comparison.not_compared)),
    }


def _was_or_is_near(pair: PeakPair) -> bool:
    return any(peak is not None and peak.may_be_over for peak in (pair.before, pair.after))


def _row(comparison: Comparison, pair: PeakPair) -> dict[str, Any]:
    old, new = pair.before, pair.after
    study, peak = (comparison.before, old) if old is not None else (comparison.after, new)
    assert peak is not None
    change = "new" if old is None else "gone"
    if old is not None and new is not None:
        change = signed(pair.change_db)
    return {
        "over": new is not None and new.over_limit,
        "cells": (
            pair.speaker,
            peak_words(study, peak),
            f"{pair.delay_s * 1e3:.1f}",
            _strength(old),
            _strength(new),
            change,
            f"{_against_limit(old)} → {_against_limit(new)}",
        ),
    }


def _strength(peak: Peak | None) -> str:
    return "–" if peak is None else decibels(peak.level_db)


def _against_limit(peak: Peak | None) -> str:
    """How far over or below the limit, "?" where that is too close to say."""
    if peak is None:
        return "–"
    return "?" if peak.verdict == "undecided" else limit_side(peak.margin_db)


def changed_client(
    change: Change, surfaces: Sequence[str], mending: Sequence[str] = (), *, units: str, see: str = ""
) -> dict[str, Any]:
    """What page one says instead: the room as it stands, then with its panels.

    Parameters
    ----------
    change : Change
        The bare room and the treated one.
    surfaces : sequence of str
        Those of the set-out sheets: where something too strong is left.
    mending : sequence of str
        What would do for it.
    units : {"metric", "imperial"}
        Of the area treated.
    see : str
        The chapter on the bass, where there is one.
    """
    comparison = change.comparison
    return {
        "lead": headline(comparison),
        "headline": _figures(comparison, units),
        "today": today(comparison.before, see=see),
        "will_title": "With what this report proposes"
        if not comparison.after.room.panels
        else "With the panels of this report",
        "will": [
            *_treated(comparison, surfaces),
            *mending,
            *_ringing(change),
            *furniture_advice(comparison.after, surfaces),
        ],
    }


def _figures(comparison: Comparison, units: str) -> list[dict[str, str]]:
    """How many are still too strong, how far left and right differ, what is covered."""
    old, new = comparison.left_right
    pairs = {(pair.after.speaker, pair.after.seat): pair for pair in comparison.verdicts}
    own = first_verdicts(comparison.after)
    figures = [_figure(comparison.after, v, pairs.get((v.speaker, v.seat))) for v in own]
    heard = all(pair_is_heard(study) for study in (comparison.before, comparison.after))
    if old is not None and new is not None and heard:
        figures.append(
            {
                "label": "left against right",
                "figure": decibels(abs(new.difference_db)),
                "unit": "dB",
                "text": "difference in early reflected sound, "
                + _instead(*(decibels(abs(pair.difference_db)) for pair in (new, old))),
            }
        )
    panels, covers = comparison.after.room.panels, covers_to_buy(comparison.after.scene)
    if not panels:  # rugs and the like, or nothing but another arrangement
        text = listed([own.cover for own in covers]) if covers else "no panels, no covers"
        return [*figures, {"label": "to lay or hang", "figure": str(len(covers)), "unit": "", "text": text}]
    area, unit = area_figure(comparison.treated_m2[1], units)
    count = panels_words([panel.stacked for panel in panels])
    figures.append({"label": "treated", "figure": area, "unit": unit, "text": f"with {count}"})
    return figures


def _figure(study: Study, verdict: Verdict, pair: VerdictPair | None) -> dict[str, str]:
    """How many are still too strong of one speaker; alone where there is nothing to compare it with."""
    if pair is None:
        return verdict_figure(study, verdict)
    old, new = pair.before, pair.after
    return {
        "label": speaker_words(study, new.speaker),
        "figure": count_figure(new),
        "unit": "",
        "text": f"{count_text(new)}; "
        + _instead(*(f"{count_figure(verdict)} of {verdict.n_in_window}" for verdict in (new, old))),
    }


def _instead(new: str, old: str) -> str:
    return "as before" if new == old else f"instead of {old}"


def _treated(comparison: Comparison, surfaces: Sequence[str]) -> list[str]:
    study = comparison.after
    counts = Counter(panel.group for panel in study.room.panels)
    names = [group if count == 1 else f"{group} ({count} panels)" for group, count in counts.items()]
    names += [own.cover for own in covers_to_buy(study.scene)]
    what = "the proposed panels" if study.room.panels else "what is proposed"
    sentences = [f"Including {what}: {listed(names)}."] if names else []
    sentences += verdict_sentences(study)
    if surfaces:
        sentences.append(
            f"What is still too strong, or {TOO_CLOSE}, comes off {listed(surfaces)}; see the sheets."
        )
    return sentences


def _ringing(change: Change) -> list[str]:
    """How long the room rings with its panels, against before; as it stands where that alone is known."""
    means = [
        np.mean([d.middle_s for d in decays if np.isfinite(d.middle_s)] or [np.nan])
        for decays in (change.decays_before, change.decays_after)
    ]
    if not np.isfinite(means).all():
        return ringing(change.decays_before)
    was, now = (f"{mean:.2f} s" for mean in means)
    aimed = aimed_at(change.decays_after[0])
    return [f"At mid frequencies sound then dies away in {now}, {_instead(now, was)}; {aimed}."]

"""The report's chapter on decay as plain data: charts, a table beside formulas and target, notes."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace import BAND_NAMES, Decay, Study
from viewer.report.findings import Change
from viewer.words import band_words, decibels, told

Row = dict[str, Any]

_MOST_CHARTS = 1  # others look much the same: the table has every speaker and seat


def decay_chapter(
    study: Study,
    decays: Sequence[Decay],
    charts: Sequence[tuple[int, int, str, str]],
    *,
    before: Change | None = None,
    units: str,
) -> dict[str, Any]:
    """What report.typ needs for the chapter; subs are left out.

    Parameters
    ----------
    study : Study
        For the names.
    decays : sequence of Decay
        Of the same scene.
    charts : sequence of (speaker, seat, path, caption)
        Paths are relative to the report's folder.
    before : Change, optional
        How it died away before.
    units : {"metric", "imperial"}
        Of amounts in the notes.
    """
    mains = [d for d in decays if study.scene.speakers[d.speaker].use == "main"]
    below_hz = max(d.schroeder_hz for d in mains)
    grey = f"Grey: below {round(below_hz, -1):.0f} Hz, a rough guide only. " if below_hz else ""
    return {
        "title": "How sound dies away",
        "intro": "What comes after the early reflections: how long each octave takes to die away by 60 dB. "
        "Followed by rays from each speaker; the classical formulas take an even spread of sound for granted "
        "and stand beside as a check."
        + (" The panels of this report are in place." if study.room.panels else ""),
        "charts": captioned(charts[:_MOST_CHARTS]),
        "head": ("seconds", "", *(band_words(band) for band in BAND_NAMES)),
        "guide": [band < below_hz for band in BAND_NAMES],
        "rows": [row for decay in mains for row in _measured(study, decay)]
        + ([] if before is None else _before(before))
        + _beside(mains[0]),
        "after": f"T20: from the fall between 5 and 25 dB below the start; ±: one standard error; EDT: from "
        f"the first 10 dB alone, which is what one hears as reverberance (ISO 3382-1). {grey}Target: "
        f"{mains[0].target.standard} by volume, with its tolerance.",
        "notes": _notes(study, mains, units),
    }


def captioned(charts: Sequence[tuple[int, int, str, str]]) -> list[dict[str, str]]:
    """Charts with their captions; what several share is said once, under the last."""
    captions = [text for *_, text in charts]
    return [
        {"path": path, "alt": text, "caption": "" if text in captions[i + 1 :] else text}
        for i, (_, _, path, text) in enumerate(charts)
    ]


def _notes(study: Study, decays: Sequence[Decay], units: str) -> list[str]:
    """What all have in common first, then what is said of some only."""
    common = [note for note in decays[0].notes if all(note in decay.notes for decay in decays)]
    own = [
        f"{_who(study, decay)}: {_inside(told(note, units))}"
        for decay in decays
        for note in decay.notes
        if note not in common
    ]
    return [told(note, units) for note in common] + own


def _inside(text: str) -> str:
    """A sentence as it goes on after a colon; what begins with a short form keeps its capital."""
    return text[0].lower() + text[1:] if text[1].islower() else text


def _who(study: Study, decay: Decay) -> str:
    return f"{study.arrivals.speaker_names[decay.speaker]} at {study.arrivals.seat_names[decay.seat]}"


def _measured(study: Study, decay: Decay) -> list[Row]:
    return [
        _row(_who(study, decay), "T20", decay.parameters.t20_s),
        _row("", "±", decay.errors.t20_s, digits=3),
        _row("", "EDT", decay.parameters.edt_s, rule=True),
    ]


def _before(change: Change) -> list[Row]:
    """The same before, the mean over the main speakers, at each seat that is judged before and after."""
    scene = change.comparison.before.scene
    pairs = dict.fromkeys((pair.seat, pair.before.seat) for pair in change.comparison.verdicts)
    rows = []
    for name, seat in pairs:
        own = [d for d in change.decays_before if d.seat == seat and scene.speakers[d.speaker].use == "main"]
        if own:
            mean_s = np.mean([d.parameters.t20_s for d in own], axis=0)
            rows.append(_row(f"before, speakers at {name}", "T20", mean_s, rule=True))
    return rows


def _beside(decay: Decay) -> list[Row]:
    """What is the same for all speakers and seats."""
    return [
        _row("formulas", "Sabine", decay.sabine_s),
        _row("", "Eyring", decay.eyring_s),
        _row("", "Arau-Puchades", decay.arau_s, rule=True),
        _row(f"target {decay.target.time_s:.2f}", "from", decay.target.low_s),
        _row("", "to", decay.target.high_s, rule=True),
    ]


def _row(who: str, what: str, values: NDArray[np.float64], *, digits: int = 2, rule: bool = False) -> Row:
    cells = [decibels(float(x), digits) for x in values]
    return {"who": who, "what": what, "cells": cells, "rule": rule}

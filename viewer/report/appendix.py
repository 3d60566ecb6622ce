"""The report's appendix as plain data: limits of the method, materials with sources, the reflections."""

from typing import Any

import numpy as np

from raytrace import BAND_NAMES, Arrivals, Study, format_length
from viewer.paper import typeface_note
from viewer.words import band_words, decibels, joined_way, limit_side, met_names, told

_MOST_NEAR_MISSES = 12
_QUIETEST_DB = -20.0  # re the direct sound; what is weaker is in the data files alone


def appendix(study: Study, *, units: str, has_bass: bool = False) -> dict[str, Any]:
    """What report.typ needs for the appendix.

    Parameters
    ----------
    study : Study
        A finished run.
    units : {"metric", "imperial"}
        Of every length.
    has_bass : bool
        Whether client.pdf has a chapter on the bass.
    """
    scene, room, arrivals = study.scene, study.room, study.arrivals
    limits = scene.limits
    air = scene.air
    sources = [
        f"Limit: {limits.below_db:g} dB below the direct sound within {limits.within_ms:g} ms, "
        f"{limits.from_hz:g} to {limits.to_hz:g} Hz. Source: {limits.source}.",
        f"Air: {air.temperature:g} °C, {air.humidity:g} % humidity, {air.pressure:g} kPa; sound travels at "
        f"{room.speed_of_sound_m_s:.1f} m/s; attenuation by ISO 9613-1.",
        "Levels stand against the free direct sound of the same speaker. The verdict is read off the curve "
        "of all that arrives, at the ears and at places spread over the box the head moves in: the level "
        "that a peak exceeds at a tenth of them. Where it is nearer to the limit than its uncertainty (tape, "
        "model, number of places) it is too close to say.",
        "Areas to cover hold the spots of the ears and the corners of that box, widened by the first Fresnel "
        "zone at "
        f"{study.treatment_areas[0].frequency_hz:g} Hz."
        if study.treatment_areas
        else "No area was laid out.",
    ]
    bands = [band_words(band) for band in BAND_NAMES]
    path = "m" if units == "metric" else "ft in"
    return {
        "title": "Notes, sources, reflections",
        "notes": [*(told(note, units) for note in study.notes), *filter(None, [typeface_note(study.scene)])],
        "sources": sources,
        "materials_head": ("material and where", "", *bands),
        "materials": _materials(study),
        "all_head": ("", "from", "to", "by way of", "ms", path, "ears", "worst", "limit", *bands),
        "all_title": f"Reflections above {decibels(_QUIETEST_DB, 0)} dB",
        "all_intro": _left_out(study, has_bass)
        + "Sorted by speaker, seat and delay after the direct sound. Level re direct sound, dB: at the ears "
        "and at the worst point of the head zone, in the limit's band; how far it is over or below the limit "
        "at the ears by itself, inside its window; then per octave at the ears. "
        "Bold: by itself over the limit at the ears.",
        "arrivals": [_arrival(study, arrivals, row, units) for row in _listed(study)],
        "near": _near_misses(study, units),
    }


def _listed(study: Study) -> list[int]:
    """Rows of the reflections that are printed: not of subs, nor what is weak at ears and head zone."""
    arrivals = study.arrivals
    strongest = np.fmax(arrivals.band_level_db, arrivals.zone_worst_db)
    shown = np.isin(arrivals.speaker, _mains(study)) & (strongest > _QUIETEST_DB)
    return [int(row) for row in np.flatnonzero(shown)]


def _mains(study: Study) -> list[int]:
    return [k for k, speaker in enumerate(study.scene.speakers) if speaker.use == "main"]


def _left_out(study: Study, has_bass: bool) -> str:
    """What the table leaves out, and where it is."""
    weaker = len(study.arrivals.order) - len(_listed(study))
    subs = [speaker.name for speaker in study.scene.speakers if speaker.use == "sub"]
    there = "see “The bass” in client.pdf" if has_bass else "report --bass adds a chapter on it"
    also = f", and all of {' and '.join(subs)}, not judged here ({there})" if subs else ""
    return f"{weaker} weaker ones are in arrivals.csv and arrivals.json alone{also}. " if weaker else ""


def _near_misses(study: Study, units: str) -> dict[str, Any]:
    """The strongest reflections that miss an edge by little; rows may be none."""
    near = study.arrivals.near_misses
    assert near is not None
    order = np.argsort(-near.band_level_db, kind="stable")
    own = order[np.isin(near.speaker[order], _mains(study))]
    strongest = own[:_MOST_NEAR_MISSES]
    left_out = len(own) - len(strongest)
    return {
        "intro": "For the ears the spot lies just beyond an edge, or an object just cuts into the way; what "
        "is left of the reflection shows in a measurement, and verdicts count it with what arrives beside it."
        + (f" The strongest are listed, {left_out} weaker ones are in arrivals.json." if left_out else ""),
        "rows": [_arrival(study, near, int(row), units) | {"over": False} for row in np.sort(strongest)],
    }


def _materials(study: Study) -> list[dict[str, Any]]:
    """Every material in use with where it is, its two rows of figures and its source."""
    used: dict[str, tuple[Any, list[str]]] = {}
    for surface in study.room.surfaces:
        used.setdefault(surface.material.name, (surface.material, []))[1].append(
            surface.name if surface.owner is None else surface.owner
        )
        for opening in surface.openings:
            used.setdefault(opening.material.name, (opening.material, []))[1].append(opening.name)
    return [
        {
            "name": name,
            "on": ", ".join(dict.fromkeys(places)),
            "source": material.source,
            "absorption": [f"{x:.2f}" for x in material.absorption],
            "scattering": [f"{x:.2f}" for x in material.scattering],
        }
        for name, (material, places) in used.items()
    ]


def _arrival(study: Study, arrivals: Arrivals, row: int, units: str) -> dict[str, Any]:
    margin = float(arrivals.margin_db[row])
    levels = [float(x) for x in arrivals.level_db[row]]
    cells = [
        str(row + 1),
        arrivals.speaker_names[arrivals.speaker[row]],
        arrivals.seat_names[arrivals.seat[row]],
        joined_way(met_names(study, arrivals, row)),
        f"{arrivals.delay_s[row] * 1e3:.2f}",
        format_length(float(arrivals.length_m[row]), units=units, style="m", bare=True),
        decibels(float(arrivals.band_level_db[row])),
        decibels(float(arrivals.zone_worst_db[row])),
        "" if np.isnan(margin) else limit_side(margin),
        *map(decibels, levels),
    ]
    return {"over": bool(arrivals.over_limit[row]), "cells": cells}

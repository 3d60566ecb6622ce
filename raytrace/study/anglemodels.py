"""How far apart the two models of what plain surfaces reflect at an angle are in one room."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import AngleModel, plain_reflection
from raytrace.facts import Hint, Sentence, sentence
from raytrace.reflections import Arrivals, limit_level_db
from raytrace.room import Room
from raytrace.scene import Scene
from raytrace.verdicts import Peak, main_arrivals

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_OTHER: dict[AngleModel, AngleModel] = {"random incidence": "local", "local": "random incidence"}
_WORDS = {
    "random incidence": "Surfaces and openings absorb their random-incidence value at every angle.",
    "local": "Surfaces and openings reflect at an angle like the real, locally reacting impedance with their "
    "random-incidence absorption; the decay keeps that value.",
}
_OTHER_WORDS = {
    "random incidence": "Locally reacting ones{key}",
    "local": "The same absorption at every angle{key}",
}


def angle_model_note(scene: Scene, room: Room, arrivals: Arrivals, peaks: Sequence[Peak]) -> Sentence:
    """Which model is used, and how far it is from the other one in this room."""
    model = scene.method.plain_surfaces
    apart_db = models_apart_db(scene, room, arrivals, peaks)
    if apart_db is None:
        return sentence(_WORDS[model])
    return sentence(
        f"{_WORDS[model]} {_OTHER_WORDS[model]} would change what makes the peaks over the limit by at most "
        "{apart} dB here.",
        key=Hint(f' (plain_surfaces = "{_OTHER[model]}" under [method])'),
        apart=f"{apart_db:.1f}",
    )


def models_apart_db(scene: Scene, room: Room, arrivals: Arrivals, peaks: Sequence[Peak]) -> float | None:
    """Largest change by the other model of a reflection that makes a peak over the limit. [dB]

    At the ears, each bounce taken as one on an endless surface; panels stay as they are. None where the ears
    receive no such peak.
    """
    rows = np.unique([row for peak in peaks if peak.over_limit for row in main_arrivals(arrivals, peak)])
    if not rows.size:
        return None
    rows = rows.astype(np.int64)
    pressure = np.concatenate([at_point.pressure for at_point in arrivals.at_ears])[rows]
    level_db = limit_level_db(scene, pressure * _changed(room, arrivals, rows))
    return float(np.abs(level_db - arrivals.band_level_db[rows]).max())


def _changed(room: Room, arrivals: Arrivals, rows: Ints) -> Floats:
    """What the other model makes of the pressure of some reflections, (n, n_bands, 1)."""
    surfaces, openings = arrivals.path_surfaces[rows], arrivals.path_openings[rows]
    ways = _ways(room, arrivals, rows)
    changed = np.ones((len(rows), 8, 1))
    bare = (surfaces >= 0) & (arrivals.path_panels[rows] < 0)
    for index in np.unique(surfaces[bare]).tolist():
        surface = room.surfaces[index]
        met = {-1: surface.material} | {opening.index: opening.material for opening in surface.openings}
        for opening, material in met.items():
            row, bounce = np.nonzero(bare & (surfaces == index) & (openings == opening))
            cosine = np.minimum(np.abs(ways[row, bounce] @ surface.frame.n), 1.0)
            used = plain_reflection(material, cosine)
            other = plain_reflection(replace(material, at_an_angle=_OTHER[material.at_an_angle]), cosine)
            # What reflects nothing does so by both.
            np.multiply.at(changed, row, np.where(used == 0.0, 1.0, other) / np.where(used == 0.0, 1.0, used))
    return changed


def _ways(room: Room, arrivals: Arrivals, rows: Ints) -> Floats:
    """Which way the sound of some reflections comes to each bounce, (n, n_bounces, 3) of unit length."""
    legs = np.diff(arrivals.path_points[rows], axis=1)[:, :-1]
    length_m = np.linalg.norm(legs, axis=2)
    ways: Floats = legs / np.maximum(length_m, np.finfo(np.float64).tiny)[:, :, None]
    normals = np.array([surface.frame.n for surface in room.surfaces])[arrivals.path_surfaces[rows]]
    for k in range(1, ways.shape[1]):
        # In an edge or corner one bounce follows the other without a way between them.
        came, normal = ways[:, k - 1], normals[:, k - 1]
        turned = came - 2.0 * np.sum(came * normal, axis=1)[:, None] * normal
        at_once = length_m[:, k] <= room.tolerance_m
        ways[at_once, k] = turned[at_once]
    return ways

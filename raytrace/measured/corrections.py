"""What the drawing has wrong: which survey numbers explain the measured delays best, and how surely."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Amount, Sentence, millimetres, sentence
from raytrace.measured.attribution import PICK_S, Attribution
from raytrace.measured.compared import Held, Measurement
from raytrace.measured.misread import BLUNDER, find_misread, renamed
from raytrace.measured.predicted import PeakPart
from raytrace.measured.tapednumbers import (
    TapedNumber,
    concerns,
    direct_sounds,
    scene_at,
    stepped,
    taped_numbers,
    way_delay_s,
)
from raytrace.room import Room, build_room
from raytrace.scene import KeyPath, Scene
from raytrace.study import Setting, with_settings
from raytrace.surveying import value_at

Floats = NDArray[np.float64]

SURE = 0.5  # peaks that are named less surely say nothing about the drawing
TOLD = 2.5  # standard errors by which a number must be off to be told
LEARNT = 0.7  # and its standard error must have shrunk to this share
ALIKE = 0.9  # correlation from which two numbers cannot be told apart
_WIDE, _OUTLIER = 10.0, 3.0  # standard errors from which a delay counts less (Cauchy's weights)
MOST_BOUNCES = 1  # of what says something: later ones are many, and named wrongly more often
LEAST_SHARE = 0.6  # of the strongest way in a peak
_N_ROUNDS = 2
_N_NAMINGS = 2  # with what is told to be off where it likely is, more peaks bear names
_N_WEIGHTINGS = 20


@dataclass(frozen=True)
class Correction:
    """A number of the scene that the measurement puts elsewhere.

    Attributes
    ----------
    what : str
    was, is_likely, uncertainty : float
        [m, or degC]
    unit : str
        "m" or "degC".
    settings : tuple of (KeyPath, float)
        Values of the scene file that change, and by how much.
    alike : tuple of str
        Other numbers that the measurement cannot tell from this one.
    """

    what: str
    was: float
    is_likely: float
    uncertainty: float
    unit: str
    settings: tuple[tuple[KeyPath, float], ...]
    alike: tuple[str, ...]


@dataclass(frozen=True)
class _Pick:
    """A delay that was measured: whose, by which ways, how much later than predicted, how surely named."""

    speaker: int
    seat: int
    parts: tuple[PeakPart, ...]
    late_s: float
    confidence: float


def find_corrections(scene: Scene, states: Sequence[Held]) -> tuple[Correction, ...]:
    """Survey numbers that the measured delays put elsewhere, the surest first.

    Robust least squares with the survey's accuracy as prior: every number may be off by its standard
    error, and the delays decide by how much each is. States drawn in other files are left out.

    Parameters
    ----------
    scene : Scene
        Whose numbers are looked into.
    states : sequence of Held
        Measurements of this room, with or without its panels.
    """
    states = [held for held in states if held.scene.path == scene.path]
    labels = sorted({(heard.take.speaker, heard.take.seat) for held in states for heard in held.heard})
    numbers = taped_numbers(scene, {speaker for speaker, _ in labels}, {seat for _, seat in labels})
    numbers += direct_sounds(labels)
    off = find_misread(states, numbers)
    for _ in range(_N_NAMINGS):
        picks = _picks(states, numbers, off)
        if len(picks) < 2:
            return ()
        freed, values, spread = _fitted(scene, picks, numbers, off)
        off = {
            k: float(values[k])
            for k in range(len(numbers))
            if freed[k] is not numbers[k] and _is_told(freed[k], values[k], spread[k, k])
        }
    error = np.sqrt(np.diag(spread))
    likeness = spread / np.outer(error, error)
    found = []
    for k, number in enumerate(numbers):
        if k in off:
            alike = [numbers[j].what for j in np.flatnonzero(np.abs(likeness[k]) >= ALIKE) if j != k]
            moved = tuple((key, share * float(values[k])) for key, share in number.keys)
            to = number.value + number.sign * float(values[k])
            found.append(
                Correction(number.what, number.value, to, float(error[k]), number.unit, moved, tuple(alike))
            )
    sure = {number.what: abs(values[k]) / error[k] for k, number in enumerate(numbers)}
    return tuple(sorted(found, key=lambda correction: -sure[correction.what]))


def correction_notes(corrections: Sequence[Correction]) -> tuple[Sentence, ...]:
    """What to measure again, in words."""
    notes = []
    for own in corrections:
        if own.unit == "m":
            figures: dict[str, str | Amount] = {
                "to": millimetres(own.is_likely),
                "was": millimetres(own.was),
                "error": millimetres(own.uncertainty),
            }
        else:
            figures = {
                "to": f"{own.is_likely:.1f} degC",
                "was": f"{own.was:.1f}",
                "error": f"{own.uncertainty:.1f}",
            }
        text = "{what}: more likely {to} than {was} (± {error}): measure it again."
        if own.alike:
            text = text[:-1] + ", and with it {alike}: the measurement cannot tell them apart."
            figures["alike"] = ", ".join(own.alike)
        notes.append(sentence(text, what=own.what, **figures))
    if notes:
        text = (
            "Put the drawing right and compare once more before the rest is believed: numbers that are off "
            "leave peaks without a name, or with a wrong one."
        )
        notes.append(sentence(text))
    return tuple(notes)


def _moved(scene: Scene, corrections: Sequence[Correction]) -> dict[KeyPath, float]:
    """Values of the scene file that corrections change, as they are then."""
    moved: dict[KeyPath, float] = {}
    for correction in corrections:
        for key, by in correction.settings:
            moved[key] = moved.get(key, value_at(scene, key)) + by
    return moved


def corrected_text(scene: Scene, corrections: Sequence[Correction]) -> str:
    """The scene's text with corrected numbers, to the millimetre; comments and all else as they were.

    Raises
    ------
    SceneError
        If the corrected scene cannot be.
    """
    corrected = [Setting(key, round(to, 3)) for key, to in _moved(scene, corrections).items()]
    changed = with_settings(scene, corrected)
    build_room(changed)
    return changed.text


def _picks(states: Sequence[Held], numbers: Sequence[TapedNumber], off: Mapping[int, float]) -> list[_Pick]:
    """Delays that say something: of peaks that were surely named, some numbers being off."""
    values = np.array([off.get(k, 0.0) for k in range(len(numbers))])
    picks = []
    for held in states:
        scene = scene_at(held.scene, numbers, values) if off else held.scene
        room = build_room(scene) if off else held.room
        for heard in held.heard:
            named = renamed(held, heard, scene, room) if off else heard.peaks
            picks += [pick for own in named if (pick := _pick(heard, own)) is not None]
    return picks


def _pick(heard: Measurement, own: Attribution) -> _Pick | None:
    """What a peak says of the drawing, if anything."""
    if own.made_by is None or own.confidence < SURE or own.peak.may_ring:
        return None
    peak = heard.predicted.peaks[own.made_by]
    first = peak.parts[0]
    is_plain = len(first.surfaces) <= MOST_BOUNCES and first.share >= LEAST_SHARE
    if not (peak.is_top and (is_plain or _are_alike(peak.parts))):
        return None
    late_s = own.peak.delay_s - peak.delay_s
    return _Pick(heard.take.speaker, heard.take.seat, peak.parts, late_s, own.confidence)


def _are_alike(parts: Sequence[PeakPart]) -> bool:
    """Whether several ways of few bounces arrive as one: the mean of their delays is that of the peak."""
    strong = [part for part in parts if part.share >= 0.1]
    delays = [part.delay_s for part in strong]
    return max(delays) - min(delays) <= PICK_S and all(len(p.surfaces) <= MOST_BOUNCES for p in strong)


def _fitted(
    scene: Scene, picks: Sequence[_Pick], numbers: Sequence[TapedNumber], start: Mapping[int, float]
) -> tuple[list[TapedNumber], Floats, Floats]:
    """The numbers with what each may be off by, what each is off by, and the covariance of that.

    What is told to be off is no longer held to what was taped, the surest first: held, it would share what
    it is off by with numbers that are right.
    """
    own, values = list(numbers), np.zeros(len(numbers))
    for k, by in start.items():
        own[k], values[k] = replace(own[k], error=BLUNDER * own[k].error), by
    spread = np.diag([number.error**2 for number in numbers])
    measured_s = np.array([pick.late_s for pick in picks]) + _delays_s(scene, picks)
    sure = np.array([pick.confidence for pick in picks])
    for _ in range(_N_ROUNDS):
        now = scene_at(scene, numbers, values)
        delay_s = _delays_s(now, picks)
        slope = _slopes(now, numbers, picks, delay_s) / PICK_S
        # What would be left if nothing were off: linear about where the last round ended.
        late = (measured_s - delay_s) / PICK_S + slope @ values
        values, spread = _solved(late, slope, sure, own)
        while told := [
            k for k, one in enumerate(numbers) if one is own[k] and _is_told(one, values[k], spread[k, k])
        ]:
            surest = max(told, key=lambda k: float(values[k] ** 2 / spread[k, k]))
            own[surest] = replace(own[surest], error=BLUNDER * own[surest].error)
            values, spread = _solved(late, slope, sure, own)
    return own, values, spread


def _solved(
    late: Floats, slope: Floats, sure: Floats, numbers: Sequence[TapedNumber]
) -> tuple[Floats, Floats]:
    """Values of numbers and their covariance, of delays and slopes in standard errors of a pick."""
    prior = np.array([number.error for number in numbers])
    weight, slope = sure, slope * prior
    # From wide to narrow, so that many delays that are off alike are heard before they count as outliers.
    for outlier in np.geomspace(_WIDE, _OUTLIER, _N_WEIGHTINGS):
        steep = slope * weight[:, None]
        off = np.linalg.solve(steep.T @ slope + np.eye(len(numbers)), steep.T @ late)
        weight = sure / (1.0 + ((late - slope @ off) / outlier) ** 2)
    spread = np.linalg.inv((slope * weight[:, None]).T @ slope + np.eye(len(numbers)))
    return off * prior, np.asarray(spread * np.outer(prior, prior), np.float64)


def _is_told(number: TapedNumber, off: float, variance: float) -> bool:
    """Whether a number is off by more than its standard error leaves in doubt, and the delays say so."""
    error = float(np.sqrt(variance))
    return number.zero_of is None and abs(off) >= TOLD * error and error <= LEARNT * number.error


def _slopes(scene: Scene, numbers: Sequence[TapedNumber], picks: Sequence[_Pick], delay_s: Floats) -> Floats:
    """Change of each delay with each number, (n_picks, n_numbers). [s/m, s/K, 1]"""
    room = build_room(scene)
    slopes = np.zeros((len(picks), len(numbers)))
    for k, number in enumerate(numbers):
        if number.zero_of is not None:
            slopes[:, k] = [number.zero_of == (pick.speaker, pick.seat) for pick in picks]
            continue
        own = [row for row, pick in enumerate(picks) if concerns(number, pick.speaker, pick.seat)]
        other = stepped(scene, room, number)
        if other is not None:
            late_s = _delays_s(other[0], [picks[row] for row in own], other[1]) - delay_s[own]
            slopes[own, k] = late_s / other[2]
    return slopes


def _delays_s(scene: Scene, picks: Sequence[_Pick], room: Room | None = None) -> Floats:
    """Delay of each pick by the images of its ways, (n_picks,). [s]"""
    room = build_room(scene) if room is None else room
    ways = [way_delay_s(scene, room, pick.speaker, pick.seat, pick.parts) for pick in picks]
    return np.array(ways, np.float64)

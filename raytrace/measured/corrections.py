"""What the drawing has wrong: which survey numbers explain the measured delays best, and how surely."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Amount, Sentence, millimetres, sentence
from raytrace.measured.attribution import PICK_S
from raytrace.measured.compared import Held, survey_m
from raytrace.measured.predicted import PeakPart
from raytrace.room import Room, build_room
from raytrace.scene import BoxObject, KeyPath, Scene, SceneError
from raytrace.study import Setting, with_settings
from raytrace.surveying import value_at, with_numbers

Floats = NDArray[np.float64]

TEMPERATURE_K = 2.0  # standard error of a room's temperature that nobody measured (common practice)
BLUNDER = 5.0  # a number that is off for sure was misread, not taped badly: it may be off by so much more
FURNITURE = 2.0  # furniture moves and floors are uneven: so many times the survey's error
SURE = 0.5  # peaks that are named less surely say nothing about the drawing
TOLD = 2.5  # standard errors by which a number must be off to be told
LEARNT = 0.7  # and its standard error must have shrunk to this share
ALIKE = 0.9  # correlation from which two numbers cannot be told apart
_WIDE, _OUTLIER = 10.0, 3.0  # standard errors from which a delay counts less (Cauchy's weights)
MOST_BOUNCES = 1  # of what says something: later ones are many, and named wrongly more often
LEAST_SHARE = 0.6  # of the strongest way in a peak
_N_ROUNDS = 2
_N_WEIGHTINGS = 20
_STEP_M, _STEP_K = 0.001, 0.5
_SIZES = {"length": "room length", "width": "room width", "height": "room height"}
_SIZES |= {"ridge": "ridge height", "low": "height of the low side", "high": "height of the high side"}
_AXES = ("x", "y", "z")


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
class _Number:
    """One survey number: what it is called, its value and standard error, the keys that it moves and how."""

    what: str
    value: float
    error: float
    unit: str
    keys: tuple[tuple[KeyPath, float], ...]
    sign: float = 1.0


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
    picks = [pick for held in states if held.scene.path == scene.path for pick in _picks(held)]
    numbers = _numbers(scene, {pick.speaker for pick in picks}, {pick.seat for pick in picks})
    if len(picks) < 2:
        return ()
    freed, values, spread = _fitted(scene, picks, numbers)
    error = np.sqrt(np.diag(spread))
    likeness = spread / np.outer(error, error)
    found = []
    for k, number in enumerate(numbers):
        if freed[k] is not number and _is_told(freed[k], values[k], spread[k, k]):
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
    return tuple(notes)


def corrected_text(scene: Scene, corrections: Sequence[Correction]) -> str:
    """The scene's text with corrected numbers, to the millimetre; comments and all else as they were.

    Raises
    ------
    SceneError
        If the corrected scene cannot be.
    """
    moved: dict[KeyPath, float] = {}
    for correction in corrections:
        for key, by in correction.settings:
            moved[key] = moved.get(key, 0.0) + by
    corrected = [Setting(key, round(value_at(scene, key) + by, 3)) for key, by in moved.items()]
    changed = with_settings(scene, corrected)
    build_room(changed)
    return changed.text


def _picks(held: Held) -> list[_Pick]:
    """Delays that say something: of peaks that were surely named."""
    picks = []
    for heard in held.heard:
        for own in heard.peaks:
            if own.made_by is None or own.confidence < SURE or own.peak.may_ring:
                continue
            peak = heard.predicted.peaks[own.made_by]
            first = peak.parts[0]
            is_plain = len(first.surfaces) <= MOST_BOUNCES and first.share >= LEAST_SHARE
            if peak.is_top and (is_plain or _are_alike(peak.parts)):
                late_s = own.peak.delay_s - peak.delay_s
                take = heard.take
                picks.append(_Pick(take.speaker, take.seat, peak.parts, late_s, own.confidence))
    return picks


def _are_alike(parts: Sequence[PeakPart]) -> bool:
    """Whether several ways of few bounces arrive as one: the mean of their delays is that of the peak."""
    strong = [part for part in parts if part.share >= 0.1]
    delays = [part.delay_s for part in strong]
    return max(delays) - min(delays) <= PICK_S and all(len(p.surfaces) <= MOST_BOUNCES for p in strong)


def _numbers(scene: Scene, speakers: set[int], seats: set[int]) -> list[_Number]:
    """Survey numbers that delays can tell of."""
    tape_m = survey_m(scene)
    numbers = []
    for size, name in _SIZES.items():
        value = getattr(scene.room, size, None)
        if isinstance(value, float):
            numbers.append(_Number(name, value, tape_m, "m", ((("room", size), 1.0),)))
    ends: list[tuple[str, KeyPath, Sequence[float]]] = [
        *(
            (f"{scene.speakers[i].name} speaker", ("speakers", i, "position"), scene.speakers[i].position)
            for i in sorted(speakers)
        ),
        *((f"{scene.seats[j].name} ears", ("seats", j, "ears"), scene.seats[j].ears) for j in sorted(seats)),
    ]
    for name, path, place in ends:
        for axis, value in enumerate(place):
            key: KeyPath = (*path, axis)
            numbers.append(_Number(f"{name} {_AXES[axis]}", float(value), tape_m, "m", ((key, 1.0),)))
    numbers += _furniture(scene, tape_m)
    numbers += _floor(scene, tape_m)
    now = scene.air.temperature
    numbers.append(_Number("temperature", now, TEMPERATURE_K, "degC", ((("air", "temperature"), 1.0),)))
    return numbers


def _furniture(scene: Scene, tape_m: float) -> list[_Number]:
    """Heights of the tops of boxes that stand in the room."""
    return [
        _Number(
            f"{entry.name} top",
            float(entry.centre[2] + 0.5 * entry.size[2]),
            FURNITURE * tape_m,
            "m",
            ((("objects", k, "centre", 2), 1.0),),
        )
        for k, entry in enumerate(scene.objects)
        if isinstance(entry, BoxObject)
    ]


def _floor(scene: Scene, tape_m: float) -> list[_Number]:
    """The floor itself, from which all heights were measured: what lies lower adds to every one of them."""
    if not isinstance(getattr(scene.room, "height", None), float):
        return []
    keys: list[tuple[KeyPath, float]] = [(("room", "height"), 1.0)]
    keys += [(("speakers", i, "position", 2), 1.0) for i in range(len(scene.speakers))]
    keys += [(("seats", j, "ears", 2), 1.0) for j in range(len(scene.seats))]
    keys += [
        (("objects", k, "centre", 2), 1.0)
        for k, own in enumerate(scene.objects)
        if isinstance(own, BoxObject)
    ]
    return [_Number("floor", 0.0, FURNITURE * tape_m, "m", tuple(keys), -1.0)]


def _fitted(
    scene: Scene, picks: Sequence[_Pick], numbers: Sequence[_Number]
) -> tuple[list[_Number], Floats, Floats]:
    """The numbers with what each may be off by, what each is off by, and the covariance of that.

    What is told to be off is no longer held to what was taped, the surest first: held, it would share what
    it is off by with numbers that are right.
    """
    own, values = list(numbers), np.zeros(len(numbers))
    spread = np.diag([number.error**2 for number in numbers])
    measured_s = np.array([pick.late_s for pick in picks]) + _delays_s(scene, picks)
    sure = np.array([pick.confidence for pick in picks])
    for _ in range(_N_ROUNDS):
        now = _at(scene, numbers, values)
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


def _solved(late: Floats, slope: Floats, sure: Floats, numbers: Sequence[_Number]) -> tuple[Floats, Floats]:
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


def _is_told(number: _Number, off: float, variance: float) -> bool:
    """Whether a number is off by more than its standard error leaves in doubt, and the delays say so."""
    error = float(np.sqrt(variance))
    return abs(off) >= TOLD * error and error <= LEARNT * number.error


def _at(scene: Scene, numbers: Sequence[_Number], values: Floats) -> Scene:
    """The scene with its numbers off by some values."""
    moved: dict[KeyPath, float] = {}
    for number, value in zip(numbers, values.tolist(), strict=True):
        for key, share in number.keys:
            moved[key] = moved.get(key, 0.0) + share * value
    # With as many decimals as the text takes; a thousandth of a millimetre is far below what a delay tells.
    return with_numbers(
        scene, {key: value_at(scene, key) + by for key, by in moved.items() if abs(by) > 1e-6}
    )


def _slopes(scene: Scene, numbers: Sequence[_Number], picks: Sequence[_Pick], delay_s: Floats) -> Floats:
    """Change of each delay with each number, (n_picks, n_numbers). [s/m, s/K]"""
    room = build_room(scene)
    slopes = np.zeros((len(picks), len(numbers)))
    for k, number in enumerate(numbers):
        own = [row for row, pick in enumerate(picks) if _concerns(number, pick)]
        step = _STEP_K if number.unit == "degC" else _STEP_M
        other = with_numbers(scene, {key: value_at(scene, key) + share * step for key, share in number.keys})
        # Walls move with the room's own numbers and with furniture; the rest leaves them where they are.
        moves_walls = any(key[0] in ("room", "objects") for key, _ in number.keys)
        try:
            its_room = build_room(other) if moves_walls else room
        except SceneError:
            continue
        slopes[own, k] = (_delays_s(other, [picks[row] for row in own], its_room) - delay_s[own]) / step
    return slopes


def _concerns(number: _Number, pick: _Pick) -> bool:
    """Whether a number moves anything for a pick."""
    own = {"speakers": pick.speaker, "seats": pick.seat}
    return any(key[0] not in own or key[1] == own[str(key[0])] for key, _ in number.keys)


def _delays_s(scene: Scene, picks: Sequence[_Pick], room: Room | None = None) -> Floats:
    """Delay of each pick by the images of its ways, weighed by what each brings, (n_picks,). [s]"""
    from raytrace.acoustics import speed_of_sound_m_s

    room = build_room(scene) if room is None else room
    speed_m_s = speed_of_sound_m_s(scene.air.temperature)
    late_s = []
    for pick in picks:
        source, listener = (
            np.array(scene.speakers[pick.speaker].position),
            np.array(scene.seats[pick.seat].ears),
        )
        detours = [
            part.share * (_length_m(room, part.facets, source, listener) - np.linalg.norm(source - listener))
            for part in pick.parts
        ]
        late_s.append(sum(detours) / speed_m_s)
    return np.array(late_s, np.float64)


def _length_m(room: Room, facets: Sequence[int], source: Floats, listener: Floats) -> float:
    """Length of the way over some faces, by mirroring the source in one after the other. [m]"""
    image = source
    for facet in facets:
        face = room.facets[facet]
        image = image - 2.0 * (float(image @ face.normal) - face.offset) * face.normal
    return float(np.linalg.norm(image - listener))

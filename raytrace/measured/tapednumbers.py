"""Survey numbers that delays can tell of, and what moving one does to the way over drawn faces."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.measured.attribution import PICK_S
from raytrace.measured.compared import survey_m
from raytrace.measured.predicted import PeakPart
from raytrace.room import Room, build_room
from raytrace.scene import BoxObject, KeyPath, Scene, SceneError
from raytrace.surveying import value_at, with_numbers

Floats = NDArray[np.float64]

TEMPERATURE_K = 2.0  # standard error of a room's temperature that nobody measured (common practice)
FURNITURE = 2.0  # furniture moves and floors are uneven: so many times the survey's error
_STEP_M, _STEP_K = 0.001, 0.5
_SIZES = {"length": "room length", "width": "room width", "height": "room height"}
_SIZES |= {"ridge": "ridge height", "low": "height of the low side", "high": "height of the high side"}
_AXES = ("x", "y", "z")


@dataclass(frozen=True)
class TapedNumber:
    """One survey number: what it is called, its value and standard error, the keys that it moves and how.

    One without keys is the moment of the direct sound in one measurement, of a speaker at a seat.
    """

    what: str
    value: float
    error: float
    unit: str
    keys: tuple[tuple[KeyPath, float], ...]
    sign: float = 1.0
    zero_of: tuple[int, int] | None = None


def taped_numbers(scene: Scene, speakers: set[int], seats: set[int]) -> list[TapedNumber]:
    """Survey numbers that delays can tell of."""
    tape_m = survey_m(scene)
    numbers = []
    for size, name in _SIZES.items():
        value = getattr(scene.room, size, None)
        if isinstance(value, float):
            numbers.append(TapedNumber(name, value, tape_m, "m", ((("room", size), 1.0),)))
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
            numbers.append(TapedNumber(f"{name} {_AXES[axis]}", float(value), tape_m, "m", ((key, 1.0),)))
    numbers += _furniture(scene, tape_m)
    numbers += _floor(scene, tape_m)
    now = scene.air.temperature
    numbers.append(TapedNumber("temperature", now, TEMPERATURE_K, "degC", ((("air", "temperature"), 1.0),)))
    return numbers


def _furniture(scene: Scene, tape_m: float) -> list[TapedNumber]:
    """Heights of the tops of boxes that stand in the room."""
    return [
        TapedNumber(
            f"{entry.name} top",
            float(entry.centre[2] + 0.5 * entry.size[2]),
            FURNITURE * tape_m,
            "m",
            ((("objects", k, "centre", 2), 1.0),),
        )
        for k, entry in enumerate(scene.objects)
        if isinstance(entry, BoxObject)
    ]


def _floor(scene: Scene, tape_m: float) -> list[TapedNumber]:
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
    return [TapedNumber("floor", 0.0, FURNITURE * tape_m, "m", tuple(keys), -1.0)]


def direct_sounds(heard: Sequence[tuple[int, int]]) -> list[TapedNumber]:
    """Moments from which the delays of each measurement count: what a direct sound is off by, all are."""
    return [TapedNumber("direct sound", 0.0, PICK_S, "s", (), zero_of=one) for one in heard]


def scene_at(scene: Scene, numbers: Sequence[TapedNumber], values: Floats) -> Scene:
    """The scene with its numbers off by some values."""
    moved: dict[KeyPath, float] = {}
    for number, value in zip(numbers, values.tolist(), strict=True):
        for key, share in number.keys:
            moved[key] = moved.get(key, 0.0) + share * value
    # With as many decimals as the text takes; a thousandth of a millimetre is far below what a delay tells.
    return with_numbers(
        scene, {key: value_at(scene, key) + by for key, by in moved.items() if abs(by) > 1e-6}
    )


def stepped(scene: Scene, room: Room, number: TapedNumber) -> tuple[Scene, Room, float] | None:
    """The scene and room with a number a small step off, and the step; None where that cannot be built."""
    step = _STEP_K if number.unit == "degC" else _STEP_M
    other = with_numbers(scene, {key: value_at(scene, key) + share * step for key, share in number.keys})
    # Walls move with the room's own numbers and with furniture; the rest leaves them where they are.
    moves_walls = any(key[0] in ("room", "objects") for key, _ in number.keys)
    try:
        return other, build_room(other) if moves_walls else room, step
    except SceneError:
        return None


def way_delay_s(scene: Scene, room: Room, speaker: int, seat: int, parts: Sequence[PeakPart]) -> float:
    """Delay of some ways by their images, weighed by what each brings. [s]"""
    from raytrace.acoustics import speed_of_sound_m_s

    source, listener = np.array(scene.speakers[speaker].position), np.array(scene.seats[seat].ears)
    apart_m = np.linalg.norm(source - listener)
    detours = [part.share * (_length_m(room, part.facets, source, listener) - apart_m) for part in parts]
    return float(sum(detours) / speed_of_sound_m_s(scene.air.temperature))


def concerns(number: TapedNumber, speaker: int, seat: int) -> bool:
    """Whether a number moves anything of a speaker at a seat."""
    own = {"speakers": speaker, "seats": seat}
    return any(key[0] not in own or key[1] == own[str(key[0])] for key, _ in number.keys)


def _length_m(room: Room, facets: Sequence[int], source: Floats, listener: Floats) -> float:
    """Length of the way over some faces, by mirroring the source in one after the other. [m]"""
    image = source
    for facet in facets:
        face = room.facets[facet]
        image = image - 2.0 * (float(image @ face.normal) - face.offset) * face.normal
    return float(np.linalg.norm(image - listener))

"""The questions of a tape sketch: what is asked for each shape of room, in the order in which it is asked."""

from dataclasses import dataclass
from typing import Any

from raytrace.scene.sketch_room import SIDES, SUGGESTED, Answers, Reader, hole, lengths, outline, sized, word
from raytrace.scene.tape import Tape, by_tape, rounded_to_tape, told_by_tape


@dataclass(frozen=True)
class Question:
    """One question of a tape sketch.

    Attributes
    ----------
    key : str
        Name of the answer.
    text : str
        The question as it is asked.
    example : str
        An answer that is accepted.
    default : float, str or None
        The answer of someone who has none; None where it follows from earlier answers (`suggestion`).
    """

    key: str
    text: str
    example: str
    default: float | str | None
    reader: Reader

    def read(self, answer: str | float, tape: Tape = Tape.METRES) -> Any:
        """The checked value of an answer; lengths in metres, numbers without a unit as the tape has them.

        Raises
        ------
        ValueError
            If the answer cannot be used; the text says what is accepted.
        """
        return self.reader(answer, tape)

    def suggestion(self, answers: Answers, tape: Tape = Tape.METRES) -> str:
        """The default as it would be typed, from the checked answers so far where it follows from them."""
        suggested = SUGGESTED[self.key](answers) if self.default is None else self.default
        if isinstance(suggested, str):
            return by_tape(suggested, tape)
        return told_by_tape(rounded_to_tape(suggested, tape), tape)

    def example_by(self, tape: Tape) -> str:
        """An answer that is accepted, in the units of a tape."""
        return by_tape(self.example, tape)


_LENGTH = Question(
    "length", "Length, from the wall you face to the wall behind you", "4.2", 4.2, sized(1.0, 60.0)
)
_WIDTH = Question(
    "width", "Width, from the wall on your left to the wall on your right", "3.0", 3.0, sized(1.0, 60.0)
)
_MIDDLE = Question(
    "middle",
    "Where you sit across the room: distance from the left wall (y = 0)",
    "1.7",
    None,
    sized(-60.0, 60.0),
)
_PLACES = (
    Question("speakers_apart", "Speakers: distance from one to the other", "1.2", None, sized(0.3, 6.0)),
    Question(
        "speakers_from_front",
        "Speakers: distance from the wall you face",
        "0.75",
        None,
        sized(0.05, 30.0),
    ),
    Question(
        "speakers_height", "Speakers: height of the tweeter above the floor", "1.2", None, sized(0.1, 4.0)
    ),
    Question("ears_from_front", "Your ears: distance from the wall you face", "1.79", None, sized(0.1, 50.0)),
    Question("ears_height", "Your ears: height above the floor, seated", "1.2", None, sized(0.5, 2.5)),
)
_HOLES = (
    Question(
        "door",
        "Door: wall, distance from the wall's left end as you face it, width; or none",
        "back, 0.3, 0.8",
        "none",
        hole(2, "back, 0.3, 0.8"),
    ),
    Question(
        "window",
        "Window: wall, distance from its left end, height of the sill, width, height; or none",
        "right, 1.2, 0.9, 1.4, 1.2",
        "none",
        hole(4, "right, 1.2, 0.9, 1.4, 1.2"),
    ),
)
_THINGS = (
    Question(
        "cabinet",
        "Cabinet of each speaker: depth, width, height; or none",
        "0.25, 0.2, 0.35",
        "none",
        lengths(3, "0.25, 0.2, 0.35"),
    ),
    Question(
        "screen",
        "Screens on the desk: distance from the wall you face, width of all together, height, height of "
        "their lower edge above the floor; or none",
        "0.7, 0.8, 0.35, 0.8",
        "none",
        lengths(4, "0.7, 0.8, 0.35, 0.8"),
    ),
)
_HEIGHT = Question("height", "Height, floor to ceiling", "2.4", 2.4, sized(1.5, 12.0))

QUESTIONS: dict[str, tuple[Question, ...]] = {
    "box": (_LENGTH, _WIDTH, _HEIGHT, *_PLACES, *_HOLES, *_THINGS),
    "gable": (
        _LENGTH,
        Question("width", _WIDTH.text, "4.4", 4.4, sized(1.0, 60.0)),
        Question("eaves", "Height of the side walls, up to the slope", "1.1", 1.1, sized(0.0, 12.0)),
        Question("ridge", "Height of the ridge, which runs along the room", "2.6", 2.6, sized(1.5, 12.0)),
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
    "lean-to": (
        _LENGTH,
        _WIDTH,
        Question("low", "Height of the ceiling at its low side", "2.05", 2.05, sized(0.0, 12.0)),
        Question("high", "Height of the ceiling at its high side", "2.75", 2.75, sized(1.5, 12.0)),
        Question("low_side", "Low side: front, back, left or right", "front", "front", word(*SIDES)),
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
    "plan": (
        Question(
            "corners",
            "Corners of the floor in order, each as distance from the wall you face and from the left wall",
            "0 0, 6 0, 6 5.2, 3.4 5.2, 3.4 3.4, 0 3.4",
            "0 0, 6 0, 6 5.2, 3.4 5.2, 3.4 3.4, 0 3.4",
            outline,
        ),
        _HEIGHT,
        _MIDDLE,
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
    "section": (
        _LENGTH,
        Question(
            "profile",
            "Corners of the cross-section in order, each as distance from the left wall and height",
            "0 0, 3.6 0, 3.6 2.4, 1.73 2.4, 0 0.95",
            "0 0, 3.6 0, 3.6 2.4, 1.73 2.4, 0 0.95",
            outline,
        ),
        _MIDDLE,
        *_PLACES,
        *_HOLES,
        *_THINGS,
    ),
}
"""The questions of every shape, in the order in which they are asked."""

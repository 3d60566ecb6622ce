"""Where words find room in a drawing: inside an outline, beside it, over nothing else."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from viewer.paper.columns import wrap
from viewer.paper.drafting import Box, Mark, boxes_overlap, centred_at, on_plate, text_size_mm

Floats = NDArray[np.float64]

NAME_PT, SMALL_PT, LETTER_PT = 8.0, 7.0, 6.5


class WordPlaces:
    """What of a drawing is taken by words and signs already.

    Attributes
    ----------
    taken : list of Box
        Nothing may touch these. [mm]
    crossed : list of Box
        Lines that words keep off where they can, and cross on a plate where they cannot. [mm]
    """

    def __init__(self, face: Box, size_mm: tuple[float, float]) -> None:
        self._face, self._size_mm = face, size_mm
        self.taken: list[Box] = []
        self.crossed: list[Box] = []

    def find(
        self,
        text: Mark,
        places: Sequence[tuple[float, float]],
        *,
        anywhere: bool = False,
        keep_off: Sequence[Box] = (),
    ) -> Mark | None:
        """Words at the first of the places where they touch nothing, which is then taken; None without one.

        Inside the face, or `anywhere` on the drawing; off the boxes to `keep_off` besides. On a plate they
        may cross lines, as they do where there is no other place.
        """
        marks = [centred_at(text, place) for place in places]
        marks = [mark for mark in marks if self._is_on_sheet(mark.box, anywhere=anywhere)]
        for plate, others in ((False, [*self.taken, *self.crossed]), (True, self.taken)):
            taken = (*others, *keep_off)
            for mark in marks:
                if not any(boxes_overlap(mark.box, box, gap=0.5) for box in taken):
                    self.taken.append(mark.box)
                    return on_plate(mark) if plate else mark
        return None

    def _is_on_sheet(self, box: Box, *, anywhere: bool) -> bool:
        """Whether a box lies inside the face, or anywhere on the drawing."""
        low, high = (0.2, 0.2), self._size_mm
        if not anywhere:
            x0, y0, x1, y1 = self._face
            low, high = (x0 + 0.4, y0 + 0.4), (x1 - 0.4, y1 - 0.4)
        return low[0] < box[0] and low[1] < box[1] and box[2] < high[0] and box[3] < high[1]


def box_round(corners: Floats) -> Box:
    """Smallest upright rectangle round corners (n, 2). [mm]"""
    (x0, y0), (x1, y1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    return x0, y0, x1, y1


def beyond(strip: Box, covers: Sequence[Box]) -> list[Box]:
    """What is left of a long thin box where wider ones lie over it."""
    along = 0 if strip[2] - strip[0] > strip[3] - strip[1] else 1
    across = 1 - along
    parts = [(strip[along], strip[along + 2])]
    for cover in covers:
        if cover[across] < strip[across + 2] and strip[across] < cover[across + 2]:
            low, high = cover[along], cover[along + 2]
            parts = [
                end
                for a, b in parts
                for end in ((a, min(b, low)), (max(a, high), b))
                if end[1] - end[0] > 0.01
            ]
    if along == 0:
        return [(a, strip[1], b, strip[3]) for a, b in parts]
    return [(strip[0], a, strip[2], b) for a, b in parts]


def places_inside(corners: Floats, text: str, size_pt: float) -> list[tuple[float, float]]:
    """Places for words in an outline, from its middle outwards."""
    width, height = text_size_mm(text, size_pt)
    low, high = corners.min(axis=0), corners.max(axis=0)
    room = (high - low) / 2.0 - np.array([width, height]) / 2.0 - 1.0
    if room.min() < 0.0:
        return []
    middle = (low + high) / 2.0
    shares = sorted(
        ((a, b) for a in np.linspace(-1, 1, 9) for b in np.linspace(-1, 1, 9)),
        key=lambda s: (abs(s[0]) + abs(s[1]), s),
    )
    return [(float(middle[0] + a * room[0]), float(middle[1] + b * room[1])) for a, b in shares]


def places_beside(corners: Floats, text: str, size_pt: float) -> list[tuple[float, float]]:
    """Places for words round an outline."""
    width, height = text_size_mm(text, size_pt)
    low, high = corners.min(axis=0), corners.max(axis=0)
    (x0, y0), (x1, y1) = low.tolist(), high.tolist()
    columns = np.linspace(x0 - width / 2.0, x1 + width / 2.0, 7)
    rows = np.linspace(y0, y1, 5)
    above, under = y0 - height / 2.0 - 0.9, y1 + height / 2.0 + 0.9
    left, right = x0 - width / 2.0 - 1.2, x1 + width / 2.0 + 1.2
    places = [(float(x), y) for y in (above, under) for x in columns]
    return places + [(x, float(y)) for x in (right, left) for y in rows]


def line_breaks(text: str, size_pt: float) -> list[str]:
    """A text on one line or on several, from wide to narrow."""
    widest = text_size_mm(text, size_pt)[0]
    forms = [text]
    for parts in (2, 3, 4):
        forms.append("\n".join(wrap(text, 1.15 * widest / parts + 2.0, size_pt)))
    return list(dict.fromkeys(forms))

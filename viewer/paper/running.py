"""Running dimensions: every figure counted from one datum edge, and none over another."""

from collections.abc import Sequence

from viewer.look import INK, WHITE
from viewer.paper.drafting import Mark, disc, line, spread, text_size_mm, words

FIGURE_PT = 8.0
_OFF_MM = 2.4  # from the dimension line to where its figures begin
_GAP_MM = 0.5


def depth_mm(texts: Sequence[str]) -> float:
    """What a dimension line with these figures takes beyond the line itself. [mm]"""
    return _OFF_MM + max((text_size_mm(text, FIGURE_PT)[0] for text in texts), default=0.0) + 0.5


def run_along(
    places: Sequence[float], texts: Sequence[str], at: float, *, below: bool, low: float, high: float
) -> list[Mark]:
    """A dimension line with a ring at its datum, a stroke at every stop and a figure beside each.

    Parameters
    ----------
    places, texts : sequences
        Where the stops lie along the line, the datum first [mm]; the figure of each but the datum.
    at : float
        Where the line lies across. [mm]
    below : bool
        A level line under the drawing, its figures reading upwards below it; or an upright one to the left of
        it, its figures level.
    low, high : float
        Ends that no figure may pass. [mm]
    """

    def point(along: float, off: float) -> tuple[float, float]:
        return (along, at + off) if below else (at - off, along)

    marks = [line([point(places[0], 0.0), point(places[-1], 0.0)], width_pt=0.6)]
    marks.append(disc(point(places[0], 0.0), 0.9, ink=INK, fill=WHITE, width_pt=0.6))
    sizes = [text_size_mm(text, FIGURE_PT) for text in texts]
    homes = spread(places[1:], [height for _, height in sizes], low=low, high=high, gap=_GAP_MM)
    for place, home, text, (width, _) in zip(places[1:], homes, texts, sizes, strict=True):
        marks.append(line([point(place - 0.8, 0.8), point(place + 0.8, -0.8)], width_pt=1.0))
        bend = [point(place, 0.0), point(place, 0.7), point(home, _OFF_MM - 0.5)]
        marks.append(line(bend, width_pt=0.35))
        marks.append(
            words(text, point(home, _OFF_MM + width / 2.0), size_pt=FIGURE_PT, turned=below, ink=INK)
        )
    return marks

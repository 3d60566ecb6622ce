"""A measured peak in the window's room: the ways that made it, or where it can have come over."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from viewer import look
from viewer.pictures import Layer, Stage, dashes, legs, one_colour, polylines, shell_in_air, shell_on_faces
from viewer.window.state import OnScreen

if TYPE_CHECKING:
    from raytrace import Held, Measurement, PointSet

Floats = NDArray[np.float64]

MADE_M, RUNNER_UP_M = 0.018, 0.012  # radius
DASH_M = 0.06


def heard_paths(shown: OnScreen) -> dict[str, Layer]:
    """The selected peak of the measurement that is shown: its candidates; empty where none is selected."""
    made, other = list[Floats](), list[Floats]()
    points: PointSet | None = None
    held, heard, peak = shown.held, shown.measurement, shown.measured_peak
    if held is not None and heard is not None and peak is not None:
        if peak.made_by is not None:
            made = ways_of(held, heard, peak.made_by)
        elif peak.is_unexplained:
            from raytrace import unexplained_points

            points = unexplained_points(held, heard, peak)
        other = [] if peak.runner_up is None else ways_of(held, heard, peak.runner_up)
    scale, accent = shown.stage.scale, shown.colours.accent
    ways, dashed = legs(polylines(made)), dashes(legs(polylines(other)), dash_m=DASH_M * scale)
    return {
        "heard made by": Layer(ways, one_colour(accent, ways), radius_m=MADE_M * scale, is_over=True),
        "heard runner-up": Layer(
            dashed, one_colour(shown.colours.ink, dashed), radius_m=RUNNER_UP_M * scale, is_over=True
        ),
        **_shell(shown, shown.stage, points),
    }


def ways_of(held: "Held", heard: "Measurement", peak: int) -> list[Floats]:
    """Ways from speaker to seat of all arrivals in a predicted peak, each (n, 3). [m]"""
    ways = []
    for part in heard.predicted.peaks[peak].parts:
        table = held.arrivals.near_misses if part.is_near_miss else held.arrivals
        assert table is not None, "a part is of a table that there is"
        points = table.path_points[part.row]
        ways.append(points[~np.isnan(points[:, 0])])
    return ways


def _shell(shown: OnScreen, stage: Stage, points: "PointSet | None") -> dict[str, Layer]:
    """Where something would have to be: curves on faces, and lines through the air between them."""
    met = polylines([] if points is None else shell_on_faces(stage, points))
    air = polylines([] if points is None else shell_in_air(stage, points))
    return {
        "heard shell": Layer(
            met, one_colour(shown.colours.accent, met), radius_m=look.TUBE_M * stage.scale, is_over=True
        ),
        "heard air": Layer(
            air, one_colour(shown.colours.muted, air), radius_m=look.TUBE_HIGHER_M * stage.scale
        ),
    }

"""What of a long room a picture shows: the listening end, not an empty floor."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viewer.pictures.faces import column, loops_of, polygons, polylines, split
from viewer.pictures.stage import Layer, Stage

Floats = NDArray[np.float64]

BEHIND_M = 0.9  # what is left behind the last thing that matters
LEFT_OUT = 0.28  # of the room's length: less is not worth a picture that does not show all of it
_X = np.array([1.0, 0.0, 0.0])


def listening_end(stage: Stage) -> float | None:
    """How far from the front wall a picture reaches that shows all seats, speakers, drawn paths and panels.

    Parameters
    ----------
    stage : Stage

    Returns
    -------
    float or None
        x of the end [m]; None where nearly all of the room is needed.
    """
    study, room = stage.study, stage.study.room
    scene, table = study.scene, study.arrivals
    drawn = table.path_points[stage.shown.main].reshape(-1, 3)
    points = [
        *(speaker.position for speaker in scene.speakers),
        *(seat.ears for seat in scene.seats),
        *drawn[~np.isnan(drawn[:, 0])],
        *(corner for panel in room.panels for corner in panel.corners),
        *(corner for loop in loops_of(stage.patches) for corner in loop),
    ]
    (start, *_), (end, *_) = room.bounds
    last = float(np.array(points)[:, 0].max()) + BEHIND_M
    return last if end - last > LEFT_OUT * (end - start) else None


def cut_off(layer: Layer, at_m: float | None) -> Layer:
    """The part of a layer before x = at_m; all of it where that is None."""
    if at_m is None or not layer.mesh.n_cells:
        return layer
    is_line = bool(layer.radius_m)
    loops, rows = [], []
    for row, loop in enumerate(loops_of(layer.mesh)):
        if is_line:
            kept = [_before(piece, at_m) for piece in pairwise(loop)]
            found = [piece for piece in kept if piece is not None]
        else:
            pieces = split(loop, _X, at_m, 1e-6)
            found = [piece for piece in pieces if len(piece) > 2 and piece[:, 0].mean() < at_m]
        loops += found
        rows += [row] * len(found)
    data = layer.mesh.GetCellData()
    names = [data.GetArrayName(i) for i in range(data.GetNumberOfArrays())]
    arrays = {name: column(layer.mesh, name)[rows] for name in names}
    build = polylines if is_line else polygons
    return replace(layer, mesh=build(loops, **arrays), colours=layer.colours[rows])


def _before(ends: tuple[Floats, Floats], at_m: float) -> Floats | None:
    """The part of a straight piece before x = at_m, None where there is none."""
    one, other = ends
    if min(one[0], other[0]) >= at_m:
        return None
    share = [np.clip((at_m - one[0]) / (other[0] - one[0]), 0, 1)] if one[0] != other[0] else []
    middle = [one + float(s) * (other - one) for s in share]
    if one[0] <= at_m and other[0] <= at_m:
        return np.array([one, other])
    return np.array([one, *middle] if one[0] < at_m else [*middle, other])

"""What one drawing shows of what is hung or stood in a room."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace import Hook, Joists, Treatment
from viewer.sheets.elevation import Obstacle
from viewer.sheets.faceview import FaceView

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class JoistLine:
    """One piece of a joist's middle line: its number, whose it is, its ends (2, 2) on the sheet. [m]"""

    number: int
    entry: Joists
    ends: Floats


@dataclass(frozen=True, eq=False)
class View:
    """What is drawn, in metres to the right (h) and down (w) from the upper left corner of the sheet's face.

    Attributes
    ----------
    kind : str
        "ceiling": reflected plan of all that is overhead. "face": one surface in true shape. "floor": plan.
    name, title, facing : str
        What it shows; heading; how it is looked at.
    surface : int or None
        The one surface of a "face".
    width_m, height_m : float
    datum_on_top : bool
        Heights on the sheet count from its upper side (front wall) or from its lower one.
    outlines, holes, furniture : tuple of (n, 2) float
        Of what is drawn; of objects below or beside. [m]
    names : tuple of (text, (2,) place, (2,) direction)
        Of walls and neighbours, to stand outside the outline in that direction from that place. [m]
    obstacles : tuple of Obstacle
        Their outlines on the sheet. [m]
    joists : tuple of JoistLine
    panels : dict of int to (n, 2) float
        Outlines on the sheet by panel. [m]
    listed : tuple of int
        Panels that are set out on this sheet; the others have one of their own.
    hooks : tuple of (Hook, (2,) float)
        With their places on the sheet. [m]
    battens : tuple of (2, 2) float
        Ends on the sheet. [m]
    rafts : dict of int to tuple of (4, 2) float
        Outlines of a raft's timbers, rails first, by the panel that its hooks name. [m]
    level : (w, height) or None
        Where a level line lies on a face, and how high above the floor it is. [m]
    face : FaceView or None
        Of a "face".
    labels : tuple of (text, (n, 2) outline)
        Names of the surfaces that a plan joins. [m]
    gaps : tuple of (text, (2, 2) ends)
        Doors and windows in the walls round a plan. [m]
    feet : tuple of (n, 2) float
        Of stands, on a floor plan. [m]
    spots : tuple of (text, (2,) place)
        Speakers and seats on a floor plan. [m]
    """

    kind: Literal["ceiling", "face", "floor"]
    name: str
    title: str
    facing: str
    surface: int | None
    width_m: float
    height_m: float
    datum_on_top: bool
    outlines: tuple[Floats, ...]
    holes: tuple[Floats, ...]
    furniture: tuple[tuple[str, Floats], ...]
    names: tuple[tuple[str, Floats, Floats], ...]
    obstacles: tuple[Obstacle, ...]
    joists: tuple[JoistLine, ...]
    panels: dict[int, Floats]
    listed: tuple[int, ...]
    hooks: tuple[tuple[Hook, Floats], ...]
    battens: tuple[Floats, ...]
    level: tuple[float, float] | None = None
    face: FaceView | None = None
    labels: tuple[tuple[str, Floats], ...] = ()
    rafts: dict[int, tuple[Floats, ...]] = field(default_factory=dict)
    gaps: tuple[tuple[str, Floats], ...] = ()
    feet: tuple[Floats, ...] = ()
    spots: tuple[tuple[str, Floats], ...] = ()


def plan(points: ArrayLike) -> Floats:
    """Points (n, 3) as h, w of a plan with the front wall at the top, (n, 2). [m]"""
    return np.asarray(points, np.float64)[..., 1::-1]


def footprint(treatment: Treatment, index: int) -> Floats:
    """All of a standing panel from above, as a rectangle on the floor plan (4, 2). [m]"""
    panel = treatment.room.panels[index]
    front, back = plan(panel.corners), plan(panel.back)
    # Upright its back is the far edge; leaning back, that of its top is.
    return np.array([front[0], front[1], back[2], back[3]])


def foot(treatment: Treatment, index: int) -> Floats:
    """Both ends of the edge on which a standing panel rests, in the room (2, 3). [m]"""
    panel = treatment.room.panels[index]
    ends: Floats = (panel.back if panel.leans_back else panel.corners)[:2]
    return ends

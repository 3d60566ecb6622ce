"""Whether a scan leans as a whole, told by its floor, its ceiling and its walls, and how it is put level."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_WITHIN = np.radians(20.0)  # of the upright axis, or square to it: what else it is may be a slope
_LEAST_DEG, _TOLD_DEG = 1.0, 2.0  # floors of houses lean less than the first
_ALIKE, _ALIKE_DEG = 0.25, 0.4  # of the lean, and at least, by which floor, ceiling and walls may differ
_LEAST_SHARE = 0.02  # of all area: less is no floor, ceiling or pair of walls
_MOST_M2 = 1e4  # a face that is larger is no room's
_N_ROUNDS = 4


@dataclass(frozen=True)
class Lean:
    """How far a scan is out of plumb.

    Attributes
    ----------
    turn : (3, 3) float
        Puts points p level as turn @ p; the unit matrix where it is left as it is.
    said, doubt : str
        What was done, and what speaks against it; empty where there is nothing to say.
    """

    turn: Floats
    said: str = ""
    doubt: str = ""

    @property
    def is_turned(self) -> bool:
        """Whether it is put level."""
        return bool((self.turn != np.eye(3)).any())


def lean_of(points: Floats, triangles: Ints) -> Lean:
    """How a scan leans, in metres and z upwards; it is put level where floor, ceiling and walls agree.

    Parameters
    ----------
    points : (n, 3) float
    triangles : (m, 3) int
    """
    corners = points[triangles]
    with np.errstate(over="ignore", invalid="ignore"):  # strays may be anywhere
        across = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area_m2 = np.linalg.norm(across, axis=1)
    real = (area_m2 > 0.0) & (area_m2 < _MOST_M2)
    across, area_m2, middles = across[real], area_m2[real], corners.mean(axis=1)[real]
    as_is = Lean(np.eye(3))
    if not len(across):
        return as_is
    plumb = np.array([0.0, 0.0, 1.0])
    up, ways = plumb, list[Floats]()
    for _ in range(_N_ROUNDS):
        halves = [_level_way(across, area_m2, middles @ up, up, above=above) for above in (False, True)]
        ways = [way for way in (*halves, _wall_way(across, area_m2, up)) if way is not None]
        if len(ways) < 3:
            return as_is
        up = sum(ways, np.zeros(3))
        up = up / np.linalg.norm(up)
    lean_deg, floor_deg, ceiling_deg, walls_deg = (_apart_deg(way, plumb) for way in (up, *ways))
    apart_deg = max(_apart_deg(way, up) for way in ways)
    if lean_deg >= _LEAST_DEG and apart_deg <= max(_ALIKE * lean_deg, _ALIKE_DEG):
        alike = "floor, ceiling and walls alike: it was put level"
        said = f"the whole scan leant by {lean_deg:.1f} degrees, {alike}"
        return Lean(_upright(up), said=said)
    if floor_deg >= _TOLD_DEG:
        doubt = (
            f"the floor leans by {floor_deg:.1f} degrees, the ceiling by {ceiling_deg:.1f}, the walls by "
            f"{walls_deg:.1f}: these differ, so the scan was not put level. If it leans as a whole, put it "
            "level in the program that wrote it"
        )
        return Lean(np.eye(3), doubt=doubt)
    return as_is


def _level_way(
    across: Floats, area_m2: Floats, height_m: Floats, up: Floats, *, above: bool
) -> Floats | None:
    """Mean normal of what lies nearly level in the lower or upper half; None where there is none."""
    middle_m = float(np.percentile(height_m, (2, 98)).mean())
    level = (np.abs(across @ up) > np.cos(_WITHIN) * area_m2) & ((height_m > middle_m) == above)
    if area_m2[level].sum() < _LEAST_SHARE * area_m2.sum():
        return None
    # Faces are drawn from either side.
    whole = (np.sign(across[level] @ up)[:, None] * across[level]).sum(axis=0)
    way: Floats = whole / np.linalg.norm(whole)
    return way


def _wall_way(across: Floats, area_m2: Floats, up: Floats) -> Floats | None:
    """The way square to what stands nearly upright; None where all of that looks one way."""
    upright = np.abs(across @ up) < np.sin(_WITHIN) * area_m2
    own = across[upright]
    moments = np.einsum("n,ni,nj->ij", 1.0 / area_m2[upright], own, own)
    sizes, axes = np.linalg.eigh(moments)
    if sizes[1] < _LEAST_SHARE * area_m2.sum():
        return None
    way: Floats = axes[:, 0] * np.sign(axes[:, 0] @ up)
    return way


def _apart_deg(way: Floats, other: Floats) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(way, other)), way @ other)))


def _upright(up: Floats) -> Floats:
    """The shortest turn of a direction to the z axis, (3, 3): O. Rodrigues, 1840 (from memory)."""
    x, y, z = up
    cross = np.array([[0.0, 0.0, -x], [0.0, 0.0, -y], [x, y, 0.0]])
    turn: Floats = np.eye(3) + cross + cross @ cross / (1.0 + z)
    return turn

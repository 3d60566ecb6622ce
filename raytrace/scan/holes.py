"""Holes of a scan: loops of edges that only one triangle has, with their areas."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_M2, LEAST_WIDTH_M = 0.02, 0.04  # what is smaller or narrower is a crack
_LEAST_WALL_M2, _UPRIGHT = 1.5, 0.2
_SIDES = ("back wall", "right wall", "front wall", "left wall")  # by the way out, each a quarter turn on


@dataclass(frozen=True)
class ScanHole:
    """An open place of a scan.

    Attributes
    ----------
    surface : str
        Where it is.
    area_m2 : float
    corners : (n, 3) float
        Round it. [m]
    name : str
        By its surface, its kind and where on the surface it is: "back wall doorway left".
    """

    surface: str
    area_m2: float
    corners: Floats
    name: str = ""


@dataclass(frozen=True)
class OpenWall:
    """Where a wall is missing from a scan: what it is called, and the size of the hole. [m], [m2]"""

    name: str
    length_m: float
    height_m: float
    area_m2: float


def open_walls(points: Floats, triangles: Ints, *, turn_deg: float) -> list[OpenWall]:
    """The upright holes of a welded scan that are as large as walls, the largest first.

    Parameters
    ----------
    points, triangles
        Of the scan.
    turn_deg : float
        By how much it is to be turned so that its walls lie along the axes. [deg]
    """
    middle = points[triangles].mean(axis=(0, 1))
    found = []
    for loop in find_holes(points, triangles):
        spokes = loop[1:] - loop[0]
        across = np.cross(spokes[:-1], spokes[1:]).sum(axis=0)
        area_m2 = 0.5 * float(np.linalg.norm(across))
        if area_m2 < _LEAST_WALL_M2 or abs(across[2]) > _UPRIGHT * np.linalg.norm(across):
            continue
        out = across * np.sign((loop.mean(axis=0) - middle) @ across)
        side_deg = np.degrees(np.arctan2(out[1], out[0])) + turn_deg
        along = np.array([-across[1], across[0]]) / np.hypot(across[0], across[1])
        length_m, height_m = np.ptp(loop[:, :2] @ along), np.ptp(loop[:, 2])
        name = _SIDES[round(side_deg / 90.0) % 4]
        found.append(OpenWall(name, float(length_m), float(height_m), area_m2))
    return found


def find_holes(points: Floats, triangles: Ints) -> list[Floats]:
    """Outlines (n, 3) of the open places of a welded scan, the largest first. [m]"""
    edges = np.sort(
        np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1
    )
    unique, counts = np.unique(edges, axis=0, return_counts=True)
    beside: dict[int, list[int]] = {}
    for a, b in unique[counts == 1].tolist():
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    loops = []
    while beside:
        loop = _walk(beside)
        if len(loop) >= 3:
            loops.append(points[loop])
    wide = [loop for loop in loops if hole_area_m2(loop) >= max(LEAST_M2, LEAST_WIDTH_M * _half_way(loop))]
    return sorted(wide, key=hole_area_m2, reverse=True)


def hole_area_m2(loop: Floats) -> float:
    """Area that a loop encloses, as if it lay in a plane. [m2]"""
    spokes = loop[1:] - loop[0]
    return float(np.linalg.norm(0.5 * np.cross(spokes[:-1], spokes[1:]).sum(axis=0)))


def _half_way(loop: Floats) -> float:
    return 0.5 * float(np.linalg.norm(loop - np.roll(loop, 1, axis=0), axis=1).sum())


def _walk(beside: dict[int, list[int]]) -> list[int]:
    """One way along open edges until it ends or comes back; its edges are taken out."""
    here = start = next(iter(beside))
    loop = [start]
    while beside.get(here):
        there = beside[here].pop()
        beside[there].remove(here)
        for corner in (here, there):
            if not beside[corner]:
                del beside[corner]
        here = there
        if here == start:
            break
        loop.append(here)
    return loop

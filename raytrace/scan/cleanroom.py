"""What is asked of a scan, what was found in it, and what became of it, as records."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.scan.furniture import ScanBlock, SetAside
from raytrace.scan.growing import Plane
from raytrace.scan.holes import ScanHole
from raytrace.scan.reading import Reading
from raytrace.scan.rooms import ScanRoom
from raytrace.scan.shapes import RoomShape
from raytrace.scan.surfels import Surfels, Welded
from raytrace.scene import format_length

_YARD, _FOOT_M = ("ft", "in"), 0.3048

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class ScanSettings:
    """How a scan is read; None where its sizes shall say.

    Attributes
    ----------
    unit, up : str or None
    turn_deg : float
        Further turn about the upright axis, after the walls lie along x and y. [deg]
    angle_deg, distance_m : float
        How far points may turn from and lie off a plane. [deg], [m]
    tolerance_m : float
        How far corners may be moved to make a simple shape. [m]
    patch_wall : bool
        Whether a single wall that was not scanned may be put where the floor ends.
    room : int or None
        Which of several rooms in the file, the largest first from 1; 0 takes all of it as one room.
    """

    unit: str | None = None
    up: str | None = None
    turn_deg: float = 0.0
    angle_deg: float = 10.0
    distance_m: float = 0.03
    tolerance_m: float = 0.015
    patch_wall: bool = False
    room: int | None = None


@dataclass(frozen=True)
class CleanSurface:
    """A surface of the cleaned room, and how well the scan fits it.

    Attributes
    ----------
    name : str
    area_m2 : float
        Of the surface; furniture before it is not taken off.
    triangles : int
        Faces of the file.
    median_mm, p95_mm, max_mm : float
        How far their corners lie off it. [mm]
    turn_deg : float
        How far noise may have turned it, one standard error; more for a narrow wall. [deg]
    planes : tuple of int
        Of `GrownScan.planes`, those that it was fitted to.
    """

    name: str
    area_m2: float
    triangles: int
    median_mm: float
    p95_mm: float
    max_mm: float
    turn_deg: float
    planes: tuple[int, ...] = ()


@dataclass(frozen=True)
class CleanRoom:
    """What became of a scan.

    Attributes
    ----------
    file : str
        Name of the scan.
    shape : RoomShape
    surfaces, objects, set_aside, holes : tuple
    reading : Reading
    turn_deg : float
        By how much the scan was turned about the upright axis. [deg]
    move : (3,) float
        And then moved. [m]
    noise_mm : float
        How far its points lie off their surfaces, one standard deviation. [mm]
    report : tuple of str
        What was done, in sentences.
    points, triangles, owner : (n, 3) float, (m, 3) int, (m,) int
        The scan in the room's frame, and which surface each triangle became: a row of `surfaces`; from
        there on what was cut off as furniture; -1 what was set aside.
    patched : tuple of str
        Walls that were not scanned and put where the floor ends.
    doubts : tuple of str
        What to look at before going on, in sentences.
    level : (3, 3) float or None
        Before all that the scan was put level by this turn of its points; None where it was not.
    """

    file: str
    shape: RoomShape
    surfaces: tuple[CleanSurface, ...]
    objects: tuple[ScanBlock, ...]
    set_aside: tuple[SetAside, ...]
    holes: tuple[ScanHole, ...]
    reading: Reading
    turn_deg: float
    move: tuple[float, float, float]
    noise_mm: float
    report: tuple[str, ...]
    points: Floats
    triangles: Ints
    owner: Ints
    patched: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    level: Floats | None = None


@dataclass(frozen=True)
class GrownScan:
    """A scan and the planes in it, before anything is made of them.

    Attributes
    ----------
    file : str
    settings : ScanSettings
    reading : Reading
    surfels : Surfels
    welded : Welded
    planes : tuple of Plane
        The largest first, with normals into the air.
    shell : frozenset of int
        Which of them are the room's own.
    origin : (3,) float
        What was taken off the points of the file. [m]
    report : tuple of str
        What was done, in sentences.
    doubts : tuple of str
        What to look at before going on, in sentences.
    set_aside : tuple of SetAside
        What belongs to other rooms.
    level : (3, 3) float or None
        As that of `CleanRoom`.
    rooms : tuple of ScanRoom
        Those the file holds, the largest first; none where all of it was asked for as one.
    chosen : int
        Which of them it is, from 0.
    """

    file: str
    settings: ScanSettings
    reading: Reading
    surfels: Surfels
    welded: Welded
    planes: tuple[Plane, ...]
    shell: frozenset[int]
    origin: Floats
    report: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    level: Floats | None = None
    rooms: tuple[ScanRoom, ...] = ()
    chosen: int = 0


@dataclass(frozen=True)
class PlaneEdits:
    """What a person changes of the planes that were found, each by its number.

    Attributes
    ----------
    moved : tuple of (int, float)
        Planes that stand farther into the air, and by how much. [m]
    merged : tuple of (int, int)
        Planes that are one: the second becomes part of the first.
    aside : tuple of int
        Planes that are no part of the room.
    names : tuple of (int, str)
        Other names of the surfaces that planes become.
    """

    moved: tuple[tuple[int, float], ...] = ()
    merged: tuple[tuple[int, int], ...] = ()
    aside: tuple[int, ...] = ()
    names: tuple[tuple[int, str], ...] = ()

    def by_m(self, plane: int) -> float:
        """How far a plane was moved in all. [m]"""
        return sum(by_m for own, by_m in self.moved if own == plane)


AS_GROWN = PlaneEdits()


def length_words(length_m: float, unit: str) -> str:
    """A length for whoever drew in that unit: metres to the centimetre, or feet and inches."""
    return format_length(length_m, units="imperial" if unit in _YARD else "metric", style="m")


def area_words(area_m2: float, unit: str) -> str:
    """An area likewise."""
    return f"{area_m2 / _FOOT_M**2:.0f} ft²" if unit in _YARD else f"{area_m2:.1f} m²"

"""A scan in the window, as one frozen record: its planes as they were found and as a person changes them."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from raytrace import CleanRoom, GrownScan, PlaneEdits, ScanSettings, format_length
from viewer import look
from viewer.pictures import Camera, fit_camera
from viewer.window.state.theme import THEMES, Theme
from viewer.window.state.turning import Eye, eye_of
from viewer.words import area_words, scan_units

Floats = NDArray[np.float64]

AS_FOUND = PlaneEdits()
UNITS = ("mm", "cm", "m", "in", "ft")
UPS = ("z", "y", "x", "-z", "-y", "-x")  # the two that programs write first
_TOWARDS = (0.52, 0.42, 0.74)  # the first look: from behind the right, from above
_END_ON_PX = 12.0  # a metre along a normal that is shorter in the picture has no direction there
_MARGIN = 0.06


@dataclass(frozen=True)
class ScanOnScreen:
    """One state of the scan that is looked over.

    Attributes
    ----------
    file : Path
    settings : ScanSettings
    grown, room : GrownScan, CleanRoom, or None
        The planes, and the room that they make; None until they are there.
    edits : PlaneEdits
    past : tuple of PlaneEdits
        Steps back, the last one last.
    chosen : tuple of int
        Rows of `room.surfaces`.
    pulled_m : float
        How far the selected one is pulled now, into the room. [m]
    eye : Eye or None
    says : str
        Why something cannot be.
    theme : str
    """

    file: Path
    settings: ScanSettings
    grown: GrownScan | None = None
    room: CleanRoom | None = None
    edits: PlaneEdits = AS_FOUND
    past: tuple[PlaneEdits, ...] = ()
    chosen: tuple[int, ...] = ()
    pulled_m: float = 0.0
    eye: Eye | None = None
    says: str = ""
    theme: str = "light"

    @property
    def colours(self) -> Theme:
        """The colours of the theme."""
        return THEMES[self.theme]

    @property
    def chosen_planes(self) -> tuple[int, ...]:
        """Planes of what is selected, the first of each surface."""
        room = self.room
        return () if room is None else tuple(room.surfaces[row].planes[0] for row in self.chosen)

    def moved_mm(self, row: int) -> int:
        """How far a surface was moved by hand, and is pulled now. [mm]"""
        assert self.room is not None
        by_m = self.edits.by_m(self.room.surfaces[row].planes[0])
        return round(1000.0 * (by_m + (self.pulled_m if row in self.chosen else 0.0)))


def reading_words(shown: ScanOnScreen) -> str:
    """How the numbers of the scan are read, and what else makes a room of them."""
    if shown.grown is None:
        return ""
    own = shown.grown.reading
    who = "as you say" if own.asked else "proposed from its size"
    if own.by_format:
        who = "unit proposed from its size, axis by its format"
    others = ", ".join(f"{unit} with {up} upwards" for unit, up in own.others)
    also = f"; {others} would make a room too" if others else ""
    return f"Read as {own.unit} with {own.up} upwards ({who}){also}. {_size_words(shown.room)}".rstrip()


def rooms_offered(shown: ScanOnScreen) -> list[tuple[int, str]]:
    """Rooms of the file to choose from, each with its number and size, last all of them as one.

    Empty where there is one.
    """
    grown = shown.grown
    if grown is None or (len(grown.rooms) < 2 and shown.settings.room is None):
        return []
    units = scan_units(grown.reading.unit)
    told = []
    for number, room in enumerate(grown.rooms, 1):
        length, width = (format_length(side, units=units, style="m") for side in room.size)
        told.append((number, f"{number}: {length} by {width}"))
    return (
        [*told, (0, "all of it as one")]
        if told
        else [(0, "all of it as one"), (1, "its rooms by themselves")]
    )


def _size_words(room: CleanRoom | None) -> str:
    """Main sizes of the room that was fitted."""
    if room is None:
        return ""
    units, floor_m2 = scan_units(room.reading.unit), room.shape.area_m2("floor")
    high_m = max(float(outline[:, 2].max()) for _, outline in room.shape.faces())
    sides_m = [*np.ptp(room.shape.corners, axis=0).tolist(), high_m]
    length, width, high = (format_length(own, units=units, style="m") for own in sides_m)
    return f"The room: {length} long, {width} wide, {high} high, floor {area_words(floor_m2, units)}."


def wall_lengths_m(shown: ScanOnScreen) -> dict[str, float]:
    """How long each wall of the room is, by its name. [m]"""
    if shown.room is None:
        return {}
    corners = shown.room.shape.corners
    lengths_m = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).tolist()
    return dict(zip(shown.room.shape.walls, lengths_m, strict=True))


def first_look(room: CleanRoom, size: tuple[int, int]) -> Eye:
    """The eye that sees a whole room from above."""
    corners = np.concatenate([outline for _, outline in room.shape.faces()])
    camera = fit_camera(
        corners,
        _TOWARDS,
        up=(0.0, 0.0, 1.0),
        view_angle_deg=look.VIEW_ANGLE_DEG,
        size=size,
        margin=_MARGIN,
    )
    return eye_of(camera, corners.mean(axis=0))


def normal_of(outline: Floats) -> Floats:
    """Unit normal of an outline (n, 3), towards the side from which it runs anticlockwise."""
    spokes = outline[1:] - outline[0]
    normal = np.cross(spokes[:-1], spokes[1:]).sum(axis=0)
    return np.asarray(normal / np.linalg.norm(normal))


def faces_of(shown: ScanOnScreen) -> list[tuple[int, Floats]]:
    """Flat faces of the room with the row of their surface, -1 for one that was not scanned."""
    room = shown.room
    if room is None:
        return []
    rows = {surface.name: row for row, surface in enumerate(room.surfaces)}
    return [(rows.get(name, -1), outline) for name, outline in room.shape.faces()]


def is_seen(camera: Camera, outline: Floats) -> bool:
    """Whether a face shows its front."""
    return bool(camera.sees(outline.mean(axis=0)[None], normal_of(outline)[None])[0])


def surface_at(shown: ScanOnScreen, camera: Camera, pixel: tuple[float, float]) -> int | None:
    """Row of the surface whose front lies under a pixel, the nearest; None where none does."""
    found = []
    for row, outline in faces_of(shown):
        if row >= 0 and is_seen(camera, outline) and _holds(camera.project(outline), pixel):
            found.append((float(camera.depth(outline).mean()), row))
    return min(found)[1] if found else None


def _holds(loop: Floats, pixel: tuple[float, float]) -> bool:
    """Whether a pixel lies in a polygon (n, 2): its edges cross a ray an odd number of times."""
    (x0, y0), (x1, y1) = loop.T, np.roll(loop, -1, axis=0).T
    straddles = (y0 > pixel[1]) != (y1 > pixel[1])
    at = x0 + (pixel[1] - y0) * (x1 - x0) / np.where(y1 == y0, 1.0, y1 - y0)
    return bool((straddles & (pixel[0] < at)).sum() % 2)


def pulled(shown: ScanOnScreen, camera: Camera, row: int, step_px: tuple[float, float]) -> float:
    """How far a pull by so many pixels moves a surface along its normal, to the millimetre. [m]"""
    outline = next(own for k, own in faces_of(shown) if k == row)
    middle, normal = outline.mean(axis=0), normal_of(outline)
    way = camera.project(middle + normal) - camera.project(middle)
    size = float(np.hypot(*way))
    if size < _END_ON_PX:  # seen straight on: downwards is towards the eye
        return round(step_px[1] / camera.pixels_per_metre(middle), 3)
    return round(float(np.dot(step_px, way)) / size**2, 3)


def with_edits(shown: ScanOnScreen, edits: PlaneEdits) -> ScanOnScreen:
    """The record with other edits, one step to take back."""
    return replace(shown, edits=edits, past=(*shown.past, shown.edits), pulled_m=0.0, says="")

"""A scan and the room fitted to it, as layers: triangles like coloured glass, faces and holes as lines."""

import numpy as np
from numpy.typing import NDArray

from raytrace import ScanHole, format_length
from viewer import look
from viewer.pictures import Camera, Layer, one_colour, polygons, polylines
from viewer.window.scenery.names import Name
from viewer.window.state import ScanOnScreen, faces_of, is_seen, normal_of, wall_lengths_m
from viewer.words import area_words, scan_units

Floats = NDArray[np.float64]

SCAN_OPACITY, CHOSEN_OPACITY = 0.55, 0.45
_LINE_M, _CHOSEN_M = 0.008, 0.016


def scan_layers(shown: ScanOnScreen, camera: Camera) -> dict[str, Layer]:
    """The scan without what is seen from behind, the fitted faces, and what is selected, pulled on."""
    faces = faces_of(shown)
    seen = [is_seen(camera, outline) for _, outline in faces]
    fitted = polylines([_closed(outline) for _, outline in faces])
    pulled = [outline + shown.pulled_m * normal_of(outline) for row, outline in faces if row in shown.chosen]
    chosen, rims = polygons(pulled), polylines([_closed(outline) for outline in pulled])
    accent = shown.colours.accent
    holes = polylines([_closed(hole.corners) for hole in _holes(shown)])
    return {
        "scan": _scan(shown, {row for (row, _), is_front in zip(faces, seen, strict=True) if is_front}),
        "fitted": Layer(fitted, one_colour(shown.colours.ink, fitted), radius_m=_LINE_M),
        "holes": Layer(holes, one_colour(accent, holes), radius_m=_LINE_M, is_over=True),
        "chosen face": Layer(chosen, one_colour(accent, chosen), opacity=CHOSEN_OPACITY),
        "chosen": Layer(rims, one_colour(accent, rims), radius_m=_CHOSEN_M, is_over=True),
    }


def scan_names(shown: ScanOnScreen, camera: Camera) -> list[Name]:
    """Names of the surfaces that show their front, those selected first, with how far they were moved.

    Walls with their lengths; then holes with their areas, and furniture.
    """
    names = []
    lengths_m, units = (
        wall_lengths_m(shown),
        "metric" if shown.room is None else scan_units(shown.room.reading.unit),
    )
    for row, outline in faces_of(shown):
        if row >= 0 and shown.room is not None and is_seen(camera, outline):
            by_mm = shown.moved_mm(row)
            off_m = shown.pulled_m if row in shown.chosen else 0.0
            place = outline.mean(axis=0) + off_m * normal_of(outline)
            told = f"{by_mm:+d} mm into the room" if by_mm else ""
            name = shown.room.surfaces[row].name
            long = f", {format_length(lengths_m[name], units=units, style='m')}" if name in lengths_m else ""
            names.append((row not in shown.chosen, Name(name + long, place, told)))
    things = [] if shown.room is None else shown.room.objects
    return [
        *(name for _, name in sorted(names, key=lambda own: own[0])),
        *(
            Name(f"hole {k}, {area_words(hole.area_m2, units)}", hole.corners.mean(axis=0))
            for k, hole in enumerate(_holes(shown), 1)
        ),
        *(Name(thing.name, np.add(thing.centre, (0.0, 0.0, 0.5 * thing.size[2]))) for thing in things),
    ]


def _holes(shown: ScanOnScreen) -> tuple[ScanHole, ...]:
    return () if shown.room is None else shown.room.holes


def _scan(shown: ScanOnScreen, rows: set[int]) -> Layer:
    """Triangles of the scan in the colours of what they became."""
    room = shown.room
    if room is None:
        return Layer(polygons([]), np.empty((0, 3)))
    n = len(room.surfaces)
    kept = np.isin(room.owner, [*rows, n, -1])
    own = [look.rgb(look.scan_colour(k)) for k in range(n)]
    colours = np.array([*own, look.rgb(look.SCAN_FURNITURE), look.rgb(shown.colours.muted)])
    mesh = polygons(list(room.points[room.triangles[kept]]))
    return Layer(mesh, colours[room.owner[kept]], light="wall", opacity=SCAN_OPACITY)


def _closed(outline: Floats) -> Floats:
    return np.concatenate([outline, outline[:1]])

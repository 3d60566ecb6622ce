"""A study as named, coloured parts of a model: surfaces, openings, panels, speakers, seats, spots, paths."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace import Study, looks_up
from viewer import look
from viewer.words import path_words

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SPOT_M = 0.03  # half the size of what stands for a spot, speaker or seat
_EIGHT = np.array([(0, 2, 4), (2, 1, 4), (1, 3, 4), (3, 0, 4), (2, 0, 5), (1, 2, 5), (3, 1, 5), (0, 3, 5)])
_SIX = np.array([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], np.float64)
# Faces of a block whose corners 0 to 3 are its front and 4 to 7 its back, anticlockwise from outside.
_BLOCK = ((0, 1, 2, 3), (7, 6, 5, 4), (1, 0, 4, 5), (2, 1, 5, 6), (3, 2, 6, 7), (0, 3, 7, 4))


@dataclass(frozen=True)
class Part:
    """One thing of a model.

    Attributes
    ----------
    name : str
    kind : str
        "surface", "opening", "object", "panel", "speaker", "seat", "spot" or "path".
    points : (n, 3) float
        [m]
    triangles : (m, 3) int
        Rows of `points`, anticlockwise as seen from the air; none where it is a line through all points.
    colour : str
        "#RRGGBB".
    """

    name: str
    kind: str
    points: Floats
    triangles: Ints
    colour: str


def model_parts(study: Study) -> tuple[Part, ...]:
    """Everything a study shows, in the room's own metres: x from the front wall, y from the left, z up."""
    fixed = (*_surfaces(study), *_openings(study), *_panels(study), *_places(study))
    return (*fixed, *_spots(study), *_paths(study))


def _surfaces(study: Study) -> list[Part]:
    """Surfaces of the room and faces of objects, corners shared."""
    room, parts = study.room, []
    solid = room.facet_of_triangle < room.n_solid_facets
    for number, surface in enumerate(room.surfaces):
        corners = room.triangles[solid & (room.surface_of_triangle == number)]
        if not len(corners):
            continue
        points, rows = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
        colour = look.OBJECT if surface.owner else look.FLOOR if looks_up(surface.frame.n) else look.WALL
        kind = "object" if surface.owner else "surface"
        parts.append(Part(surface.name, kind, points, rows.reshape(-1, 3), colour))
    return parts


def _openings(study: Study) -> list[Part]:
    """Windows, doors, openings and covers as faces of their own, in surfaces that stay whole behind them."""
    parts = []
    for own in study.room.openings:
        surface = study.room.surfaces[own.surface]
        u0, v0, u1, v1 = own.rect
        corners = surface.frame.to_room([(u0, v0), (u1, v0), (u1, v1), (u0, v1)])
        across = np.cross(corners[1] - corners[0], corners[2] - corners[0])
        rows = np.array([(0, 1, 2), (0, 2, 3)])
        if across @ surface.frame.n < 0.0:
            rows = rows[:, ::-1]
        colour = look.WINDOW if own.kind == "opening" else look.PANE
        parts.append(Part(f"{own.name} ({own.kind} in {surface.name})", "opening", corners, rows, colour))
    return parts


def _panels(study: Study) -> list[Part]:
    """Panels as blocks."""
    parts = []
    triangles = np.array([(a, b, c) for a, b, c, _ in _BLOCK] + [(a, c, d) for a, _, c, d in _BLOCK])
    for panel in study.room.panels:
        back = panel.corners - panel.thickness_m * panel.normal
        parts.append(Part(panel.name, "panel", np.concatenate([panel.corners, back]), triangles, look.PANEL))
    return parts


def _places(study: Study) -> list[Part]:
    """Speakers and seats as small signs at the acoustic centre and between the ears."""
    scene = study.scene
    speakers = [_sign(f"speaker {s.name}", "speaker", s.position, look.SPEAKER_FRONT) for s in scene.speakers]
    return speakers + [_sign(f"seat {s.name}", "seat", s.ears, look.HEAD) for s in scene.seats]


def _sign(name: str, kind: str, place: tuple[float, float, float] | Floats, colour: str) -> Part:
    return Part(name, kind, np.asarray(place) + SPOT_M * _SIX, _EIGHT, colour)


def _colours(study: Study) -> list[str]:
    """A colour for each arrival, by its level against the limit."""
    parts = np.round(255.0 * look.level_colours(study.arrivals.level_re_limit_db)).astype(int)
    return [f"#{red:02X}{green:02X}{blue:02X}" for red, green, blue in parts]


def _spots(study: Study) -> list[Part]:
    table, colours, parts = study.arrivals, _colours(study), []
    for row in range(len(table.order)):
        for bounce in range(int(table.order[row])):
            name = f"spot {row + 1}.{bounce + 1} {study.room.surfaces[table.path_surfaces[row, bounce]].name}"
            parts.append(_sign(name, "spot", table.path_points[row, bounce + 1], colours[row]))
    return parts


def _paths(study: Study) -> list[Part]:
    table, colours, parts = study.arrivals, _colours(study), []
    none = np.empty((0, 3), np.int64)
    for row in range(len(table.order)):
        who = f"{table.speaker_names[table.speaker[row]]} to {table.seat_names[table.seat[row]]}"
        name = f"path {row + 1} {who}: {path_words(study, row)}, {1e3 * table.delay_s[row]:.2f} ms"
        parts.append(Part(name, "path", table.path_points[row, : table.order[row] + 2], none, colours[row]))
    return parts

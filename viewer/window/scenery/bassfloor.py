"""The bass in the window's room: how even each place of the floor makes it, and the shape of one mode."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from viewer import look
from viewer.pictures import (
    Layer,
    bands,
    column,
    discs,
    even_levels_db,
    hatching,
    lobes,
    one_colour,
    polylines,
)
from viewer.window.state import OnScreen, Theme

if TYPE_CHECKING:
    from raytrace import BassMap

Floats = NDArray[np.float64]

LEVELS = np.linspace(-1.0, 1.0, 9)  # of a mode re its strongest: eight bands, four of each sign
HATCH_M, STROKE_M, LINE_M = 0.16, 0.004, 0.003
PLACE_M = 0.075
SIGNS_FROM = 0.35  # weaker lobes get no sign
FULL = 8  # steps off the floor


def drawn_map(shown: OnScreen) -> "BassMap | None":
    """The map that the room shows; None where its layer is off or it is not there yet."""
    return shown.bass if "bass" in shown.layers else None


def bass_floor(shown: OnScreen) -> dict[str, Layer]:
    """The floor in bands, with the best free places; pale where a mode is looked at."""
    found, theme, scale = drawn_map(shown), shown.colours, shown.stage.scale
    is_drawn = found is not None and shown.mode is None
    points = found.floor_m if found is not None and is_drawn else np.empty((0, 3))
    values = found.floor_db if found is not None and is_drawn else np.empty(0)
    height_m = float(shown.study.room.bounds[0, 2]) + FULL * look.RAISE_M * scale
    cut = bands(points, values, even_levels_db(values), height_m=height_m)
    colours = _rows(theme.even, column(cut.faces, "band"))
    places = found.places_m if found is not None and is_drawn else np.empty((0, 3))
    at = np.column_stack([places[:, :2], np.full(len(places), height_m + look.RAISE_M * scale)])
    normals = np.tile([0.0, 0.0, 1.0], (len(at), 1))
    signs = discs(at, normals, radii_m=np.full(len(at), PLACE_M * scale))
    return {
        "bass floor": Layer(cut.faces, colours),
        "bass floor lines": Layer(cut.lines, one_colour(theme.edge, cut.lines), radius_m=LINE_M * scale),
        "bass places": Layer(signs, one_colour(theme.ink, signs)),
    }


def bass_shape(shown: OnScreen) -> dict[str, Layer]:
    """The chosen mode on the plane of the ears: one sign in one colour, the other in another and hatched."""
    found, theme, scale = drawn_map(shown), shown.colours, shown.stage.scale
    points, values = _shape(shown, found)
    height_m = float(points[0, 2]) if len(points) else 0.0
    cut = bands(points, values, LEVELS, height_m=height_m)
    strokes = (
        hatching(points, values, step_m=HATCH_M * scale, height_m=height_m + look.RAISE_M)
        if len(points)
        else polylines([])
    )
    return {
        "bass shape": Layer(cut.faces, _signed(theme, column(cut.faces, "band"))),
        "bass shape lines": Layer(cut.lines, one_colour(theme.edge, cut.lines), radius_m=LINE_M * scale),
        "bass hatching": Layer(strokes, one_colour(theme.ink, strokes), radius_m=STROKE_M * scale),
    }


def _shape(shown: OnScreen, found: "BassMap | None") -> tuple[Floats, Floats]:
    if found is None or shown.mode is None or shown.mode >= len(found.shapes):
        return np.empty((0, 3)), np.empty(0)
    return found.plane_m, found.shapes[shown.mode]


def signs_of_shape(shown: OnScreen) -> list[tuple[str, Floats]]:
    """A plus or minus with its place for every lobe of the chosen mode."""
    points, values = _shape(shown, drawn_map(shown))
    if not len(points):
        return []
    return [("+" if value > 0 else "−", place) for place, value in lobes(points, values, SIGNS_FROM)]


def place_signs(shown: OnScreen) -> list[tuple[str, Floats]]:
    """Number and evenness of each of the best places, where they are drawn."""
    found = drawn_map(shown)
    if found is None or shown.mode is not None:
        return []
    low = shown.study.room.bounds[0, 2]
    return [
        (f"{k}: {db:.1f} dB", np.array([*place[:2], low]))
        for k, (place, db) in enumerate(zip(found.places_m, found.places_db, strict=True), 1)
    ]


def _rows(colours: tuple[str, ...], index: NDArray[np.generic]) -> Floats:
    table = np.array([look.rgb(colour) for colour in colours])
    return np.asarray(table[np.clip(index.astype(np.int64), 0, len(table) - 1)]).reshape(-1, 3)


def _signed(theme: Theme, band: NDArray[np.generic]) -> Floats:
    """Colours of the bands of a mode: stronger away from the line on which it is silent."""
    half = (len(LEVELS) - 1) // 2
    index = band.astype(np.int64)
    share = (np.abs(index - (half - 0.5)) + 0.5)[:, None] / half
    ends = np.where((index >= half)[:, None], look.rgb(theme.plus), look.rgb(theme.minus))
    return np.asarray(np.asarray(look.rgb(theme.field)) * (1.0 - share) + ends * share).reshape(-1, 3)

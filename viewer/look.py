"""Colours, scale, cameras and sizes of every picture: data, not code."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WHITE = "#FFFFFF"
INK = "#1F2430"
MUTED = "#565B66"
HAIRLINE = "#9A9DA3"
GRID = "#E3E2DF"
WINDOW = "#F4F1EC"
CURVE_FILL = "#D5DCE6"
ACCENT = "#B8331A"  # over the limit, or selected: nothing else
PANEL = "#9DB5A3"
PANEL_EDGE = "#5E7565"
WALL = "#F8F5F0"
FLOOR = "#EDE6DB"
OBJECT = "#D8D2C8"
EDGE = "#4A4E57"
PANE = "#C6D3DA"
PANE_EDGE = "#6D7F8A"
SPEAKER = "#5B5F68"
SPEAKER_FRONT = "#43464F"
DRIVER = "#23252B"
HEAD = "#B9A898"
LEG = "#6F7178"
FRAME = "#F1EEE8"
FAINT = "#C6C7CA"
UNJUDGED = "#B9B7B2"  # outside the time window, or no verdict


@dataclass(frozen=True)
class Palette:
    """Colours of the parts of a room: of their faces, and of the lines round them."""

    faces: dict[str, str]
    lines: dict[str, str]
    has_finishes: bool = False
    """Whether faces look like their material instead of their part."""


PRINT = Palette(
    faces={
        "wall": WALL,
        "floor": FLOOR,
        "furniture": OBJECT,
        "pane": PANE,
        "panel": PANEL,
        "speaker": SPEAKER,
        "speaker front": SPEAKER_FRONT,
        "driver": DRIVER,
        "head": HEAD,
        "zone": HEAD,
        "area": ACCENT,
        "leg": LEG,
        "frame": FRAME,
    },
    lines={
        "wall": EDGE,
        "floor": EDGE,
        "furniture": EDGE,
        "pane": PANE_EDGE,
        "panel": PANEL_EDGE,
        "cord": PANEL_EDGE,
        "speaker": SPEAKER,
        "zone": EDGE,
        "area": ACCENT,
    },
    has_finishes=True,
)

# Level against the limit: equal steps of 0.053 in OKLab (B. Ottosson, 2020, from memory), from pale sand
# to deep indigo along the blue-yellow axis, which the common forms of colour blindness keep.
LEVEL_COLOURS = (
    "#E6DABA", "#CDD0BF", "#B5C5C2", "#9FB9C3", "#8CACC2", "#7A9EBF", "#6A8FBC", "#5B81B7",
    "#4C72B1", "#3F63AC", "#3453A4", "#2D4498", "#283588", "#252777", "#231964", "#200C51",
)  # fmt: skip
EVEN_COLOURS = ("#0B5A47", "#2F7D65", "#599D83", "#86B99F", "#B2D2BA", "#D6E4CF", "#F0F0DF")
"""Bass from even to uneven."""
PLUS, MINUS = "#C8752A", "#4A5FB8"  # signs of a mode

LEVEL_FROM_DB = -10.0
LEVEL_TO_DB = 6.0
LEVEL_TICKS_DB = (-10, -5, 0, 5)

FONT = "DejaVu Sans"
FONT_FILES = {"regular": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}  # both come with matplotlib
DPI = 300
PNG_LEVEL = 3  # a tenth longer than at 6, in half the time

# Sizes in pixels of a picture 2400 wide and 1600 high; other sizes scale with the smaller ratio.
REFERENCE_SIZE = (2400, 1600)
TITLE_PX = 46
NAME_PX = 36
VALUE_PX = 31
KEY_PX = 29
LEADER_PX = 2.5
RULE_PX = 3.0
BORDER_PX = 66  # empty border all round, above 2 % of the width
HEAD_STRIP_PX = 110
KEY_STRIP_PX = 176
COLUMN_PX = 415
GAP_PX = 26
DIMENSION_PX = 92  # room for a dimension line outside the walls
OVERSAMPLING = 2

# Sizes in the room, for a room 6 m across; larger rooms scale them up. [m]
TUBE_M = 0.012
TUBE_HIGHER_M = 0.006
TUBE_FAINT_M = 0.004
DIRECT_M = 0.008
DIRECT_DASH_M = 0.07
EDGE_M = 0.009
OBJECT_EDGE_M = 0.005
# Faces of an object that miss this much area on a side do not close there. [m2]
OPEN_M2 = 0.001
PANE_EDGE_ON_M = 0.018
CORD_M = 0.003
OUTLINE_M = 0.006
SPOT_M = 0.045
SPOT_RING_M = 0.062
RAISE_M = 0.004
ZONE_LINE_M = 0.002
AXIS_M = 0.004
AXIS_LENGTH_M = 0.30
ROOM_ACROSS_M = 6.0

PANE_OPACITY = 0.75
PANE_HIDDEN_OPACITY = 0.25
PATCH_OPACITY = 0.10
PANEL_OPEN_OPACITY = 0.30
ZONE_OPACITY = 0.12
BETWEEN_OPACITY = 0.20  # furniture before the one surface that a picture is about

WALL_LIGHT = {"ambient": 0.66, "diffuse": 0.36, "specular": 0.0}
SOLID_LIGHT = {"ambient": 0.50, "diffuse": 0.52, "specular": 0.0}
FLAT_LIGHT = {"ambient": 1.0, "diffuse": 0.0, "specular": 0.0}
# Directions in camera axes (right, up, towards the viewer) and strengths of the three soft lights.
LIGHTS = (((-0.75, 0.25, 0.7), 0.72), ((0.8, 0.1, 0.6), 0.56), ((0.0, -0.5, 0.8), 0.14))


@dataclass(frozen=True)
class View:
    """How one picture looks at the room.

    Attributes
    ----------
    name, title : str
        File name without ending; heading in client words.
    towards_viewer : tuple of (3,) tuples
        Candidate directions from the room to the camera, best liked first.
    up : (3,) tuple
        What points upwards in the picture.
    parallel : bool
        Parallel projection with dimensions and scale bar, or perspective.
    caption : str
        What is seen from where, as the first sentence under the picture.
    surface : int or None
        The one surface that the picture is about, seen face-on; None for the whole room.
    """

    name: str
    title: str
    towards_viewer: tuple[tuple[float, float, float], ...]
    up: tuple[float, float, float]
    parallel: bool
    caption: str
    surface: int | None = None


def _from_behind(*angles_deg: tuple[float, float]) -> tuple[tuple[float, float, float], ...]:
    """Directions given as azimuth from straight behind the seat and elevation."""
    angles = [(float(np.radians(a)), float(np.radians(e))) for a, e in angles_deg]
    return tuple(
        (float(np.cos(e) * np.cos(a)), float(np.cos(e) * np.sin(a)), float(np.sin(e))) for a, e in angles
    )


VIEW_ANGLE_DEG = 24.0
FRAME_MARGIN = 0.012
GRAZING_COSINE = 0.2  # a spot seen flatter than this can hardly be made out
# Surfaces of a scan: colours that eyes of all kinds tell apart: M. Okabe, K. Ito (2008), from memory.
SCAN_COLOURS = ("#56B4E9", "#E69F00", "#009E73", "#CC79A7", "#0072B2", "#D55E00", "#F0E442", "#8C6BB1")
SCAN_FURNITURE, SCAN_ASIDE = "#8A8A8A", "#202020"

VIEWS = (
    View(
        "room",
        "The whole room",
        _from_behind(
            (42, 30), (-42, 30), (28, 34), (-28, 34), (30, 42), (-30, 42), (42, 45), (-42, 45), (20, 55)
        ),
        (0.0, 0.0, 1.0),
        False,
        "The whole room seen from behind the seat, near walls and ceiling taken away.",
    ),
    View(
        "plan",
        "From above",
        ((0.0, 0.0, 1.0),),
        (-1.0, 0.0, 0.0),
        True,
        "The room from above, the front wall at the top.",
    ),
    View(
        "section",
        "From the side",
        ((0.0, -1.0, 0.0),),
        (0.0, 0.0, 1.0),
        True,
        "The room from the left-hand side, the front wall at the left.",
    ),
)
# In place of the last where the roof slopes across the room: from the side it would look flat.
ACROSS = View(
    "section",
    "From behind",
    ((1.0, 0.0, 0.0),),
    (0.0, 0.0, 1.0),
    True,
    "The room from behind the seat, looking at the front wall.",
)

_ROOM = VIEWS[0]
BEFORE = View(
    "before",
    "Before",
    _ROOM.towards_viewer,
    _ROOM.up,
    False,
    "Before: the room without the panels, with the areas that send too much to the seat.",
)
AFTER = View(
    "after",
    "After",
    _ROOM.towards_viewer,
    _ROOM.up,
    False,
    "After, from the same place: the darker a path, the stronger it arrives.",
)


def rgb(colour: str) -> Floats:
    """The three parts of "#RRGGBB" between 0 and 1, (3,)."""
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], np.float64) / 255.0


def scan_colour(number: int) -> str:
    """The colour of a surface of a scan by its number; paler each time that all have been taken."""
    times, row = divmod(number, len(SCAN_COLOURS))
    parts = 1.0 - (1.0 - rgb(SCAN_COLOURS[row])) * 0.5**times
    return "#{:02X}{:02X}{:02X}".format(*(round(255 * part) for part in parts.tolist()))


def level_colours(
    level_re_limit_db: Floats, *, colours: tuple[str, ...] = LEVEL_COLOURS, unjudged: str = UNJUDGED
) -> Floats:
    """Colours of levels against the limit, (n, 3) between 0 and 1; NaN gives the unjudged grey."""
    level = np.asarray(level_re_limit_db, np.float64)
    table = np.array([rgb(colour) for colour in colours])
    place = (np.clip(level, LEVEL_FROM_DB, LEVEL_TO_DB) - LEVEL_FROM_DB) / (LEVEL_TO_DB - LEVEL_FROM_DB)
    place = np.nan_to_num(place) * (len(table) - 1)
    columns = [np.interp(place, np.arange(len(table)), table[:, part]) for part in range(3)]
    return np.where(np.isnan(level)[..., None], rgb(unjudged), np.stack(columns, axis=-1))


def tinted(colour: str, opacity: float) -> str:
    """A colour laid over white with some opacity."""
    parts = np.round(255 * (1.0 - opacity * (1.0 - rgb(colour)))).astype(int)
    return "#" + "".join(f"{part:02X}" for part in parts)

"""Colours of the window, light and dark: data, not code."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viewer import look

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Theme:
    """Every colour of the window.

    `levels` runs from well below the limit to well over it, `even` from an even bass to an uneven one; `plus`
    and `minus` are the signs of a mode.
    """

    name: str
    ground: str
    paper: str
    field: str
    ink: str
    muted: str
    hairline: str
    pressed: str
    accent: str
    chosen: str
    panel: str
    wall: str
    floor: str
    furniture: str
    edge: str
    pane: str
    pane_edge: str
    speaker: str
    speaker_front: str
    driver: str
    head: str
    leg: str
    frame: str
    faint: str
    unjudged: str
    curve: str
    curve_fill: str
    levels: tuple[str, ...]
    even: tuple[str, ...]
    plus: str
    minus: str
    has_finishes: bool = False
    """Whether faces look like their material: on a light ground, as in pictures."""

    @property
    def palette(self) -> look.Palette:
        """Colours of the parts of a room."""
        faces = {
            "wall": self.wall,
            "floor": self.floor,
            "furniture": self.furniture,
            "pane": self.pane,
            "panel": self.panel,
            "speaker": self.speaker,
            "speaker front": self.speaker_front,
            "driver": self.driver,
            "head": self.head,
            "zone": self.head,
            "area": self.accent,
            "leg": self.leg,
            "frame": self.frame,
        }
        edges = dict.fromkeys(("wall", "floor", "furniture", "panel", "cord", "zone"), self.edge)
        lines = edges | {"pane": self.pane_edge, "speaker": self.speaker, "area": self.accent}
        return look.Palette(faces, lines, has_finishes=self.has_finishes)

    def level_colours(self, level_re_limit_db: Floats) -> Floats:
        """Colours of levels against the limit, (n, 3) between 0 and 1; NaN gives the unjudged grey."""
        return look.level_colours(level_re_limit_db, colours=self.levels, unjudged=self.unjudged)


LIGHT = Theme(
    name="light",
    ground=look.WHITE,
    paper=look.WINDOW,
    field=look.WHITE,
    ink=look.INK,
    muted=look.MUTED,
    hairline="#CFCBC3",
    pressed="#E4DED3",
    accent=look.ACCENT,
    chosen="#F7E3DC",
    panel=look.PANEL,
    wall=look.WALL,
    floor=look.FLOOR,
    furniture=look.OBJECT,
    edge=look.EDGE,
    pane=look.PANE,
    pane_edge=look.PANE_EDGE,
    speaker=look.SPEAKER,
    speaker_front=look.SPEAKER_FRONT,
    driver=look.DRIVER,
    head=look.HEAD,
    leg=look.LEG,
    frame=look.FRAME,
    faint=look.FAINT,
    unjudged=look.UNJUDGED,
    curve="#3A4A68",
    curve_fill=look.CURVE_FILL,
    levels=look.LEVEL_COLOURS,
    even=look.EVEN_COLOURS,
    plus=look.PLUS,
    minus=look.MINUS,
    has_finishes=True,
)

# On a dark ground the strong stands out by being light: the same scale turned round. Its darkest steps would
# sink into the walls, and into the tape.
DARK = Theme(
    name="dark",
    ground="#14161B",
    paper="#1C1F26",
    field="#262A33",
    ink="#ECE8E1",
    muted="#A8ACB5",
    hairline="#3A3F4A",
    pressed="#343944",
    accent="#FF8A6B",
    chosen="#4A2C25",
    panel="#78A087",
    wall="#2A2E37",
    floor="#353330",
    furniture="#474239",
    edge="#8B919D",
    pane="#3F5866",
    pane_edge="#8AA5B5",
    speaker="#7D828D",
    speaker_front="#646974",
    driver="#101216",
    head="#8E7E6F",
    leg="#63676F",
    frame="#4C5058",
    faint="#5E6471",
    unjudged="#6E727B",
    curve="#A9BBD8",
    curve_fill="#2C3748",
    levels=look.LEVEL_COLOURS[9::-1],
    even=("#BDF2DA", "#8ED8B8", "#66B896", "#479476", "#33705B", "#2A5046", "#263833"),
    plus="#E9A04A",
    minus="#8FA8F2",
)

THEMES = {"light": LIGHT, "dark": DARK}

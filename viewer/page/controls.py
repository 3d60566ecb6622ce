"""What the controls beside the room on the page offer: layers, places to look from, the level scale."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from viewer import look
from viewer.pictures import Stage, choose_camera
from viewer.words import signed

Contents = dict[str, Any]

_SIZE = (1000, 800)  # of the picture that the first view is chosen for


def rounded(points: NDArray[np.float64], digits: int = 3) -> Any:
    """Numbers short enough for a file: millimetres where they are places. -0 is written as 0."""
    return (np.round(np.asarray(points, np.float64), digits) + 0.0).tolist()


def hex_colour(colour: NDArray[np.float64]) -> str:
    """A colour (3,) between 0 and 1 as "#RRGGBB"."""
    return "#" + "".join(f"{part:02X}" for part in np.round(255 * colour).astype(int))


def layer_switches(
    *, has_undecided: bool, has_patches: bool, has_objects: bool, has_panels: bool, has_bass: bool = False
) -> list[Contents]:
    """Layers with their words and swatches; those without anything to show are left out."""
    strong, weak = look.LEVEL_COLOURS[-2], look.LEVEL_COLOURS[6]
    rows = (
        ("direct", "the direct sound", "dashed", look.INK, ""),
        ("over", "too strong", "", strong, ""),
        ("undecided", "too close to say", "", look.LEVEL_COLOURS[9], ""),
        ("first", "weaker, off one surface", "", weak, ""),
        ("others", "weaker, off several", "thin", weak, ""),
        ("patches", "areas to treat", "area", look.ACCENT, look.tinted(look.ACCENT, 0.12)),
        ("panels", "panels and what holds them", "area", look.PANEL_EDGE, look.PANEL),
        ("objects", "what stands in the room", "area", look.EDGE, look.OBJECT),
        (
            "bass",
            "bass over the floor, darker is more even",
            "area",
            look.EVEN_COLOURS[0],
            look.EVEN_COLOURS[2],
        ),
        ("names", "names", "word", look.INK, ""),
    )
    has = {
        "undecided": has_undecided,
        "patches": has_patches,
        "objects": has_objects,
        "panels": has_panels,
        "bass": has_bass,
    }
    return [
        {"key": key, "words": words, "swatch": swatch, "colour": colour, "inside": inside}
        for key, words, swatch, colour, inside in rows
        if has.get(key, True)
    ]


def views(stage: Stage) -> list[Contents]:
    """Places to look from; angles as seen from the middle of the room. [rad]"""
    towards = -choose_camera(stage, look.VIEWS[0], _SIZE).forward
    azimuth, elevation = float(np.arctan2(towards[1], towards[0])), float(np.arcsin(towards[2]))
    quarter = float(np.pi / 2)
    rows = (
        ("behind", azimuth, elevation, False),
        ("above", 0.0, quarter, False),
        ("the side", -quarter, 0.0, False),
        ("the seat", 0.0, 0.0, True),
    )
    return [
        {"name": name, "azimuth": round(a, 4), "elevation": round(e, 4), "inside": inside}
        for name, a, e, inside in rows
    ]


def sizes(stage: Stage) -> Contents:
    """Sizes of what is drawn [m], the lights, and the middle that the camera circles."""
    scale = stage.scale
    low, high = stage.corners.min(axis=0), stage.corners.max(axis=0)
    sizes = {
        "edge": look.EDGE_M,
        "tube": look.TUBE_M,
        "direct": look.DIRECT_M,
        "dash": look.DIRECT_DASH_M,
        "spot": look.SPOT_M,
        "ring": look.SPOT_RING_M,
        "raise": look.RAISE_M,
    }
    return {
        **{name: round(size * scale, 4) for name, size in sizes.items()},
        "angle_deg": look.VIEW_ANGLE_DEG,
        "speed_m_s": round(stage.study.room.speed_of_sound_m_s, 2),
        "lights": look.LIGHTS,
        "middle": rounded((low + high) / 2),
        "size": round(float(np.linalg.norm(high - low)), 3),
    }


def level_scale() -> Contents:
    """The level scale: colours from weak to strong, ticks with their share of its length."""
    reach = look.LEVEL_TO_DB - look.LEVEL_FROM_DB
    ticks = [
        ("limit" if tick == 0 else f"{signed(tick, 0)} dB", (tick - look.LEVEL_FROM_DB) / reach)
        for tick in look.LEVEL_TICKS_DB
    ]
    return {
        "colours": look.LEVEL_COLOURS,
        "ticks": ticks,
        "words": "How strong a reflection is by itself, at the worst place the head can move to. Those that "
        "arrive together are judged together: stronger or weaker than each.",
    }

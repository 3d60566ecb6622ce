"""What a build says of its frame: the actual size of the timber behind a name."""

import re
from dataclasses import dataclass
from functools import lru_cache

_INCH = 0.0254
# Dry dressed sizes behind the nominal inches (American Softwood Lumber Standard PS 20, from memory). [in]
_ACTUAL = {
    1: 0.75, 2: 1.5, 3: 2.5, 4: 3.5, 5: 4.5, 6: 5.5, 8: 7.25, 10: 9.25, 12: 11.25,
}  # fmt: skip
_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*(?:mm|in)?\s*[x×]\s*(\d+(?:\.\d+)?)\s*(mm|in)?")
_USUAL_M = 0.020  # thickness of a frame of which nothing is said; common practice, no source
_THICKEST_NOMINAL = 2.0  # a frame is never made of 3 mm laths, nor of timbers three inches thick

DRESSED_M = {nominal: inches * _INCH for nominal, inches in _ACTUAL.items()}
"""Actual sides behind nominal inches. [m]"""


@dataclass(frozen=True)
class FrameSection:
    """Section of a frame's timber: what it is called, its sides [m], whether the name is nominal inches."""

    name: str
    thickness_m: float
    depth_m: float
    is_nominal: bool


@lru_cache
def frame_section(frame: str | None, slab_m: float) -> FrameSection:
    """The section of timber that the frame of a build is made of.

    Parameters
    ----------
    frame : str or None
        As the build says: "20x100" is actual millimetres, "1x4" nominal inches; other words around the
        size do not matter.
    slab_m : float
        Thickness of the slab; without a size in `frame` the timber is 20 mm thick and as deep as that. [m]

    Returns
    -------
    FrameSection
        The smaller side is the thickness.

    Examples
    --------
    >>> pine = frame_section("pine 1x4", 0.1)
    >>> round(1000 * pine.thickness_m), round(1000 * pine.depth_m)
    (19, 89)
    """
    found = _SIZE.search(frame or "")
    if found is None:
        return FrameSection(f"20x{round(1000 * slab_m)}", _USUAL_M, slab_m, is_nominal=False)
    thin, deep = sorted((float(found[1]), float(found[2])))
    name = f"{thin:g}x{deep:g}"
    if thin > _THICKEST_NOMINAL or found[3] == "mm":
        return FrameSection(name, thin / 1000, deep / 1000, is_nominal=False)
    return FrameSection(name, _dressed_m(thin), _dressed_m(deep), is_nominal=True)


def names_a_size(frame: str | None) -> bool:
    """Whether a build's words on its frame hold the size of a timber."""
    return _SIZE.search(frame or "") is not None


def _dressed_m(nominal: float) -> float:
    """A side that is no nominal size is taken at its word."""
    return DRESSED_M.get(int(nominal), nominal * _INCH) if nominal.is_integer() else nominal * _INCH

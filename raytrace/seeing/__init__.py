"""Pictures as numbers: soft light on faces, and what a camera sees of them."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.seeing.raster import Bars, Canvas, Eye, Faces, Grid, Pattern
    from raytrace.seeing.softlight import Glow, soft_light

__all__ = ["Bars", "Canvas", "Eye", "Faces", "Glow", "Grid", "Pattern", "soft_light"]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)

"""Pictures as numbers: soft light on faces, and what a camera sees of them."""

from raytrace.seeing.raster import Bars, Canvas, Eye, Faces, Grid, Pattern
from raytrace.seeing.softlight import Glow, soft_light

__all__ = ["Bars", "Canvas", "Eye", "Faces", "Glow", "Grid", "Pattern", "soft_light"]

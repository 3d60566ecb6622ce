"""Sheets to scale for the installer: set-out of spots, panels with what holds them; PDF, SVG, DXF."""

from typing import TYPE_CHECKING

from raytrace import late_face

if TYPE_CHECKING:
    from viewer.sheets.drawings import (
        DRAWINGS,
        FORMATS,
        draw_panels,
        page_contents,
        panel_picture,
        write_drawings,
        write_sheets,
    )
    from viewer.sheets.set_out import CARD_MM, Sheet, draw_sheets, surface_sheets

__all__ = [
    "CARD_MM",
    "DRAWINGS",
    "FORMATS",
    "Sheet",
    "draw_panels",
    "draw_sheets",
    "page_contents",
    "panel_picture",
    "surface_sheets",
    "write_drawings",
    "write_sheets",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)

"""Charts of a study with matplotlib."""

from typing import TYPE_CHECKING

from raytrace import late_face

if TYPE_CHECKING:
    from viewer.charts.aimplan import draw_aim_plan
    from viewer.charts.bass import draw_bass
    from viewer.charts.change import draw_changes
    from viewer.charts.curves import draw_curves
    from viewer.charts.datasheet import draw_datasheets
    from viewer.charts.decay import draw_decays
    from viewer.charts.measured import draw_all_measured, draw_measured
    from viewer.charts.scan import draw_scan
    from viewer.charts.seats import draw_seats
    from viewer.charts.tone import draw_tones

__all__ = [
    "draw_aim_plan",
    "draw_all_measured",
    "draw_bass",
    "draw_changes",
    "draw_curves",
    "draw_datasheets",
    "draw_decays",
    "draw_measured",
    "draw_scan",
    "draw_seats",
    "draw_tones",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)

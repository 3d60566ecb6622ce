"""The main job: everything a technician sends to a client, in one folder."""

from viewer.report.contents import spot_pictures
from viewer.report.findings import Besides
from viewer.report.hanging import hanging_pages
from viewer.report.report import READERS, REPORT, PrintStyle, write_report
from viewer.report.workshop import shopping_page

__all__ = [
    "READERS",
    "REPORT",
    "Besides",
    "PrintStyle",
    "hanging_pages",
    "shopping_page",
    "spot_pictures",
    "write_report",
]

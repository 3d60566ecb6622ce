"""The main job: everything a technician sends to a client, in one folder."""

from viewer.report.making import making_pages
from viewer.report.report import REPORT, PrintStyle, write_report

__all__ = [
    "REPORT",
    "PrintStyle",
    "making_pages",
    "write_report",
]

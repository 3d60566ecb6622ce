"""The main job: everything a technician sends to a client, in one folder."""

from viewer.report.making import making_pages
from viewer.report.report import write_report

__all__ = [
    "making_pages",
    "write_report",
]

"""The room as one file that a client opens in a browser."""

from viewer.page.page import PageRefused, write_page

__all__ = [
    "PageRefused",
    "write_page",
]

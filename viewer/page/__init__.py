"""The room as one file that a client opens in a browser."""

from viewer.page.page import PAGE, check_page, write_page

__all__ = [
    "PAGE",
    "check_page",
    "write_page",
]

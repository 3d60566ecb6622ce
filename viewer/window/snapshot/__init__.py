"""The window's view as a picture in report quality, drawn in a process of its own."""

from viewer.window.snapshot.picture import keep_job

__all__ = [
    "keep_job",
]

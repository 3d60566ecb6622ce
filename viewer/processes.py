"""Processes of our own: how they find the same packages wherever they run, and tell how far they are."""

import os
from collections.abc import Mapping
from pathlib import Path


def python_path(environment: Mapping[str, str] = os.environ) -> str:
    """PYTHONPATH for a child process: the folder of this program first."""
    paths = (str(Path(__file__).parents[1]), environment.get("PYTHONPATH", ""))
    return os.pathsep.join(path for path in paths if path)


PROGRESS = "HITSPOT_PROGRESS"
"""Set where whoever started a process reads off its error stream how far it is: a line for each step."""
PROGRESS_MARK = "\x1e"  # begins such a line: the share done, a space, what is going on


def progress_line(text: str, share: float) -> str:
    """One such line."""
    return f"{PROGRESS_MARK}{share:.3f} {' '.join(text.split())}\n"

"""Where the system wants a program to keep what should outlive a restart."""

import os
import sys
from pathlib import Path


def state_folder(name: str) -> Path:
    """A folder of our own there, for one kind of thing; not made yet."""
    if sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    elif sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    else:
        base = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state")
    return base / "hitspot" / name

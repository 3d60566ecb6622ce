"""Whether a window can be opened here, asked before Qt starts: without a display Qt ends the process."""

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

NO_DISPLAY = (
    "No window can be opened here: there is no display (neither DISPLAY nor WAYLAND_DISPLAY is set). The "
    "other commands need none: hitspot report SCENE writes the pictures, hitspot arrivals SCENE the table."
)
NO_QT = "The window needs two more Python packages: PySide6-Essentials and pyvistaqt."
NO_GL = (
    "The window needs system packages that are missing here. On Debian and Ubuntu: libgl1 libegl1 "
    "libglib2.0-0 libdbus-1-3 libfontconfig1 libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 "
    "libxcb-keysyms1 libxcb-shape0. What was said: "
)

_PROBE = """
from PySide6.QtGui import QGuiApplication, QOffscreenSurface, QOpenGLContext
app = QGuiApplication([])
context = QOpenGLContext()
surface = QOffscreenSurface()
surface.create()
assert context.create() and context.makeCurrent(surface), "no OpenGL context can be made"
print("gl found")
"""


def why_no_window(environment: Mapping[str, str] = os.environ, platform: str = sys.platform) -> str:
    """What keeps a window from opening here; empty if nothing does."""
    chosen = environment.get("QT_QPA_PLATFORM", "")
    has_display = environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY")
    if platform.startswith("linux") and not chosen and not has_display:
        return NO_DISPLAY
    from importlib.util import find_spec

    if find_spec("PySide6") is None or find_spec("pyvistaqt") is None:
        return NO_QT
    try:
        tried = subprocess.run(
            [sys.executable, "-c", _PROBE],
            capture_output=True,
            text=True,
            timeout=60,
            env=dict(environment),
            cwd=Path.home() if Path.home().is_dir() else None,
        )
    except (OSError, subprocess.TimeoutExpired) as problem:
        return NO_GL + str(problem)
    if tried.returncode == 0 and "gl found" in tried.stdout:
        return ""
    last = tried.stderr.strip().splitlines()
    return NO_GL + (last[-1] if last else f"the test ended with code {tried.returncode}")

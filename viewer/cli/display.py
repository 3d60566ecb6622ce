"""Whether a window can be opened here, asked before Qt starts: without a display Qt ends the process."""

import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec

NO_DISPLAY = (
    "No window can be opened here: there is no display (neither DISPLAY nor WAYLAND_DISPLAY is set). The "
    "other commands need none: hitspot report SCENE writes the pictures, hitspot arrivals SCENE the table."
)
NO_QT = "The window needs one more Python package: PySide6-Essentials."
NO_GL = (
    "The window needs system packages that are missing here. On Debian and Ubuntu: libgl1 libegl1 "
    "libglib2.0-0 libdbus-1-3 libfontconfig1 libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 "
    "libxcb-keysyms1 libxcb-shape0. What was said: "
)

_FOUND = "gl found"
_PROBE = """
from PySide6.QtGui import QGuiApplication, QOffscreenSurface, QOpenGLContext
app = QGuiApplication([])
context = QOpenGLContext()
surface = QOffscreenSurface()
surface.create()
assert context.create() and context.makeCurrent(surface), "no OpenGL context can be made"
print("gl found")
"""


@dataclass(frozen=True)
class Probe:
    """A test under way in a child process, or what is known without one."""

    child: "subprocess.Popen[str] | None"
    known: str = ""

    def answer(self) -> str:
        """What keeps a window from opening here; empty if nothing does."""
        if self.child is None:
            return self.known
        try:
            out, errors = self.child.communicate(timeout=60)
        except subprocess.TimeoutExpired:
            self.child.kill()
            self.child.communicate()
            return NO_GL + "the test did not end"
        if self.child.returncode == 0 and _FOUND in out:
            return ""
        last = errors.strip().splitlines()
        return NO_GL + (last[-1] if last else f"the test ended with code {self.child.returncode}")


def begin_probe(environment: Mapping[str, str] = os.environ, platform: str = sys.platform) -> Probe:
    """Start to find out whether a window can be opened here; other work may go on meanwhile."""
    has_display = environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY")
    if platform.startswith("linux") and not environment.get("QT_QPA_PLATFORM") and not has_display:
        return Probe(None, NO_DISPLAY)
    if find_spec("PySide6") is None:
        return Probe(None, NO_QT)
    try:
        child = subprocess.Popen(
            [sys.executable, "-c", _PROBE],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=dict(environment),
        )
    except OSError as problem:
        return Probe(None, NO_GL + str(problem))
    return Probe(child)

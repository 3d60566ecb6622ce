"""What VTK is told where it draws by itself, in the window."""

import os
import sys
from typing import Any

OVER_UNITS = -66000.0  # steps of the depth buffer, past the nearest plane of any room


def prefer_off_screen_window() -> None:
    """Let VTK draw without an X server; before it first draws."""
    if sys.platform == "linux":
        os.environ["VTK_DEFAULT_OPENGL_WINDOW"] = "vtkEGLRenderWindow"


def lift_over(mapper: Any) -> None:
    """Let what a mapper draws win against everything before it."""
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(0.0, OVER_UNITS)

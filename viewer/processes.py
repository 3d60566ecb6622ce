"""Processes of our own: the environment in which they find the same packages from any working folder."""

import os
from collections.abc import Mapping
from pathlib import Path


def python_path(environment: Mapping[str, str] = os.environ) -> str:
    """PYTHONPATH for a child process: the folder of this program first."""
    paths = (str(Path(__file__).parents[1]), environment.get("PYTHONPATH", ""))
    return os.pathsep.join(path for path in paths if path)

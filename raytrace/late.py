"""Faces of packages that load what they export when it is asked for."""

import ast
import sys
from collections.abc import Callable
from functools import cache
from importlib import import_module
from pathlib import Path


def late_face(package: str) -> tuple[Callable[[str], object], Callable[[], list[str]]]:
    """`__getattr__` and `__dir__` of a face whose imports stand under `if TYPE_CHECKING`.

    Parameters
    ----------
    package : str
        The face's own `__name__`. Type checkers read its imports; here each is done when a name is asked for.
    """
    face = sys.modules[package]

    @cache
    def homes() -> dict[str, str]:
        """{name: module that has it}, as the face's own imports say."""
        blocks = ast.parse(Path(str(face.__file__)).read_text(encoding="utf-8")).body
        lines = [line for block in blocks if isinstance(block, ast.If) for line in block.body]
        imports = [line for line in lines if isinstance(line, ast.ImportFrom)]
        return {alias.name: str(line.module) for line in imports for alias in line.names}

    def get(name: str) -> object:
        if name not in homes():
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        value = getattr(import_module(homes()[name]), name)
        setattr(face, name, value)
        return value

    return get, lambda: list(face.__all__)

"""The command line: arguments in, exit code out."""

from viewer.cli.main import main, run

__all__ = [
    "main",
    "run",
]

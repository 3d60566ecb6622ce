"""Which tests one process runs: those of a file, and all files that share what is slow to make or single."""

from functools import cache

from tests.support.scenes import ROOT

# Proposals are made once for all that look at them, windows share one display.
SHARED = ("proposals", "windows")


def group_of(nodeid: str) -> str:
    """The group of a test, by what its file imports from `tests/support/`."""
    return _group_of_file(nodeid.partition("::")[0])


@cache
def _group_of_file(name: str) -> str:
    text = (ROOT / name).read_text(encoding="utf-8")
    return next((word for word in SHARED if f"\nfrom tests.support.{word} import" in text), name)

"""All outputs of every shipped scene twice, in processes that differ in all that must not matter.

`python -m tests.bench.same_bytes [SCENE ...]`; a line for each scene, exit code 1 if any file differs.
"""

import sys
import tempfile
from pathlib import Path

from tests.support.samebytes import write_outputs
from tests.support.scenes import SCENES

COMMANDS = [
    ["report", "--out", "report", "--size", "600x400"],
    ["arrivals", "--json"],
    ["check"],
    ["decay", "--json"],
    ["bass", "--json"],
]


def main() -> int:
    """Print what differs."""
    names = sys.argv[1:] or sorted(path.stem for path in SCENES.glob("*.toml"))
    is_same = True
    for name in names:
        with tempfile.TemporaryDirectory() as ground:
            one, two = (
                write_outputs(SCENES / f"{name}.toml", Path(ground), kind, COMMANDS) for kind in (0, 1)
            )
        differing = sorted(file for file in one.keys() | two.keys() if one.get(file) != two.get(file))
        print(f"{name:<14} {len(one)} outputs, {len(differing)} differ", *differing, flush=True)
        is_same &= not differing
    return 0 if is_same else 1


if __name__ == "__main__":
    sys.exit(main())

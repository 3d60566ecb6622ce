"""Every numba function, and nothing else.

Numba's disk cache does not notice an edit in another file, so the cache folder's name holds a hash of
all kernel sources. It is set here, where every kernel lives below, before numba makes the first of them.
"""

import atexit
import hashlib
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path


def _cache_folder() -> Path:
    sources = sorted(p for p in Path(__file__).parent.iterdir() if p.suffix in (".py", ".npy"))
    digest = hashlib.sha256(b"".join(p.read_bytes() for p in sources)).hexdigest()[:16]
    base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    # A temporary folder may be shared between users; on Windows each has an own one, and no number.
    own = f"hitspot-{os.getuid()}" if hasattr(os, "getuid") else "hitspot"
    for parent in (Path(base) / "hitspot", Path(tempfile.gettempdir()) / own):
        folder = parent / f"kernels-{digest}"
        try:
            parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if parent.parent == Path(base) or _is_private(parent):
                folder.mkdir(mode=0o700, exist_ok=True)
                if os.access(folder, os.W_OK):
                    return folder
        except OSError:
            continue
    passing = Path(tempfile.mkdtemp(prefix="hitspot-kernels-"))
    atexit.register(shutil.rmtree, passing, ignore_errors=True)
    return passing


def _is_private(folder: Path) -> bool:
    """Whether a folder is one's own and nobody else can write in it: kept kernels are run as they are."""
    found = folder.lstat()
    is_own = not hasattr(os, "getuid") or found.st_uid == os.getuid()
    return stat.S_ISDIR(found.st_mode) and is_own and (os.name == "nt" or not found.st_mode & 0o077)


if "NUMBA_CACHE_DIR" not in os.environ:
    os.environ["NUMBA_CACHE_DIR"] = str(_cache_folder())
    if "numba" in sys.modules:  # it read the environment when somebody else imported it
        sys.modules["numba"].config.CACHE_DIR = os.environ["NUMBA_CACHE_DIR"]


def is_cold() -> bool:
    """Whether no kernel was compiled on this machine yet, so that the first call takes long."""
    return next(_compiled(), None) is None


def count_kernels() -> int:
    """How many kernels are compiled and kept on this machine."""
    return sum(1 for _ in _compiled())


def _compiled() -> Iterator[Path]:
    return Path(os.environ["NUMBA_CACHE_DIR"]).rglob("*.nbi")

"""Where compiled kernels are kept."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
ASK = """
{}
import raytrace.kernels.hulls
from raytrace.kernels.hulls import prepare_facets
print(prepare_facets.stats.cache_path)
"""


@pytest.mark.parametrize("first", ["", "import numba"])
def test_kernels_are_kept_outside_the_sources_whoever_imports_numba_first(first, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    done = subprocess.run(
        [sys.executable, "-c", ASK.format(first)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith(str(tmp_path / "hitspot"))

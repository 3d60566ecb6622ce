"""Where compiled kernels are kept, and tables that they are given."""

import os
import stat
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from raytrace.kernels.edges import (
    C0,
    C1,
    C2,
    C3,
    C4,
    C5,
    RULE_NODES,
    RULE_SIZES,
    RULE_STARTS,
    RULE_WEIGHTS,
    S0,
    S1,
    S2,
    S3,
    S4,
    S5,
)
from raytrace.kernels.facets import FacetArrays
from tests.support.studies import shipped_study

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


WHERE = "import os; from raytrace import kernels; print(os.environ['NUMBA_CACHE_DIR'])"


@pytest.mark.skipif(sys.platform == "win32", reason="there each user has a temporary folder of his own")
@pytest.mark.parametrize("planted", [None, "open to others", "another's", "link"])
def test_kernels_in_a_shared_folder_are_taken_only_from_a_private_one(planted, tmp_path, monkeypatch):
    # The cache folder cannot be written, so the shared temporary one is what is left.
    (tmp_path / "cache").write_text("no folder")
    shared = tmp_path / "tmp"
    shared.mkdir()
    own = shared / f"hitspot-{os.getuid()}"
    if planted == "link":
        (tmp_path / "elsewhere").mkdir(mode=0o700)
        own.symlink_to(tmp_path / "elsewhere")
    elif planted is not None:
        own.mkdir(mode=0o700)
        own.chmod(0o777 if planted == "open to others" else 0o700)
    if planted == "another's":
        if os.getuid() != 0:
            pytest.skip("only root can give a folder to somebody else")
        os.chown(own, 12345, 12345)
    for name, value in (("XDG_CACHE_HOME", tmp_path / "cache"), ("TMPDIR", shared)):
        monkeypatch.setenv(name, str(value))
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    done = subprocess.run([sys.executable, "-c", WHERE], cwd=ROOT, capture_output=True, text=True, check=True)
    folder = Path(done.stdout.strip())
    if planted is None:
        assert folder.parent == own
        assert stat.S_IMODE(own.stat().st_mode) == 0o700
    else:
        assert folder.parent == shared  # of this process alone, and gone with it
        assert [path.name for path in shared.iterdir()] == [own.name]


def kinds_in(kind):
    """A type that a kernel takes, and all that it is made of."""
    yield kind
    for part in getattr(kind, "types", ()):
        yield from kinds_in(part)


def test_a_kept_kernel_knows_no_module_of_ours_but_kernels():
    # A kept kernel holds its argument types by module and name: a type that moves leaves it unreadable.
    shipped_study("treated-box")
    kernels = [
        some
        for name, module in list(sys.modules.items())
        if name.startswith("raytrace.kernels.")
        for some in vars(module).values()
        if hasattr(some, "signatures")
    ]
    taken = {part for some in kernels for args in some.signatures for arg in args for part in kinds_in(arg)}
    records = {part.instance_class for part in taken if hasattr(part, "instance_class")}
    assert FacetArrays in records
    modules = {record.__module__ for record in records}
    assert {name for name in modules if not name.startswith("raytrace.kernels.")} == set()


def test_the_first_run_on_a_machine_says_why_it_lasts(tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    command = [sys.executable, "-m", "viewer.cli", "arrivals", "scenes/box.toml", "--json"]
    child = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    try:
        # In a line, where nobody sees a bar.
        assert "compiling for this machine, once" in child.stderr.readline()
        while not (kept := list(tmp_path.rglob("*.nbc"))):
            assert child.poll() is None
            time.sleep(0.05)
    finally:
        child.kill()
        child.communicate()
    assert all(b"viewer." not in path.read_bytes() for path in kept)


def test_kept_gauss_rules_are_those_of_numpy():
    for n, start in zip(RULE_SIZES, RULE_STARTS[:-1], strict=True):
        rule = RULE_NODES[start : start + n], RULE_WEIGHTS[start : start + n]
        # A few units in the last place: numpy's come from a library's eigenvalues.
        assert np.allclose(rule, np.polynomial.legendre.leggauss(n), rtol=0, atol=1e-14)


def test_kept_series_are_sine_and_cosine_of_half_a_turn():
    y = np.linspace(-0.5, 0.5, 1001)
    sine = sum(s * y ** (2 * k) for k, s in enumerate((S0, S1, S2, S3, S4, S5)))
    cosine = sum(c * y ** (2 * k) for k, c in enumerate((C0, C1, C2, C3, C4, C5)))
    assert np.allclose(sine, np.pi * np.sinc(y), rtol=0, atol=1e-9)
    assert np.allclose(cosine, np.cos(np.pi * y), rtol=0, atol=1e-9)

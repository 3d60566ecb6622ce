"""What a wheel and the repository hold: all that the program reads, and nothing by accident."""

import shutil
import subprocess
import tomllib

import pytest

from tests.support.scenes import ROOT


def test_every_file_that_is_not_python_is_package_data():
    with (ROOT / "pyproject.toml").open("rb") as file:
        patterns = tomllib.load(file)["tool"]["setuptools"]["package-data"]
    packed = {
        path
        for name, globs in patterns.items()
        for glob in globs
        for path in (ROOT / name.replace(".", "/")).glob(glob)
    }
    found = {
        path
        for top in ("raytrace", "viewer")
        for path in (ROOT / top).rglob("*")
        if path.is_file() and path.suffix != ".py" and "__pycache__" not in path.parts
    }
    assert found == packed
    assert ROOT / "viewer" / "page" / "three.min.js" in found


def test_the_top_of_the_repository_holds_nothing_by_accident():
    """What is committed there, besides dot-files."""
    if not shutil.which("git"):
        pytest.skip("git is not installed")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("no checkout of the repository, or one of somebody else")
    top = {name.split("/")[0] for name in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == {
        *("README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"),
        *("raytrace", "viewer", "tests", "scenes"),
    }

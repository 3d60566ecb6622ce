"""What a wheel holds: every file that the program reads travels with it."""

import tomllib

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

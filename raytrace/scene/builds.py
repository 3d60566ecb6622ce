"""Panel builds that come with the program, in usual slab sizes, metric and imperial."""

import tomllib
from functools import cache
from importlib.resources import files

from raytrace.scene.tables import Build


@cache
def load_builds() -> dict[str, Build]:
    """Builds that any scene may use by name.

    Returns
    -------
    dict of str to Build
        In the order of builds.toml, which states where the values come from. One dictionary for all
        callers: do not change it.

    Examples
    --------
    >>> load_builds()["wool 100"].thickness
    0.1
    """
    rows = tomllib.loads(files("raytrace.scene").joinpath("builds.toml").read_text(encoding="utf-8"))
    return {name: Build.model_validate(row) for name, row in rows.items()}

"""Studies of scenes of the repository, run once for all tests of a process that look at them."""

from functools import cache

from raytrace import Study, load_scene, run_study
from tests.support.scenes import SCENES


@cache
def shipped_study(name: str, **options) -> Study:
    """The run of scenes/name.toml: frozen, so that nobody changes it for the others."""
    return run_study(load_scene(SCENES / f"{name}.toml"), **options)

"""Workshop lists: what panels cost and how many are owned, as small TOML files that serve many scenes."""

from pathlib import Path
from typing import Any

from raytrace.scene.builds import read_builds
from raytrace.scene.naming import quoted_list
from raytrace.scene.scene import PRICES, STOCK, Scene, check_named
from raytrace.scene.tables import Build
from raytrace.scene.text import SceneFile, read_scene_file
from raytrace.scene.values import Wrong, below

_TABLES = ("stock", "prices", "builds")


def with_stock(scene: Scene, path: str | Path) -> Scene:
    """The scene with the panels that a list says are owned.

    Parameters
    ----------
    scene : Scene
        Whose builds may be named; what it says of other builds in its own [stock] stays.
    path : str or Path
        TOML: a table [stock] with `"name of a build" = count`, and a table [builds."name"] for each build
        that neither the scene nor the library knows. A table [prices] is left to `with_prices`.

    Returns
    -------
    Scene

    Raises
    ------
    SceneError
        For anything wrong with the list, with line, column and what is accepted instead.
    """
    return _with_list(scene, path, "stock")


def with_prices(scene: Scene, path: str | Path) -> Scene:
    """The scene with the prices of a list, which go before its own; all else as in `with_stock`."""
    return _with_list(scene, path, "prices")


def _with_list(scene: Scene, path: str | Path, wanted: str) -> Scene:
    file = read_scene_file(path)
    for key in file.table:
        if key not in _TABLES:
            takes = f"a list takes {quoted_list(_TABLES)}"
            raise file.error((key,), f'unknown key "{key}"; {takes}', at="key")
    read = {"stock": STOCK, "prices": PRICES}
    if not file.table.get(wanted):
        example = f"[{wanted}] with for example {read[wanted].example}"
        raise file.error((wanted,), f"this list needs a table {example}")
    try:
        builds = below("builds", lambda value: read_builds(value, scene.builds), file.table.get("builds", {}))
        listed = {key: below(key, of, file.table.get(key, {})) for key, of in read.items()}
    except Wrong as wrong:
        raise file.error(wrong.tail, str(wrong), at=wrong.at) from None
    for name, build in builds.items():
        _check_alike(scene, file, name, build)
    update = {
        "builds": {**scene.builds, **{k: v for k, v in builds.items() if k not in scene.builds}},
        wanted: {**getattr(scene, wanted), **listed[wanted]},
    }
    merged = scene.model_copy(update=update)
    check_named(merged, file)
    return merged


def _check_alike(scene: Scene, file: SceneFile, name: str, build: Build) -> None:
    """One name is one build: panels of the scene must not become others through a list."""
    if name in scene.known_builds and _made(build) != _made(scene.build(name)):
        told = "is made otherwise in the scene or the library: give one of the two another name"
        raise file.error(("builds", name), f'"{name}" {told}', at="key")


def _made(build: Build) -> dict[str, Any]:
    """How a build is made, whatever it costs and however that was written."""
    return {key: value for key, value in build if key not in ("like", "price", "pack")}

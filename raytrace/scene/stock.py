"""Stock lists: panels that are owned already, as a small TOML file."""

from dataclasses import dataclass, field
from pathlib import Path

from pydantic import ValidationError

from raytrace.scene.naming import did_you_mean
from raytrace.scene.scene import Scene
from raytrace.scene.tables import Build, problems
from raytrace.scene.text import SceneFile, read_scene_file


@dataclass(frozen=True)
class Stock:
    """Panels that are owned.

    Attributes
    ----------
    owned : dict of str to int
        How many there are of each build.
    builds : dict of str to Build
        Builds that the list describes itself.
    """

    owned: dict[str, int] = field(default_factory=dict)
    builds: dict[str, Build] = field(default_factory=dict)


def read_stock(path: str | Path, scene: Scene) -> Stock:
    """Read and check a stock list.

    Parameters
    ----------
    path : str or Path
        TOML: a table [stock] with `"name of a build" = count`, and a table [builds."name"] for each build
        that neither the scene nor the library knows.
    scene : Scene
        Whose builds may be named.

    Returns
    -------
    Stock

    Raises
    ------
    SceneError
        For anything wrong with the file, with line, column and what is accepted instead.
    """
    file = read_scene_file(path)
    for key in file.table:
        if key not in ("stock", "builds"):
            raise file.error(
                (key,), f'unknown key "{key}"; a stock list takes [stock] and [builds]', at="key"
            )
    builds = _read_builds(file)
    counts = file.table.get("stock")
    if not isinstance(counts, dict) or not counts:
        raise file.error(("stock",), 'a stock list has a table [stock] with for example "wool 100" = 6')
    owned: dict[str, int] = {}
    for name, count in counts.items():
        if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= 1000:
            raise file.error(("stock", name), "expected how many there are, a whole number from 0 to 1000")
        if name not in builds and name not in scene.known_builds:
            hint = did_you_mean(name, [*builds, *scene.known_builds])
            raise file.error(("stock", name), f'no build is called "{name}"{hint}', at="key")
        owned[name] = count
    return Stock(owned, builds)


def _read_builds(file: SceneFile) -> dict[str, Build]:
    tables = file.table.get("builds", {})
    if not isinstance(tables, dict):
        raise file.error(("builds",), 'expected tables with names of their own: [builds."old slab"]')
    builds = {}
    for name, table in tables.items():
        try:
            builds[name] = Build.model_validate(table)
        except ValidationError as problem:
            key, message, at = next(iter(problems(problem, ("builds", name))))
            raise file.error(key, message, at=at) from None
    return builds

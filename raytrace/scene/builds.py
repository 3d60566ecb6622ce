"""Panel builds: those that come with the program, in usual slab sizes, and those of a file, like others."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import ValidationError

from raytrace.scene.naming import did_you_mean, quoted_list
from raytrace.scene.tables import Build, problems
from raytrace.scene.values import Wrong, below, name, shown


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


def read_builds(value: object, known: Mapping[str, Build] | None = None) -> dict[str, Build]:
    """Builds of a file, each filled in from the one that it is `like`.

    Parameters
    ----------
    value : object
        The file's [builds]: a table for each.
    known : mapping of str to Build, optional
        Builds that the file may name beside its own and those of the library.

    Returns
    -------
    dict of str to Build
        In the order of the file. The price alone is not taken over: see `Scene.price`.

    Raises
    ------
    Wrong
        For a wrong value, a build that is like one nobody knows, or like itself in a round.

    Examples
    --------
    >>> read_builds({"thin": {"like": "wool 100", "thickness": 0.06}})["thin"].flow_resistivity
    10000.0
    """
    if not isinstance(value, dict):
        raise Wrong(f"expected tables with names of their own; found {shown(value)}")
    others, made = {**load_builds(), **(known or {})}, dict[str, Build]()
    for own in value:
        _fill_in((own,), value, others, made)
    return {own: made[own] for own in value}


def _fill_in(
    chain: tuple[str, ...], tables: dict[str, Any], others: Mapping[str, Build], made: dict[str, Build]
) -> Build:
    """The last build of a chain of which each is like the next; `made` grows by it and what it is like."""
    own = chain[-1]
    if own in made:
        return made[own]
    table, base = tables[own], dict[str, Any]()
    if isinstance(table, dict) and "like" in table:
        like = below(own, lambda value: below("like", name, value), table["like"])
        # What is like its own name is like the one that it stands before.
        if like in tables and not (like == own and own in others):
            if like in chain:
                raise Wrong(f"goes round in a circle: {quoted_list((*chain, like))}", own, "like")
            found = _fill_in((*chain, like), tables, others, made)
        elif like in others:
            found = others[like]
        else:
            hint = did_you_mean(like, [*tables, *others])
            raise Wrong(f"no build is called {shown(like)}{hint}", own, "like")
        base = {key: value for key, value in found if key in found.model_fields_set - {"like", "price"}}
    try:
        made[own] = Build.model_validate({**base, **table} if isinstance(table, dict) else table)
    except ValidationError as problem:
        key, message, at = next(iter(problems(problem)))
        raise Wrong(message, own, *key, at=at) from None
    return made[own]

"""Covers: rugs, curtains and pads that come with the program, and those of a scene, with their prices."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

from pydantic import PlainValidator, ValidationError

from raytrace.scene.tables import PRICE, Name, Rectangle, Table, problems
from raytrace.scene.values import Choice, Wrong, shown

CoverPlace = Literal["floor", "window", "desk"]


class Cover(Table):
    """A soft thing that lies or hangs where panels do not go: its place, material, size [m] and price."""

    what = "a cover"
    on: Annotated[CoverPlace, PlainValidator(Choice(("floor", "window", "desk")))]
    material: Name
    size: Rectangle | None = None
    """None for one that is made to measure: as large as what it covers."""
    price: Annotated[float | None, PlainValidator(PRICE)] = None


@cache
def load_covers() -> dict[str, Cover]:
    """Covers that any scene may use by name.

    Returns
    -------
    dict of str to Cover
        In the order of covers.toml. One dictionary for all callers: do not change it.

    Examples
    --------
    >>> load_covers()["thick rug"].on
    'floor'
    """
    rows = tomllib.loads(files("raytrace.scene").joinpath("covers.toml").read_text(encoding="utf-8"))
    return {name: Cover.model_validate(row) for name, row in rows.items()}


def read_covers(value: object) -> dict[str, Cover]:
    """Covers of a file; one that is called like one of the library has what its entry leaves out from there.

    Raises
    ------
    Wrong
        For a wrong value.

    Examples
    --------
    >>> read_covers({"thick rug": {"price": 180}})["thick rug"].material
    'rug on underlay'
    """
    if not isinstance(value, dict):
        raise Wrong(f"expected tables with names of their own; found {shown(value)}")
    made: dict[str, Cover] = {}
    for own, table in value.items():
        like = load_covers().get(own)
        base = {} if like is None else {key: found for key, found in like if found is not None}
        try:
            made[own] = Cover.model_validate({**base, **table} if isinstance(table, dict) else table)
        except ValidationError as problem:
            key, message, at = next(iter(problems(problem)))
            raise Wrong(message, own, *key, at=at) from None
    return made

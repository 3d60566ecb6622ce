"""Covers: rugs, curtains, pads, shelves that come with the program, and those of a scene, with prices."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

from pydantic import PlainValidator, ValidationError, model_validator

from raytrace.scene.tables import PRICE, Name, Rectangle, Table, problems
from raytrace.scene.values import Choice, Length, Wrong, shown

CoverPlace = Literal["floor", "window", "desk", "wall"]


class Cover(Table):
    """A soft thing that lies or hangs where panels do not go: its place, material, size [m] and price."""

    what = "a cover"
    on: Annotated[CoverPlace, PlainValidator(Choice(("floor", "window", "desk", "wall")))]
    material: Name
    size: Rectangle | None = None
    """None for one that is made to measure: as large as what it covers."""
    depth: Annotated[float | None, PlainValidator(Length(0.05, 2.0, '"300 mm"'))] = None
    """Of furniture that stands before a wall. [m]"""
    price: Annotated[float | None, PlainValidator(PRICE)] = None

    @model_validator(mode="after")
    def _check_furniture(self) -> "Cover":
        if self.on == "wall" and (self.size is None or self.depth is None):
            missing = "size" if self.size is None else "depth"
            raise Wrong("missing; furniture before a wall has size = [0.8, 1.8] and depth = 0.3", missing)
        if self.on != "wall" and self.depth is not None:
            raise Wrong('only furniture before a wall (on = "wall") has a depth', "depth", at="key")
        return self


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

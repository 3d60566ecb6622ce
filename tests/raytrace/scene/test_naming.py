"""A wrong name is answered with the one that was probably meant."""

import tomllib
from importlib.resources import files
from typing import get_args

import pytest

from raytrace.acoustics import load_library
from raytrace.scene import Scene, load_builds
from raytrace.scene.naming import did_you_mean, nearest_name
from raytrace.scene.rooms import BoxRoom, GableRoom, LeanToRoom, MeshObject, Opening, PlanRoom, SectionRoom
from raytrace.scene.tables import (
    Build,
    Cloud,
    Job,
    KeepOut,
    OwnMaterial,
    Panel,
    Seat,
    Speaker,
    Stand,
    TwoWay,
)

WALLS = ("floor", "ceiling", "front wall", "back wall", "left wall", "right wall")
TABLES = (Scene, Job, BoxRoom, GableRoom, LeanToRoom, PlanRoom, SectionRoom, MeshObject, Opening, KeepOut)
TABLES += (OwnMaterial, Build, Panel, Stand, Cloud, Seat, Speaker, TwoWay)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("hardwood", "timber floor"),
        ("Hardwood floor", "timber floor"),
        ("gypsum", "plasterboard"),
        ("lino", "lino"),
        ("Cinder blocks", "block"),
        ("brickwork", "brick"),
        ("fibreglass", "mineral wool 100 mm"),
        ("carpet_tiles", "carpet tiles"),
        ("laminted floor", "laminate floor"),
        ("couch", "couch"),
    ],
)
def test_a_material_is_found_by_its_meaning(typed, meant):
    assert nearest_name(typed, load_library()) == meant


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("rear wall", "back wall"),
        ("Rear Wall", "back wall"),
        ("wall behind", "back wall"),
        ("left side wall", "left wall"),
        ("left-hand wall", "left wall"),
        ("roof", "ceiling"),
        ("ground", "floor"),
        ("lefft wall", "left wall"),
        ("rigth wall", "right wall"),
    ],
)
def test_a_surface_is_found_by_its_meaning(typed, meant):
    assert nearest_name(typed, WALLS) == meant


@pytest.mark.parametrize(
    ("typed", "table", "meant"),
    [
        ("depth", BoxRoom, "length"),
        ("breadth", BoxRoom, "width"),
        ("loudspeakers", Scene, "speakers"),
        ("windows", Scene, "openings"),
        ("furniture", Scene, "objects"),
        ("listeners", Scene, "seats"),
        ("position", Seat, "ears"),
        ("location", Speaker, "position"),
        ("alpha", OwnMaterial, "absorption"),
        ("customer", Job, "client"),
    ],
)
def test_a_key_is_found_by_its_meaning(typed, table, meant):
    assert nearest_name(typed, table.model_fields) == meant


def test_letters_alone_would_have_misled():
    # More letters of it are in "left wall" than in "back wall".
    assert nearest_name("rear wall", ("left wall", "front wall", "ceiling")) == "left wall"
    assert did_you_mean("rear wall", WALLS) == ', did you mean "back wall"?'
    assert did_you_mean("zzz", ("a", "b")) == '; accepted: "a", "b"'


def test_a_name_of_a_million_letters_is_answered_at_once():
    # Comparing its letters with each choice would take the square of them.
    assert nearest_name("x" * 1_000_000, ["x" * 999_999, "width"]) is None


def words_that_are_accepted():
    """Every name of a library, a usual surface, a key or a value of a key."""
    words = {*load_library(), *load_builds(), *WALLS, "left", "back", "right", "left slope", "resistance"}
    for table in TABLES:
        words |= {*table.model_fields}
        for field in table.model_fields.values():
            words |= {value for value in get_args(field.annotation) if isinstance(value, str)}
    shapes = {"box", "gable", "lean-to", "plan"}
    return words | shapes | {"turn", "pitch", "below_db", "seat", "omni"}


def test_whatever_is_suggested_is_accepted_somewhere():
    rows = tomllib.loads(files("raytrace.scene").joinpath("synonyms.toml").read_text(encoding="utf-8"))
    known = words_that_are_accepted()
    assert {meant for meanings in rows.values() for meant in meanings} - known == set()

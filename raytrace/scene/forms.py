"""What every key of a scene takes, found by a walk along its classes: for forms that offer them."""

import ast
import contextlib
import inspect
import re
import sys
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import PlainValidator, ValidationError
from pydantic.fields import FieldInfo

from raytrace.acoustics import load_library
from raytrace.scene.entries import put_in_text
from raytrace.scene.limits import STANDARDS, OwnLimits, read_limits
from raytrace.scene.rewriting import Value, toml_of
from raytrace.scene.scene import PRICES, STOCK, Scene
from raytrace.scene.tables import Table, problems
from raytrace.scene.text import KeyPath
from raytrace.scene.units import parse_length
from raytrace.scene.values import Choice, Length, ListOf, Number, Whole, Wrong, name, yes_or_no

FormKind = Literal["length", "number", "choice", "text", "list", "other"]

NAMED_HELP = {
    "surfaces": "What this surface is made of; default stands for all that are not named",
    "prices": "Of one finished panel of this build, in whatever money the scene counts",
    "stock": "How many panels of this build are owned already",
}
_MOST_FIELDS = 3  # of a list that is offered number by number: a point's
_NAMED_BY = {
    "surface": "surfaces",
    "across_corner": "surfaces",
    "wall": "surfaces",
    "towards": "surfaces",
    "material": "materials",
    "build": "builds",
    "like": "builds",
    "cover": "covers",
}


@dataclass(frozen=True)
class Form:
    """What a key takes.

    Attributes
    ----------
    kind : str
        "length" in metres or text with a unit; "number" with a unit; one of a "choice"; "text"; "list" of
        a fixed number of values alike; "other", which is written as in the file.
    low, high : float or None
        Bounds of a length [m] or a number, both accepted.
    unit : str
        Of a number; "m" of lengths.
    choices : tuple
        What it may be; of "text" the names that are known; of "other" what it may be besides.
    is_whole : bool
        Takes whole numbers only.
    of, count : Form, int
        Of a list: what its entries are, and how many.
    example : object
        One that is accepted, as the file would have it; None where that hangs on the scene.
    """

    kind: FormKind
    low: float | None = None
    high: float | None = None
    unit: str = ""
    choices: tuple[Any, ...] = ()
    is_whole: bool = False
    of: "Form | None" = None
    count: int = 0
    example: Any = None

    def read(self, typed: str, known: object = None) -> Value:
        """The value that somebody means who types this; a length stays as typed where none was `known`.

        Raises
        ------
        ValueError
            If it is nothing of this form; whether it is within bounds is left to the check of the scene.
        """
        typed = typed.strip()
        named = {_shown(choice): choice for choice in self.choices}
        named |= {word: on for word, on in (("yes", True), ("no", False)) if on in self.choices}
        if typed in named:
            choice: Value = named[typed]
            return choice
        if self.kind == "length":
            bare = _number(typed)
            if bare is not None:
                return bare
            metres = parse_length(typed)
            return typed if known is None else metres
        if self.kind == "number":
            number = _number(typed)
            if number is None:
                raise ValueError(f'"{typed}" is no number, for example {_shown(self.example)}')
            return int(number) if self.is_whole and number == int(number) else number
        if self.kind == "other":
            other: Value = _as_toml(typed)
            return other
        return typed


@dataclass(frozen=True)
class Key:
    """One key that a scene has or may have.

    Attributes
    ----------
    path : tuple
        Where it stands or would stand, entries of lists from 0.
    label : str
        What it is called, in words.
    form : Form
    value : object
        As the file has it; None where it is not given.
    usual : object
        What holds where it is not given; None for nothing.
    is_required : bool
    help : str
        What it says, where its class tells more than its name does.
    table : mapping or None
        What has to be given along with it, where its table is not there yet.
    """

    path: KeyPath
    label: str
    form: Form
    value: Any = None
    usual: Any = None
    is_required: bool = False
    help: str = ""
    table: Mapping[str, Any] | None = None


def keys_at(scene: Scene, path: KeyPath, *, surfaces: Iterable[str] = ()) -> tuple[Key, ...]:
    """Keys of one table of a scene: those that are given, and those that could be.

    Parameters
    ----------
    scene : Scene
    path : tuple
        The table: `("room",)`, `("speakers", 0)`, `("builds", "slab")`; `()` for keys of no table.
    surfaces : iterable of str
        Names of the surfaces of the room.

    Returns
    -------
    tuple of Key
        In the sequence of the table's class. A key that the other values of the table rule out is left out.
    """
    known = _known_names(scene, tuple(surfaces))
    found = _value_at(scene.document, path)
    given = found if isinstance(found, dict) else {}
    if path == ("surfaces",):
        return _named_keys(path, given, ("default", *surfaces), Form("text", choices=known["materials"]))
    if path in (("prices",), ("stock",)):
        form = _form_of(PRICES.read if path == ("prices",) else STOCK.read)
        return _named_keys(path, given, _builds_used(scene), form)
    if path == ("limits",):
        return _limit_keys(given)
    table = _value_at(scene, path)
    if not isinstance(table, Table):
        raise ValueError(f"a scene has no table at {path}")
    keys = []
    for own, field in type(table).model_fields.items():
        if path or own == "title":
            keys += _keys_of_field((*path, own), field, (table, given), known)
    return tuple(keys)


def _keys_of_field(
    path: KeyPath, field: FieldInfo, owner: tuple[Table, dict[str, Any]], known: Mapping[str, tuple[str, ...]]
) -> list[Key]:
    """The key of a field; the keys of the table below it, where it takes nothing else."""
    (table, given), own = owner, str(path[-1])
    below = [part for part in _parts(field.annotation) if isinstance(part, type) and issubclass(part, Table)]
    value = getattr(table, own)
    inner = type(value) if isinstance(value, Table) else None
    if len(below) == 1 and _parts(field.annotation) <= {below[0], NoneType}:
        inner = below[0]
        if own not in given and not _applies(table, given, own, _examples(inner, known)):
            return []
    keys = []
    if inner is None or len(below) > 1 or not _parts(field.annotation) <= {inner, NoneType}:
        form = _with_names(_field_form(field), own, known)
        if own in given or field.is_required() or _applies(table, given, own, form.example):
            usual = None if field.is_required() else field.get_default()
            is_needed = field.is_required()
            label = own.replace("_", " ")
            keys.append(
                Key(path, label, form, given.get(own), _plain(usual), is_needed, _help(type(table), own))
            )
    if inner is not None and (own not in given or isinstance(given[own], dict)):
        inside = value if isinstance(value, Table) else None
        keys += _inner_keys(path, inner, (inside, given.get(own)), known)
    return keys


def _inner_keys(
    path: KeyPath, inner: type[Table], owner: tuple[Table | None, Any], known: Mapping[str, tuple[str, ...]]
) -> list[Key]:
    """Keys of a table in a table, which may not be there yet."""
    (table, given), outer = owner, str(path[-1]).replace("_", " ")
    keys = []
    for own, field in inner.model_fields.items():
        form = _with_names(_field_form(field), own, known)
        value = given.get(own) if isinstance(given, dict) else None
        usual = None if field.is_required() else _plain(field.get_default())
        keys.append(
            Key(
                (*path, own),
                f"{outer}: {own.replace('_', ' ')}",
                form,
                value,
                usual,
                field.is_required() and table is not None,
                _help(inner, own) or _first_line(inner),
                None if isinstance(given, dict) else _examples(inner, known),
            )
        )
    return keys


def put_key(text: str, key: Key, value: Value, *, path: str = "scene.toml") -> str:
    """The text of a scene with a value at one of its keys, and with what has to be given along with it.

    Raises
    ------
    ValueError
        If the key's table takes no more keys where it stands.
    SceneError
        If the text is not TOML.
    """
    if key.table is None:
        return put_in_text(text, key.path, value, path=path)
    return put_in_text(text, key.path[:-1], {**key.table, str(key.path[-1]): value}, path=path)


def _limit_keys(given: dict[str, Any]) -> tuple[Key, ...]:
    """A standard, or own numbers: all of these at once."""
    own = {key: _field_form(field) for key, field in OwnLimits.model_fields.items()}
    forms = {"standard": Form("choice", choices=tuple(STANDARDS)), **own}
    numbers = {key: form.example for key, form in own.items()}
    keys = []
    for key, form in forms.items():
        is_standard = key == "standard"
        if key in given or not given or is_standard == ("standard" in given):
            table = None if given or is_standard else numbers
            usual = read_limits({}).name if is_standard else None
            keys.append(
                Key(
                    ("limits", key),
                    key.replace("_", " "),
                    form,
                    given.get(key),
                    usual,
                    False,
                    _help(OwnLimits, key),
                    table,
                )
            )
    return tuple(keys)


def _named_keys(path: KeyPath, given: dict[str, Any], names: Sequence[str], form: Form) -> tuple[Key, ...]:
    every = dict.fromkeys([*names, *given])
    usual = given.get("default")
    return tuple(
        Key(
            (*path, own),
            own,
            form,
            given.get(own),
            None if own == "default" else usual,
            help=NAMED_HELP[str(path[0])],
        )
        for own in every
    )


def _builds_used(scene: Scene) -> tuple[str, ...]:
    used = [entry.build for kind in (scene.panels, scene.stands, scene.clouds) for entry in kind]
    return tuple(dict.fromkeys([*used, *scene.builds]))


def _known_names(scene: Scene, surfaces: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    return {
        "surfaces": surfaces,
        "materials": (*scene.materials, *load_library()),
        "builds": scene.known_builds,
        "covers": tuple(scene.known_covers),
    }


def _value_at(value: Any, path: KeyPath) -> Any:
    """What stands at a key path of a scene or of its document; None for nothing."""
    for part in path:
        if isinstance(value, dict):
            value = value.get(part)
        elif isinstance(value, tuple | list):
            value = value[part] if isinstance(part, int) and 0 <= part < len(value) else None
        else:
            value = getattr(value, str(part), None)
    return value


def _applies(table: Table, given: dict[str, Any], own: str, example: Any) -> bool:
    """Whether a table with these values takes a key: none of its rules points at a key that is too much."""
    if example is None:
        return True
    try:
        type(table).model_validate({**given, own: example})
    except ValidationError as problem:
        return all(at != "key" for _, _, at in problems(problem))
    return True


def _examples(inner: type[Table], known: Mapping[str, tuple[str, ...]]) -> dict[str, Any]:
    """Values of all keys that a table needs."""
    made = {}
    for own, field in inner.model_fields.items():
        if field.is_required():
            form = _with_names(_field_form(field), own, known)
            made[own] = form.choices[0] if form.kind == "text" and form.choices else form.example
    return made


def _with_names(form: Form, own: str, known: Mapping[str, tuple[str, ...]]) -> Form:
    """Of a key that names something: the names there are."""
    if form.kind == "text" and own in _NAMED_BY:
        return replace(form, choices=known[_NAMED_BY[own]])
    return form


def _field_form(field: FieldInfo) -> Form:
    optional = [part for part in get_args(field.annotation) if get_origin(part) is Annotated]
    told = [*field.metadata, *(entry for part in optional for entry in get_args(part)[1:])]
    readers = [entry.func for entry in told if isinstance(entry, PlainValidator)]
    form = _form_of(readers[0]) if readers else Form("other")
    if form.kind != "other":
        return form
    parts = _parts(field.annotation) - {NoneType}
    words = tuple(w for part in parts if get_origin(part) is Literal for w in get_args(part))
    if bool in parts:
        words = (*words, True, False)
    is_choice = all(get_origin(part) is Literal or part is bool for part in parts)
    example = form.example if form.example is not None or not words else words[0]
    return Form("choice" if is_choice and words else "other", choices=words, example=example)


def _form_of(read: Any) -> Form:
    """What a reader of values takes."""
    if isinstance(read, Length):
        return Form("length", read.low, read.high, "m", example=_as_toml(read.example))
    if isinstance(read, Number):
        return Form("number", read.low, read.high, read.unit, example=_as_toml(read.example))
    if isinstance(read, Whole):
        return Form("number", read.low, read.high, is_whole=True, example=read.low)
    if isinstance(read, Choice):
        return Form("choice", choices=read.names, example=read.names[0])
    if isinstance(read, ListOf):
        example = _as_toml(read.example)
        of = _form_of(read.read)
        if read.exactly is not None and read.exactly <= _MOST_FIELDS and of.kind in ("length", "number"):
            return Form("list", of=of, count=read.exactly, example=example)
        return Form("other", example=example)
    if read is yes_or_no:
        return Form("choice", choices=(True, False), example=True)
    with contextlib.suppress(Wrong):
        if read is name or read("x") == "x":
            return Form("text", example="x")
    return Form("other")


def _parts(annotation: Any) -> set[Any]:
    """The alternatives of a type."""
    if get_origin(annotation) in (Union, UnionType):
        return {part for own in get_args(annotation) for part in _parts(own)}
    return _parts(get_args(annotation)[0]) if get_origin(annotation) is Annotated else {annotation}


def _plain(value: Any) -> Any:
    """A usual value as a file would have it."""
    if isinstance(value, Table):
        return None
    return list(value) if isinstance(value, tuple) else value


def _number(typed: str) -> float | None:
    try:
        return float(typed)
    except ValueError:
        return None


def _as_toml(typed: str) -> Any:
    """What TOML makes of a value; a text that is none as it stands."""
    try:
        return tomllib.loads(f"value = {typed}")["value"]
    except tomllib.TOMLDecodeError:
        if any(sign in typed for sign in "[]{}\"'="):
            raise ValueError(f"not readable as TOML: {typed}") from None
        return typed


def _shown(value: Any) -> str:
    """A value in a form: texts without quotes."""
    return value if isinstance(value, str) else toml_of(value)


def _help(table: type[Table], own: str) -> str:
    """What stands below a field of a class, else what `keyhelp.toml` says of it there or of its key."""
    for owner in table.__mro__:
        below = _texts_below(owner.__module__).get((owner.__name__, own))
        told = below or _helps().get(owner.__name__, {}).get(own)
        if told:
            return str(told)
    return str(_helps().get(own, ""))


@cache
def _helps() -> dict[str, Any]:
    return tomllib.loads((Path(__file__).parent / "keyhelp.toml").read_text(encoding="utf-8"))


def _first_line(table: type[Table]) -> str:
    return (table.__doc__ or "").split("\n")[0]


@cache
def _texts_below(module: str) -> dict[tuple[str, str], str]:
    """Texts that stand below the fields of a module's classes, on one line each."""
    try:
        tree = ast.parse(inspect.getsource(sys.modules[module]))
    except (OSError, TypeError, KeyError):
        return {}  # a program without its sources
    told = {}
    for made in (node for node in tree.body if isinstance(node, ast.ClassDef)):
        for field, below in zip(made.body, made.body[1:], strict=False):
            is_text = isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant)
            if is_text and isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                words = str(below.value.value)  # type: ignore[attr-defined]  # it is an expression, see above
                # Fields show units of their own, metres or not.
                told[made.name, field.target.id] = re.sub(r"\.? ?\[m\]", "", " ".join(words.split()))
    return told

"""Edits of a scene file's text: single values replaced in place, every other byte left as it was."""

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, NamedTuple

from raytrace.scene.rewriting import EditedText, Value, decimal, key_of, toml_of
from raytrace.scene.text import KeyPath, key_text
from raytrace.scene.units import parse_length

Movable = Literal["speakers", "seats", "objects", "panels", "stands", "clouds"]

_PLACES = {
    "speakers": "position",
    "seats": "ears",
    "objects": "centre",
    "panels": "centre",
    "stands": "at",
    "clouds": "centre",
}
_INCH_PARTS = 32  # what an inch tape shows
_ONE_UNIT = re.compile(r"[-\s]*[\d.]+(?P<gap>\s*)(?P<unit>mm|cm|m)\s*", re.IGNORECASE)
_FEET = re.compile(r"\d(?P<sign>\s*(?:ft|['′’]))", re.IGNORECASE)
_INCHES = re.compile(r"\d(?P<sign>\s*(?:in|[\"″”]))", re.IGNORECASE)
_METRES = {"mm": 1000, "cm": 100, "m": 1}


def place_of(text: str, kind: Movable, index: int, *, path: str | Path = "scene.toml") -> tuple[float, ...]:
    """Where an entry of a scene's text stands: what `move_in_text` writes.

    Parameters
    ----------
    text : str
        A scene file.
    kind, index : str, int
        The list and the entry in it, counted from 0.
    path : str or Path
        The file's name in messages.

    Returns
    -------
    tuple of float
        Position, ears, centre or foot, or a mesh object's move; of a cloud laid out panel by panel the
        mean of their centres. [m]
    """
    return _find_place(EditedText(text, path), kind, index).values


def move_in_text(
    text: str,
    kind: Movable,
    index: int,
    values: Sequence[float],
    *,
    path: str | Path = "scene.toml",
) -> str:
    """The text of a scene with one of its entries somewhere else.

    Parameters
    ----------
    text : str
        A scene file.
    kind, index : str, int
        The list and the entry in it, counted from 0.
    values : sequence of float
        The new `place_of` the entry, as many numbers as it has. [m]
    path : str or Path
        The file's name in messages.

    Returns
    -------
    str
        Comments, order and line ends as before. Each number keeps its way of being written and is rounded
        to the millimetre, in feet and inches to 1/32 inch; one that has not changed stays untouched.

    Raises
    ------
    ValueError
        If there is no such entry, or it has another number of coordinates.
    SceneError
        If the text is not TOML.
    """
    document = EditedText(text, path)
    place = _find_place(document, kind, index)
    if len(values) != len(place.values):
        raise ValueError(f"{kind}[{index + 1}] has {len(place.values)} coordinates, not {len(values)}")
    shift = [float(new) - old for new, old in zip(values, place.values, strict=True)]
    if not any(abs(step) > 1e-9 for step in shift):  # far below a micrometre nothing has moved
        return text
    if place.is_missing:
        return document.with_new(place.keys[0], toml_of([_round_mm(float(value)) for value in values]))
    changes = []
    for key in place.keys:
        for axis, step in enumerate(shift):
            if abs(step) > 1e-9:
                raw = document.raw((*key, axis))
                # Of several that move together each keeps its distance from the others.
                moved_m = float(values[axis]) if len(place.keys) == 1 else _length(raw) + _round_mm(step)
                changes.append(((*key, axis), _like(raw, moved_m if _is_inches(raw) else _round_mm(moved_m))))
    return document.with_changes(changes)


def set_in_text(text: str, key: KeyPath, value: Value, *, path: str | Path = "scene.toml") -> str:
    """The text of a scene with one value changed or added.

    Parameters
    ----------
    text : str
        A scene file.
    key : tuple
        Key path, list entries counted from 0: `("seats", 0, "zone")`.
    value : bool, int, float, str or sequence
        A number in place of a text with a unit is a length [m] and keeps that unit; a text is written as
        it is. A missing key joins its table; a missing table goes to the end of the file.
    path : str or Path
        The file's name in messages.

    Returns
    -------
    str
        Comments, order and line ends as before.

    Raises
    ------
    ValueError
        If there is nothing at `key` that the value could stand for.
    SceneError
        If the text is not TOML.
    """
    document = _document(text, path)
    if key not in document.file.marks:
        return document.with_new(key, toml_of(value))
    return document.with_changes(_changes(document, key, value))


@lru_cache(maxsize=2)
def _document(text: str, path: str | Path) -> EditedText:
    """A text read once where it is changed in many ways, one by one."""
    return EditedText(text, path)


def rename_keys_in_text(text: str, names: Mapping[KeyPath, str], *, path: str | Path = "scene.toml") -> str:
    """The text of a scene with some keys renamed, all at once, so that two may change places.

    Parameters
    ----------
    text : str
        A scene file.
    names : mapping
        Key path -> the new name of its last part.
    path : str or Path
        The file's name in messages.

    Raises
    ------
    ValueError
        If there is no such key.
    SceneError
        If the text is not TOML.
    """
    document = EditedText(text, path)
    missing = [key for key in names if key not in document.file.marks]
    if missing:
        raise ValueError(f"there is no {key_text(missing[0])}")
    return document.with_spans((document.file.marks[key].key, key_of(name)) for key, name in names.items())


def _changes(document: EditedText, key: KeyPath, value: Value) -> Iterable[tuple[KeyPath, str]]:
    found = document.value(key)
    if isinstance(found, dict) or (isinstance(found, list) and any(isinstance(v, dict) for v in found)):
        raise ValueError(f"{key_text(key)} is a table: set the values in it")
    if isinstance(found, list):
        if isinstance(value, str) or not isinstance(value, Sequence) or len(value) != len(found):
            raise ValueError(f"{key_text(key)} is a list of {len(found)}")
        for index, part in enumerate(value):
            yield from _changes(document, (*key, index), part)
        return
    raw = document.raw(key)
    number = value if isinstance(value, int | float) and not isinstance(value, bool) else None
    if number is not None and isinstance(found, str) and _is_length(found):
        if abs(_length(raw) - number) > 1e-9:
            yield key, _like(raw, number)
    elif isinstance(found, bool) is not isinstance(value, bool) or found != value:
        yield key, toml_of(value)


class _Place(NamedTuple):
    """The key paths that say where an entry stands, where that is [m], and whether the file leaves it out."""

    keys: tuple[KeyPath, ...]
    values: tuple[float, ...]
    is_missing: bool


def _find_place(document: EditedText, kind: Movable, index: int) -> _Place:
    entries = document.file.table.get(kind, [])
    is_there = kind in _PLACES and isinstance(entries, list) and 0 <= index < len(entries)
    if not is_there or not isinstance(entries[index], dict):
        raise ValueError(f"the scene has no {kind}[{index + 1}]")
    entry = entries[index]
    name = "move" if kind == "objects" and entry.get("shape") == "mesh" else _PLACES[kind]
    if name == "move" and "move" not in entry:
        return _Place(((kind, index, "move"),), (0.0, 0.0, 0.0), is_missing=True)
    keys: tuple[KeyPath, ...] = ((kind, index, name),)
    if kind == "clouds" and "panels" in entry:
        keys = tuple((kind, index, "panels", n, "centre") for n in range(len(entry["panels"])))
    if any((*key, 0) not in document.file.marks for key in keys):
        raise ValueError(f"{kind}[{index + 1}] does not say where it stands")
    spots = [[_length(document.raw(part)) for part in document.parts(key)] for key in keys]
    return _Place(
        keys, tuple(sum(column) / len(spots) for column in zip(*spots, strict=True)), is_missing=False
    )


def _read(raw: str) -> Any:
    return tomllib.loads(f"value = {raw}")["value"]


def _length(raw: str) -> float:
    return parse_length(_read(raw))


def _is_length(text: str) -> bool:
    try:
        parse_length(text)
    except ValueError:
        return False
    return True


def _is_inches(raw: str) -> bool:
    old = _read(raw)
    return isinstance(old, str) and not _ONE_UNIT.fullmatch(old)


def _round_mm(metres: float) -> float:
    return round(metres, 3) + 0.0  # + 0.0 turns -0.0 into 0.0


def _like(raw: str, metres: float) -> str:
    """A length written the way `raw` is: bare metres, or text with its unit, signs and blanks."""
    old = _read(raw)
    if not isinstance(old, str):
        decimals = len(raw.partition(".")[2]) if re.fullmatch(r"[-+]?\d+(\.\d+)?", raw) else 1
        return decimal(metres, decimals)
    if match := _ONE_UNIT.fullmatch(old):
        number = decimal(metres * _METRES[match["unit"].lower()], 0)
        text = f"{number}{match['gap']}{match['unit']}"
    else:
        text = _feet_and_inches(old, metres)
    quote = raw[0] if raw[:3] not in ('"""', "'''") else '"'
    return f"'{text}'" if quote == "'" and "'" not in text else toml_of(text)


def _feet_and_inches(old: str, metres: float) -> str:
    """A length to 1/32 inch, with feet and inches or one of them, as `old` has them."""
    feet_sign, inch_sign = (m["sign"] if (m := sign.search(old)) else None for sign in (_FEET, _INCHES))
    parts = round(Fraction(abs(metres)) / Fraction(254, 10000) * _INCH_PARTS)
    feet, parts = divmod(parts, 12 * _INCH_PARTS) if feet_sign else (0, parts)
    whole, rest = divmod(parts, _INCH_PARTS)
    inches = f"{whole} {Fraction(rest, _INCH_PARTS)}" if rest else f"{whole}"
    if rest and not whole:
        inches = f"{Fraction(rest, _INCH_PARTS)}"
    words = [f"{feet}{feet_sign}"] if feet and feet_sign else []
    if parts or inch_sign or not words:
        words.append(f"{inches}{inch_sign or (' in' if 'ft' in old.lower() else chr(34))}")
    return ("-" if metres < 0.0 and (feet or parts) else "") + " ".join(words)

"""Whole entries of a scene file's text: put in, taken out, renamed; and texts that were typed over."""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from raytrace.scene.edits import set_in_text
from raytrace.scene.rewriting import EditedText, Value, key_of, toml_of
from raytrace.scene.text import KeyPath, plain_text

LISTS = (
    "openings",
    "objects",
    "speakers",
    "seats",
    "keep_outs",
    "joists",
    "panels",
    "stands",
    "clouds",
)
"""Lists of tables of a scene in the sequence in which a file has them."""

_NAMED = ("materials", "builds", "covers")
_FACES = re.compile(r"top|bottom|front|back|left|right|\d+")


def add_in_text(text: str, kind: str, entry: Mapping[str, Value], *, path: str | Path = "scene.toml") -> str:
    """The text of a scene with an entry more in one of its lists.

    Parameters
    ----------
    text : str
        A scene file.
    kind : str
        One of `LISTS`.
    entry : mapping
        Keys and values as the file is to have them: numbers are metres, texts may be lengths with a unit.
    path : str or Path
        The file's name in messages.

    Returns
    -------
    str
        The entry stands behind the last of its list, else behind the lists that come before it.

    Raises
    ------
    SceneError
        If the text is not TOML.
    """
    lines = [f"{key_of(key)} = {toml_of(value)}" for key, value in entry.items()]
    return EditedText(text, path).with_table(kind, lines, LISTS[: LISTS.index(kind)])


def remove_in_text(text: str, key: KeyPath, *, path: str | Path = "scene.toml") -> str:
    """The text of a scene without a key or an entry, and without the remarks right at it.

    Raises
    ------
    ValueError
        If there is no such key.
    SceneError
        If the text is not TOML.
    """
    return EditedText(text, path).without(key)


def put_in_text(text: str, key: KeyPath, value: Value, *, path: str | Path = "scene.toml") -> str:
    """The text of a scene with a value of any form at a key; what was there may have had another form.

    A length keeps its way of being written where its key had one before; see `set_in_text`.

    Raises
    ------
    ValueError
        If the key's table takes no more keys where it stands.
    SceneError
        If the text is not TOML.
    """
    document = EditedText(text, path)
    if key not in document.file.marks:
        return document.with_new(key, toml_of(value))
    found = document.value(key)
    if not _has_tables(found) and not _has_tables(value):
        n_found, n_new = (len(own) if isinstance(own, list | tuple) else -1 for own in (found, value))
        if n_found == n_new:
            return set_in_text(text, key, value, path=path)
    if document.raw(key).startswith("{") or not isinstance(found, dict):
        return document.with_changes([(key, toml_of(value))])
    return EditedText(document.without(key), path).with_new(key, toml_of(value))


def _has_tables(value: object) -> bool:
    """Whether a value is a table or a list that holds lists or tables."""
    return isinstance(value, dict) or (
        isinstance(value, list | tuple) and any(isinstance(part, dict | list | tuple) for part in value)
    )


def rename_in_text(text: str, key: KeyPath, name: str, *, path: str | Path = "scene.toml") -> str:
    """The text of a scene with an entry called otherwise, wherever its faces are named as well.

    Parameters
    ----------
    text : str
        A scene file.
    key : tuple
        The entry: `("objects", 0)`.
    name : str
        What it is called from now on.
    path : str or Path
        The file's name in messages.

    Returns
    -------
    str

    Raises
    ------
    SceneError
        If the text is not TOML.
    """
    document = EditedText(text, path)
    old = document.value(key)["name"]
    changes = [((*key, "name"), toml_of(name))]
    spans = [(document.file.marks[own].value, raw) for own, raw in changes]
    if key[0] == "objects":
        for own, told in _texts(document.file.table, ()):
            new = _face_renamed(told, old, name)
            if new is not None and own != (*key, "name") and own[-1] != "name":
                spans.append((document.file.marks[own].value, toml_of(new)))
        for told in document.file.table.get("surfaces", {}):
            new = _face_renamed(told, old, name)
            if new is not None:
                spans.append((document.file.marks[("surfaces", told)].key, key_of(new)))
    return document.with_spans(spans)


def _texts(value: object, key: KeyPath) -> Iterator[tuple[KeyPath, str]]:
    """Every text below a value, with its key path."""
    if isinstance(value, str):
        yield key, value
    elif isinstance(value, dict):
        for name, part in value.items():
            yield from _texts(part, (*key, name))
    elif isinstance(value, list):
        for index, part in enumerate(value):
            yield from _texts(part, (*key, index))


def _face_renamed(told: str, old: str, new: str) -> str | None:
    """The name of an object's face after the object has another name; None for any other text."""
    rest = told.removeprefix(f"{old} ")
    return f"{new} {rest}" if rest != told and _FACES.fullmatch(rest) else None


def entry_spans(text: str, *, path: str | Path = "scene.toml") -> dict[KeyPath, tuple[int, int]]:
    """Where the keys, tables and entries of lists of a scene stand in its plain text.

    Returns
    -------
    dict
        Key path, such as `("air",)` or `("seats", 0)`, to offsets of the first sign and of what comes after.

    Raises
    ------
    SceneError
        If the text is not TOML.
    """
    document = EditedText(text, path)
    keys: list[KeyPath] = []
    for name, value in document.file.table.items():
        if name in LISTS and isinstance(value, list):
            keys += [(name, index) for index in range(len(value))]
        elif name in _NAMED and isinstance(value, dict):
            keys += [(name, own) for own in value]
        else:
            keys.append((name,))
    spans = {key: document.span_of(key) for key in keys}
    return {key: span for key, span in spans.items() if span is not None}


def retyped(text: str, typed: str) -> str:
    r"""The exact text of a scene after its plain text was typed over.

    Parameters
    ----------
    text : str
        A scene file, with its byte order mark and line ends.
    typed : str
        What its `plain_text` has become.

    Returns
    -------
    str
        Byte order mark and line ends as before; new lines end as the file's others do.

    Examples
    --------
    >>> retyped("a = 1\r\nb = 2\r\n", "a = 1\nc = 3\nb = 2\n")
    'a = 1\r\nc = 3\r\nb = 2\r\n'
    """
    old = plain_text(text)
    first = _n_alike(old, typed)
    last = _n_alike(old[first:][::-1], typed[first:][::-1])
    new = typed[first : len(typed) - last]
    if "\r\n" in text:
        new = new.replace("\n", "\r\n")
    return text[: _exact(text, first)] + new + text[_exact(text, len(old) - last) :]


def _n_alike(one: str, other: str) -> int:
    """How many signs two texts begin with that are the same."""
    differs = (i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b)
    return next(differs, min(len(one), len(other)))


def _exact(text: str, plain: int) -> int:
    """The place in an exact text of a place in its plain one."""
    lead = len(text) - len(text.removeprefix("\ufeff"))
    at = lead + plain
    for found in re.finditer("\r\n", text):
        if found.start() >= at:
            break
        at += 1
    return at

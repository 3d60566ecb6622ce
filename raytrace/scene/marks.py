"""Where every key path of a TOML document stands in its text; tomllib itself keeps no places."""

import re
import tomllib
from typing import NamedTuple

from raytrace.scene.textlimits import STRING


class Mark(NamedTuple):
    """Offsets (first, one past the last) of a key and its value, the same for headers and list entries."""

    key: tuple[int, int]
    value: tuple[int, int]


_BLANK = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_KEY_PART = re.compile(r"\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'|[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]+")

Path = tuple[str | int, ...]


def find_marks(text: str) -> dict[Path, Mark]:
    r"""Mark of every key path of a document that tomllib accepts.

    Parameters
    ----------
    text : str
        TOML with "\n" line ends, already known to be valid.

    Returns
    -------
    dict
        Key path (keys as str, list entries as int from 0) -> `Mark`, headers of tables included.
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.marks


def find_headers(text: str) -> list[tuple[Path, int]]:
    r"""Key path and offset of every [header] and [[header]], in the sequence of the text; as `find_marks`."""
    scanner = _Scanner(text)
    scanner.document()
    return scanner.headers


class _Scanner:
    """A walk along valid TOML that notes places and skips all else."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.marks: dict[Path, Mark] = {}
        self.headers: list[tuple[Path, int]] = []
        self.entries: dict[Path, int] = {}  # number of [[headers]] seen so far, by path of their list

    def document(self) -> None:
        table: Path = ()
        self._skip(_GAP)
        while self.at < len(self.text):
            if self.text.startswith("[[", self.at):
                table = self._list_header()
            elif self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip(_GAP)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        assert match is not None, f"tomllib accepted what the marks cannot follow at offset {self.at}"
        self.at = match.end()
        return match[0]

    def _header(self) -> Path:
        start = self.at
        self.at += 1
        parts = self._key()
        self.at = self.text.index("]", self.at) + 1
        path = self._enter((), parts, (start, self.at))
        self.marks[path] = Mark((start, self.at), (start, self.at))
        self.headers.append((path, start))
        return path

    def _list_header(self) -> Path:
        start = self.at
        self.at += 2
        parts = self._key()
        self.at = self.text.index("]]", self.at) + 2
        span = (start, self.at)
        path = (*self._enter((), parts[:-1], span), parts[-1][0])
        self.marks.setdefault(path, Mark(span, span))
        self.entries[path] = self.entries.get(path, 0) + 1
        entry = (*path, self.entries[path] - 1)
        self.marks[entry] = Mark(span, span)
        self.headers.append((entry, start))
        return entry

    def _key(self) -> list[tuple[str, tuple[int, int]]]:
        """The parts of a dotted key, each with its own span."""
        parts = []
        while True:
            self._skip(_BLANK)
            start = self.at
            raw = self._skip(_KEY_PART)
            name = next(iter(tomllib.loads(f"{raw}=0"))) if raw[0] in "\"'" else raw
            parts.append((name, (start, self.at)))
            self._skip(_BLANK)
            if not self.text.startswith(".", self.at):
                return parts
            self.at += 1

    def _enter(
        self, path: Path, parts: list[tuple[str, tuple[int, int]]], span: tuple[int, int] | None = None
    ) -> Path:
        """The path below `path` that `parts` name; of a list of tables its last entry is meant."""
        for name, own_span in parts:
            path = (*path, name)
            self.marks.setdefault(path, Mark(own_span, span or own_span))
            if path in self.entries:
                path = (*path, self.entries[path] - 1)
        return path

    def _pair(self, table: Path) -> None:
        parts = self._key()
        self.at += 1
        self._skip(_BLANK)
        start = self.at
        *outer, (name, key_span) = parts
        path = (*self._enter(table, outer), name)
        self._value(path)
        self.marks[path] = Mark(key_span, (start, self.at))

    def _value(self, path: Path) -> None:
        first = self.text[self.at]
        if first == "[":
            self._list(path)
        elif first == "{":
            self._inline_table(path)
        elif first in "\"'":
            self._skip(STRING)
        else:
            scalar = self._skip(_SCALAR)
            self.at -= len(scalar) - len(scalar.rstrip())

    def _list(self, path: Path) -> None:
        self.at += 1
        self._skip(_GAP)
        index = 0
        while self.text[self.at] != "]":
            start = self.at
            self._value((*path, index))
            self.marks[(*path, index)] = Mark((start, self.at), (start, self.at))
            index += 1
            self._skip(_GAP)
            if self.text[self.at] == ",":
                self.at += 1
                self._skip(_GAP)
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        self._skip(_GAP)
        while self.text[self.at] != "}":
            self._pair(path)
            self._skip(_GAP)
            if self.text[self.at] == ",":
                self.at += 1
                self._skip(_GAP)
        self.at += 1

"""Scene file text: TOML, the place of every key in it, and the one form of error message."""

import json
import os
import re
import tomllib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from raytrace.facts import plain
from raytrace.scene.marks import Mark, find_marks
from raytrace.scene.naming import nearest_name, quoted_list
from raytrace.scene.textlimits import MOST_BYTES, why_unreadable

KeyPath = tuple[str | int, ...]

_LONGEST_LINE = 100
_LONGEST_KEY = 60


class SceneError(Exception):
    """A mistake in a scene file; `str(error)` is the whole message for its author.

    Attributes
    ----------
    path : Path or None
        The file, as it was named by the caller.
    line, column : int
        Where the mistake stands, both counted from 1; 0 where the file could not be read at all.
    at : tuple of str and int
        The key that is wrong, list entries counted from 0; () where none is.
    key : str
        The same as people write it, entries counted from 1 ("speakers[2].position").
    why : str
        What is wrong, without the place where it stands.
    """

    def __init__(
        self,
        text: str,
        *,
        path: Path | None = None,
        line: int = 0,
        column: int = 0,
        at: KeyPath = (),
        why: str = "",
    ) -> None:
        super().__init__(plain(text, keep="\n\t"))
        self.why = plain(why or text, keep="\n\t")
        self.path = path
        self.line = line
        self.column = column
        self.at = at
        self.key = key_text(at)


@dataclass(frozen=True)
class SceneFile:
    r"""One TOML document with the place of every key path in its text.

    Attributes
    ----------
    path : Path
        The file, as it was named by the caller.
    text : str
        The whole text, line ends made "\n".
    table : dict
        The document as tomllib reads it.
    """

    path: Path
    text: str
    table: dict[str, Any]

    @cached_property
    def marks(self) -> Mapping[KeyPath, Mark]:
        """Character offsets of key and value by key path; list entries by their index from 0."""
        return find_marks(self.text)

    def span(self, key: KeyPath, *, at: Literal["key", "value"] = "value") -> tuple[int, int]:
        """Offsets that a message about `key` points at; those of what should hold it, if it is missing."""
        for length in range(len(key), 0, -1):
            mark = self.marks.get(key[:length])
            if mark is not None:
                return mark.key if at == "key" and length == len(key) else mark.value
        return (0, 0)

    def where(self, key: KeyPath, *, at: Literal["key", "value"] = "value") -> tuple[int, int]:
        """Line and column of a key path, both counted from 1."""
        return _line_and_column(self.text, self.span(key, at=at)[0])

    def error(self, key: KeyPath, message: str, *, at: Literal["key", "value"] = "value") -> SceneError:
        """The error that says `message` about `key`, pointing into the text."""
        return _error_at(self.path, self.text, self.span(key, at=at), key, message)


def read_scene_file(path: str | Path, text: str | None = None) -> SceneFile:
    """The document of a scene file.

    Parameters
    ----------
    path : str or Path
        A TOML file in UTF-8.
    text : str, optional
        What stands in the file; taken instead of reading it, so the file need not be there.

    Returns
    -------
    SceneFile
        Parsed, not yet checked.

    Raises
    ------
    SceneError
        If the file is missing, a folder, empty, over 2 MB, not UTF-8 or not TOML.
    """
    path = Path(path)
    text = plain_text(read_scene_text(path) if text is None else text)
    if len(text) > MOST_BYTES:
        raise SceneError(f"{path}: {_too_large(len(text))}", path=path)
    if not text.strip():
        raise _error_at(path, text, (0, 0), (), f"the file is empty; {_START_HINT}")
    refusal = why_unreadable(text)
    if refusal is not None:
        raise _error_at(path, text, (refusal.at, refusal.at + 1), (), refusal.why)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise _syntax_error(path, text, str(problem)) from None
    if not table:
        raise _error_at(path, text, (0, 0), (), f"the file holds no scene; {_START_HINT}")
    return SceneFile(path, text, table)


def read_scene_text(path: str | Path) -> str:
    """The text of a scene file to the last byte: line ends as they are, a byte order mark included.

    Raises
    ------
    SceneError
        If the file is missing, a folder, over 2 MB or not UTF-8.
    """
    path = Path(path)
    raw = _read_bytes(path)
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as problem:
        raise _encoding_error(path, raw, problem) from None


def plain_text(text: str) -> str:
    r"""The text as `SceneFile.text` holds it: without a byte order mark, line ends made "\n"."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n")


def key_text(key: KeyPath) -> str:
    """A key path as people write it; list entries count from 1.

    Examples
    --------
    >>> key_text(("speakers", 1, "position")), key_text(("surfaces", "left wall"))
    ('speakers[2].position', 'surfaces."left wall"')
    """
    parts = []
    for part in key:
        if isinstance(part, int):
            parts.append(f"[{part + 1}]")
        else:
            part = part if len(part) <= _LONGEST_KEY else f"{part[:_LONGEST_KEY]}..."
            bare = re.fullmatch(r"[A-Za-z0-9_-]+", part)
            parts.append(f".{part if bare else json.dumps(part, ensure_ascii=False)}")
    return "".join(parts).removeprefix(".")


_START_HINT = '"hitspot new" writes one to start from'


def _read_bytes(path: Path) -> bytes:
    try:
        # One byte more than is accepted tells a file that is too large, of whatever size, without reading it.
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
            if len(raw) > MOST_BYTES:
                raise SceneError(f"{path}: {_too_large(os.fstat(stream.fileno()).st_size)}", path=path)
            return raw
    except FileNotFoundError:
        raise SceneError(f"{path}: {_missing_file(path)}", path=path) from None
    except IsADirectoryError:
        scenes = sorted(file.name for file in path.glob("*.toml"))
        inside = f"; scene files in it: {quoted_list(scenes[:8])}" if scenes else ""
        raise SceneError(f"{path}: a folder, not a scene file{inside}", path=path) from None
    except OSError as problem:
        raise SceneError(f"{path}: cannot be read: {problem.strerror}", path=path) from None


def _too_large(n_bytes: int) -> str:
    most = f"{MOST_BYTES / 1e6:g} MB"
    size = f"{n_bytes / 1e6:.1f} MB" if n_bytes > MOST_BYTES else f"over {most}"  # a device does not tell
    return f"{size}, no scene file; accepted: up to {most}"


def _missing_file(path: Path) -> str:
    if not path.parent.is_dir():
        return f'no such file; there is no folder "{path.parent}"'
    nearest = nearest_name(path.name, (file.name for file in path.parent.glob("*.toml")))
    if nearest is None:
        return f"no such file; {_START_HINT}"
    return f'no such file, did you mean "{path.with_name(nearest)}"?'


def _encoding_error(path: Path, raw: bytes, problem: UnicodeDecodeError) -> SceneError:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = raw.decode("utf-16", errors="replace")
        return _error_at(path, text, (0, 0), (), "the text is UTF-16, not UTF-8; save as UTF-8")
    # Every byte is one character of latin-1, so the offset of the byte is the offset in this text.
    text = raw.decode("latin-1")
    message = f"byte {raw[problem.start]:#04x} is not UTF-8; save as UTF-8"
    return _error_at(path, text, (problem.start, problem.start + 1), (), message)


def _syntax_error(path: Path, text: str, problem: str) -> SceneError:
    """A message of tomllib in our form, or the usual slips of the pen by name."""
    match = re.fullmatch(
        r"(?P<what>.*) \(at (?:line (\d+), column (\d+)|end of document)\)", problem, re.DOTALL
    )
    if match is None:
        return _error_at(path, text, (0, 0), (), f"not readable as TOML: {problem}")
    if match[2] is None:
        start = len(text.rstrip())
        start = max(start - 1, 0)
    else:
        line_starts = [0, *(found.end() for found in re.finditer("\n", text))]
        start = line_starts[min(int(match[2]), len(line_starts)) - 1] + int(match[3]) - 1
    line = text[text.rfind("\n", 0, start) + 1 :].split("\n", 1)[0]
    what = _open_quote(line) or next((hint for pattern, hint in _SLIPS if re.search(pattern, line)), None)
    if what is None:
        what = f"not readable as TOML: {match['what'][0].lower()}{match['what'][1:]}"
    return _error_at(path, text, (start, start + 1), (), what)


def _open_quote(line: str) -> str | None:
    """What is wrong with a line whose text is not closed: an odd number of double quotes before any note."""
    told = re.sub(r"\\.", "", line)
    unclosed = told.count('"') % 2 == 1 and '"""' not in told and "'" not in told
    return 'a quote is missing: text stands between two, "like this"' if unclosed else None


_SLIPS = (
    (r"=\s*-?\d+,\d+", 'write decimals with a point: 3.7, or "3.7 m"'),
    (r"[=,\[]\s*-?[\d.]+\s*(mm|cm|m|ft|in|')", 'a length with a unit stands in quotes: "2400 mm"'),
    (r"=\s*\"[^\"]*\d\s*\"\"", 'write feet and inches as "8 ft 6 in"'),
    (r"^\s*[\w-]+\s+[\w-]+.*=", 'a name with a space stands in quotes: "left wall" = "plasterboard"'),
    (r"=\s*[A-Za-z]", 'text stands in quotes: material = "plasterboard"'),
)


def _line_and_column(text: str, offset: int) -> tuple[int, int]:
    return text.count("\n", 0, offset) + 1, offset - text.rfind("\n", 0, offset)


def _error_at(path: Path, text: str, span: tuple[int, int], key: KeyPath, message: str) -> SceneError:
    line, column = _line_and_column(text, span[0])
    begin = span[0] - (column - 1)
    # What a terminal would obey instead of showing it takes one cell here, as it did in the text.
    raw = text[begin:].split("\n", 1)[0]
    shown = "".join(char if char.isprintable() or char == "\t" else "\ufffd" for char in raw)
    stop = max(min(span[1] - begin, len(shown)), column)
    first = max(0, min(column - 1 - 20, len(shown) - _LONGEST_LINE)) if len(shown) > _LONGEST_LINE else 0
    last = first + _LONGEST_LINE
    lead, tail = ("... " if first else ""), (" ..." if len(shown) > last else "")
    indent = " " * len(lead) + _blank(shown[first : column - 1])
    caret = "^" * max(1, _cells(shown[column - 1 : min(stop, last)]))
    what = f"{key_text(key)}: {message}" if key else message
    excerpt = f"{line:>5} | {lead}{shown[first:last]}{tail}\n      | {indent}{caret}"
    return SceneError(
        f"{path}:{line}:{column}: {what}\n{excerpt}",
        path=path,
        line=line,
        column=column,
        at=key,
        why=message,
    )


def _blank(text: str) -> str:
    """Blanks as wide as `text` on a terminal; tabs stay, so that they jump as far as in the line above."""
    return "".join("\t" if char == "\t" else " " * _cells(char) for char in text)


def _cells(text: str) -> int:
    """Cells of a terminal that `text` fills: wide characters two, combining ones none."""
    return sum(
        0 if unicodedata.combining(char) else 1 + (unicodedata.east_asian_width(char) in "WF")
        for char in text
    )

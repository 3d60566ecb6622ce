"""A scene's text beside the places of its keys: what is put in, replaced, taken out; the rest stays."""

import json
import math
import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any

from raytrace.scene.marks import Mark, find_headers
from raytrace.scene.text import KeyPath, SceneFile, key_text, plain_text, read_scene_file

Value = bool | int | float | str | Sequence["Value"] | Mapping[str, "Value"]

_COMMA = re.compile(r"(?:[ \t\n]|#[^\n]*)*,")


class EditedText:
    """A scene's text beside the form in which its marks are counted."""

    def __init__(self, text: str, path: str | Path) -> None:
        self.text = text
        self.file: SceneFile = read_scene_file(path, text)
        self._lead = len(text) - len(text.removeprefix("\ufeff"))
        body = text[self._lead :]
        self._returns = [m.start() - i for i, m in enumerate(re.finditer("\r\n", body))]
        assert len(plain_text(text)) + self._lead + len(self._returns) == len(text)

    def value(self, key: KeyPath) -> Any:
        """What tomllib reads at a key path."""
        found: Any = self.file.table
        for part in key:
            found = found[part]
        return found

    def parts(self, key: KeyPath) -> list[KeyPath]:
        """The key paths of a list's entries."""
        return [(*key, index) for index in range(len(self.value(key)))]

    def raw(self, key: KeyPath) -> str:
        """The characters of a value."""
        return self.file.text[slice(*self.file.marks[key].value)]

    def with_changes(self, changes: Iterable[tuple[KeyPath, str]]) -> str:
        """The text with the values at some key paths replaced."""
        return self.with_spans((self.file.marks[key].value, new) for key, new in changes)

    def with_spans(self, changes: Iterable[tuple[tuple[int, int], str]]) -> str:
        """The text with what stands between some offsets of the plain text replaced."""
        text = self.text
        for (start, stop), new in sorted(changes, reverse=True):
            text = text[: self._offset(start)] + new + text[self._offset(stop) :]
        return text

    def with_new(self, key: KeyPath, raw: str) -> str:
        """The text with a key more, after the last one of its table; `raw` is its value as TOML."""
        *outer, name = key
        parent = tuple(outer)
        mark = self.file.marks.get(parent)
        if not isinstance(name, str) or (parent and mark is None and len(parent) > 1):
            raise ValueError(f"there is no {key_text(parent or key)}")
        line = f"{key_of(name)} = {raw}"
        if parent and mark is None:
            return self._at_end(f"[{key_of(str(parent[0]))}]", line)
        if mark is not None and self.file.text[mark.value[0]] == "{":
            inside = self.file.text[mark.value[0] + 1 : mark.value[1] - 1]
            return self._insert(mark.value[1] - 1, f", {line} " if inside.strip() else f" {line} ")
        siblings = [
            own
            for path, own in self.file.marks.items()
            if path[:-1] == parent
            and len(path) == len(key)
            and own.key != own.value
            # The outer name of a header such as [materials."rubble"] is no key on a line of its own.
            and not self._lead_of(own).lstrip().startswith("[")
        ]
        if siblings:
            return self._after_line(max(siblings, key=lambda own: own.value[1]), line)
        if mark is None:
            return self._insert(0, line + "\n")
        if mark.key != mark.value or self.file.text[mark.value[0]] != "[":
            raise ValueError(f"{key_text(parent)} is no table that takes {name}")
        return self._insert(self._line_end(mark.value[1]), f"\n{line}")

    def with_table(self, kind: str, lines: Sequence[str], before: Sequence[str] = ()) -> str:
        """The text with an entry more in a list of tables, after the last one or the lists in `before`."""
        found = self.file.table.get(kind)
        mark = self.file.marks.get((kind,))
        if found is not None and mark is not None and not self._blocks((kind,)):
            return self._in_list((kind, len(found)), f"{{ {', '.join(lines)} }}")
        text, block = self.file.text, "\n".join((f"[[{kind}]]", *lines))
        own = self._blocks((kind,)) or [b for name in before for b in self._blocks((name,))]
        gap = "\n\n" if "\n\n[" in text or not own else "\n"
        if not own:
            at = len(text.rstrip("\n"))
            return self._insert(at, f"{gap if at else ''}{block}" + ("" if text.endswith("\n") else "\n"))
        return self._insert(max(stop for _, stop in own), f"{gap}{block}")

    def span_of(self, key: KeyPath) -> tuple[int, int] | None:
        """From where to where in the plain text a table or a key stands; None where it is not given."""
        blocks = self._blocks(key)
        if blocks:
            return min(start for start, _ in blocks), max(stop for _, stop in blocks)
        return self._extent(key) if key in self.file.marks else None

    def without(self, key: KeyPath) -> str:
        """The text without a key or a table, and without the remarks that stand at it."""
        blocks = self._blocks(key)
        if blocks:
            return self._cut([self._with_gap(*block) for block in blocks])
        mark = self.file.marks.get(key)
        if mark is None:
            raise ValueError(f"there is no {key_text(key)}")
        found = self.value(key)
        if isinstance(found, dict) and self.file.text[mark.value[0]] != "{":
            # Dotted keys: each on a line of its own, or each between commas.
            return self._cut([span for part in found for span in self._own((*key, part))])
        return self._cut(self._own(key))

    @cached_property
    def _tables(self) -> list[tuple[KeyPath, int, int]]:
        """Key path of every table with a header, where that begins, and where the next one does."""
        headers = find_headers(self.file.text)
        ends = [*(start for _, start in headers), len(self.file.text)][1:]
        return [(path, start, stop) for (path, start), stop in zip(headers, ends, strict=True)]

    def _blocks(self, key: KeyPath) -> list[tuple[int, int]]:
        """Where tables with headers below a key path stand: from their remarks to the last key."""
        found = []
        for path, start, stop in self._tables:
            if path[: len(key)] == key:
                body = (m.value[1] for m in self.file.marks.values() if start <= m.value[0] < stop)
                found.append((self._first_remark(start), self._last_remark(max(body), stop)))
        return found

    def _first_remark(self, start: int) -> int:
        """Start of the remarks right above a header; those at the very top are about the file."""
        text = self.file.text
        line = first = text.rfind("\n", 0, start) + 1
        while line and text[text.rfind("\n", 0, line - 1) + 1 :].lstrip(" \t").startswith("#"):
            line = text.rfind("\n", 0, line - 1) + 1
        return line or first

    def _last_remark(self, end: int, stop: int) -> int:
        """End of the line at `end`, or of the remarks right below it where no header follows these."""
        text, own = self.file.text, self._line_end(end)
        last = own
        while last < stop and text[last + 1 :].lstrip(" \t").startswith("#"):
            last = self._line_end(last + 1)
        return last if text[last : last + 2] in ("\n\n", "\n", "") else own

    def _with_gap(self, start: int, stop: int) -> tuple[int, int]:
        """A block with the blank lines that part it from the next, at the end of a file from the last."""
        text = self.file.text
        while text[stop : stop + 1] == "\n":
            stop += 1
        while stop >= len(text) and text[:start].endswith("\n\n"):
            start -= 1
        return start, stop

    def _extent(self, key: KeyPath) -> tuple[int, int]:
        """From the first sign of a key to the last one of its value."""
        own = [m for path, m in self.file.marks.items() if path[: len(key)] == key]
        return min(m.key[0] for m in own), max(m.value[1] for m in own)

    def _own(self, key: KeyPath) -> list[tuple[int, int]]:
        """What goes with a key: its line, or the comma that parts it from its neighbours."""
        text, (start, stop) = self.file.text, self._extent(key)
        line = text.rfind("\n", 0, start) + 1
        comma = _COMMA.match(text, stop)
        end = self._line_end(comma.end() if comma and isinstance(key[-1], int) else stop)
        whole = line, min(end + 1, len(text))
        if not isinstance(key[-1], int) and re.fullmatch(r"[^\[{=,]*", text[line:start]):
            return [whole]
        kin = [p for p in self.file.marks if p[:-1] == key[:-1] and len(p) == len(key)]
        others = sorted(self._extent(p) for p in kin if p != key)
        later, earlier = [o for o in others if o[0] >= stop], [o for o in others if o[1] <= start]
        first = _COMMA.match(text, earlier[-1][1]).end() - 1 if earlier else start  # type: ignore[union-attr]  # TOML has one there
        if not text[line:start].strip() and re.fullmatch(r"\s*,?\s*(?:#.*)?", text[stop:end]):
            return [whole] if later or comma or not earlier else [whole, (first, first + 1)]
        if later:
            return [(start, later[0][0])]
        if comma is not None or not earlier:
            return [(start, comma.end() if comma else stop)]
        return [(first, stop)]

    def _in_list(self, key: KeyPath, raw: str) -> str:
        """An entry more in a list in brackets: on a line of its own where the last one stands so."""
        text, (*outer, index) = self.file.text, key
        close = self.file.marks[tuple(outer)].value[1] - 1
        if index == 0:
            return self._insert(close, raw)
        start, stop = self._extent((*outer, int(index) - 1))
        comma = _COMMA.match(text, stop)
        line = text.rfind("\n", 0, start) + 1
        if text[line:start].strip() or "\n" not in text[stop:close]:
            return self._insert(close if comma else stop, f" {raw}" if comma else f", {raw}")
        more = f"\n{text[line:start]}{raw}" + ("," if comma else "")
        end = self._line_end(comma.end() if comma else stop)
        if comma is None and end == stop:
            return self._insert(stop, f",{more}")
        return self.with_spans([((end, end), self._ended(more)), ((stop, stop), "" if comma else ",")])

    def _cut(self, spans: Iterable[tuple[int, int]]) -> str:
        return self.with_spans((span, "") for span in spans)

    def _after_line(self, sibling: Mark, line: str) -> str:
        """A key below another, with what leads that one: blanks, or the names of a dotted key."""
        lead = self._lead_of(sibling)
        if re.search(r"[\[{=]", lead):
            raise ValueError("a key can only be added to a table that stands on lines of its own")
        return self._insert(self._line_end(sibling.value[1]), f"\n{lead}{line}")

    def _lead_of(self, mark: Mark) -> str:
        """What stands on its line before a key."""
        start = self.file.text.rfind("\n", 0, mark.key[0]) + 1
        return self.file.text[start : mark.key[0]]

    def _at_end(self, *lines: str) -> str:
        text = self.file.text
        block = "\n".join(("" if text.endswith("\n") else "\n", *lines, ""))
        return self._insert(len(text), block)

    def _line_end(self, offset: int) -> int:
        end = self.file.text.find("\n", offset)
        return len(self.file.text) if end < 0 else end

    def _insert(self, offset: int, piece: str) -> str:
        return self.with_spans([((offset, offset), self._ended(piece))])

    def _ended(self, piece: str) -> str:
        """New text with the line ends of the file."""
        return piece.replace("\n", "\r\n") if self._returns else piece

    def _offset(self, plain: int) -> int:
        """The place in the exact text of a place in the plain one."""
        return self._lead + plain + bisect_left(self._returns, plain)


def decimal(number: float, decimals: int) -> str:
    """The number to a micrometre at most, with at least so many decimals."""
    whole, _, part = f"{round(number, 6) + 0.0:.6f}".partition(".")
    part = part.rstrip("0").ljust(decimals, "0")
    return f"{whole}.{part}" if part else whole


def key_of(name: str) -> str:
    """A key as TOML writes it."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_of(name)


def toml_of(value: Value) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # TOML wants the one control character escaped that JSON leaves alone.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"a scene holds no {value}")
        return decimal(value, 1)
    if isinstance(value, Mapping):
        pairs = [f"{key_of(key)} = {toml_of(part)}" for key, part in value.items()]
        return f"{{ {', '.join(pairs)} }}" if pairs else "{}"
    return f"[{', '.join(toml_of(part) for part in value)}]"

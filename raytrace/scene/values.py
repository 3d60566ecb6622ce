"""Single values of a scene file: what is read, what is accepted, and how a wrong one is answered."""

import datetime
import json
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from raytrace.facts import plain
from raytrace.scene.naming import did_you_mean, quoted_list
from raytrace.scene.text import KeyPath
from raytrace.scene.units import parse_length

_LARGEST = 10**15  # larger whole numbers cannot be told by floats


class Wrong(ValueError):
    """A wrong value somewhere below the value being read.

    Attributes
    ----------
    tail : tuple
        Key path from the value being read down to the wrong one.
    at : "key" or "value"
        What the message points at.
    """

    def __init__(self, message: str, *tail: str | int, at: Literal["key", "value"] = "value") -> None:
        super().__init__(message)
        self.tail: KeyPath = tail
        self.at: Literal["key", "value"] = at


def shown(value: object) -> str:
    """A value as it stands in a TOML file, long ones by their kind."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value if len(value) <= 60 else value[:57] + "...", ensure_ascii=False)
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}" if value else "an empty list"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, int) and abs(value) > _LARGEST:
        return "a number of many digits"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return str(value)


def plain_number(value: object, example: str) -> float:
    """A finite number; no text, no true or false."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Wrong(f"expected a number, for example {example}; found {shown(value)}")
    if isinstance(value, int) and abs(value) > _LARGEST:
        raise Wrong(f"expected a number of ordinary size, for example {example}")
    if not math.isfinite(value):
        raise Wrong(f"expected a finite number, for example {example}; found {value}")
    return float(value)


@dataclass(frozen=True)
class Number:
    """Reader of a plain number between two bounds, both accepted."""

    low: float
    high: float
    example: str
    unit: str = ""

    def __call__(self, value: object) -> float:
        """The number, or `Wrong`."""
        number = plain_number(value, self.example)
        if not self.low <= number <= self.high:
            unit = f" {self.unit}" if self.unit else ""
            raise Wrong(f"found {number:g}{unit}; accepted: {self.low:g} to {self.high:g}{unit}")
        return number


@dataclass(frozen=True)
class Whole:
    """Reader of a whole number between two bounds, both accepted."""

    low: int
    high: int

    def __call__(self, value: object) -> int:
        """The number, or `Wrong`."""
        if isinstance(value, bool) or not isinstance(value, int) or not self.low <= value <= self.high:
            raise Wrong(f"expected a whole number from {self.low} to {self.high}; found {shown(value)}")
        return value


@dataclass(frozen=True)
class Length:
    """Reader of a length between two bounds, both accepted. [m]"""

    low: float
    high: float
    example: str = "1.2"

    def __call__(self, value: object) -> float:
        """The length in metres, or `Wrong`."""
        metres = self._metres(value)
        if not self.low <= metres <= self.high:
            raise Wrong(
                f"read as {metres:g} m; accepted: {self.low:g} m to {self.high:g} m"
                + (self._digits_hint(value) or self._unit_hint(metres))
            )
        return metres

    def _metres(self, value: object) -> float:
        if isinstance(value, str):
            try:
                return parse_length(value)
            except ValueError as problem:
                raise Wrong(str(problem)) from None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise Wrong(
                f'expected a length, for example {self.example}, "1200 mm" or "3 ft 11 in"; '
                f"found {shown(value)}"
            )
        return plain_number(value, self.example)

    def _digits_hint(self, value: object) -> str:
        """The same digits in metres, centimetres or millimetres, for a length written with one of these."""
        found = re.fullmatch(r"\s*([\d.]+)\s*(mm|cm|m)\s*", value) if isinstance(value, str) else None
        if found is None:
            return ""
        units = {"m": 1.0, "cm": 0.01, "mm": 0.001}
        fits = (unit for unit in units if self.low <= float(found[1]) * units[unit] <= self.high)
        meant = [f'"{found[1]} {unit}"' for unit in fits]
        return f", did you mean {' or '.join(meant)}?" if meant else ""

    def _unit_hint(self, metres: float) -> str:
        """The same digits with another unit, else the point one place on, where that is in range."""
        units = ((0.001, f"{metres:g} mm"), (0.01, f"{metres:g} cm"), (1000.0, f"{metres * 1000:g} m"))
        places = ((0.1, f"{metres * 10:g} cm"), (10.0, f"{metres * 1000:g} cm"))
        for slips in (units, places):
            meant = [f'"{text}"' for factor, text in slips if self.low <= metres * factor <= self.high]
            if metres > 0.0 and meant:
                return f", did you mean {' or '.join(meant)}?"
        return ""


@dataclass(frozen=True)
class Choice:
    """Reader of one of a few words."""

    names: tuple[str, ...]

    @property
    def example(self) -> str:
        """The first of the words, as TOML."""
        return f'"{self.names[0]}"'

    def __call__(self, value: object) -> str:
        """The word, or `Wrong`."""
        if isinstance(value, str) and value in self.names:
            return value
        if isinstance(value, str):
            raise Wrong(f"unknown {shown(value)}{did_you_mean(value, self.names)}")
        raise Wrong(f"expected one of {quoted_list(self.names)}; found {shown(value)}")


@dataclass(frozen=True)
class ListOf:
    """Reader of a list `of` entries that are read alike; `exactly`, or `at_least` and `at_most` of them."""

    read: Callable[[object], Any]
    example: str
    exactly: int | None = None
    at_least: int = 0
    at_most: int | None = None
    of: str = ""

    def __call__(self, value: object) -> tuple[Any, ...]:
        """What was read of every entry, or `Wrong` with the entry's index."""
        example = f"{self.example} ({self.of})" if self.of else self.example
        if not isinstance(value, list | tuple):
            raise Wrong(f"expected a list, for example {example}; found {shown(value)}")
        if self.exactly is not None and len(value) != self.exactly:
            raise Wrong(
                f"expected {self.exactly} values, for example {example}; "
                f"found {len(value)}{self._comma_hint(value)}"
            )
        if len(value) < self.at_least:
            raise Wrong(
                f"expected at least {self.at_least} values, for example {example}; found {len(value)}"
            )
        if self.at_most is not None and len(value) > self.at_most:
            raise Wrong(f"expected at most {self.at_most} values; found {len(value)}")
        return tuple(below(index, self.read, entry) for index, entry in enumerate(value))

    def _comma_hint(self, value: list[object] | tuple[object, ...]) -> str:
        """Twice as many whole numbers as expected: decimals were written with a comma."""
        if self.exactly is None or len(value) != 2 * self.exactly or not all(type(v) is int for v in value):
            return ""
        meant = ", ".join(f"{whole}.{part}" for whole, part in zip(value[::2], value[1::2], strict=True))
        return f"; decimals take a point, did you mean [{meant}]?"


@dataclass(frozen=True)
class TableOf:
    """Reader of a table whose keys are names of the file's own and whose values are read alike."""

    read: Callable[[object], Any]
    example: str

    def __call__(self, value: object) -> dict[str, Any]:
        """What was read of every value by its name, or `Wrong` with the name."""
        if not isinstance(value, dict):
            raise Wrong(f"expected a table, for example {self.example}; found {shown(value)}")
        return {name: below(name, self.read, entry) for name, entry in value.items()}


def below(key: str | int, read: Callable[[object], Any], value: object) -> Any:
    """What `read` makes of a value that stands under `key`."""
    try:
        return read(value)
    except Wrong as wrong:
        raise Wrong(str(wrong), key, *wrong.tail, at=wrong.at) from None


def yes_or_no(value: object) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise Wrong(f"expected true or false; found {shown(value)}")
    return value


def text(value: object) -> str:
    """Any text that says something, on one line; what would not show in it is replaced."""
    if not isinstance(value, str):
        raise Wrong(f"expected text in quotes; found {shown(value)}")
    if not value.strip():
        raise Wrong("expected text; found nothing between the quotes")
    return plain(value)


def name(value: object) -> str:
    """Text that other keys and the reports can refer to: one line, no blanks around it."""
    text(value)
    assert isinstance(value, str)
    if value != value.strip() or not value.isprintable():
        only = "" if value.isprintable() else " of letters that can be printed,"
        raise Wrong(f"a name is one line{only} without blanks around it; found {shown(value)}")
    return value


def date_text(value: object) -> str:
    """A date as text, or a bare TOML date."""
    return value.isoformat() if isinstance(value, datetime.date) else text(value)

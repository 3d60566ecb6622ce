"""Amounts as sentences hold them: numbers with a metric unit, as exact as they are told."""

from dataclasses import dataclass
from enum import Enum


class Unit(Enum):
    """A metric unit, as text has it."""

    MM = "mm"
    M = "m"
    M2 = "m²"
    M3 = "m³"
    KG_M2 = "kg/m²"
    KG_M3 = "kg/m³"
    PA_S_M2 = "Pa s/m²"
    N = "N"
    DB = "dB"


@dataclass(frozen=True)
class Amount:
    """One number or some that share a unit: a length, the sides of a board, from where to where.

    Attributes
    ----------
    values : tuple of float
        In `unit`, rounded as they are told, so that amounts are equal where their text is.
    unit : Unit
    digits : int or None
        Decimals; None for as many as the number has.
    between : str
        What stands between several: " x ", " to ".
    """

    values: tuple[float, ...]
    unit: Unit
    digits: int | None = None
    between: str = " x "

    @property
    def lengths_m(self) -> tuple[float, ...]:
        """Its lengths, none where it is something else. [m]"""
        scale = {Unit.MM: 0.001, Unit.M: 1.0}.get(self.unit)
        return () if scale is None else tuple(scale * value for value in self.values)

    def __str__(self) -> str:
        """In metric units, with a true minus sign."""
        form = "g" if self.digits is None else f".{self.digits}f"
        figures = (f"{value:{form}}".replace("-", "−") for value in self.values)
        return f"{self.between.join(figures)} {self.unit.value}"


class Fixing(Enum):
    """A screw or bolt by its size in a metric shop."""

    SCREW_50 = "4 x 50 mm"
    SCREW_40 = "4 x 40 mm"
    BOLT = "M6"

    def __str__(self) -> str:
        """As a metric shop calls it."""
        return self.value


def millimetres(*lengths_m: float, between: str = " x ") -> Amount:
    """Lengths in whole millimetres.

    Parameters
    ----------
    *lengths_m : float
        Lengths. [m]
    between : str
        What stands between them.

    Examples
    --------
    >>> str(millimetres(1.24, 0.6404))
    '1240 x 640 mm'
    """
    # Through text: what is told decides, and -0 does not differ from 0.
    return Amount(tuple(float(f"{1000.0 * length:.0f}") + 0.0 for length in lengths_m), Unit.MM, 0, between)


def metres(length_m: float, digits: int) -> Amount:
    """A length in metres with so many decimals. [m]"""
    return Amount((float(f"{length_m:.{digits}f}"),), Unit.M, digits)


def whole_decibels(level_db: float) -> Amount:
    """A level in whole decibels.

    Examples
    --------
    >>> str(whole_decibels(-14.3))
    '−14 dB'
    """
    return Amount((float(f"{level_db:.0f}") + 0.0,), Unit.DB, 0)


def from_to(low_m: float, high_m: float) -> Amount:
    """From where to where, in metres to the millimetre.

    Examples
    --------
    >>> str(from_to(-0.0, 4.2))
    '0.000 to 4.200 m'
    """
    return Amount(tuple(float(f"{x:.3f}") + 0.0 for x in (low_m, high_m)), Unit.M, 3, " to ")

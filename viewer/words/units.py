"""What is said in the units of the reader: amounts, sentences that hold them, timber as a shop calls it."""

from collections.abc import Sequence

from raytrace import (
    Amount,
    Fixing,
    Hint,
    Sentence,
    Timber,
    Unit,
    format_length,
    yard_length_m,
    yard_timber,
)

_POUND_KG, _FOOT_M, _POUND_FORCE_N = 0.45359237, 0.3048, 4.4482216
# Screws are sold by number in inch lengths; these are the usual ones (common practice, no source).
_FIXINGS = {Fixing.SCREW_50: '#8 x 2"', Fixing.SCREW_40: '#8 x 1 1/2"', Fixing.BOLT: '1/4"'}


def mass_words(kilograms: float, units: str) -> str:
    """A mass for people: kilograms to a tenth, or pounds."""
    return f"{mass_figure(kilograms, units)} {mass_unit(units)}"


def mass_figure(kilograms: float, units: str) -> str:
    """The same without its unit, for a table whose head says it."""
    return f"{kilograms if units == 'metric' else kilograms / _POUND_KG:.1f}"


def mass_unit(units: str) -> str:
    """The unit of masses."""
    return "kg" if units == "metric" else "lb"


def length_figure(metres: float, units: str) -> str:
    """A length as drawings and tables have it: millimetres without their unit, or feet and inches."""
    return format_length(metres, units=units, bare=True)


def scan_units(unit: str) -> str:
    """What the reader of a scan measures in, by what its numbers count."""
    return "imperial" if unit in ("in", "ft") else "metric"


def area_words(square_metres: float, units: str) -> str:
    """An area for people: square metres, or whole square feet."""
    return f"{square_metres:.1f} m²" if units == "metric" else f"{square_metres * 10.7639:.0f} ft²"


def size_words(size: Sequence[float], units: str) -> str:
    """Sides of something, the unit said once where it can be."""
    *first, last = size
    return " x ".join([*(length_figure(side, units) for side in first), format_length(last, units=units)])


def force_words(newtons: float, units: str) -> str:
    """A push or pull for people: newtons, or pounds of force."""
    return f"{newtons:.1f} N" if units == "metric" else f"{newtons / _POUND_FORCE_N:.1f} lbf"


def timber_words(timber: Timber, units: str) -> str:
    """What a timber is called where it is cut: "20x100"; in an imperial yard "1x5", ripped to its depth."""
    if units == "metric":
        return timber.name
    sold = yard_timber(timber)
    return sold.name + (f" ripped to {format_length(timber.depth_m, units=units)}" if sold.is_ripped else "")


def timber_to_buy(timber: Timber, units: str) -> str:
    """What to ask a yard for, with the size that it really has."""
    if units == "metric":
        return f"{timber.name} (actual {size_words((timber.thickness_m, timber.depth_m), units)})"
    sold = yard_timber(timber)
    actual = size_words((sold.thickness_m, sold.depth_m), units)
    rip = f", to rip to {format_length(timber.depth_m, units=units)}" if sold.is_ripped else ""
    return f"{sold.name} (actual {actual}{rip})"


def stock_m(length_m: float, units: str) -> float:
    """A length of timber as the shop has it, never shorter. [m]"""
    return length_m if units == "metric" else yard_length_m(length_m)


def amount_words(amount: Amount, units: str) -> str:
    """An amount as a reader of these units has it."""
    return str(amount) if units == "metric" else amount.between.join(_imperial(amount, units))


def told(sentence: Sentence, units: str, *, hints: bool = True) -> str:
    """A sentence as a reader of these units needs it.

    Parameters
    ----------
    sentence : Sentence
    units : {"metric", "imperial"}
    hints : bool
        With what only the writer of the scene file can use.
    """

    def words(fact: Amount | Fixing | Hint) -> str:
        if isinstance(fact, Hint):
            return fact.text if hints else ""
        if isinstance(fact, Fixing):
            return str(fact) if units == "metric" else _FIXINGS[fact]
        return amount_words(fact, units)

    return sentence.told(words)


def _imperial(amount: Amount, units: str) -> list[str]:
    """Each number of an amount with its imperial unit."""
    unit, values = amount.unit, amount.values
    if amount.lengths_m:
        return [format_length(length_m, units=units) for length_m in amount.lengths_m]
    if unit is Unit.N:
        return [f"{value / _POUND_FORCE_N:.0f} lbf" for value in values]
    if unit in (Unit.PA_S_M2, Unit.DB):  # flow resistivity is stated in SI everywhere
        return [str(amount)]
    raised = unit.value[-1]
    per_unit = _FOOT_M ** {"²": 2, "³": 3}[raised]
    if unit in (Unit.KG_M2, Unit.KG_M3):
        digits = 1 if unit is Unit.KG_M3 else 2
        return [f"{value / _POUND_KG * per_unit:.{digits}f} lb/ft{raised}" for value in values]
    return [f"{value / per_unit:.0f} ft{raised}" for value in values]

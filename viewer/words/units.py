"""What is said in the units of the reader: amounts inside sentences, timber by its name in the shop."""

import re
from collections.abc import Callable

from raytrace import Timber, format_length, yard_length_m, yard_timber

_POUND_KG, _FOOT_M, _POUND_FORCE_N = 0.45359237, 0.3048, 4.4482216
# Screws are sold by number in inch lengths; these are the usual ones (common practice, no source).
_SCREWS = {"4 x 50 mm": '#8 x 2"', "4 x 40 mm": '#8 x 1 1/2"'}
_NUMBER = r"(\d+(?:\.\d+)?)"


def mass_words(kilograms: float, units: str) -> str:
    """A mass for people: kilograms to a tenth, or pounds."""
    return f"{mass_figure(kilograms, units)} {mass_unit(units)}"


def mass_figure(kilograms: float, units: str) -> str:
    """The same without its unit, for a table whose head says it."""
    return f"{kilograms if units == 'metric' else kilograms / _POUND_KG:.1f}"


def mass_unit(units: str) -> str:
    """The unit of masses."""
    return "kg" if units == "metric" else "lb"


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
        actual = f"{1000 * timber.thickness_m:.0f} x {1000 * timber.depth_m:.0f} mm"
        return f"{timber.name} (actual {actual})"
    sold = yard_timber(timber)
    sides = (format_length(side, units=units) for side in (sold.thickness_m, sold.depth_m))
    rip = f", to rip to {format_length(timber.depth_m, units=units)}" if sold.is_ripped else ""
    return f"{sold.name} (actual {' x '.join(sides)}{rip})"


def stock_m(length_m: float, units: str) -> float:
    """A length of timber as the shop has it, never shorter. [m]"""
    return length_m if units == "metric" else yard_length_m(length_m)


def in_units(text: str, units: str) -> str:
    """A sentence with metric amounts in it, as a reader of these units needs it.

    Parameters
    ----------
    text : str
        With lengths in mm or m, densities and screw sizes as this program writes them.
    units : {"metric", "imperial"}

    Examples
    --------
    >>> in_units("Wood screws 4 x 50 mm; wool of 48 kg/m3, 50 mm deep.", "imperial")
    'Wood screws #8 x 2"; wool of 3.0 lb/ft3, 2" deep.'
    """
    if units == "metric":
        return text
    for metric, inches in _SCREWS.items():
        text = text.replace(metric, inches)
    text = text.replace("bolts M6", 'bolts 1/4"')

    def feet_of(found: re.Match[str]) -> str:
        """Areas and volumes."""
        power = int(found[2].replace("²", "2").replace("³", "3"))
        return f"{float(found[1]) / _FOOT_M**power:.0f} ft{found[2]}"

    def inches_of(scale: float) -> Callable[[re.Match[str]], str]:
        return lambda found: " x ".join(
            format_length(scale * float(side), units=units) for side in found.groups() if side
        )

    def density(found: re.Match[str]) -> str:
        power = int(found[2].replace("²", "2").replace("³", "3"))
        value = float(found[1]) / _POUND_KG * _FOOT_M**power
        return f"{value:.1f} lb/ft{found[2]}" if power == 3 else f"{value:.2f} lb/ft{found[2]}"

    text = re.sub(_NUMBER + r" kg/m([23²³])", density, text)
    text = re.sub(_NUMBER + r" m([23²³])(?!\w)", feet_of, text)
    text = re.sub(_NUMBER + r" to " + _NUMBER + r" mm\b", r"\1 mm to \2 mm", text)
    text = re.sub(_NUMBER + r" x " + _NUMBER + r" mm\b", inches_of(0.001), text)
    text = re.sub(_NUMBER + r" mm\b", inches_of(0.001), text)
    return re.sub(_NUMBER + r" m\b(?!/s)", inches_of(1.0), text)

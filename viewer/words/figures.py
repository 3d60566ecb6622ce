"""Levels, margins and octave bands as figures, and names in a row, as all outputs have them."""

from collections.abc import Sequence
from itertools import groupby
from math import isfinite, isinf, isnan


def decibels(value: float, digits: int = 1) -> str:
    """A level with a true minus sign, never minus nought; a dash for nothing at all."""
    if not isfinite(value):
        return "–"
    text = f"{value:.{digits}f}"
    return text.replace("-", "") if float(text) == 0.0 else text.replace("-", "−")


def signed(value: float, digits: int = 1) -> str:
    """A change or a difference with its sign, nought without; a dash for nothing at all."""
    figure = decibels(value, digits)
    return f"+{figure}" if isfinite(value) and value > 0.0 and float(figure) > 0.0 else figure


def off_limit(value_db: float) -> str:
    """How far a level is off the limit, without sign: never "0.0" for what lies above or below it."""
    text = decibels(abs(value_db))
    return "<0.1" if text == "0.0" and value_db != 0.0 else text


def limit_side(margin_db: float, *, unit: str = "") -> str:
    """A margin in a narrow column: "3.7 over", "0.2 below"; a dash for none, "below" for no sound at all.

    `unit` follows the figure: " dB".
    """
    if isnan(margin_db):
        return "–"
    side = "over" if margin_db < 0.0 else "below"
    return side if isinf(margin_db) else f"{off_limit(margin_db)}{unit} {side}"


def from_limit(margin_db: float) -> str:
    """A margin in a sentence: "3.7 dB over the limit", "0.2 dB below the limit"."""
    side = "over" if margin_db < 0.0 else "below"
    return f"{'' if isinf(margin_db) else f'{off_limit(margin_db)} dB '}{side} the limit"


def band_words(band: int) -> str:
    """An octave band as tables name it: "125 Hz", "2 kHz"."""
    return f"{band} Hz" if band < 1000 else f"{band // 1000} kHz"


def band_tick(hz: int) -> str:
    """A pitch as short as axes and narrow tables need it: "125", "2k"."""
    return f"{hz}" if hz < 1000 else f"{hz // 1000}k"


def panels_words(stacked: Sequence[int]) -> str:
    """How many panels there are: "2 panels", "5 panels in 3 places" where a stand holds several.

    Parameters
    ----------
    stacked : sequence of int
        Panels at each place.
    """
    n_panels, n_places = sum(stacked), len(stacked)
    count = "1 panel" if n_panels == 1 else f"{n_panels} panels"
    return count if n_panels == n_places else f"{count} in {n_places} place{'s' if n_places != 1 else ''}"


def listed(names: Sequence[str]) -> str:
    """Names as a sentence has them: "a, b and c"."""
    unique = [name for name, _ in groupby(names)]
    return unique[0] if len(unique) == 1 else f"{', '.join(unique[:-1])} and {unique[-1]}"

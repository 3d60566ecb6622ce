"""Published limits for early reflections, and own numbers in their place."""

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import PlainValidator, ValidationError, model_validator

from raytrace.acoustics import EBU_TECH_3276, ITU_R_BS_1116_3
from raytrace.facts import Amount, Sentence, Unit, joined, sentence
from raytrace.scene.tables import Table, problems, unknown_key
from raytrace.scene.values import Choice, Number, Wrong, below, shown

_OCTAVES_HZ = (45.0, 11200.0)  # outer edges of the eight octave bands, rounded inwards


@dataclass(frozen=True)
class Limits:
    """How far below the direct sound an early reflection has to stay.

    Attributes
    ----------
    name : str
        The standard, or "own numbers".
    below_db, within_ms : float
        Peaks in the first `within_ms` after the direct sound stay at least `below_db` below it. [dB, ms]
    from_hz, to_hz : float
        Band in which levels are taken. [Hz]
    source : str
        Where the numbers come from.
    meant_for : str
        Rooms that the standard is written for, their sizes aside.
    from_m2, to_m2 : float
        Floor areas that it is written for. [m2]
    """

    name: str
    below_db: float
    within_ms: float
    from_hz: float
    to_hz: float
    source: str
    meant_for: str = "any room"
    from_m2: float = 0.0
    to_m2: float = math.inf

    def fits(self, area_m2: float) -> bool:
        """Whether it is written for rooms with this floor area."""
        return self.from_m2 <= area_m2 <= self.to_m2

    @property
    def sizes(self) -> Sentence:
        """Floor areas it is written for, as a part of a sentence; empty where all are."""
        low, high = (Amount((area_m2,), Unit.M2, 0) for area_m2 in (self.from_m2, self.to_m2))
        least = [sentence("{low} or more", low=low)] if self.from_m2 > 0.0 else []
        most = [sentence("at most {high}", high=high)] if math.isfinite(self.to_m2) else []
        return joined(" and ", least + most)

    @property
    def level_db(self) -> float:
        """Highest level re direct that is allowed. [dB]"""
        return -self.below_db

    @property
    def within_s(self) -> float:
        """How long after the direct sound it holds. [s]"""
        return self.within_ms / 1e3

    def margin_db(self, level_db: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Limit less a level re direct: positive below the limit. [dB]"""
        return np.asarray(self.level_db - level_db)


_PUBLISHED = (
    Limits(
        EBU_TECH_3276,
        below_db=10.0,
        within_ms=15.0,
        from_hz=1000.0,
        to_hz=8000.0,
        source=f"{EBU_TECH_3276}, 2nd edition, May 1998, section 2.2 (from memory)",
        meant_for="control rooms",  # their volume up to 300 m3; areas here and below from memory
        from_m2=30.0,
    ),
    Limits(
        ITU_R_BS_1116_3,
        below_db=10.0,
        within_ms=15.0,
        from_hz=1000.0,
        to_hz=8000.0,
        source=f"{ITU_R_BS_1116_3} (02/2015), section 8 (from memory)",
        meant_for="listening rooms for two channels",
        from_m2=20.0,
        to_m2=60.0,
    ),
)
STANDARDS = {limits.name: limits for limits in _PUBLISHED}
USUAL_LIMITS = _PUBLISHED[0]
"""What a scene is held against that names no limit."""


class OwnLimits(Table):
    """Own numbers in place of a published limit."""

    what = "limits"
    below_db: Annotated[float, PlainValidator(Number(0.0, 60.0, "10", "dB"))]
    within_ms: Annotated[float, PlainValidator(Number(0.1, 1000.0, "15", "ms"))]
    from_hz: Annotated[float, PlainValidator(Number(*_OCTAVES_HZ, "1000", "Hz"))]
    to_hz: Annotated[float, PlainValidator(Number(*_OCTAVES_HZ, "8000", "Hz"))]

    @model_validator(mode="after")
    def _check_band(self) -> "OwnLimits":
        if self.to_hz <= self.from_hz:
            raise Wrong(f"{self.to_hz:g} Hz is not above from_hz ({self.from_hz:g} Hz)", "to_hz")
        return self


def read_limits(value: object) -> Limits:
    """Limits of the [limits] table: a standard's name or own numbers, never both."""
    if isinstance(value, Limits):
        return value
    if not isinstance(value, dict):
        raise Wrong(f"expected a table with {_LIMIT_KEYS}; found {shown(value)}")
    own_keys = tuple(OwnLimits.model_fields)
    for key in value:
        if key not in ("standard", *own_keys):
            raise Wrong(unknown_key(key, ("standard", *own_keys), "limits"), key, at="key")
    if "standard" not in value:
        return _own_limits(value) if value else USUAL_LIMITS
    own = next((key for key in value if key != "standard"), None)
    if own is not None:
        raise Wrong("give a standard or own numbers, not both", own, at="key")
    if isinstance(value["standard"], dict):
        own_limits: Limits = below("standard", _own_limits, value["standard"])
        return own_limits
    return STANDARDS[below("standard", Choice(tuple(STANDARDS)), value["standard"])]


_LIMIT_KEYS = "standard, or below_db, within_ms, from_hz and to_hz"


def _own_limits(value: object) -> Limits:
    try:
        own = OwnLimits.model_validate(value)
    except ValidationError as problem:
        key, message, at = next(problems(problem))
        raise Wrong(message, *key, at=at) from None
    return Limits(
        "own numbers", own.below_db, own.within_ms, own.from_hz, own.to_hz, "own numbers of the scene file"
    )

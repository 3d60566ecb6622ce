"""What is found out about the bass of a room, as records."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.causes import Extreme
from raytrace.bass.evenness import Evenness
from raytrace.facts import Sentence

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ModeLine:
    """One mode of the room.

    Attributes
    ----------
    hz, damping_per_s, t60_s : float
        Its frequency with rigid walls; its decay constant and the time for 60 dB; inf where nothing absorbs.
    drive_db, hear_db : float
        Its pressure where the source is and at the ears of the first seat, re its mean over the room.
    """

    hz: float
    damping_per_s: float
    t60_s: float
    drive_db: float
    hear_db: float


@dataclass(frozen=True)
class Response:
    """What some sources together, all with the same signal, send to the ears of a seat.

    Attributes
    ----------
    sources : tuple of str
    seat : str
    level_db : (n_frequencies,) float
        At `Bass.frequencies_hz`, re the free field of one of them at 1 m.
    extremes : tuple of Extreme
        Dips and peaks; for a single source with what makes them.
    """

    sources: tuple[str, ...]
    seat: str
    level_db: Floats
    extremes: tuple[Extreme, ...]


@dataclass(frozen=True)
class SubPlace:
    """Where a subwoofer could be.

    Attributes
    ----------
    position_m : (3,) float
        x from the front wall, y from the left wall, height of the acoustic centre.
    evenness_db, gain_db : float
        Deviation there, and by how much it is smaller than now.
    dip_db, dip_hz : float
    level_db : (n_frequencies,) float
        Curve at the ears of the first seat from there.
    """

    position_m: Floats
    evenness_db: float
    gain_db: float
    dip_db: float
    dip_hz: float
    level_db: Floats


@dataclass(frozen=True)
class SubPair:
    """Two subwoofers.

    Attributes
    ----------
    first, second : (3,) float
        Their acoustic centres. [m]
    evenness_db, gain_db : float
        Both with the same signal.
    delay_ms, level_db : float
        What the second is delayed and raised by to be more even; zero where nothing found brings that.
    tuned_db : float
        Deviation then; never more than `evenness_db`.
    """

    first: Floats
    second: Floats
    evenness_db: float
    gain_db: float
    delay_ms: float
    level_db: float
    tuned_db: float


@dataclass(frozen=True)
class Crossover:
    """How the subwoofer joins the speakers most evenly, with fourth-order Linkwitz-Riley filters.

    Attributes
    ----------
    hz : float
    delay_ms : float
        Of the subwoofer; negative where the speakers are delayed instead.
    is_inverted : bool
        Whether its polarity is turned.
    level_db : float
        Of the subwoofer re one speaker, both at 1 m.
    evenness_db, plain_db : float
        Deviation from 30 to 160 Hz so, and at 80 Hz with nothing set.
    """

    hz: float
    delay_ms: float
    is_inverted: bool
    level_db: float
    evenness_db: float
    plain_db: float


@dataclass(frozen=True)
class SeatEvenness:
    """How even it is at one seat's head zone now."""

    seat: str
    now: Evenness


@dataclass(frozen=True)
class Bass:
    """The bass of a room: what it is now, why, and what other places would bring.

    Attributes
    ----------
    sources : tuple of str
        What plays bass now: the subwoofers, or the speakers where there are none.
    has_sub : bool
    top_hz : float
        Up to here modes were found.
    modes : tuple of ModeLine
    frequencies_hz : (n_frequencies,) float
    responses : tuple of Response
    evenness : tuple of SeatEvenness
    now_db : float
        Deviation over the first seat's head zone and the ears of the others: what places are judged by.
    bare_db : float or None
        The same without any panels; None where there are none.
    places : tuple of SubPlace
        The best that are free, best first.
    at_wall : SubPlace or None
        The best free place along a wall, where a cable can lie; no better than the first of `places`.
    raised : SubPlace or None
        The first source where it is, on a stand.
    pair : SubPair or None
        The best two places that are free.
    wall_pair : SubPair or None
        The best two of those along walls.
    crossover : Crossover or None
    moved : tuple of (str, float)
        Deviation at the first seat moved by `moved_m`, by direction.
    moved_m, stand_m : float
        How far the seat is moved; how far the stand raises the source.
    floor_m : (n_places, 2) float
        Places over the whole floor, free or not.
    floor_db : (n_places,) float
        Deviation with one subwoofer there.
    notes : tuple of Sentence
    """

    sources: tuple[str, ...]
    has_sub: bool
    top_hz: float
    modes: tuple[ModeLine, ...]
    frequencies_hz: Floats
    responses: tuple[Response, ...]
    evenness: tuple[SeatEvenness, ...]
    now_db: float
    bare_db: float | None
    places: tuple[SubPlace, ...]
    at_wall: SubPlace | None
    raised: SubPlace | None
    pair: SubPair | None
    wall_pair: SubPair | None
    crossover: Crossover | None
    moved: tuple[tuple[str, float], ...]
    moved_m: float
    stand_m: float
    floor_m: Floats
    floor_db: Floats
    notes: tuple[Sentence, ...]

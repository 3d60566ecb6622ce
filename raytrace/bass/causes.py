"""Why a curve has its dips and peaks: which modes, which walls."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from raytrace.bass.response import Listener
from raytrace.room import Room, facet_distance_m

Floats = NDArray[np.float64]

_NEAR = 0.06  # of a frequency: a tone off from what makes the dip; a semitone
_QUIET_DB = -9.0  # re its mean over the room: near a surface on which a mode has no pressure

Kind = Literal["mode", "quiet at the seat", "not driven", "boundary", "cancelling"]


@dataclass(frozen=True)
class Extreme:
    """A dip or a peak of a curve, and what makes it.

    Attributes
    ----------
    hz, level_db : float
        Level re the free field of the same source at 1 m.
    is_dip : bool
    kind : str
        "mode": one rings. "quiet at the seat", "not driven": one that would fill the dip has hardly any
        pressure at the ears, or at the source. "boundary": a reflection comes half a wave after the direct
        sound. "cancelling": two modes take each other away.
    mode_hz : tuple of float
        Of the modes that are meant.
    surface : str
        That reflects; empty otherwise.
    """

    hz: float
    level_db: float
    is_dip: bool
    kind: Kind
    mode_hz: tuple[float, ...]
    surface: str = ""


@dataclass(frozen=True)
class SourceAtEars:
    """One source at some ears, mode by mode.

    Attributes
    ----------
    listener : Listener
        Its first ears are the ones that are meant.
    source : (3,) float
    drive_db, hear_db : (n_modes,) float
        Pressure of each mode at the source and at the ears, re its mean over the room.
    """

    listener: Listener
    source: Floats
    drive_db: Floats
    hear_db: Floats

    def shares(self, row: int) -> NDArray[np.complex128]:
        """What each mode adds at a frequency, (n_modes,)."""
        shape = self.listener.modes.at(self.source)[0]
        return np.asarray(shape * self.listener.answers[row, :, 0])


def heard(listener: Listener, source: Floats, ears: Floats) -> SourceAtEars:
    """One source at the first of some ears."""
    modes = listener.modes
    scale = np.sqrt(modes.air.volume_m3)
    drive, hear = (
        20.0 * np.log10(np.maximum(np.abs(modes.at(place)[0]) * scale, 1e-6)) for place in (source, ears)
    )
    return SourceAtEars(listener, source, drive, hear)


def boundary_dips_hz(room: Room, source: Floats, ears: Floats) -> list[tuple[float, str]]:
    """Where a reflection comes half a wave, or three, after the direct sound, and off which surface.

    Notes
    -----
    f = (2 n + 1) c / (2 D) with the detour D by the wall's mirror image: c / (4 d) for a wall at d behind a
    source with the ears far before it.
    """
    direct_m = float(np.linalg.norm(ears - source))
    found = []
    for facet in room.facets[: room.n_solid_facets]:
        height_m, ear_m = (float(facet.normal @ place - facet.offset) for place in (source, ears))
        if room.surfaces[facet.surface].owner is not None or min(height_m, ear_m) <= 0.0:
            continue
        image = source - 2.0 * height_m * facet.normal
        spot = image + (ears - image) * height_m / (height_m + ear_m)
        detour_m = float(np.linalg.norm(ears - image)) - direct_m
        if facet_distance_m(spot, facet) <= room.tolerance_m and detour_m > 0.0:
            first = room.speed_of_sound_m_s / (2.0 * detour_m)
            found += [(n * first, room.surfaces[facet.surface].name) for n in (1.0, 3.0)]
    return found


def explain(one: SourceAtEars, rows: tuple[int, float, bool], boundaries: list[tuple[float, str]]) -> Extreme:
    """What makes a dip or peak: its row in the listener's frequencies, its level, whether it is a dip."""
    row, level, is_dip = rows
    hz = float(one.listener.frequencies_hz[row])
    own = one.listener.modes.frequencies_hz
    shares = one.shares(row)
    strongest = np.argsort(-np.abs(shares))
    if not is_dip:
        return Extreme(hz, level, False, "mode", (float(own[strongest[0]]),))
    near = np.flatnonzero(np.abs(own - hz) <= _NEAR * hz)
    ways: tuple[tuple[Kind, Floats, Floats], ...] = (
        ("quiet at the seat", one.hear_db, one.drive_db),
        ("not driven", one.drive_db, one.hear_db),
    )
    for kind, here, there in ways:
        silent = near[(here[near] < _QUIET_DB) & (there[near] > _QUIET_DB)]
        if len(silent):
            mode = silent[np.argmax(there[silent] - here[silent])]
            return Extreme(hz, level, True, kind, (float(own[mode]),))
    # Below the first mode the room fills as a whole: no wave comes back from a single wall.
    walls = [(abs(f - hz), name) for f, name in boundaries if hz > own[1] and abs(f - hz) <= _NEAR * hz]
    if walls:
        return Extreme(hz, level, True, "boundary", (), min(walls)[1])
    # The two that add most and pull in opposite directions.
    first = strongest[0]
    apart = np.abs(own - own[first]) > 1.0  # nearer ones are told apart by nobody
    against = strongest[(np.real(shares * np.conj(shares[first])) < 0.0)[strongest] & apart[strongest]]
    pair = (first, against[0]) if len(against) else (first,)
    return Extreme(hz, level, True, "cancelling", tuple(sorted(float(own[m]) for m in pair)))

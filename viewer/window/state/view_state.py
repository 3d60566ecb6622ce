"""What the window shows, as one frozen record; each control makes a new one."""

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from raytrace import KeyPath, Peak, Study, peak_surface_names
from viewer.pictures import LightMap, Stage
from viewer.window.state.adding import Placing
from viewer.window.state.measuring import Measuring
from viewer.window.state.theme import THEMES, Theme
from viewer.window.state.turning import HEADING, Eye
from viewer.words import path_text, peak_of, peak_words, strong_rows, surface_words

if TYPE_CHECKING:
    from raytrace import Attribution, BassMap, BassNow, Held, MeasuredRoom, Measurement

Ints = NDArray[np.int64]
PathKey = tuple[int, int, tuple[int, ...]]
Kind = Literal["speakers", "seats", "objects", "panels", "stands", "clouds"]
Column = Literal["delay", "speaker", "way", "level", "limit"]
Thing = tuple[Kind, int]

LAYERS = {
    "paths": "Paths of the sound",
    "weaker": "Weaker paths",
    "near": "Near misses beside edges",
    "spots": "Spots it touches",
    "areas": "Areas to treat",
    "panels": "Panels",
    "furniture": "Furniture",
    "fronts": "Wave fronts at the time cursor",
    "bass": "Bass over the floor",
    "names": "Names",
    "dimensions": "Dimensions",
}
LAYERS_AT_FIRST = frozenset(LAYERS) - {"dimensions", "near", "fronts", "bass"}


@dataclass(frozen=True)
class Filter:
    """Which arrivals are listed; None lets all through.

    `over_only` keeps what is over the limit or too close to it to say.
    """

    speaker: int | None = None
    seat: int | None = None
    order: int | None = None
    surface: str | None = None
    over_only: bool = False


@dataclass(frozen=True)
class Cut:
    """A plane that takes away what lies beyond it: along x, y or z, at a share of the room."""

    axis: int
    share: float
    keeps_far: bool = True


@dataclass(frozen=True)
class Beside:
    """Another variant of the room that what is shown is compared with: its name, study and stage."""

    name: str
    study: Study
    stage: Stage


@dataclass(frozen=True)
class OnScreen:
    """One state of the window.

    Attributes
    ----------
    study, stage : Study, Stage
        What was found out, and what all pictures of it share.
    eye : Eye
        Where the room is seen from.
    until_s : float
        How far the tape of time reaches. [s]
    settled : bool
        False while something moves: only the ears were asked, the head zone was not.
    view : str
        Name of the view last chosen.
    theme, units : str
        "light" or "dark"; "metric" or "imperial".
    chosen, pointed : PathKey or None
        The reflection selected and the one under the pointer, by speaker, seat and facets, so that they
        stay the same while things move.
    thing : Thing or None
        What is selected to be moved.
    time_s : float or None
        Of the time cursor, after the direct sound.
    layers : frozenset of str
        Of `LAYERS`.
    filter, sort, falling : Filter, Column, bool
        What is listed and how.
    as_peaks : bool
        Lists peaks instead of single arrivals.
    cut : Cut or None
    in_pairs : bool
        Moves panels and stands that mirror each other as one.
    trouble : str
        Why the last place asked for is not allowed.
    wanted : (3,) tuple of float or None
        That place, while what is selected is still being moved. [m]
    bass : BassMap or None
        How even each place of the floor makes the bass, where it was asked for.
    bass_now : BassNow or None
        What the sources send to the seats where they are now, in the hand or at rest.
    bass_says : str
        Why the bass is not there, or not that of the room as it stands; empty where it is.
    mode : int or None
        Row of the mode whose shape is shown.
    placing : Placing or None
        What is held over the room until it is put down.
    entries : tuple of KeyPath
        Tables of the scene that are selected, moved by hand or not.
    beside : Beside or None
        The variant that is compared with.
    plan : tuple of (float, float) or None
        Corners of the floor while one of them is pulled. [m]
    measuring : Measuring or None
        The distance that clicks in the room measure; None while they select.
    measured : MeasuredRoom or None
        What measurements say of the room.
    measured_says : str
        Why they do not yet, or not of the room as it stands; empty where they do.
    measurement_at, measured_chosen : int, int or None
        Which measurement is shown, and which of its peaks is selected.
    misfits : tuple of KeyPath
        Entries of the scene that a change was refused for, since they would not fit any more.
    light : LightMap or None
        The room's own light, of the room as it last rested; None before it is known.
    """

    study: Study
    stage: Stage
    eye: Eye
    until_s: float = 0.030
    settled: bool = True
    view: str = "room"
    theme: str = "light"
    units: str = "metric"
    chosen: PathKey | None = None
    pointed: PathKey | None = None
    thing: Thing | None = None
    time_s: float | None = None
    layers: frozenset[str] = LAYERS_AT_FIRST
    filter: Filter = field(default_factory=Filter)
    sort: Column = "delay"
    falling: bool = False
    as_peaks: bool = False
    cut: Cut | None = None
    in_pairs: bool = True
    trouble: str = ""
    wanted: tuple[float, float, float] | None = None
    bass: "BassMap | None" = None
    bass_now: "BassNow | None" = None
    bass_says: str = ""
    mode: int | None = None
    placing: Placing | None = None
    entries: tuple[KeyPath, ...] = ()
    beside: Beside | None = None
    plan: tuple[tuple[float, float], ...] | None = None
    measuring: Measuring | None = None
    measured: "MeasuredRoom | None" = None
    measured_says: str = ""
    measurement_at: int = 0
    measured_chosen: int | None = None
    misfits: tuple[KeyPath, ...] = ()
    light: LightMap | None = None

    @property
    def held(self) -> "Held | None":
        """The room as it is now beside its measurements."""
        return None if self.measured is None else self.measured.last

    @property
    def measurement(self) -> "Measurement | None":
        """The measurement that is shown."""
        return None if self.held is None else self.held.heard[self.measurement_at]

    @property
    def measured_peak(self) -> "Attribution | None":
        """The peak of it that is selected."""
        own = self.measurement
        return None if own is None or self.measured_chosen is None else own.peaks[self.measured_chosen]

    @property
    def colours(self) -> Theme:
        """The colours of the theme."""
        return THEMES[self.theme]

    @cached_property
    def heard(self) -> Ints:
        """What `heard_rows` says; half the parts of the window ask for it."""
        rows, table = listed_rows(self), self.study.arrivals
        is_sub = np.array([speaker.use == "sub" for speaker in self.study.scene.speakers])
        kept: NDArray[np.bool_] = table.seat[rows] == self.seat
        if self.filter.speaker is None:
            kept &= ~is_sub[table.speaker[rows]]
        return rows[kept]

    @property
    def seat(self) -> int:
        """The seat that pictures and curve are about."""
        if self.filter.seat is not None:
            return self.filter.seat
        return self.chosen[1] if self.chosen is not None else 0

    @property
    def faces_surface(self) -> bool:
        """Whether one surface is seen straight on; what stands before it is then drawn as if of glass."""
        return self.view not in ("", *HEADING)

    @property
    def chosen_row(self) -> int | None:
        """Row of the selected reflection; None where there is none (any more)."""
        return row_of(self.study, self.chosen)

    @property
    def pointed_row(self) -> int | None:
        """Row of the reflection under the pointer."""
        return row_of(self.study, self.pointed)


def path_key(study: Study, row: int) -> PathKey:
    """What stays the same of a reflection while things move."""
    table = study.arrivals
    facets = tuple(int(f) for f in table.path_facets[row] if f >= 0)
    return int(table.speaker[row]), int(table.seat[row]), facets


def row_of(study: Study, way: PathKey | None) -> int | None:
    """Row of a reflection in a study's arrivals."""
    if way is None:
        return None
    table = study.arrivals
    n = len(way[2])
    same = (table.speaker == way[0]) & (table.seat == way[1]) & (table.order == n)
    same &= (
        (table.path_facets[:, :n] == np.array(way[2])).all(axis=1)
        if n <= table.path_facets.shape[1]
        else False
    )
    rows = np.flatnonzero(same)
    return int(rows[0]) if len(rows) else None


def listed_rows(shown: OnScreen) -> Ints:
    """Rows of the arrivals that the list shows, in its sequence."""
    table, chosen = shown.study.arrivals, shown.filter
    kept = np.ones(len(table.order), bool)
    for value, column in (
        (chosen.speaker, table.speaker),
        (chosen.seat, table.seat),
        (chosen.order, table.order),
    ):
        if value is not None:
            kept &= column == value
    if chosen.over_only:
        kept &= np.isin(np.arange(len(kept)), list(strong_rows(shown.study)))
    if chosen.surface is not None:
        met = [surface_words(shown.study, row) for row in range(len(table.order))]
        kept &= np.array([chosen.surface in names for names in met], bool)
    rows = np.flatnonzero(kept)
    rows = rows[np.argsort(_sort_key(shown, rows), kind="stable")]
    return rows[::-1] if shown.falling else rows


def heard_rows(shown: OnScreen) -> Ints:
    """Listed rows at the seat shown, those of a sub only where it is asked for."""
    return shown.heard


def _sort_key(shown: OnScreen, rows: Ints) -> NDArray[np.generic]:
    table = shown.study.arrivals
    if shown.sort == "way":
        return np.array([path_text(shown.study, int(row)) for row in rows], dtype=object).astype(str)
    if shown.sort == "speaker":
        return table.speaker[rows]
    if shown.sort == "level":
        return table.band_level_db[rows]
    if shown.sort == "limit":
        peaks = [peak_of(shown.study, int(row)) for row in rows]
        return np.array([-np.inf if peak is None else -peak.margin_db for peak in peaks])
    return table.delay_s[rows]


def listed_peaks(shown: OnScreen) -> tuple[Peak, ...]:
    """Peaks of the listed arrivals, and those that only beside the ears or past an edge are heard."""
    rows = set(listed_rows(shown).tolist())
    own = [
        p for p in shown.study.peaks if (rows & set(p.arrivals) if p.arrivals else _lets_through(shown, p))
    ]
    if shown.filter.over_only:
        own = [p for p in own if p.may_be_over]
    return tuple(sorted(own, key=lambda p: _peak_key(shown, p), reverse=shown.falling))


def _lets_through(shown: OnScreen, peak: Peak) -> bool:
    """Whether a peak that has no arrival at the ears passes the filter."""
    chosen = shown.filter
    parts = (
        (chosen.speaker, (peak.speaker,)),
        (chosen.seat, (peak.seat,)),
        (chosen.order, (len(peak.facets),)),
        (chosen.surface, peak_surface_names(shown.study, peak)),
    )
    return all(value is None or value in values for value, values in parts)


def _peak_key(shown: OnScreen, peak: Peak) -> tuple[float | str, float]:
    keys: dict[Column, float | str] = {
        "delay": peak.delay_s,
        "speaker": peak.speaker,
        "level": peak.level_db,
        "limit": -np.inf if peak.verdict == "not judged" else -peak.margin_db,
    }
    key = peak_words(shown.study, peak) if shown.sort == "way" else keys[shown.sort]
    return key, -peak.delay_s if shown.falling else peak.delay_s


def with_filter(shown: OnScreen, **values: int | str | bool | None) -> OnScreen:
    """The record with some parts of its filter changed."""
    return replace(shown, filter=replace(shown.filter, **values))  # type: ignore[arg-type]  # each control names its own part


def sorted_by(shown: OnScreen, column: Column) -> OnScreen:
    """The record sorted by a column; the same column again turns the sequence round."""
    if column == shown.sort:
        return replace(shown, falling=not shown.falling)
    return replace(shown, sort=column, falling=column in ("level", "limit"))


def fitting(shown: OnScreen, study: Study) -> OnScreen:
    """The record without what a study has no more: a speaker, seat or surface listed or selected."""
    scene, own = study.scene, shown.filter
    n_speakers, n_seats = len(scene.speakers), len(scene.seats)
    has = {s.name for s in study.room.surfaces}
    kept = replace(
        own,
        speaker=own.speaker if own.speaker is not None and own.speaker < n_speakers else None,
        seat=own.seat if own.seat is not None and own.seat < n_seats else None,
        surface=own.surface if own.surface in has else None,
    )
    if kept.seat is None and n_seats > 1:
        kept = replace(kept, seat=0)
    ways = (
        way if way is not None and way[0] < n_speakers and way[1] < n_seats else None
        for way in (shown.chosen, shown.pointed)
    )
    chosen, pointed = ways
    return replace(shown, filter=kept, chosen=chosen, pointed=pointed)


def with_layer(shown: OnScreen, name: str, drawn: bool) -> OnScreen:
    """The record with one layer drawn or not."""
    return replace(shown, layers=shown.layers | {name} if drawn else shown.layers - {name})

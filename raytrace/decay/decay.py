"""Energy decay at the seats: exact early reflections, traced late ones, and what they amount to."""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import (
    BAND_NAMES,
    BANDS_HZ,
    DecayTarget,
    RoomParameters,
    air_attenuation_db_per_m,
    decay_curve,
    decay_target,
    room_parameters,
)
from raytrace.decay.classical import arau_puchades_s, diffuse_room, eyring_s, sabine_s, schroeder_hz
from raytrace.decay.energy import BIN_S, Ears, Ends, RayEnergy, Sampling, trace_energy
from raytrace.facts import Sentence, sentence
from raytrace.reflections import (
    Arrivals,
    PointArrivals,
    Progress,
    Reach,
    decibels,
    speaker_directivity,
)
from raytrace.room import Room, build_room, speaker_axis
from raytrace.scene import Scene, Speaker

Floats = NDArray[np.float64]

USUAL_SAMPLING = Sampling()
_BEFORE_WALL_M = 1e-4  # rounding keeps rays that leave from here on the right side of the wall
LONGEST_S = 10.0  # a record this long holds what any furnished room does
MIDDLE = slice(3, 5)  # 500 Hz and 1 kHz, the bands that ISO 3382-1 averages
ROUGH = 0.05  # of T20, the difference that ISO 3382-1 takes as just noticeable
ENOUGH_DB = -50.0  # level near the end of the record that is low enough for T30 and a margin
NOTES = (
    sentence(
        "Decay: rays with Lambert scattering, absorption and scattering as random-incidence values; openings "
        "and objects absorb over their whole face, whatever the wavelength."
    ),
)


@dataclass(frozen=True)
class Decay:
    """How the sound of one speaker dies away at one seat.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    step_s : float
        Width of a time bin.
    direct : (n_bands,) float
        Energy of the direct sound re the free-field direct sound: 1, or 0 where it is hidden.
    energy : (n_bins, n_bands) float
        The same ratio for what follows, per bin from the free-field direct sound on.
    level_error_db : (n_bins + 1, n_bands) float
        One standard error of `level_db`; inf where nothing is left.
    parameters : RoomParameters
        Decay times and energy ratios, each (n_bands,).
    errors : RoomParameters
        One standard error of each, from the scatter of independent groups of rays.
    sabine_s, eyring_s, arau_s : (n_bands,) float
        The formulas' decay times.
    mean_free_path_m : float
        Of the speaker's rays from bounce to bounce; in a diffuse field 4 V / S (C. W. Kosten, Acustica 10
        (1960) 245, from memory).
    target : DecayTarget
        Published target for a room of this volume.
    schroeder_hz : float
        Below it single modes rule, and neither rays nor formulas hold; one value for the whole room.
    notes : tuple of Sentence
        What the reader of these numbers must know.
    """

    speaker: int
    seat: int
    step_s: float
    direct: Floats
    energy: Floats
    level_error_db: Floats
    parameters: RoomParameters
    errors: RoomParameters
    sabine_s: Floats
    eyring_s: Floats
    arau_s: Floats
    mean_free_path_m: float
    target: DecayTarget
    schroeder_hz: float
    notes: tuple[Sentence, ...]

    @property
    def time_s(self) -> Floats:
        """Edges of the bins after the direct sound, (n_bins + 1,)."""
        return np.asarray(self.step_s * np.arange(len(self.energy) + 1), np.float64)

    @property
    def middle_s(self) -> float:
        """T20 in the middle of the range, the mean of 500 Hz and 1 kHz; NaN where it was not found. [s]"""
        return float(np.mean(self.parameters.t20_s[MIDDLE]))

    @property
    def is_over_at_once(self) -> bool:
        """Whether late in the record nothing is left in the middle of the range."""
        return not self.energy[int(0.9 * len(self.energy)) :, MIDDLE].any()

    @property
    def level_db(self) -> Floats:
        """Energy still to come at these times re all of it, (n_bins + 1, n_bands); last -inf."""
        curve = decay_curve(self.direct, self.energy)
        level_db: Floats = decibels(np.asarray(curve / curve[0], np.float64))
        return level_db


def find_decay(
    scene: Scene,
    room: Room,
    arrivals: Arrivals,
    *,
    sampling: Sampling = USUAL_SAMPLING,
    progress: Progress | None = None,
) -> tuple[Decay, ...]:
    """Energy decay of every speaker at every seat, by speaker, then seat.

    Mirrored sound of no more bounces than the arrivals hold, within their time, is left to them; all else,
    later or scattered on its way, comes from rays.

    Parameters
    ----------
    scene, room : Scene, Room
        The room built from the same scene.
    arrivals : Arrivals
        Of the same scene.
    sampling : Sampling
        How many rays, and from which seed.
    progress : callable, optional
        Called with a text and the share done (0 to 1).
    """
    from raytrace.kernels import is_cold

    if room.cabinets:
        scene, room = _without_cabinets(scene)
    diffuse = diffuse_room(scene, room)
    formulas = {
        "sabine_s": sabine_s(diffuse),
        "eyring_s": eyring_s(diffuse),
        "arau_s": arau_puchades_s(diffuse),
    }
    guess_s = 1.2 * float(np.max(np.maximum(formulas["sabine_s"], formulas["arau_s"])))
    target = decay_target(room.volume_m3)
    decays: list[Decay] = []
    for index, speaker in enumerate(scene.speakers):
        if progress:
            waiting = " (compiling for this machine, once)" if not index and is_cold() else ""
            progress(f"energy decay of {speaker.name}{waiting}", index / len(scene.speakers))
        at_points = [h for h in arrivals.at_ears if h.speaker == index]
        heard = _Heard(scene, room, speaker, at_points, arrivals.reach)
        exact, rays = _trace_speaker(heard, guess_s, sampling)
        own = [_Late(ears, exact[place], rays.energy[:, place]) for place, ears in enumerate(at_points)]
        decays += [_decay(scene, late, rays, formulas, target) for late in own]
    return _with_schroeder(room, decays)


def _without_cabinets(scene: Scene) -> tuple[Scene, Room]:
    """A scene and its room for rays, which would start inside their own speaker's cabinet."""
    bare = [speaker.model_copy(update={"body": None}) for speaker in scene.speakers]
    scene = scene.model_copy(update={"speakers": tuple(bare)})
    return scene, build_room(scene)


def _with_schroeder(room: Room, decays: list[Decay]) -> tuple[Decay, ...]:
    """The same with the frequency from which on they hold: one for the room, of the mean decay time."""
    known = [decay.middle_s for decay in decays if np.isfinite(decay.middle_s)]
    middle_s = np.mean(known) if known else np.mean(decays[0].eyring_s[MIDDLE])
    frequency_hz = schroeder_hz(float(middle_s), room.volume_m3)
    if middle_s == 0.0:
        return tuple(replace(decay, schroeder_hz=0.0) for decay in decays)  # nothing sounds on in this room
    low = [f"{name}" for name, edge_hz in zip(BAND_NAMES, BANDS_HZ, strict=True) if edge_hz < frequency_hz]
    note = sentence(
        "Below about {frequency} Hz single modes rule and neither rays nor formulas hold"
        + (": the bands {bands} Hz are a rough guide at most." if low else "."),
        frequency=f"{round(frequency_hz, -1):.0f}",
        bands=", ".join(low),
    )
    return tuple(replace(d, schroeder_hz=frequency_hz, notes=(note, *d.notes)) for d in decays)


@dataclass(frozen=True)
class _Late:
    """What one listener hears of one speaker: exact reflections, traced (n_groups, n_bins, n_bands)."""

    ears: PointArrivals
    exact: "_Exact"
    traced: Floats

    @property
    def in_bins(self) -> Floats:
        """All of it, group by group, (n_groups, n_bins, n_bands)."""
        both: Floats = self.traced + self.exact.in_bins(self.traced.shape[1])
        return both


@dataclass(frozen=True)
class _Exact:
    """Reflections that rays leave out: delay_s (n,), energy re direct (n, n_bands)."""

    delay_s: Floats
    energy: Floats

    def in_bins(self, n_bins: int) -> Floats:
        """Energy in each time bin, (n_bins, n_bands)."""
        bins = np.zeros((n_bins, len(BANDS_HZ)))
        np.add.at(bins, np.minimum((self.delay_s / BIN_S).astype(np.int64), n_bins - 1), self.energy)
        return bins


def _decay(
    scene: Scene,
    late: _Late,
    rays: RayEnergy,
    formulas: dict[str, Floats],
    target: DecayTarget,
) -> Decay:
    direct = np.mean(np.abs(late.ears.direct) ** 2, axis=1)
    parameters, errors = _with_errors(direct, late)
    in_bins = late.in_bins
    return Decay(
        speaker=late.ears.speaker,
        seat=late.ears.seat,
        step_s=BIN_S,
        direct=direct,
        energy=in_bins.mean(axis=0),
        level_error_db=_level_error_db(direct, in_bins),
        parameters=parameters,
        errors=errors,
        **formulas,
        mean_free_path_m=rays.mean_free_path_m,
        target=target,
        schroeder_hz=np.nan,  # until all decays of the room are known
        notes=_notes(scene.speakers[late.ears.speaker], late, (parameters, errors), rays, target),
    )


@dataclass(frozen=True)
class _Heard:
    """One speaker in its room, with what is known exactly of it at every seat's ears."""

    scene: Scene
    room: Room
    speaker: Speaker
    at_points: list[PointArrivals]
    reach: Reach

    @property
    def exact_m(self) -> Floats:
        """Length up to which reflections are known, (n_seats,); a hair more than the search's limit."""
        direct_m = np.array([h.paths.direct_m for h in self.at_points])
        # The hair lets both parts agree on what lies on the limit.
        exact_m: Floats = (direct_m + self.reach.within_s * self.room.speed_of_sound_m_s) * (1.0 + 1e-9)
        return exact_m

    def exact(self, until_s: float) -> list[_Exact]:
        """Reflections at each seat that rays leave out, within the record."""
        at_seats = []
        for ears, limit_m in zip(self.at_points, self.exact_m, strict=True):
            known = (ears.paths.length_m <= limit_m) & (ears.paths.order <= self.reach.up_to_order)
            known &= ears.delay_s < until_s
            at_seats.append(_Exact(ears.delay_s[known], np.mean(np.abs(ears.pressure[known]) ** 2, axis=2)))
        return at_seats


def _trace_speaker(heard: _Heard, guess_s: float, sampling: Sampling) -> tuple[list[_Exact], RayEnergy]:
    """Exact reflections at each seat and traced energy re direct, in a record that is long enough."""
    room, speaker = heard.room, heard.speaker
    axis = speaker_axis(heard.scene, speaker)
    directivity = speaker_directivity(heard.scene, speaker, room)

    walls = room.faces_at(speaker.position)
    # Rays leave from the air just before the wall that a speaker is built into, and none into the wall.
    source = np.asarray(speaker.position) + _BEFORE_WALL_M * walls.sum(axis=0)

    def send(directions: Floats) -> Floats:
        into_air = np.all(directions @ walls.T > 0.0, axis=1, keepdims=True)
        sent: Floats = directivity.energy(directions, axis) * into_air
        return sent

    positions = np.array([h.paths.listener for h in heard.at_points])
    towards = positions - np.asarray(speaker.position)
    sent_direct = send(towards / np.linalg.norm(towards, axis=1, keepdims=True))
    ears = Ears(positions, heard.exact_m, heard.reach.up_to_order)
    until_s = float(np.clip(guess_s, 0.1, LONGEST_S))
    while True:
        rays = trace_energy(room, source, send, ears, Ends(until_s), sampling)
        n_bins = rays.energy.shape[2]
        energy = rays.energy / sent_direct[:, None, :] * _air(heard.scene, room, n_bins)
        exact = heard.exact(n_bins * BIN_S)
        in_bins = np.stack([at_seat.in_bins(n_bins) for at_seat in exact])
        curve = decay_curve(0.0, in_bins + energy.mean(axis=0))
        with np.errstate(invalid="ignore"):
            level_db = decibels(curve[:, int(0.9 * n_bins)] / curve[:, 0])
        if until_s >= LONGEST_S or not (level_db > ENOUGH_DB).any():
            return exact, replace(rays, energy=energy)
        until_s = min(2.0 * until_s, LONGEST_S)


def _air(scene: Scene, room: Room, n_bins: int) -> Floats:
    """What air leaves of the energy in each bin re the direct sound, (n_bins, n_bands)."""
    air = scene.air
    loss_db = air_attenuation_db_per_m(BANDS_HZ, air.temperature, air.humidity, air.pressure)
    detour_m = (np.arange(n_bins) + 0.5) * BIN_S * room.speed_of_sound_m_s
    left: Floats = 10.0 ** (-0.1 * detour_m[:, None] * loss_db)
    return left


def _with_errors(direct: Floats, late: _Late) -> tuple[RoomParameters, RoomParameters]:
    """Parameters, and their standard errors by leaving out one group of rays after the other."""
    traced, exact = late.traced, (late.exact.delay_s, late.exact.energy)
    n_groups = len(traced)
    parameters = room_parameters(direct, traced.mean(axis=0), BIN_S, reflections=exact)
    others = (traced.sum(axis=0) - traced) / (n_groups - 1)
    without = room_parameters(direct, others, BIN_S, reflections=exact)
    errors = {}
    for field in fields(RoomParameters):
        values = getattr(without, field.name)
        with np.errstate(invalid="ignore"):
            errors[field.name] = np.sqrt(n_groups - 1.0) * values.std(axis=0)
    return parameters, RoomParameters(**errors)


def _level_error_db(direct: Floats, in_bins: Floats) -> Floats:
    """Standard error of the level of the backward-integrated curve, (n_bins + 1, n_bands)."""
    curves = decay_curve(direct, in_bins)
    error, mean = curves.std(axis=0, ddof=1) / np.sqrt(len(in_bins)), curves.mean(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        level: Floats = np.where(mean > 0.0, 10.0 / np.log(10.0) * error / mean, np.inf)
    return level


def _notes(
    speaker: Speaker,
    late: _Late,
    found: tuple[RoomParameters, RoomParameters],
    rays: RayEnergy,
    target: DecayTarget,
) -> tuple[Sentence, ...]:
    """Limits of validity of one decay, in the words every output shows."""
    parameters, errors = found
    notes = [*NOTES]
    if speaker.use == "sub":
        sub = "{speaker} is a sub: what it plays lies where rays do not hold; its decay is listed only."
        notes.append(sentence(sub, speaker=speaker.name))
    if not late.ears.paths.direct_visible:
        hidden = "The direct sound is hidden; times count from where it would arrive in the open."
        notes.append(sentence(hidden))
    notes += _without_t30(late, parameters)
    with np.errstate(invalid="ignore"):
        rough = errors.t20_s > ROUGH * parameters.t20_s
    if rough.any():
        names = ", ".join(f"{name}" for name, is_rough in zip(BAND_NAMES, rough, strict=True) if is_rough)
        unsure = "T20 in the bands {bands} Hz is known to no better than {share} %: more rays help."
        notes.append(sentence(unsure, bands=names, share=f"{100 * ROUGH:.0f}"))
    if (np.isnan(parameters.edt_s) & ~_is_silent(late)).any():
        notes.append(sentence("No EDT where the direct sound alone makes most of the first 10 dB."))
    escaped = float(np.max(rays.escaped / rays.sent))
    if escaped > 1e-3:
        gaps = "{share} % of the energy left through gaps in the room's surfaces."
        notes.append(sentence(gaps, share=f"{100 * escaped:.1f}"))
    if target.note:
        notes.append(target.note)
    return tuple(notes)


def _without_t30(late: _Late, parameters: RoomParameters) -> list[Sentence]:
    """Why some bands have no T30: nothing comes back, too little does, or it takes too long."""
    none, silent = np.isnan(parameters.t30_s), _is_silent(late)
    curve = decay_curve(0.0, late.in_bins.mean(axis=0))
    goes_on = none & (curve[int(0.9 * len(curve))] > 0.0)
    reasons = (
        (
            silent,
            "Nothing comes back in the bands {bands} Hz: every surface that sound meets absorbs all of it.",
        ),
        (
            none & ~silent & ~goes_on,
            "No T30 in the bands {bands} Hz: single reflections come back, and no more.",
        ),
        (goes_on, "No T30 in the bands {bands} Hz: the decay is longer than the record."),
    )
    return [
        sentence(
            words, bands=", ".join(f"{name}" for name, is_so in zip(BAND_NAMES, found, strict=True) if is_so)
        )
        for found, words in reasons
        if found.any()
    ]


def _is_silent(late: _Late) -> NDArray[np.bool_]:
    """Bands in which nothing follows the direct sound, (n_bands,)."""
    return np.asarray(late.in_bins.sum(axis=(0, 1)) == 0.0)

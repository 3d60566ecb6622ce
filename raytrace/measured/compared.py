"""Measured responses beside the prediction: who made which peak, what changed, what nothing explains."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import plain
from raytrace.measured.attribution import (
    UNEXPLAINED,
    Attribution,
    Fit,
    attribute,
    fit_of,
    fits_better,
    misfit_of,
)
from raytrace.measured.decays import MeasuredDecay, measured_decay
from raytrace.measured.extrapaths import PointSet, points_with_extra
from raytrace.measured.predicted import Predicted, PredictedPeak, predicted_peaks
from raytrace.measured.recordings import Recording, hash_of, read_recording
from raytrace.measured.responses import (
    ABOVE_NOISE_DB,
    CurvePeak,
    Curves,
    Response,
    find_curve_peaks,
    find_response,
    measured_curves,
)
from raytrace.measured.sweep import read_response
from raytrace.reflections import Arrivals, find_arrivals
from raytrace.room import Room, build_room
from raytrace.scene import Scene
from raytrace.verdicts import PEAK_WIDTH_S, SURVEY_M

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

LOWEST_DB = -30.0  # re direct: weaker peaks are not looked into
UNHEARD_DB = 6.0  # by so much a predicted peak is missing in what was measured, or a measured one louder
RINGS_DB = -20.0  # until a reflection so strong can arrive, a curve is the loudspeaker's own
OWN_S, OWN_APART_S = (
    0.003,
    0.00008,
)  # what follows at every seat so soon and so alike is the loudspeaker's own
UNEXPLAINED_DB, MOST_UNEXPLAINED = -20.0, 3  # stronger ones are told in words, the strongest one by one
# Doubt whether a drawing is of the room that was measured: so many peaks are needed, and so many standard
# deviations above chance. Full-wave rooms in their own drawings lie at 3.8 and more, six microphones of
# dEchorate at 3.5; in drawings of other rooms at 0.8 and 2.1 at most.
_ENOUGH_PEAKS, _BY_CHANCE = 5, 2.5


@dataclass(frozen=True)
class Take:
    """A sound file and what it is a measurement of.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    path : Path
    channel : int or None
        Counted from 1.
    """

    speaker: int
    seat: int
    path: Path
    channel: int | None = None

    @property
    def file(self) -> str:
        """The name of the file as it can be printed."""
        return plain(self.path.name)


@dataclass(frozen=True)
class Measurement:
    """One measurement beside its prediction.

    Attributes
    ----------
    take : Take
    response : Response
    curves : Curves
        As measured.
    predicted : Predicted
    peaks : tuple of Attribution
        What was measured, by delay; `made_by` and `runner_up` index `predicted.peaks`.
    unheard : tuple of PredictedPeak
        What should have been measured and was not.
    beyond : tuple of PredictedPeak
        What the prediction has behind the end of the record: it can have been there or not.
    decay : MeasuredDecay
    until_s : float
        Up to when peaks are told: where the prediction, the record or what was asked for ends.
    fit : Fit
        Whether the drawing explains more of it than it would by chance.
    fits_better : (int, int) or None
        Another speaker, or another seat, whose prediction it fits far better: its label is in doubt.
    """

    take: Take
    response: Response
    curves: Curves
    predicted: Predicted
    peaks: tuple[Attribution, ...]
    unheard: tuple[PredictedPeak, ...]
    beyond: tuple[PredictedPeak, ...]
    decay: MeasuredDecay
    until_s: float
    fit: Fit
    fits_better: tuple[int, int] | None

    @property
    def lowest_db(self) -> float:
        """Peaks are told from this level on."""
        return lowest_db(self.response)

    @property
    def n_too_weak(self) -> int:
        """How many predicted peaks would not be told from noise: nothing is said of them one by one."""
        named = {own.made_by for own in self.peaks}
        return sum(
            peak.is_top and k not in named and peak.level_db < self.lowest_db + UNHEARD_DB
            for k, peak in enumerate(self.predicted.peaks)
            if peak.delay_s <= self.until_s
        )

    @property
    def unexplained(self) -> tuple[Attribution, ...]:
        """Peaks that nothing drawn explains."""
        return tuple(peak for peak in self.peaks if peak.is_unexplained)

    @property
    def strong_unexplained(self) -> tuple[Attribution, ...]:
        """Those of them that are told in words one by one, by delay."""
        strong = sorted(self.unexplained, key=lambda own: -own.peak.level_db)[:MOST_UNEXPLAINED]
        strong = [own for own in strong if own.peak.level_db >= UNEXPLAINED_DB]
        return tuple(sorted(strong, key=lambda own: own.peak.delay_s))

    @property
    def n_more_unexplained(self) -> int:
        """How many are as strong and not among them."""
        strong = [own for own in self.unexplained if own.peak.level_db >= UNEXPLAINED_DB]
        return len(strong) - len(self.strong_unexplained)


@dataclass(frozen=True)
class Held:
    """Measurements of one state of a room beside the prediction of it."""

    scene: Scene
    room: Room
    arrivals: Arrivals
    heard: tuple[Measurement, ...]

    @property
    def fit(self) -> Fit:
        """Of all measurements together."""
        fits = [heard.fit for heard in self.heard]
        return Fit(
            sum(fit.n_peaks for fit in fits),
            sum(fit.explained for fit in fits),
            sum(fit.by_chance for fit in fits),
            float(np.sqrt(sum(fit.chance_spread**2 for fit in fits))),
        )

    @property
    def surely_labelled(self) -> "Held":
        """Only those measurements of which it is in no doubt whose they are."""
        return replace(self, heard=tuple(own for own in self.heard if own.fits_better is None))

    @property
    def is_doubtful(self) -> bool:
        """Whether the drawing explains hardly more than it would by chance: is it of this room?"""
        fit = self.fit
        return fit.n_peaks >= _ENOUGH_PEAKS and fit.explained < fit.by_chance + _BY_CHANCE * fit.chance_spread

    def at(self, speaker: int, seat: int) -> Measurement | None:
        """The measurement of one speaker at one seat."""
        own = [h for h in self.heard if (h.take.speaker, h.take.seat) == (speaker, seat)]
        return own[0] if own else None


@dataclass(frozen=True)
class MeasuredChange:
    """What became of one arrival: measured beside predicted, after less before.

    Attributes
    ----------
    speaker, seat : str
    peak : PredictedPeak
        Of the room before.
    before_db, after_db : float
        As measured in the limit's band; after at most what noise lets be seen.
    predicted_before_db, predicted_after_db : float
    octaves_db, predicted_octaves_db : (3,) float
        Changes at 1, 2, 4 kHz.
    """

    speaker: str
    seat: str
    peak: PredictedPeak
    before_db: float
    after_db: float
    predicted_before_db: float
    predicted_after_db: float
    octaves_db: Floats
    predicted_octaves_db: Floats


def lowest_db(response: Response) -> float:
    """Level from which peaks of a response are told: 10 dB above its noise. [dB]"""
    return max(LOWEST_DB, response.noise_floor_db + ABOVE_NOISE_DB)


def hold_against(
    scene: Scene,
    takes: Sequence[Take],
    *,
    sweep: str | Path | None = None,
    up_to_order: int | None = None,
    within_s: float = 0.030,
    progress: Progress | None = None,
) -> Held:
    """Measurements of a room as a scene draws it: peaks named, and what does not fit.

    Parameters
    ----------
    scene : Scene
    takes : sequence of Take
        Impulse responses, or recordings of a sweep.
    sweep : str or Path, optional
        The sweep that was played; without it the files hold impulse responses.
    up_to_order, within_s : int, float
        How far reflections are followed.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Raises
    ------
    RecordingError
        Where a file cannot be used.
    SceneError
        Where the room cannot be built.
    """
    reference = None if sweep is None else read_recording(sweep, whole=True)
    responses = [_response(scene, take, reference) for take in takes]
    _check_once(responses)
    room = build_room(scene)
    arrivals = find_arrivals(
        scene, room, up_to_order=up_to_order, within_s=within_s, zone=False, progress=progress
    )
    until_s = max(arrivals.reach.complete_to_s, scene.limits.within_s) if up_to_order is None else within_s
    until_s = min(until_s, within_s)
    predicted = {
        (own.speaker, own.seat): own
        for own in predicted_peaks(scene, room, arrivals, until_s=until_s, lowest_db=LOWEST_DB)
    }
    heard = []
    for k, (take, response) in enumerate(zip(takes, responses, strict=True)):
        if progress:
            progress(f"peaks in {take.file}", k / len(takes))
        heard.append(_heard(scene, room, take, response, predicted, until_s))
    return Held(scene, room, arrivals, tuple(_with_speakers_own(one, heard) for one in heard))


def _check_once(responses: Sequence[Response]) -> None:
    """Refuse the same sound given for two places."""
    first: dict[bytes, Recording] = {}
    for response in responses:
        own = response.recording
        other = first.setdefault(hash_of(own), own)
        if other is not own:
            raise own.refuse(
                f"holds the same sound as {other.file}: one of the two is not what it was given for. "
                "Look for the right file, or leave one out"
            )


def _response(scene: Scene, take: Take, sweep: Recording | None) -> Response:
    return find_response(scene, read_response(take.path, channel=take.channel, sweep=sweep))


def _heard(
    scene: Scene,
    room: Room,
    take: Take,
    response: Response,
    every: Mapping[tuple[int, int], Predicted],
    until_s: float,
) -> Measurement:
    """One response beside the prediction of its speaker at its seat, and beside every other."""
    predicted = every[take.speaker, take.seat]
    curves = measured_curves(scene, response, until_s=until_s)
    asked_s, until_s = until_s, min(until_s, response.until_s)
    least_db = lowest_db(response)
    known = {"survey_m": survey_m(scene), "speed_m_s": room.speed_of_sound_m_s}
    found = _curve_peaks(scene, response, curves, predicted, until_s)
    peaks = attribute(found, predicted.peaks, **known)
    peaks = tuple(own for own in peaks if own.made_by is not None or not own.peak.may_ring)
    peaks = tuple(replace(own, is_of_edges=_is_of_edges(own, predicted)) for own in peaks)
    named = {peak.made_by for peak in peaks}
    unheard = unheard_peaks(predicted, named, curves, least_db, until_s)
    missing = _strong_peaks(predicted, named, least_db)
    beyond = tuple(peak for peak in missing if peak.delay_s > until_s - PEAK_WIDTH_S)
    beyond = beyond if until_s < asked_s else ()
    tops = [own.peak for own in peaks]
    fit = fit_of(tops, predicted.peaks, **known, until_s=until_s)

    def misfit(own: Predicted) -> float:
        cost, its_own = misfit_of(tops, own.peaks, **known)
        return cost + UNEXPLAINED * len(unheard_peaks(own, its_own, curves, least_db, until_s))

    # One thing is mistaken for another at a time: the speaker or the seat.
    others = [own for own in every.values() if (own.speaker == take.speaker) != (own.seat == take.seat)]
    better = fits_better([misfit(own) for own in others], misfit(predicted), len(tops))
    return Measurement(
        take,
        response,
        curves,
        predicted,
        peaks,
        unheard,
        beyond,
        measured_decay(response),
        until_s,
        fit,
        None if better is None else (others[better].speaker, others[better].seat),
    )


def _curve_peaks(
    scene: Scene, response: Response, curves: Curves, predicted: Predicted, until_s: float
) -> tuple[CurvePeak, ...]:
    """Peaks of a measured curve; what comes before the first strong prediction is the loudspeaker's own."""
    strong = [peak.delay_s for peak in predicted.peaks if peak.level_db > RINGS_DB]
    return find_curve_peaks(
        scene,
        curves,
        lowest_db=lowest_db(response),
        until_s=until_s,
        alone_s=min([until_s, *strong]),
        noise_db=response.noise_floor_db,
    )


def _with_speakers_own(one: Measurement, heard: Sequence[Measurement]) -> Measurement:
    """A measurement with the peaks that its loudspeaker sends everywhere marked as such."""
    others = [other for other in heard if other.take.speaker == one.take.speaker and other is not one]
    if not others:
        return one
    marked = []
    for own in one.peaks:
        is_own = own.is_unexplained and own.peak.delay_s <= OWN_S
        for other in others:
            is_own &= any(_are_alike(own, p) for p in other.peaks)
        marked.append(replace(own, is_speakers_own=is_own))
    return replace(one, peaks=tuple(marked))


def _are_alike(one: Attribution, other: Attribution) -> bool:
    """Whether two peaks of a loudspeaker at two seats can be the same thing of its own."""
    return (
        other.is_unexplained
        and abs(other.peak.delay_s - one.peak.delay_s) <= OWN_APART_S
        and abs(other.peak.level_db - one.peak.level_db) <= UNHEARD_DB
    )


def _is_of_edges(own: Attribution, predicted: Predicted) -> bool:
    """Whether the predicted curve rises where a peak is that no arrival made, and about as high."""
    return own.made_by is None and any(
        abs(edge.delay_s - own.peak.delay_s) <= PEAK_WIDTH_S
        and edge.level_db >= own.peak.level_db - UNHEARD_DB
        for edge in predicted.edges
    )


def unheard_peaks(
    predicted: Predicted, named: Collection[int | None], curves: Curves, least_db: float, until_s: float
) -> tuple[PredictedPeak, ...]:
    """Predicted peaks, none of those `named`, that a measured curve should show and does not."""
    # Half of a pulse beside an end is none: behind it nothing can be heard.
    told_s = until_s - PEAK_WIDTH_S
    return tuple(
        peak
        for peak in _strong_peaks(predicted, named, least_db)
        if peak.delay_s <= told_s and curves.at(peak.delay_s)[0] < peak.level_db - UNHEARD_DB
    )


def _strong_peaks(
    predicted: Predicted, named: Collection[int | None], least_db: float
) -> tuple[PredictedPeak, ...]:
    """Predicted peaks, none of those `named`, that are well above the least that is told."""
    return tuple(
        peak
        for k, peak in enumerate(predicted.peaks)
        if k not in named and peak.is_top and peak.level_db >= least_db + UNHEARD_DB
    )


def survey_m(scene: Scene) -> float:
    """Standard error of a taped length in a scene. [m]"""
    return SURVEY_M if scene.job.survey_error is None else scene.job.survey_error


def find_changes(before: Held, after: Held) -> tuple[MeasuredChange, ...]:
    """What became of each arrival that was named before, wherever both were measured."""
    changes = []
    for old in before.heard:
        new = after.at(old.take.speaker, old.take.seat)
        if new is None:
            continue
        for made_by in sorted({peak.made_by for peak in old.peaks if peak.made_by is not None}):
            peak = old.predicted.peaks[made_by]
            if peak.delay_s <= new.until_s - PEAK_WIDTH_S:
                changes.append(_change(before.scene, old, new, peak))
    return tuple(changes)


def _change(scene: Scene, old: Measurement, new: Measurement, peak: PredictedPeak) -> MeasuredChange:
    # Half a pulse's width to either side: what is beside the peak is not told for it.
    seen = [own.at(peak.delay_s, 0.5 * PEAK_WIDTH_S) for own in (old.curves, new.curves)]
    told = [own.curves.at(peak.delay_s, 0.5 * PEAK_WIDTH_S) for own in (old.predicted, new.predicted)]
    return MeasuredChange(
        scene.speakers[old.take.speaker].name,
        scene.seats[old.take.seat].name,
        peak,
        seen[0][0],
        max(seen[1][0], new.response.noise_floor_db),
        told[0][0],
        told[1][0],
        seen[1][1] - seen[0][1],
        told[1][1] - told[0][1],
    )


def unexplained_points(held: Held, heard: Measurement, own: Attribution) -> PointSet:
    """Where a measured peak can have come over, whatever made it."""
    scene = held.scene
    source, listener = scene.speakers[heard.take.speaker].position, scene.seats[heard.take.seat].ears
    extra_m = own.peak.delay_s * held.room.speed_of_sound_m_s
    return points_with_extra(held.room, source, listener, extra_m=extra_m)

"""Where speakers point and where they should: distances, toe-in, tilt, and what left and right differ in."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.aiming.standing import Standing, find_standing
from raytrace.reflections import limit_level_db, speaker_directivity
from raytrace.room import Room, speaker_axis
from raytrace.scene import Scene, Seat, Speaker
from raytrace.verdicts import speaker_pair

Floats = NDArray[np.float64]

BEHIND_M = 0.2
"""How far behind the ears the two axes cross where they are to: common practice, no source. [m]"""


@dataclass(frozen=True)
class SpeakerSetting:
    """How a speaker is turned so that its axis meets one point.

    Attributes
    ----------
    toe_in_deg : float
        In plan: 0 along x, positive towards the seat.
    tilt_deg : float
        Positive upwards.
    wedge_deg : float
        The angle between the cabinet and what it stands on, positive where its front is raised.
    """

    toe_in_deg: float
    tilt_deg: float
    wedge_deg: float


@dataclass(frozen=True)
class Pointing:
    """One main speaker as one seat has it.

    Attributes
    ----------
    speaker, seat : int
        Indices into the scene's lists.
    distance_m : float
        From the acoustic centre to the ears.
    now, at_ears, behind_head : SpeakerSetting
        As the scene turns it, and so that its axis meets the ears, or the point behind them.
    off_axis_deg, off_axis_up_deg : float
        Of the ears from the axis as it is now: in space, and in height alone, positive above the axis.
    passes_m : float
        Height at which the axis passes the ears now, less that of the ears. [m]
    standing : Standing
    level_stand_m : float
        Height of the stand that brings the acoustic centre to the ears' height with no tilt, negative where
        that is below what the speaker stands on. [m]
    """

    speaker: int
    seat: int
    distance_m: float
    now: SpeakerSetting
    at_ears: SpeakerSetting
    behind_head: SpeakerSetting
    off_axis_deg: float
    off_axis_up_deg: float
    passes_m: float
    standing: Standing
    level_stand_m: float


@dataclass(frozen=True)
class SpeakerPair:
    """Left and right main speaker of one seat; differences are left less right.

    Attributes
    ----------
    left, right, seat : int
        Indices into the scene's lists.
    distance_difference_m, delay_difference_s : float
    angle_difference_deg : float
        Of their directions from straight ahead, in plan.
    tilt_difference_deg : float
        Of their heights above the ears, as angles.
    level_difference_db : float
        Of the direct sound in the limit's band, from distance and directivity; equal speakers, equally loud.
    between_m : float
        From speaker to speaker.
    opening_deg : float
        Angle between the two as the ears have it, in plan; 60 in an equal-sided triangle.
    """

    left: int
    right: int
    seat: int
    distance_difference_m: float
    delay_difference_s: float
    angle_difference_deg: float
    tilt_difference_deg: float
    level_difference_db: float
    between_m: float
    opening_deg: float


def find_pointings(scene: Scene, room: Room, *, behind_m: float = BEHIND_M) -> tuple[Pointing, ...]:
    """Every main speaker at every seat.

    Parameters
    ----------
    scene, room : Scene, Room
    behind_m : float
        How far behind the ears, away from the front wall, the second aim lies. [m]
    """
    return tuple(
        _pointing(scene, room, (i, j), behind_m)
        for i, speaker in enumerate(scene.speakers)
        if speaker.use == "main"
        for j in range(len(scene.seats))
    )


def find_pairs(scene: Scene, room: Room) -> tuple[SpeakerPair, ...]:
    """Left and right at every seat that has a main speaker on either side."""
    pairs = [(speaker_pair(scene, seat=k), k) for k in range(len(scene.seats))]
    return tuple(_pair(scene, room, pair, seat) for pair, seat in pairs if pair is not None)


def direction_deg(source: Floats, target: Floats) -> tuple[float, float]:
    """Yaw in plan and pitch of a straight line. [deg]"""
    x, y, z = target - source
    return math.degrees(math.atan2(y, x)), math.degrees(math.atan2(z, math.hypot(x, y)))


def _pointing(scene: Scene, room: Room, which: tuple[int, int], behind_m: float) -> Pointing:
    speaker, seat = scene.speakers[which[0]], scene.seats[which[1]]
    source, ears = np.array(speaker.position), np.array(seat.ears)
    axis = speaker_axis(scene, speaker)
    standing = find_standing(room, speaker, axis)
    yaw, pitch = direction_deg(source, ears)
    now = direction_deg(np.zeros(3), axis)
    behind = direction_deg(source, ears + np.array([behind_m, 0.0, 0.0]))
    distance_m = float(np.linalg.norm(ears - source))
    flat_m = math.hypot(*(ears - source)[:2])
    off_deg = math.degrees(math.acos(max(-1.0, min(float((ears - source) @ axis) / distance_m, 1.0))))
    return Pointing(
        speaker=which[0],
        seat=which[1],
        distance_m=distance_m,
        now=_setting(speaker, seat, standing, now),
        at_ears=_setting(speaker, seat, standing, (yaw, pitch)),
        behind_head=_setting(speaker, seat, standing, behind),
        off_axis_deg=off_deg,
        off_axis_up_deg=pitch - now[1],
        passes_m=float(source[2] + flat_m * math.tan(math.radians(now[1])) - ears[2]),
        standing=standing,
        level_stand_m=standing.gap_m + float(ears[2] - 0.5 * standing.cabinet_m[2]) - standing.underside_m,
    )


def _setting(speaker: Speaker, seat: Seat, standing: Standing, turned: tuple[float, float]) -> SpeakerSetting:
    """Toe-in, tilt and wedge of a yaw and a pitch."""
    yaw, pitch = turned
    towards = 1.0 if seat.ears[1] >= speaker.position[1] else -1.0
    return SpeakerSetting(towards * yaw, pitch, pitch - standing.slope_deg(yaw))


def _pair(scene: Scene, room: Room, pair: tuple[int, int], seat: int) -> SpeakerPair:
    ears = np.array(scene.seats[seat].ears)
    places = [np.array(scene.speakers[k].position) for k in pair]
    away_m = [float(np.linalg.norm(place - ears)) for place in places]
    seen = [direction_deg(ears, place) for place in places]
    # Straight ahead is against x: left is met at -180 degrees and its angle, right at 180 less its own.
    aside = [180.0 - abs(yaw) for yaw, _ in seen]
    level_db = [_direct_db(scene, room, scene.speakers[k], ears) for k in pair]
    return SpeakerPair(
        *pair,
        seat,
        distance_difference_m=away_m[0] - away_m[1],
        delay_difference_s=(away_m[0] - away_m[1]) / room.speed_of_sound_m_s,
        angle_difference_deg=aside[0] - aside[1],
        tilt_difference_deg=seen[0][1] - seen[1][1],
        level_difference_db=level_db[0] - level_db[1],
        between_m=float(np.linalg.norm(places[0] - places[1])),
        opening_deg=aside[0] + aside[1],
    )


def _direct_db(scene: Scene, room: Room, speaker: Speaker, ears: Floats) -> float:
    """Direct sound in the limit's band re that on the axis at 1 m: distance and directivity. [dB]"""
    way = ears - np.array(speaker.position)
    away_m = np.array([np.linalg.norm(way)])
    directivity = speaker_directivity(scene, speaker, room)
    sent = directivity.pressure((way / away_m)[None], speaker_axis(scene, speaker), away_m)
    return float(limit_level_db(scene, sent)[0] - 20.0 * math.log10(float(away_m[0])))

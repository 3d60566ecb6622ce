"""What is odd about where speakers and seats stand: slips of the tape, and of whoever wrote them down."""

import math

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Hint, Sentence, metres, millimetres, sentence
from raytrace.room import Facet, PlacedPanel, Room, Site, facet_distance_m, in_swings, speaker_axis
from raytrace.scene import Scene, Seat, Speaker, bare_numbers_like_feet
from raytrace.verdicts import speaker_pair

Floats = NDArray[np.float64]

# Half the width of a small cabinet (common practice, no source): no acoustic centre comes nearer to a wall.
CABINET_M = 0.08
# Two taped lengths, each off by 10 mm at most (common practice, no source): below that nothing is odd.
TAPED_M = 0.02
# What turns the sound image by as much as a careful listener notices (common practice, no source).
NOTICED_DEG = 1.0
# Without toe-in an equal-sided triangle leaves 30 degrees, a yaw of the wrong sign 60: half-way.
TURNED_AWAY_DEG = 45.0
# Half a head, and as much as it moves sideways in the usual zone.
HEAD_ROOM_M = 0.3
# Steeper than a roof of 17 degrees, which lies over both speakers, a face stands beside one of them.
_UPRIGHT = 0.3


def place_notes(scene: Scene, room: Room) -> tuple[Sentence, ...]:
    """What is odd about where speakers and seats stand, for whoever measured or wrote it down.

    Parameters
    ----------
    scene : Scene
        With the places.
    room : Room
        The room of that scene.

    Returns
    -------
    tuple of Sentence
        Speakers in walls, hidden, behind the ears or turned away; a pair that is none; ears near something;
        doors that do not open; room sizes that may be feet. Empty where nothing is odd.
    """
    return (
        *_speaker_notes(scene, room),
        *_pair_notes(scene, room),
        *(note for seat in scene.seats for note in _ear_notes(room, seat)),
        *_swing_notes(scene, room),
        *_feet_notes(scene),
    )


def _swing_notes(scene: Scene, room: Room) -> list[Sentence]:
    """Furniture that a door or window runs into before it is open."""
    site = Site(scene, room.surfaces, room.facets[: room.n_solid_facets], room.openings, room.skins)
    text = '{thing} stands in the way of the leaf of "{opening}", which does not open fully.'
    return [sentence(text, thing=thing, opening=opening) for thing, opening in in_swings(site)]


def _speaker_notes(scene: Scene, room: Room) -> list[Sentence]:
    """Each main speaker by itself: its wall, the ears before it, and what stands between."""
    notes = []
    for speaker in (s for s in scene.speakers if s.use == "main"):
        notes += _wall_notes(room, speaker.name, np.array(speaker.position))
        for seat in scene.seats:
            facet = room.first_between(speaker.position, seat.ears)
            if facet >= 0:
                met = room.surfaces[room.facets[facet].surface]
                between = "{thing} stands between {speaker} and the ears at {seat}."
                thing = met.owner or met.name
                notes.append(sentence(between, thing=thing, speaker=speaker.name, seat=seat.name))
            behind_m = speaker.position[0] - seat.ears[0]
            if behind_m > TAPED_M:
                behind = (
                    "{speaker} stands {behind} behind the ears at {seat}, which face the front wall{hint}."
                )
                notes.append(
                    sentence(
                        behind,
                        speaker=speaker.name,
                        behind=millimetres(behind_m),
                        seat=seat.name,
                        hint=Hint(": check their distances from it, the first of each three numbers"),
                    )
                )
        towards = np.array([seat.ears for seat in scene.seats]) - speaker.position
        cosines = towards @ speaker_axis(scene, speaker) / np.linalg.norm(towards, axis=1)
        nearest = int(np.argmax(cosines))
        off_deg = math.degrees(math.acos(min(float(cosines[nearest]), 1.0)))
        if off_deg > TURNED_AWAY_DEG and speaker.directivity != "omni":
            notes.append(
                sentence(
                    "{speaker} looks {off} degrees past {seat}{hint}: what it sends there lacks treble.",
                    speaker=speaker.name,
                    off=f"{off_deg:.0f}",
                    seat=scene.seats[nearest].name,
                    hint=Hint(' (aim = "seat" turns it there; a yaw is positive towards the right wall)'),
                )
            )
    return notes


def _wall_notes(room: Room, name: str, point: Floats) -> list[Sentence]:
    """A speaker in a wall, or nearer to it than its cabinet allows."""
    solid = room.facets[: room.n_solid_facets]
    walls = [
        (facet_distance_m(point, f), f.surface)
        for f in solid
        if room.is_room_surface[f.surface] and _is_plane_within(CABINET_M, point, f)
    ]
    if not walls:
        return []
    distance_m, surface = min(walls, key=lambda found: found[0])
    wall = room.surfaces[surface].name
    if len(room.faces_at(point)):
        return [
            sentence(
                "{speaker} is built into {wall}: it plays into half of space, and that wall sends no "
                "reflection of its own at the first bounce.",
                speaker=name,
                wall=wall,
            )
        ]
    if distance_m >= CABINET_M:
        return []
    return [
        sentence(
            "{speaker}: its acoustic centre is {distance} from {wall}, nearer than a cabinet allows: "
            "measure it again. That of a speaker built into a wall lies in the wall's face.",
            speaker=name,
            distance=millimetres(distance_m),
            wall=wall,
        )
    ]


def _pair_notes(scene: Scene, room: Room) -> list[Sentence]:
    """Whether the first seat has a left and a right speaker, mirror images about it and in the room."""
    mains = [speaker.name for speaker in scene.speakers if speaker.use == "main"]
    if len(mains) < 2:
        return []
    seat, pair = scene.seats[0], speaker_pair(scene)
    if pair is None:
        one_side = "{speakers} stand on one side of {seat}: left and right cannot be compared."
        return [sentence(one_side, speakers=" and ".join(mains), seat=seat.name)]
    left, right = (scene.speakers[k] for k in pair)
    return [*_mirror_notes(seat, left, right), *_side_notes(room, left, right)]


def _mirror_notes(seat: Seat, left: Speaker, right: Speaker) -> list[Sentence]:
    """Two speakers that do not mirror each other in the plane through a seat."""
    to_left = np.subtract(left.position, seat.ears)
    to_right = np.subtract(right.position, seat.ears) * [1.0, -1.0, 1.0]
    far = float(np.linalg.norm(to_left)), float(np.linalg.norm(to_right))
    turned_deg = math.degrees(math.acos(min(float(to_left @ to_right) / (far[0] * far[1]), 1.0)))
    if abs(far[0] - far[1]) <= TAPED_M and turned_deg <= NOTICED_DEG:
        return []
    return [
        sentence(
            "{left} and {right} are no mirror images about {seat}: {far_left} and {far_right} from the ears, "
            "and {turned} degrees apart in direction when one is mirrored. What should be heard in the "
            "middle moves aside.",
            left=left.name,
            right=right.name,
            seat=seat.name,
            far_left=millimetres(far[0]),
            far_right=millimetres(far[1]),
            turned=f"{turned_deg:.1f}",
        )
    ]


def _side_notes(room: Room, left: Speaker, right: Speaker) -> list[Sentence]:
    """Two speakers that stand unequally far from the walls beside them."""
    beside = _wall_beside(room, left, towards=1.0), _wall_beside(room, right, towards=-1.0)
    if not beside[0] or not beside[1] or abs(beside[0][0] - beside[1][0]) <= TAPED_M:
        return []
    return [
        sentence(
            "{left} is {to_left} from {wall_left}, {right} {to_right} from {wall_right}: their side "
            "reflections differ.",
            left=left.name,
            to_left=millimetres(beside[0][0]),
            wall_left=beside[0][1],
            right=right.name,
            to_right=millimetres(beside[1][0]),
            wall_right=beside[1][1],
        )
    ]


def _wall_beside(room: Room, speaker: Speaker, *, towards: float) -> tuple[float, str] | None:
    """Distance and name of the nearest face of the room that looks along y (1) or against it (-1)."""
    point = np.array(speaker.position)
    beside = [
        (facet_distance_m(point, facet), room.surfaces[facet.surface].name)
        for facet in room.facets[: room.n_solid_facets]
        if room.is_room_surface[facet.surface]
        and towards * facet.normal[1] > _UPRIGHT
        and facet.normal @ point > facet.offset
    ]
    return min(beside, default=None)


def _ear_notes(room: Room, seat: Seat) -> list[Sentence]:
    """Ears above the underside of a cloud, or nearer to something than a head and its movements allow."""
    ears = np.array(seat.ears)
    over = {
        panel.group: lowest
        for panel in reversed(room.panels)
        if panel.kind == "cloud" and (lowest := _underside_m(panel, seat)) < ears[2]
    }
    notes = [
        sentence(
            "The ears at {seat} are {ears} above the floor, the underside of {cloud} over them is {lowest}: "
            "nobody can sit there.",
            seat=seat.name,
            ears=metres(seat.ears[2], 2),
            cloud=cloud,
            lowest=metres(lowest, 2),
        )
        for cloud, lowest in reversed(over.items())
    ]
    near = [
        (facet_distance_m(ears, facet), room.surfaces[facet.surface].name)
        for facet in room.facets[: room.n_solid_facets]
        if _is_plane_within(HEAD_ROOM_M, ears, facet)
    ]
    near += [(_distance_m(ears, panel), panel.name) for panel in room.panels if panel.group not in over]
    distance_m, thing = min(near, default=(math.inf, ""))
    if distance_m < HEAD_ROOM_M:
        notes.append(
            sentence(
                "The ears at {seat} are {distance} from {thing}, where a head has no room to move: measure "
                "them again.",
                seat=seat.name,
                distance=millimetres(distance_m),
                thing=thing,
            )
        )
    return notes


def _is_plane_within(reach_m: float, point: Floats, facet: Facet) -> bool:
    """Whether a facet may be so near a point (3,): none is nearer than its plane."""
    return abs(float(facet.normal @ point - facet.offset)) < reach_m


def _underside_m(panel: PlacedPanel, seat: Seat) -> float:
    """Height of the lowest corner of a panel that is over a seat's head zone; inf for one that is not. [m]"""
    low, high = panel.corners.min(axis=0), panel.corners.max(axis=0)
    over = all(
        low[k] - seat.zone[k] <= seat.ears[k] <= high[k] + seat.zone[k] for k in (0, 1)
    )  # the box round a turned panel: a head beside its corner counts as under it
    return float(low[2]) if over else math.inf


def _distance_m(point: Floats, panel: PlacedPanel) -> float:
    """Distance of a point (3,) from the nearest point of a panel's body. [m]"""
    offset = point - panel.middle
    half = 0.5 * np.array([panel.width_m, panel.height_m, panel.thickness_m])
    along = np.array([panel.right, panel.up, panel.normal]) @ offset
    return float(np.linalg.norm(np.maximum(np.abs(along) - half, 0.0)))


def _feet_notes(scene: Scene) -> list[Sentence]:
    """Sizes of the room without a unit that may be feet."""
    return [
        sentence(
            "The {key} of the room is taken as {length}: a number without a unit is metres. Other lengths "
            "of the scene are in feet and inches{hint}.",
            key=key,
            length=metres(number, 2),
            hint=Hint(f': if this one is too, write {key} = "{number:g} ft"'),
        )
        for key, number in bare_numbers_like_feet(scene)
    ]

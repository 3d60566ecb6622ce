"""What a reader must know about places of a seat: what they rest on, and what was left out."""

from raytrace.facts import Sentence, joined, metres, millimetres, sentence
from raytrace.scene import Scene
from raytrace.siting.places import WAY_M
from raytrace.siting.scoring import ROOM_BEHIND_M, WEIGHTS
from raytrace.siting.workplace import PERSON_M, PLUGS_M, SEAT, Workplace


def seat_notes(scene: Scene, workplace: Workplace) -> tuple[Sentence, ...]:
    """Weights, what goes along and what stays, and which distances are practice without a source."""
    return (
        sentence(
            "Points, the fewer the better: {over} for each dB of early energy over the limit, {sides} for "
            "each dB between left and right, {bass} for each dB of unevenness from 30 to 120 Hz, {dip} for "
            "each dB of the deepest dip that near boundaries make, {near} for each metre by which the head "
            "is nearer than {behind} to a wall. These weights are an own choice; no standard has any.",
            over=f"{WEIGHTS.over:g}",
            sides=f"{WEIGHTS.left_right:g}",
            bass=f"{WEIGHTS.evenness:g}",
            dip=f"{WEIGHTS.dip:g}",
            near=f"{WEIGHTS.near:g}",
            behind=metres(ROOM_BEHIND_M, 1),
        ),
        _along(scene, workplace),
        sentence(
            "Common practice, no source: a person with a chair takes {person}, plugs behind a "
            "speaker {plugs}, and a door of which no swing is given keeps {way} before it clear.",
            person=millimetres(PERSON_M, PERSON_M),
            plugs=millimetres(PLUGS_M),
            way=millimetres(WAY_M),
        ),
        sentence(
            "Only the places listed as run in full are: every reflection in the limit's window over the "
            "whole head zone. The others had a quick look, with two bounces, and the bass with furniture "
            "where it is now."
        ),
        sentence(
            "Panels, other seats and subwoofers stay where they are. Treat the room, and look for the place "
            "of a subwoofer, when the seat is settled. Ways out, heaters, sockets and windows that must open "
            "are not known here unless the scene has them: look before anything is moved."
        ),
    )


def _along(scene: Scene, workplace: Workplace) -> Sentence:
    names = [scene.speakers[k].name for k in workplace.speakers]
    things = joined(", ", [*names, *workplace.object_names])
    return sentence(
        "With {seat} go, as they stand to it now: {things}. Everything else stays.",
        seat=scene.seats[SEAT].name,
        things=things,
    )

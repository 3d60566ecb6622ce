"""What is odd about how speakers are turned and placed, and what the figures on them rest on."""

import math

from raytrace.aiming.pointing import Pointing, SpeakerPair
from raytrace.aiming.wallsweep import WallSweep
from raytrace.facts import Hint, Sentence, millimetres, sentence
from raytrace.scene import Scene

# Two-way speakers are made to be heard within some 15 degrees up or down; farther off their drivers part at
# the crossover (common practice, no source).
MOST_UP_DEG = 15.0
# An axis this far below the ears meets the chest or less of who sits there (common practice, no source). [m]
BELOW_EARS_M = 0.25
# As two taped lengths, each off by 10 mm (common practice, no source). [m]
UNEQUAL_M = 0.02
# 60 degrees is the reference of ITU-R BS.1116-3 (from memory); 10 either side is common practice, no source.
OPENING_DEG = (50.0, 70.0)
_NOTICED_SLOPE_DEG = 2.0
_NOTICED_M = 0.005


def aim_notes(
    scene: Scene, pointings: tuple[Pointing, ...], pairs: tuple[SpeakerPair, ...], sweep: WallSweep | None
) -> tuple[Sentence, ...]:
    """Warnings on speakers and pairs, then the limits of what was worked out."""
    notes = [note for pointing in pointings for note in _speaker_notes(scene, pointing)]
    notes += [note for pair in pairs for note in _pair_notes(scene, pair)]
    notes += _lone_notes(scene, pairs)
    return tuple(dict.fromkeys([*notes, *_method_notes(scene, sweep)]))


def _speaker_notes(scene: Scene, pointing: Pointing) -> list[Sentence]:
    """How one speaker is turned to one seat, and what it stands on."""
    names = {"speaker": scene.speakers[pointing.speaker].name, "seat": scene.seats[pointing.seat].name}
    notes = []
    if abs(pointing.off_axis_up_deg) > MOST_UP_DEG:
        notes.append(
            sentence(
                "{speaker}: the ears at {seat} are {off} degrees {where} its axis, more than {most}: the "
                "pitch where its drivers hand over is heard wrong there.",
                off=f"{abs(pointing.off_axis_up_deg):.1f}",
                where="above" if pointing.off_axis_up_deg > 0.0 else "below",
                most=f"{MOST_UP_DEG:g}",
                **names,
            )
        )
    if pointing.passes_m < -BELOW_EARS_M:
        notes.append(
            sentence(
                "{speaker} points {below} below the ears at {seat}: raise its front or the speaker.",
                below=millimetres(-pointing.passes_m),
                **names,
            )
        )
    if abs(pointing.at_ears.wedge_deg) > MOST_UP_DEG:
        notes.append(
            sentence(
                "{speaker} needs a wedge of {wedge} degrees to point at the ears at {seat}, more than "
                "{most}: change its height instead{stand}. Without a wedge the ears are as far off its "
                "axis.",
                wedge=f"{abs(pointing.at_ears.wedge_deg):.1f}",
                most=f"{MOST_UP_DEG:g}",
                stand=_stand_words(pointing),
                **names,
            )
        )
    return notes + _standing_notes(scene, pointing)


def _stand_words(pointing: Pointing) -> Sentence:
    if not pointing.level_stand_m >= 0.0:
        return sentence("")
    height = millimetres(pointing.level_stand_m)
    return sentence(" (a stand of {height} brings it to the ears' height)", height=height)


def _standing_notes(scene: Scene, pointing: Pointing) -> list[Sentence]:
    standing, speaker = pointing.standing, scene.speakers[pointing.speaker].name
    if standing.surface is None or math.isnan(standing.gap_m):
        hangs = (
            "{speaker}: neither floor nor desk lies under its cabinet: it hangs or is built in, and stand "
            "and wedge are none of its own."
        )
        return [sentence(hangs, speaker=speaker)]
    if standing.gap_m < -_NOTICED_M:
        inside = (
            "{speaker}: its cabinet, taken as {high} high, would reach {deep} into {surface}{hint}: its "
            "wedge and stand are told as if it stood on it."
        )
        return [
            sentence(
                inside,
                speaker=speaker,
                high=millimetres(float(standing.cabinet_m[2])),
                deep=millimetres(-standing.gap_m),
                surface=standing.surface,
                hint=Hint(" (give its size as body = [depth, width, height])"),
            )
        ]
    across = standing.slope_deg(_heading_deg(pointing, scene) + 90.0)
    if standing.on_object and abs(across) > _NOTICED_SLOPE_DEG:
        leans = (
            "{speaker}: {surface} slopes {across} degrees sideways under it: the wedge has to level that too."
        )
        return [sentence(leans, speaker=speaker, surface=standing.surface, across=f"{abs(across):.1f}")]
    return []


def _heading_deg(pointing: Pointing, scene: Scene) -> float:
    left = scene.seats[pointing.seat].ears[1] >= scene.speakers[pointing.speaker].position[1]
    return pointing.at_ears.toe_in_deg if left else -pointing.at_ears.toe_in_deg


def _pair_notes(scene: Scene, pair: SpeakerPair) -> list[Sentence]:
    """A triangle whose sides differ."""
    names = {
        "left": scene.speakers[pair.left].name,
        "right": scene.speakers[pair.right].name,
        "seat": scene.seats[pair.seat].name,
    }
    notes = []
    if abs(pair.distance_difference_m) > UNEQUAL_M:
        farther = "left" if pair.distance_difference_m > 0.0 else "right"
        notes.append(
            sentence(
                "{farther} is {by} ({ms} ms) farther from the ears at {seat} than {nearer}: more than {most} "
                "moves what should be heard in the middle.",
                farther=names[farther],
                nearer=names["right" if farther == "left" else "left"],
                by=millimetres(abs(pair.distance_difference_m)),
                ms=f"{1e3 * abs(pair.delay_difference_s):.3f}",
                most=millimetres(UNEQUAL_M),
                seat=names["seat"],
            )
        )
    if not OPENING_DEG[0] <= pair.opening_deg <= OPENING_DEG[1]:
        notes.append(
            sentence(
                "{left} and {right} are {opening} degrees apart as seen from {seat}, {between} from each "
                "other: in an equal-sided triangle it is 60 degrees (50 to 70 is usual).",
                opening=f"{pair.opening_deg:.0f}",
                between=millimetres(pair.between_m),
                **names,
            )
        )
    return notes


def _lone_notes(scene: Scene, pairs: tuple[SpeakerPair, ...]) -> list[Sentence]:
    paired = {pair.seat for pair in pairs}
    return [
        sentence("{seat} has no left and right speaker: no pair is compared there.", seat=seat.name)
        for k, seat in enumerate(scene.seats)
        if k not in paired
    ]


def _method_notes(scene: Scene, sweep: WallSweep | None) -> list[Sentence]:
    """What the figures rest on."""
    notes = [
        sentence(
            "Axis and distances are those of the acoustic centre, in the middle of the cabinet's front. "
            "Turn a speaker about that point: turned about a corner it ends up elsewhere."
        ),
        sentence(
            "Dips of boundaries: one reflection from every flat face, with what lies on it. A dip is where "
            "that takes half a wavelength longer, and again at odd multiples; c/4d is where it would be with "
            "the ears straight before speaker and face. Rooms have modes besides, which these figures leave "
            "out: verify by measuring below about 200 Hz."
        ),
        sentence("Below 44 Hz the absorption of the 63 Hz octave is held."),
    ]
    assumed = [s.name for s in scene.speakers if s.use == "main" and not isinstance(s.body, tuple)]
    if assumed:
        notes.append(
            sentence(
                "{speakers}: the cabinet's size is not given{hint}; stands and wedges take a usual one.",
                speakers=", ".join(assumed),
                hint=Hint(" (body = [depth, width, height])"),
            )
        )
    if sweep is not None:
        notes.append(
            sentence(
                "Distances to {wall} leave the seat where it is: the triangle changes with them, so set "
                "toe-in again. Places with more than 90 degrees between the speakers are left out.",
                wall=sweep.wall,
            )
        )
    return notes

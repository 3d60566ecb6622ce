"""What a reader must know about figures of bass: what they rest on, and what they leave out."""

import numpy as np

from raytrace.bass.airbody import SMALLEST_OBJECT_M
from raytrace.bass.linings import BOARD_KG_M2, LinedModes
from raytrace.bass.modes import USUAL_TOP_HZ
from raytrace.facts import Amount, Sentence, Unit, joined, metres, sentence
from raytrace.room import Room
from raytrace.scene import Scene

_LONG_S = 2.0  # no small room that was measured rings so long so low (common practice, no source)
_LOW_HZ = 63.0  # below it no table tells what absorbs


def bass_notes(scene: Scene, room: Room, lined: LinedModes) -> tuple[Sentence, ...]:
    """Limits of the method in this room, and what to measure before anything is bought."""
    return (
        *_source_notes(scene),
        *_reach_notes(lined),
        *_object_notes(lined),
        *_wall_notes(lined),
        *_ringing_notes(room, lined),
        *_panel_notes(room, lined),
        sentence(
            "Doors are taken as shut. One that stands open lets bass out and moves the lowest modes: "
            "measure "
            "with doors as they will be."
        ),
        sentence(
            "Frequencies of modes are right to a third of a percent for the walls as drawn; real walls "
            "give, "
            "which moves the lowest ones by some percent. Check the best place by a measurement at the "
            "seat "
            "before anything is fixed: try it with the box on the floor, or with the sub at the seat and "
            "the "
            "microphone along the floor, which shows the same."
        ),
    )


def _source_notes(scene: Scene) -> list[Sentence]:
    notes = []
    if not any(speaker.use == "sub" for speaker in scene.speakers):
        notes.append(
            sentence(
                "The scene has no subwoofer: what is judged now is its speakers, all playing the same bass "
                "together. Places are those for one subwoofer instead of them."
            )
        )
    notes.append(
        sentence(
            "Every source is taken as one that sends bass evenly to all sides from its acoustic centre "
            "and as "
            "strong at all frequencies; what it can do at 20 Hz is in its data sheet."
        )
    )
    return notes


def _reach_notes(lined: LinedModes) -> list[Sentence]:
    top_hz = lined.modes.top_hz
    if top_hz >= USUAL_TOP_HZ:
        return []
    return [
        sentence(
            "A room this large has too many modes to find all of them: curve and modes end at {top} Hz.",
            top=f"{top_hz:.0f}",
        )
    ]


def _object_notes(lined: LinedModes) -> list[Sentence]:
    left_out = lined.modes.body.left_out
    if not left_out:
        return []
    return [
        sentence(
            "Too small to matter to waves this long, and left out: {things}; a cube of the same volume "
            "has sides "
            "under {side}.",
            things=joined(", ", left_out),
            side=metres(SMALLEST_OBJECT_M, 1),
        )
    ]


def _wall_notes(lined: LinedModes) -> list[Sentence]:
    notes = [
        sentence(
            "How long modes ring rests on the absorption of the surfaces at 63, 125 and 250 Hz. Below 63 Hz "
            "nobody measures it: it is taken as at 63 Hz, which itself is often the value of 125 Hz "
            "in tables."
        )
    ]
    giving = sum(lining.area_m2 for lining in lined.linings if lining.is_board_that_gives)
    if giving > 0.0:
        notes.append(
            sentence(
                "{area} of board on studs gives: it is taken as {mass} before its air, damped so that it "
                "absorbs at 125 Hz what tables say (textbook model of a panel absorber). Insulation or a "
                "second board changes that.",
                mass=Amount((BOARD_KG_M2,), Unit.KG_M2, 1),
                area=Amount((round(giving, 1),), Unit.M2, 1),
            )
        )
    return notes


def _ringing_notes(room: Room, lined: LinedModes) -> list[Sentence]:
    """A word on walls that are harder than any real ones."""
    hz, decay = lined.modes.frequencies_hz, lined.damping_per_s(room.medium)
    low = lined.modes.is_complete & (hz < _LOW_HZ) & (decay > 0.0)
    if not low.any() or 3.0 * np.log(10.0) / decay[low].min() <= _LONG_S:
        return []
    longest = int(np.flatnonzero(low)[np.argmin(decay[low])])
    return [
        sentence(
            "With these walls the mode at {hz} Hz rings for {t60} s. Doors, windows, sheet metal and joints "
            "give to waves this long, which no table holds: in the real room it rings shorter and its peak "
            "is lower. Measure it before anything is bought or moved for its sake.",
            hz=f"{hz[longest]:.0f}",
            t60=f"{3.0 * np.log(10.0) / decay[longest]:.1f}",
        )
    ]


def _panel_notes(room: Room, lined: LinedModes) -> list[Sentence]:
    notes = []
    if any(lining.panel is not None and lining.panel.acts_as == "patch" for lining in lined.linings):
        notes.append(
            sentence(
                "Panels flat before a wall count with the admittance of their layers at normal incidence; "
                "down "
                "here that model of wool is used below where it was measured, so it is an estimate."
            )
        )
    if any(panel.kind == "corner" for panel in room.panels):
        notes.append(
            sentence(
                "A panel across a corner counts as its layers before the mean depth of the air behind. What "
                "flows past its open ends is left out, so that it may do less than is told."
            )
        )
    if any(panel.acts_as == "free" and panel.kind != "corner" for panel in room.panels):
        notes.append(
            sentence(
                "A panel that hangs or stands free counts by what its layers resist to the air that flows "
                "through them, as far as it does not flow round the panel: little, as waves this long go "
                "round it. Walls near by are allowed for, other panels near by only within one cloud."
            )
        )
    return notes

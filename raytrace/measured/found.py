"""Everything that measurements of a room tell, before and after, as one record."""

from collections.abc import Sequence
from dataclasses import dataclass

from raytrace.facts import Sentence
from raytrace.measured.compared import Held, MeasuredChange, find_changes
from raytrace.measured.corrections import Correction, correction_notes, find_corrections
from raytrace.measured.findings import measured_notes, record_notes
from raytrace.measured.lowend import MeasuredBass, bass_notes, find_measured_bass
from raytrace.measured.returned import Returned, find_returned, returned_notes


@dataclass(frozen=True)
class MeasuredRoom:
    """What was measured, and what it says of the drawing.

    Attributes
    ----------
    states : tuple of (str, Held)
        "measured", or "before" and "after".
    changes : tuple of MeasuredChange
        Empty with one state.
    corrections : tuple of Correction
        Of the last state's scene.
    returned : tuple of Returned
    bass : tuple of MeasuredBass
        Of the last state.
    notes : tuple of Sentence
        What the measurement finds, then what its figures rest on.
    """

    states: tuple[tuple[str, Held], ...]
    changes: tuple[MeasuredChange, ...]
    corrections: tuple[Correction, ...]
    returned: tuple[Returned, ...]
    bass: tuple[MeasuredBass, ...]
    notes: tuple[Sentence, ...]

    @property
    def last(self) -> Held:
        """The room as it is now."""
        return self.states[-1][1]


def find_measured(states: Sequence[tuple[str, Held]]) -> MeasuredRoom:
    """What one state of a room, or two, tell: the earlier first."""
    every = [held for _, held in states]
    last = every[-1]
    sure = [held.surely_labelled for held in every]
    corrections, returned = find_corrections(last.scene, sure), find_returned(sure)
    bass = find_measured_bass(sure[-1])
    return MeasuredRoom(
        states=tuple(states),
        changes=find_changes(every[0], last) if len(every) > 1 else (),
        corrections=corrections,
        returned=returned,
        bass=bass,
        notes=(
            *measured_notes(every, [*correction_notes(corrections), *returned_notes(returned)]),
            *(note for own in bass for note in bass_notes(last, own)),
            *record_notes(every),
        ),
    )

"""What is known of a room when its documents are written, and what was drawn for them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from raytrace import Comparison, Decay, Study, Treatment
from viewer.sheets import Sheet

if TYPE_CHECKING:  # a room that was neither planned nor measured needs none of what made these
    from raytrace import Bass, MeasuredRoom, Proposal

Contents = dict[str, Any]
Chart = tuple[int, int, str, str]  # speaker, seat, path, caption


@dataclass(frozen=True)
class Besides:
    """What a report tells besides the study, each in a chapter of its own.

    Attributes
    ----------
    bare : Study or None
        Of the same scene without its panels: what the report compares it with, before and after.
    proposal : Proposal or None
        What led to the study; its scene file is written too.
    measured : MeasuredRoom or None
        What was measured in the room.
    """

    bare: Study | None = None
    proposal: "Proposal | None" = None
    measured: "MeasuredRoom | None" = None


@dataclass(frozen=True)
class Findings:
    """What is known of a room when its report is written.

    Attributes
    ----------
    study : Study
        A finished run.
    decays : sequence of Decay
        How sound dies away, of the same scene.
    bare : Study or None
        Of the same scene without its panels: what the study is compared with.
    decays_before : sequence of Decay
        Of the bare room; empty without it.
    comparison : Comparison or None
        The bare room against the study.
    proposal : Proposal or None
        What led to the study.
    treatment : Treatment or None
        What is made and hung; None in a room without panels.
    bass : Bass or None
        What the room does to low notes, where that was asked for.
    measured : MeasuredRoom or None
        What was measured in it, where that was given.
    """

    study: Study
    decays: Sequence[Decay]
    bare: Study | None = None
    decays_before: Sequence[Decay] = ()
    comparison: Comparison | None = None
    proposal: "Proposal | None" = None
    treatment: Treatment | None = None
    bass: "Bass | None" = None
    measured: "MeasuredRoom | None" = None


@dataclass(frozen=True)
class Change:
    """The bare room against the treated one, and how sound dies away in each."""

    comparison: Comparison
    decays_before: Sequence[Decay]
    decays_after: Sequence[Decay]


@dataclass(frozen=True)
class Drawn:
    """What was drawn for a report; paths are relative to its folder.

    Attributes
    ----------
    sheets : sequence of Sheet
        Set-out sheets.
    pictures : dict
        "room", "plan", "section" and treated surfaces to path and caption.
    curves, tones, decays, changes, bass, measured : sequence of (speaker, seat, path, caption)
        Charts of level over time, of level over pitch, of decay, of level over time before and after, of
        the bass, and as measured.
    making : sequence of dict
        Pages on making, hanging and builds.
    drawings : sequence of dict
        The installer's drawings, whole pages.
    """

    sheets: Sequence[Sheet]
    pictures: dict[str, tuple[str, str]]
    curves: Sequence[Chart] = ()
    tones: Sequence[Chart] = ()
    decays: Sequence[Chart] = ()
    changes: Sequence[Chart] = ()
    bass: Sequence[Chart] = ()
    measured: Sequence[Chart] = ()
    making: Sequence[Contents] = ()
    drawings: Sequence[Contents] = ()

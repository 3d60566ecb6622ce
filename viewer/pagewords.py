"""What the client's page says of one reflection, in plain words."""

import numpy as np

from raytrace import Peak, PlacedPanel, Study, format_length
from viewer import meshes
from viewer.pictures import met_words, speaker_words
from viewer.wording import decibels, judged, named_rows

WORDS = {
    "mouse": "Drag to turn the room, scroll to come nearer, drag with the right button to move it. Point at "
    "a line to read it; click to keep it marked.",
    "finger": "Turn the room with one finger, come nearer with two. Tap a line to read it, tap a wall or a "
    "thing to read its name.",
    "strongest": "Strongest reflections",
    "together": "Lines that arrive at the same moment count as one reflection.",
    "nothing": "No early reflections here",
    "no_picture": "This browser cannot draw in three dimensions (WebGL is missing or switched off). The "
    "reflections are listed on this page all the same.",
}
_NO_GAP_M = 0.0005  # less air than prints as a millimetre is none


def sentence(study: Study) -> str:
    """What the picture shows, for the head of the page."""
    limits = study.scene.limits
    return (
        "Each line is sound that leaves a speaker, touches the room at the dots and reaches the seat soon "
        f"after the direct sound (within {limits.within_ms:g} ms, thousandths of a second): the darker, the "
        f"stronger. Less than {limits.below_db:g} dB weaker than the direct sound is above the limit "
        f"({limits.name})."
    )


def mains(study: Study) -> list[int]:
    """Speakers that take part in verdicts; subs do not."""
    return [i for i, speaker in enumerate(study.scene.speakers) if speaker.use == "main"]


def path_rows(study: Study) -> list[int]:
    """Rows of the arrivals on the page: those of main speakers in the limit's window."""
    table = study.arrivals
    early = table.delay_s <= study.scene.limits.within_ms * 1e-3
    return [int(row) for row in np.flatnonzero(early & np.isin(table.speaker, mains(study)))]


def way_of(study: Study, row: int) -> str:
    """The things a path touches, in a client's words: "left wall, then ceiling"."""
    table = study.arrivals
    bounces = range(int(table.order[row]))
    met = [
        met_words(
            study,
            int(table.path_surfaces[row, i]),
            int(table.path_openings[row, i]),
            int(table.path_panels[row, i]),
        )
        for i in bounces
    ]
    return ", then ".join(met)


def path_words(study: Study, row: int) -> str:
    """Surface, delay and level of one reflection in a sentence."""
    way, table = way_of(study, row), study.arrivals
    speaker = speaker_words(study, int(table.speaker[row]))
    return (
        f"{capital(way)}, from the {speaker}: arrives {table.delay_s[row] * 1e3:.1f} ms after the "
        f"direct sound, {weaker(study, row)}: {_against_limit(study, row)}."
    )


def weaker(study: Study, row: int) -> str:
    """How much weaker than the direct sound, at the worst place of the head."""
    level = float(study.arrivals.zone_worst_db[row])
    return f"{decibels(abs(level))} dB {'stronger' if level > 0 else 'weaker'}"


def _against_limit(study: Study, row: int) -> str:
    """Above or below the limit, alone and together with what arrives at the same moment."""
    level = float(meshes.level_re_limit_db(study, np.array([row]))[0])
    if np.isnan(level):
        return "not judged, because something hides the speaker from the seat"
    alone = f"{decibels(abs(level))} dB {'above' if level > 0 else 'below'} the limit"
    peak = peak_over(study, row)
    others = [] if peak is None else [way_of(study, i) for i in named_rows(study, peak) if i != row]
    if peak is None or not (others or level <= 0):
        return alone
    what = f"the one off the {others[0]}, which" if others else "what else"
    return (
        f"{alone} by itself, {decibels(-peak.margin_db)} dB above it with {what} arrives at the same moment"
    )


def peak_over(study: Study, row: int) -> Peak | None:
    """The peak over the limit that a reflection has a part in, if there is one."""
    passed = {(v.speaker, v.seat) for v in judged(study)}
    for peak in study.peaks:
        is_judged = peak.over_limit and (peak.speaker, peak.seat) in passed
        if is_judged and row in peak.arrivals and row in named_rows(study, peak):
            return peak
    return None


def panel_words(panel: PlacedPanel, units: str) -> str:
    """What hangs there: its name, build, size and the air behind it."""
    sides = (format_length(side, units=units, style="m") for side in (panel.width_m, panel.height_m))
    thick = format_length(panel.thickness_m, units=units)
    text = f"{capital(panel.name)}: {panel.build_name}, {' × '.join(sides)}, {thick} thick"
    if panel.gap_m > _NO_GAP_M:
        text += f", {format_length(panel.gap_m, units=units)} of air behind"
    return text


def capital(words: str) -> str:
    """The words with a capital first letter, the others as they are."""
    return words[:1].upper() + words[1:]

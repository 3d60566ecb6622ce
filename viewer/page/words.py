"""What the client's page says of one reflection, in plain words."""

from collections.abc import Sequence

import numpy as np

from raytrace import Hook, Peak, PlacedPanel, Study, format_length, peak_surface_names
from viewer.words import (
    decibels,
    hidden,
    hider_words,
    in_sentence,
    joined_names,
    joined_way,
    listed,
    named_rows,
    path_phrase,
    peak_of,
    share_words,
    speaker_words,
    strong_rows,
    where_heard,
)

WORDS = {
    "how": "Each line is sound that leaves a speaker, touches the room at the dots and reaches the seat soon "
    "after the direct sound: the darker, the stronger.",
    "animate": "Animate the sound (no audio)",
    "mouse": "Point at a line to read it; click to keep it marked.",
    "finger": "Tap a line to read it.",
    "mouse_help": "Drag to turn the room, scroll to come nearer, drag with the right button to move it. "
    "Keys: arrows turn, with Shift they move, + and − come nearer and go back.",
    "finger_help": "One finger turns the room, two come nearer and move it. Tap a wall or a thing to read "
    "its name.",
    "over": "Too strong: #, the worst first",
    "undecided": "Too close to the limit to say, within the accuracy of tape and model: #",
    "below": "Weaker ones, the strongest first",
    "unjudged": "Not judged, the strongest first",
    "none_strong": "No early reflection is too strong here.",
    "none_sure": "No early reflection is too strong here for sure.",
    "none_of_judged": "None of those that were judged is too strong here.",
    "none_judged": "Not judged here: something hides the speaker.",
    "nothing": "No early reflections here.",
    "together": "Sound that arrives at the same moment by several ways counts as one reflection.",
    "picture": "Picture of the room with the speakers, the seat and the reflections as lines. The lists on "
    "this page say the same in words. Arrow keys turn the picture.",
    "no_picture": "This browser cannot draw in three dimensions (WebGL is missing or switched off), so there "
    "is no picture here. The reflections are listed on this page all the same.",
}
_NO_GAP_M = 0.0005  # less air than prints as a millimetre is none


def mains(study: Study) -> list[int]:
    """Speakers that take part in verdicts; subs do not."""
    return [i for i, speaker in enumerate(study.scene.speakers) if speaker.use == "main"]


def path_rows(study: Study) -> list[int]:
    """Rows of the arrivals on the page: of main speakers, in the limit's window or of a strong peak."""
    table = study.arrivals
    kept = table.delay_s <= study.scene.limits.within_ms * 1e-3
    kept[list(strong_rows(study))] = True
    return [int(row) for row in np.flatnonzero(kept & np.isin(table.speaker, mains(study)))]


def path_sentence(study: Study, row: int) -> str:
    """Surface, delay and level of one reflection in a sentence."""
    way, table = path_phrase(study, row), study.arrivals
    speaker = speaker_words(study, int(table.speaker[row]))
    return (
        f"{capital(way)}, from the {speaker}: {table.delay_s[row] * 1e3:.1f} ms after the direct sound, "
        f"{weaker(float(table.zone_worst_db[row]))} by itself: {_against_limit(study, row)}."
    )


def weaker(level_db: float) -> str:
    """A level against the direct sound in words."""
    if level_db == -np.inf:
        return "wholly absorbed on its way"
    figure = decibels(abs(level_db))
    if figure == "0.0":
        return "as strong"
    return f"{figure} dB {'stronger' if level_db > 0 else 'weaker'}"


def _against_limit(study: Study, row: int) -> str:
    """What a reflection amounts to against the limit with all that arrives at the same moment."""
    place = int(study.arrivals.speaker[row]), int(study.arrivals.seat[row])
    for verdict in hidden(study):
        if (verdict.speaker, verdict.seat) == place:
            return f"not judged, because {hider_words(verdict)} hides the speaker from the seat"
    peak = peak_of(study, row)
    if peak is None:
        return "too weak beside the others to count by itself"
    others = [path_phrase(study, i) for i in named_rows(study, peak) if i != row]
    others += [f"{joined_way(names)} where the head moves" for names in joined_names(study, peak)]
    if not others:
        return in_sentence(peak)
    arrives = "which arrives" if len(others) == 1 else "which arrive"
    return f"with {listed(others)}, {arrives} at the same moment: {in_sentence(peak)}"


def peak_rows(study: Study) -> list[Peak]:
    """What the page lists: reflections as verdicts count them, too strong or not, the strongest first.

    Of main speakers, in the limit's window; what only a moved head hears is left out unless it may be too
    strong.
    """
    within_s = study.scene.limits.within_ms * 1e-3
    own = [
        peak
        for peak in study.peaks
        if peak.speaker in mains(study)
        and (peak.verdict != "not judged" or peak.delay_s <= within_s)
        and (peak.may_be_over or np.isfinite(peak.ears_db))
    ]
    return sorted(own, key=lambda p: (-round(p.level_db, 1), round(p.delay_s, 4), p.speaker))


def peak_way(study: Study, peak: Peak) -> str:
    """The things that one reflection as verdicts count it touches, and the speaker it comes from."""
    ways = [path_phrase(study, row) for row in named_rows(study, peak)]
    ways += [f"{joined_way(names)} where the head moves" for names in joined_names(study, peak)]
    words = ", with ".join([*ways[:1], *([listed(ways[1:])] if ways[1:] else [])])
    if not peak.arrivals:
        words = f"{joined_way(peak_surface_names(study, peak))}, {where_heard(peak)}"
    return f"{capital(words)}, from the {speaker_words(study, peak.speaker)}"


def peak_figures(peak: Peak) -> tuple[str, str]:
    """Delay and level of a reflection as verdicts count it, and how far it is over the limit if it is."""
    return f"{_late(peak)}, {weaker(peak.level_db)}", in_sentence(peak) if peak.over_limit else ""


def _late(peak: Peak) -> str:
    return f"{peak.delay_s * 1e3:.1f} ms"


def peak_sentence(study: Study, peak: Peak) -> str:
    """One reflection as verdicts count it, in a sentence."""
    late = f"{_late(peak)} after the direct sound"
    share = "" if peak.verdict != "over" else f", at {share_words(peak)} of the head positions"
    return f"{peak_way(study, peak)}: {late}, {weaker(peak.level_db)}: {in_sentence(peak)}{share}."


def group_of(study: Study, row: int) -> str:
    """Which layer an arrival is drawn in: by the peak that is named after it, else by its bounces."""
    peak = peak_of(study, row)
    if peak is not None and peak.may_be_over and row in named_rows(study, peak):
        return peak.verdict
    return "first" if int(study.arrivals.order[row]) == 1 else "others"


def panel_words(panel: PlacedPanel, held: Sequence[Hook], units: str) -> str:
    """What hangs there: its name, build, size, the air behind it, and what holds it."""
    sides = (format_length(side, units=units, style="m") for side in (panel.width_m, panel.height_m))
    thick = format_length(panel.depths.outer_m, units=units)
    text = f"{capital(panel.name)}: {panel.build_name}, {' x '.join(sides)}, {thick} thick"
    if panel.clear_m > _NO_GAP_M:
        text += f", {format_length(panel.clear_m, units=units)} of air behind"
    return text + _held_words(held, units)


def _held_words(held: Sequence[Hook], units: str) -> str:
    """By how many cords, how long, or at how many points a panel is held; nothing where it stands."""
    if not held:
        return ""
    cords = sorted(hook.cord_m for hook in held if hook.kind == "cord")
    if not cords:
        return f", held at {len(held)} points"
    ends = list(dict.fromkeys(format_length(cord, units=units) for cord in (cords[0], cords[-1])))
    in_raft = "" if held[0].raft is None else f" in a raft of {len(held[0].holds)}"
    return f"{in_raft}, hanging on {len(cords)} cords, {' to '.join(ends)} long"


def capital(words: str) -> str:
    """The words with a capital first letter, the others as they are."""
    return words[:1].upper() + words[1:]

"""What the client's page says of one reflection, in plain words."""

from collections.abc import Sequence

import numpy as np

from raytrace import Hook, Peak, PlacedPanel, Study, format_length, peak_surface_names
from viewer.words import decibels, joined_names, judged, named_rows, off_limit, path_phrase, speaker_words

WORDS = {
    "how": "Each line is sound that leaves a speaker, touches the room at the dots and reaches the seat soon "
    "after the sound itself: the darker, the stronger.",
    "mouse": "Point at a line to read it; click to keep it marked.",
    "finger": "Tap a line to read it.",
    "mouse_help": "Drag to turn the room, scroll to come nearer, drag with the right button to move it. "
    "Keys: arrows turn, with Shift they move, + and − come nearer and go back.",
    "finger_help": "One finger turns the room, two come nearer and move it. Tap a wall or a thing to read "
    "its name.",
    "too_strong": "Too strong: #, the worst first",
    "others": "Weaker ones, the strongest first",
    "none_strong": "No early reflection is too strong here.",
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
    """Rows of the arrivals on the page: those of main speakers in the limit's window."""
    table = study.arrivals
    early = table.delay_s <= study.scene.limits.within_ms * 1e-3
    return [int(row) for row in np.flatnonzero(early & np.isin(table.speaker, mains(study)))]


def path_sentence(study: Study, row: int) -> str:
    """Surface, delay and level of one reflection in a sentence."""
    way, table = path_phrase(study, row), study.arrivals
    speaker = speaker_words(study, int(table.speaker[row]))
    return (
        f"{capital(way)}, from the {speaker}: {table.delay_s[row] * 1e3:.1f} ms after the sound itself, "
        f"{weaker(float(table.zone_worst_db[row]))}: {_against_limit(study, row)}."
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
    """Too strong or not, alone and together with what arrives at the same moment."""
    level = float(study.arrivals.level_re_limit_db[row])
    if np.isnan(level):
        return "not judged, because something hides the speaker from the seat"
    alone = _off_limit(level)
    peak = peak_over(study, row)
    others = [] if peak is None else [path_phrase(study, i) for i in named_rows(study, peak) if i != row]
    if peak is not None and not others:
        others = [f"{', then '.join(names)}, where the head moves" for names in joined_names(study, peak)]
    if peak is None or not (others or level <= 0):
        return alone
    what = f"the one off the {others[0]}, which" if others else "what else"
    return (
        f"{alone} by itself, {off_limit(peak.margin_db)} dB too strong together with {what} "
        "arrives at the same moment"
    )


def _off_limit(level_db: float) -> str:
    if level_db == -np.inf:
        return "below the limit"
    return f"{off_limit(level_db)} dB {'too strong' if level_db > 0 else 'below the limit'}"


def peak_rows(study: Study) -> list[Peak]:
    """What the page lists: reflections as verdicts count them, too strong or not, the strongest first.

    Of main speakers, in the limit's window; what only a moved head hears is left out unless too strong.
    """
    within_s = study.scene.limits.within_ms * 1e-3
    listed = [
        peak
        for peak in study.peaks
        if peak.speaker in mains(study)
        and peak.delay_s <= within_s
        and (peak.over_limit or np.isfinite(peak.level_db))
    ]
    return sorted(listed, key=lambda p: (-round(p.zone_worst_db, 1), round(p.delay_s, 4), p.speaker))


def peak_way(study: Study, peak: Peak) -> str:
    """The things that one reflection as verdicts count it touches, and the speaker it comes from."""
    ways = [path_phrase(study, row).replace(", then ", " then ") for row in named_rows(study, peak)]
    ways += [f"{' then '.join(names)} where the head moves" for names in joined_names(study, peak)]
    words = ", together with ".join(ways)
    if not peak.arrivals:
        words = f"{' then '.join(peak_surface_names(study, peak))}, only with the head off the middle"
    return f"{capital(words)}, from the {speaker_words(study, peak.speaker)}"


def peak_figures(peak: Peak) -> tuple[str, str]:
    """Delay and level of a reflection as verdicts count it, and by how much it is too strong."""
    return f"{_late(peak)}, {weaker(peak.zone_worst_db)}", _excess(peak)


def _late(peak: Peak) -> str:
    return f"{peak.delay_s * 1e3:.1f} ms"


def _excess(peak: Peak) -> str:
    return f"{off_limit(peak.margin_db)} dB too strong" if peak.over_limit else ""


def peak_sentence(study: Study, peak: Peak) -> str:
    """One reflection as verdicts count it, in a sentence."""
    judged_as = _excess(peak) or ("not judged" if np.isnan(peak.margin_db) else _off_limit(-peak.margin_db))
    late = f"{_late(peak)} after the sound itself"
    return f"{peak_way(study, peak)}: {late}, {weaker(peak.zone_worst_db)}: {judged_as}."


def peak_over(study: Study, row: int) -> Peak | None:
    """The peak over the limit that a reflection has a part in, if there is one."""
    passed = {(v.speaker, v.seat) for v in judged(study)}
    for peak in study.peaks:
        is_judged = peak.over_limit and (peak.speaker, peak.seat) in passed
        if is_judged and row in peak.arrivals and row in named_rows(study, peak):
            return peak
    return None


def panel_words(panel: PlacedPanel, held: Sequence[Hook], units: str) -> str:
    """What hangs there: its name, build, size, the air behind it, and what holds it."""
    sides = (format_length(side, units=units, style="m") for side in (panel.width_m, panel.height_m))
    thick = format_length(panel.thickness_m, units=units)
    text = f"{capital(panel.name)}: {panel.build_name}, {' × '.join(sides)}, {thick} thick"
    if panel.gap_m > _NO_GAP_M:
        text += f", {format_length(panel.gap_m, units=units)} of air behind"
    return text + _held_words(held, units)


def _held_words(held: Sequence[Hook], units: str) -> str:
    """By how many cords, how long, or at how many points a panel is held; nothing where it stands."""
    if not held:
        return ""
    cords = sorted(hook.cord_m for hook in held if hook.kind == "cord")
    if not cords:
        return f", held at {len(held)} points"
    ends = list(dict.fromkeys(format_length(cord, units=units) for cord in (cords[0], cords[-1])))
    return f", hanging on {len(cords)} cords, {' to '.join(ends)} long"


def capital(words: str) -> str:
    """The words with a capital first letter, the others as they are."""
    return words[:1].upper() + words[1:]

"""Why a peak is over the limit, and what one panel would bring: the answers in words for the window."""

from raytrace import ArrivalCause, Peak, PeakMending, Study, TriedPanel, find_causes, format_length
from viewer.words import decibels, in_sentence, path_text, peak_words

NOTHING = "No panel can be put up where the sound of this peak is reflected."


def why_lines(study: Study, peak: Peak, units: str) -> list[str]:
    """Why a peak is as strong as it is, a sentence each: what is left of each reflection, what they make."""
    causes = find_causes(study.arrivals, peak, speed_of_sound_m_s=study.room.speed_of_sound_m_s)
    lines = [_cause_words(study, cause, units) for cause in causes]
    what = "Together" if len(causes) > 1 else "Over the head zone"
    limit = f" of {decibels(study.scene.limits.level_db)} dB" if peak.verdict in ("over", "below") else ""
    lines.append(
        f"{what} that is {decibels(peak.level_db)} dB, which a tenth of the places where the head may be "
        f"exceed: {in_sentence(peak)}{limit}."
    )
    if peak.near_misses:
        lines.append("What is bent past an edge beside its path counts with it.")
    return lines


def _cause_words(study: Study, cause: ArrivalCause, units: str) -> str:
    way = format_length(cause.detour_m, units=units, style="m")
    rest = (
        f"surfaces, air and the speaker's direction take {decibels(cause.rest_db)} dB more"
        if cause.rest_db >= 0.0
        else f"surfaces and the speaker's direction add {decibels(-cause.rest_db)} dB"
    )
    return (
        f"{path_text(study, cause.row)}: {way} farther than the direct way, which takes "
        f"{decibels(cause.distance_db)} dB; {rest}. That leaves {decibels(cause.level_db)} dB re direct."
    )


def mending_lines(study: Study, mending: PeakMending, units: str) -> list[str]:
    """What one panel at each spot of a peak would bring, the best first; then why others cannot be."""
    best = mending.best
    lines = [NOTHING if best is None else f"Best: {_tried_words(study, mending.peak, best, units)}"]
    others = [own for own in mending.tried if own.study is not None and own is not best]
    lines += [f"Less: {_tried_words(study, mending.peak, own, units)}" for own in others]
    lines += [f"{own.surface}: {own.refused}" for own in mending.tried if own.study is None]
    return lines


def _tried_words(study: Study, peak: Peak, own: TriedPanel, units: str) -> str:
    u, v = (format_length(at, units=units) for at in own.centre_m)
    place = f"one panel {own.build} on the {own.surface}, its middle {u} from the left edge and {v} up"
    if own.after is None:
        return f"{place}: {peak_words(study, peak)} is no peak any more."
    change = own.after.level_db - peak.level_db
    told = f"{decibels(abs(change))} dB {'weaker' if change <= 0.0 else 'stronger'}"
    return f"{place}: {told}, then {in_sentence(own.after)}."

"""What measurements tell in sentences: doubts, what nothing explains, and what figures rest on."""

from collections.abc import Sequence

from raytrace.facts import Sentence, metres, sentence, whole_decibels
from raytrace.measured.compared import UNEXPLAINED_DB, Held, Measurement, unexplained_points


def measured_notes(states: Sequence[Held], of_drawing: Sequence[Sentence] = ()) -> tuple[Sentence, ...]:
    """What a reader must know first: whether files or a drawing are in doubt, and what nothing explains.

    Between them stands what is said of the drawing: what is wrong there leaves peaks unexplained.
    """
    notes, unexplained = list[Sentence](), list[Sentence]()
    for held in states:
        notes += _label_notes(held) or _doubts(held)
        for heard in held.surely_labelled.heard:
            unexplained += [*_unexplained_notes(held, heard), *_own_notes(held, heard)]
    return tuple(dict.fromkeys([*notes, *of_drawing, *unexplained]))


def _label_notes(held: Held) -> list[Sentence]:
    """Which files seem to be of another speaker or seat than was said."""
    notes = []
    for k, own in enumerate(held.heard):
        if own.fits_better is None:
            continue
        label = own.take.speaker, own.take.seat
        words = {"file": own.take.file, "given": _place(held, *label), "fits": _place(held, *own.fits_better)}
        other = held.at(*own.fits_better)
        if other is not None and other.fits_better == label:
            text = (
                "{file} was given for {given} and fits {fits} far better, {other} the other way round: the "
                "files are swapped, or the cables to the speakers are. Their peaks bear wrong names."
            )
            if k < held.heard.index(other):
                notes.append(sentence(text, **words, other=other.take.file))
            continue
        asked = "was it measured there" if own.fits_better[0] == label[0] else "was that speaker on"
        text = "{file} was given for {given} and fits {fits} far better: {asked}? Its peaks bear wrong names."
        notes.append(sentence(text, **words, asked=asked))
    return notes


def _place(held: Held, speaker: int, seat: int) -> str:
    return f"{held.scene.speakers[speaker].name} at {held.scene.seats[seat].name}"


def record_notes(states: Sequence[Held]) -> tuple[Sentence, ...]:
    """What figures rest on: faults of files, what their length and noise leave out, the method."""
    notes = list[Sentence]()
    for held in states:
        for heard in held.heard:
            notes += [*heard.response.notes, *_decay_notes(heard)]
    return tuple(dict.fromkeys([*notes, _method_note()]))


def _method_note() -> Sentence:
    return sentence(
        "Measured and predicted curves pass one filter and their peaks are found by one rule. Delays count "
        "from the direct sound; what lies within 0.15 ms is one peak on both sides. A level tells of the "
        "loudspeaker and the microphone too: single arrivals within 3 dB are as good as it gets."
    )


def _doubts(held: Held) -> list[Sentence]:
    """That a drawing may not be of the room that was measured."""
    if not held.is_doubtful:
        return []
    fit = held.fit
    text = (
        "{drawing} explains {own} % of the measured peaks, hardly more than the {chance} % that it would by "
        "chance: is it the drawing of the room that was measured, with this speaker and seat? Do not rely on "
        "the names given to its peaks."
    )
    figures = {"own": fit.explained, "chance": fit.by_chance}
    shares = {name: f"{100.0 * value / fit.n_peaks:.0f}" for name, value in figures.items()}
    return [sentence(text, drawing=held.scene.file_name, **shares)]


def _unexplained_notes(held: Held, heard: Measurement) -> list[Sentence]:
    notes = []
    whose = {
        "speaker": held.scene.speakers[heard.take.speaker].name,
        "seat": held.scene.seats[heard.take.seat].name,
    }
    for peak in heard.strong_unexplained:
        points = unexplained_points(held, heard, peak)
        met = [held.room.surfaces[surface].name for surface in points.surfaces]
        text = "{speaker} at {seat}: {delay} ms, {level}: nothing drawn explains it; an extra path of {extra}"
        over = ", over {surfaces} or something that is not drawn."
        if not met:
            over = ": nothing drawn lies so near."
            if points.is_beyond(held.room):
                over = ": longer than over any one place in the room, so that it met several."
        notes.append(
            sentence(
                text + over,
                **whose,
                delay=f"{1e3 * peak.peak.delay_s:.1f}",
                level=whole_decibels(peak.peak.level_db),
                extra=metres(points.extra_m, 2),
                **({"surfaces": ", ".join(met)} if met else {}),
            )
        )
    if heard.n_more_unexplained:
        text = "{speaker} at {seat}: {count} weaker peaks above {level} that nothing drawn explains."
        count, level = heard.n_more_unexplained, whole_decibels(UNEXPLAINED_DB)
        notes.append(sentence(text, **whose, count=count, level=level))
    return notes


def _own_notes(held: Held, heard: Measurement) -> list[Sentence]:
    """What a loudspeaker adds to its direct sound at every seat."""
    own = [f"{1e3 * peak.peak.delay_s:.1f}" for peak in heard.peaks if peak.is_speakers_own]
    if not own:
        return []
    text = "{speaker}: what follows its direct sound by {delays} ms at every seat is the loudspeaker's own."
    name = held.scene.speakers[heard.take.speaker].name
    return [sentence(text, speaker=name, delays=", ".join(own))]


def _decay_notes(heard: Measurement) -> list[Sentence]:
    """Which decay figures are missing, and why."""
    from raytrace.acoustics import BAND_NAMES

    decay, name = heard.decay, heard.take.file
    notes = []
    if decay.is_cut.sum() > len(decay.is_cut) // 2:
        text = (
            "{file}: ends {time} ms after the direct sound, before the room is quiet: decay times are told "
            "where it falls far enough until then, and a straight decay is taken for the rest."
        )
        notes.append(sentence(text, file=name, time=f"{1e3 * heard.response.until_s:.0f}"))
    short = [str(band) for band, missing in zip(BAND_NAMES, decay.range_db < 35.0, strict=True) if missing]
    if short:
        where = "in any octave" if len(short) == len(BAND_NAMES) else f"at {', '.join(short)} Hz"
        text = "{file}: falls by less than 35 dB before noise or its end {where}: no T20 there."
        notes.append(sentence(text, file=name, where=where))
    ringing = [str(band) for band, rings in zip(BAND_NAMES, decay.is_ringing, strict=True) if rings]
    if ringing:
        text = (
            "{file}: at {bands} Hz the octave filter rings about as long as the room: no decay times there."
        )
        notes.append(sentence(text, file=name, bands=", ".join(ringing)))
    return notes

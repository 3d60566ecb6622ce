"""Commands about measurements: a sweep to play, and what was measured held against the prediction."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cyclopts import Parameter

from viewer.cli.commandline import (
    USUAL_EXTENT,
    Extent,
    Flag,
    Mistake,
    Names,
    SceneFile,
    Units,
    check_file,
    check_form,
    check_name,
    check_scene_file,
    mistakes,
    other_scene,
    read_scene,
    showing_progress,
    units_of,
)
from viewer.cli.printing import print_json, say, show

if TYPE_CHECKING:
    from collections.abc import Sequence

    from raytrace import Correction, Held, MeasuredRoom, Scene, Take
    from viewer.files import Origin, Place

_SHORTEST_S, _LONGEST_S = 1.0, 60.0
_HOW = (
    "1. Microphone: an omnidirectional measuring one, its tip where the ears are; an empty seat.",
    "2. One speaker at a time, the others off; doors and windows as they usually are, fans and pumps off.",
    "3. Before the first one turn the volume right down; play, and raise it to a loud voice, no more.",
    "4. Input so that the loudest part stays 6 dB or more below full scale; no automatic gain, no effects.",
    "5. Record at the file's own rate, from before the sweep until the room is quiet again.",
    "6. A file for each speaker and seat. Touch neither volume nor input between before and after.",
)
_CAUTION = (
    "Caution: a sweep is louder than it seems. Wear ear protection beside speakers, tell the neighbours, and "
    "spare tweeters: the end of the sweep is a steady high tone, so play it no louder than needed."
)


@Parameter(name="*")
@dataclass(frozen=True)
class Sounds:
    """What was measured.

    Parameters
    ----------
    measured
        A sound file of one speaker, left=before.wav, at another than the first seat left@mix=before.wav;
        again for each. Of several channels one by its number: left=both.wav:2. WAV or FLAC, an impulse
        response or, with --sweep, the recording of one.
    after
        The same after the room was treated; --measured is then what was before.
    sweep
        The sweep that was played: hitspot sweep writes one.
    """

    measured: Names = None
    after: Names = None
    sweep: Path | None = None


@Parameter(name="*")
@dataclass(frozen=True)
class Files(Sounds):
    """What was measured, and the room as it was before.

    Parameters
    ----------
    against
        The room as it was before, where there is an --after: OTHER.toml, or "bare" for the scene itself
        without its panels, which is the default where it holds any.
    """

    against: str | None = None


@Parameter(name="*")
@dataclass(frozen=True)
class Tables:
    """Where the tables go.

    Parameters
    ----------
    out
        Folder for tables and charts: measured.json, peaks.csv, with --after changes.csv, a PNG of each
        measurement, and one of where each strong peak can have come over that nothing drawn explains.
    replace
        Replace what was made of another scene; what this program did not write is left alone even then.
    json
        Print one JSON object in full precision.
    all
        Weak peaks too.
    write
        File to write the scene into with the numbers that the measurement puts elsewhere; comments stay.
    """

    out: Path | None = None
    replace: Flag = False
    json: Flag = False
    all: Flag = False
    write: Path | None = None


NO_FILES = Files()
NO_SOUNDS = Sounds()
_PRINTED = Tables()


def sweep(*, out: Path, seconds: float = 10.0, replace: Flag = False) -> None:
    """Write a sweep to play through one speaker at a time, and print how to measure with it.

    Parameters
    ----------
    out
        The sound file: .wav, 24 bits at 48 kHz, 20 Hz to 20 kHz at -12 dB re full scale, faded, silence on
        both sides.
    seconds
        How long it sounds: longer is better against noise.
    replace
        Overwrite the file.
    """
    from raytrace import SWEEP_LEVEL_DB, Sweep, sweep_file
    from viewer.files import OutputRefused, write_whole

    if not _SHORTEST_S <= seconds <= _LONGEST_S:
        raise Mistake(f"--seconds must lie between {_SHORTEST_S:g} and {_LONGEST_S:g}, not {seconds:g}")
    if out.suffix.lower() != ".wav":
        raise Mistake(f"--out {out}: a sweep ends in .wav")
    check_file(out, "--out", replace=replace)
    with mistakes(OutputRefused):
        write_whole(out, sweep_file(Sweep(seconds)))
    say(f"Written: {out}, {seconds:g} s at {SWEEP_LEVEL_DB:g} dB re full scale")
    for line in (*_HOW, _CAUTION):
        say(line)


def compare(
    scene: SceneFile,
    *,
    files: Files = NO_FILES,
    extent: Extent = USUAL_EXTENT,
    to: Tables = _PRINTED,
    units: Units = None,
) -> None:
    """Hold what was measured against the prediction: who made which peak, what changed, what is unexplained.

    Parameters
    ----------
    units
        Units of what is printed.
    """
    from raytrace import RecordingError, find_measured
    from viewer.files import Origin, OutputRefused, Place, check_folder
    from viewer.tables import measured_json, measured_tables

    check_form(to.json, False, units)
    read = read_scene(scene)
    extent.check(read)
    if not files.measured:
        raise Mistake(_NAME_IT)
    against = [] if files.against in (None, "bare") else [Path(files.against)]
    check_scene_file(to.write, "--write", scene, replace=to.replace, reads=against)
    place = None if to.out is None else Place(to.out, to.replace)
    if place is not None:
        with mistakes(OutputRefused):
            check_folder(place, Origin.of(_WHAT, read))
    with mistakes(RecordingError, OutputRefused):
        states = measured_states(scene, read, files, extent)
    found = find_measured(states)
    if place is not None:
        _write(place, Origin.of(_WHAT, read), found, units_of(read, units))
    if to.write is not None:
        _write_corrected(to.write, read, found.corrections)
    if to.json:
        print_json(measured_json(found))
        return
    show(measured_tables(found, units=units_of(read, units), everything=to.all))
    if place is not None:
        say(f"Written: {place.path}/measured.json, peaks.csv{', changes.csv' if found.changes else ''}")
    if to.write is not None:
        say(f"Written: {to.write}, {len(found.corrections)} numbers corrected")


_WHAT = "comparison with measurements"
_NAME_IT = "name what was measured: --measured left=before.wav"


def measured_beside(path: Path, scene: "Scene", files: Files, extent: Extent) -> "MeasuredRoom | None":
    """What was measured, held against the scene as it is read; None where nothing was."""
    if not files.measured:
        if files.after or files.sweep is not None:
            raise Mistake(_NAME_IT)
        return None
    from raytrace import RecordingError, find_measured

    with mistakes(RecordingError):
        return find_measured(measured_states(path, scene, files, extent))


def measured_states(path: Path, scene: "Scene", files: Files, extent: Extent) -> list[tuple[str, "Held"]]:
    """The room as measured, or before and after."""
    from raytrace import hold_against

    wanted = [("measured", scene, files.measured or [])]
    if files.after:
        against = files.against or (None if scene.is_bare else "bare")
        before = scene if against is None else other_scene(path, scene, against)
        wanted = [("before", before, files.measured or []), ("after", scene, files.after)]
    elif files.against is not None:
        raise Mistake("--against goes with --after: it is the room as it was before")
    with showing_progress() as progress:
        return [
            (
                name,
                hold_against(own, _takes(own, words), sweep=files.sweep, **extent.options, progress=progress),
            )
            for name, own, words in wanted
        ]


def _takes(scene: "Scene", words: list[str]) -> list["Take"]:
    """Files with their speakers and seats, from "left@mix=before.wav:2"."""
    from raytrace import Take

    takes: list[Take] = []
    for word in words:
        whose, equals, file = _parted(word, scene)
        if not (equals and whose and file):
            raise Mistake(f'"{word}" names no speaker and file; write for example left=before.wav')
        speakers, seats = (tuple(entry.name for entry in own) for own in (scene.speakers, scene.seats))
        speaker, _, seat = (whose, "", seats[0]) if whose in speakers else whose.rpartition("@")
        check_name(speaker or whose, speakers, "speaker")
        check_name(seat, seats, "seat")
        path, channel = _channel(file)
        take = Take(speakers.index(speaker), seats.index(seat), path, channel)
        if any((other.speaker, other.seat) == (take.speaker, take.seat) for other in takes):
            raise Mistake(f"{speaker} at {seat} is given twice; one file for each")
        takes.append(take)
    return takes


def _parted(word: str, scene: "Scene") -> tuple[str, str, str]:
    """Whose a file is, "=" and the file: parted behind a name of the scene, which may hold "=" itself."""
    names = [speaker.name for speaker in scene.speakers]
    names += [f"{name}@{seat.name}" for name in names for seat in scene.seats]
    whose = max((name for name in names if word.startswith(f"{name}=")), key=len, default="")
    return (whose, "=", word[len(whose) + 1 :]) if whose else word.partition("=")


def _channel(file: str) -> tuple[Path, int | None]:
    """A file's name, and the channel behind it if there is one."""
    found = re.fullmatch(r"(.+):([0-9]{1,4})", file)
    if found is None or Path(file).exists():
        return Path(file), None
    return Path(found[1]), int(found[2])


def _write_corrected(path: Path, scene: "Scene", corrections: "Sequence[Correction]") -> None:
    from raytrace import corrected_text
    from viewer.files import OutputRefused, write_whole

    with mistakes(OutputRefused):
        write_whole(path, corrected_text(scene, corrections))


def _write(place: "Place", origin: "Origin", found: "MeasuredRoom", units: str) -> None:
    """The tables in a folder, all of them or none."""
    import json

    from viewer.charts import draw_measured
    from viewer.files import OutputRefused, moved_into_place
    from viewer.pictures import Shell, draw_shells, shells_of, unjudged_study
    from viewer.tables import changes_csv, measured_csv, measured_json

    with mistakes(OutputRefused), moved_into_place(place, origin) as folder:
        text = json.dumps(measured_json(found), indent=1, ensure_ascii=False)
        (folder / "measured.json").write_text(text + "\n", encoding="utf-8", newline="\n")
        (folder / "peaks.csv").write_text(measured_csv(found.states), encoding="utf-8", newline="")
        for state, held in found.states:
            shells: list[Shell] = []
            for heard in held.heard:
                whose = f"speaker-{heard.take.speaker + 1}-seat-{heard.take.seat + 1}"
                draw_measured(held, heard, folder / f"{state}-{whose}.png")
                shells += shells_of(held, heard, f"{state}-{whose}", units=units)
            if shells:
                draw_shells(unjudged_study(held), shells, folder, units=units)
        if found.changes:
            (folder / "changes.csv").write_text(changes_csv(found.changes), encoding="utf-8", newline="")

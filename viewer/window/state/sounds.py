"""Sound files as measurements: of which speaker and seat each is, as far as its name says."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from raytrace import Scene, Take

_BEFORE, _SWEEP = ("before", "bare", "untreated"), ("sweep", "reference")


@dataclass(frozen=True)
class SoundFile:
    """One measurement: a file, and whose it is by name; None where that is not known.

    `is_before` tells those of the room before the work; of several channels one is chosen, counted from 1.
    """

    path: Path
    speaker: str | None
    seat: str | None
    is_before: bool = False
    channel: int | None = None

    @property
    def is_told(self) -> bool:
        """Whether speaker and seat are known."""
        return self.speaker is not None and self.seat is not None

    @property
    def whose(self) -> tuple[str | None, str | None, bool]:
        """What a later file of the same takes the place of."""
        return self.speaker, self.seat, self.is_before


@dataclass(frozen=True)
class Sounds:
    """Measurements, and the sweep that was played; without one the files are impulse responses."""

    files: tuple[SoundFile, ...] = ()
    sweep: Path | None = None

    def with_more(self, more: "Sounds") -> "Sounds":
        """Others beside these, in place of those of the same speaker and seat."""
        new = {file.whose for file in more.files}
        kept = tuple(file for file in self.files if file.whose not in new)
        return Sounds((*kept, *more.files), more.sweep or self.sweep)

    def takes(self, scene: Scene, *, before: bool) -> list[Take]:
        """Those of one state of the room that a scene has speaker and seat for."""
        speakers, seats = ([entry.name for entry in own] for own in (scene.speakers, scene.seats))
        return [
            Take(speakers.index(file.speaker), seats.index(file.seat), file.path, file.channel)
            for file in self.files
            if file.is_before == before and file.speaker in speakers and file.seat in seats
        ]


def sounds_told(paths: Sequence[Path], scene: Scene) -> Sounds:
    """What the names of some files say of a room: "left mix before.wav" says it all."""
    files, sweep = [], None
    for path in paths:
        told = _words(path.stem)
        speaker = _named(told, [speaker.name for speaker in scene.speakers])
        if speaker is None and any(word in _SWEEP for word in told):
            sweep = path
            continue
        seat = _named(told, [seat.name for seat in scene.seats])
        files.append(SoundFile(path, speaker, seat, any(word in _BEFORE for word in told)))
    return Sounds(tuple(files), sweep)


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.lower().replace("_", " "))


def _named(told: list[str], names: list[str]) -> str | None:
    """The one of some names that is in a row of words, the longest; where there is one it need not be."""
    if len(names) == 1:
        return names[0]
    met = [name for name in names if _is_in(_words(name), told)]
    longest = max((len(_words(name)) for name in met), default=0)
    met = [name for name in met if len(_words(name)) == longest]
    return met[0] if len(met) == 1 else None


def _is_in(words: list[str], told: list[str]) -> bool:
    n = len(words)
    return n > 0 and any(told[k : k + n] == words for k in range(len(told) - n + 1))

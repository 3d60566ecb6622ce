"""Sound files as they come off a measurement: WAV and FLAC, read in blocks, refused with the reason.

The only reader of sound files. soundfile (BSD) saves a decoder for each form of WAV and FLAC.
"""

import os
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, plain, sentence

Floats = NDArray[np.float64]

LONGEST_SWEEP_S = 120.0  # two transforms of it still fit the memory of a small machine
LONGEST_RESPONSE_S = 10.0  # what is kept after the loudest moment of an impulse response
BEFORE_S = 1.0  # and before it
_BLOCK = 1 << 18  # samples of all channels that are read at once: 2 MB
_LARGEST_BYTES = 64 << 30
_ENDLESS = 1 << 60  # samples that a file claims which does not know how many it has
_LOSSLESS = ("WAV", "WAVEX", "RF64", "W64", "FLAC", "AIFF", "CAF")
_SILENT = 1e-6  # of full scale: no converter hears less
_LOUD = 0.9  # of full scale: where a converter may have run out of numbers
_CLIPPED = 3  # equal samples in a row at the top: no sound rests there
_COARSE = ("PCM_U8", "PCM_S8", "ULAW", "ALAW")


class RecordingError(Exception):
    """Why a sound file cannot be used, as one message that names it."""


@dataclass(frozen=True)
class Recording:
    """One channel of a sound file, or the part of it that matters.

    Attributes
    ----------
    path : Path
    rate_hz : int
    samples : (n,) float
        Re full scale.
    start_s : float
        Where they begin in the file.
    lasts_s : float
        The whole file.
    notes : tuple of Sentence
        What is odd about it.
    """

    path: Path
    rate_hz: int
    samples: Floats
    start_s: float
    lasts_s: float
    notes: tuple[Sentence, ...] = ()

    @property
    def file(self) -> str:
        """The name of the file as it can be printed."""
        return plain(self.path.name)

    def refuse(self, why: str) -> RecordingError:
        """The error that says why this one cannot be used."""
        return RecordingError(f"{self.path}: {why}")


def hash_of(recording: Recording) -> bytes:
    """What tells sounds apart, whatever their files are called."""
    from hashlib import sha256

    return sha256(recording.samples.tobytes()).digest()


def read_recording(path: str | Path, *, channel: int | None = None, whole: bool = False) -> Recording:
    """One channel of a WAV or FLAC file of any rate and format.

    Parameters
    ----------
    path : str or Path
    channel : int, optional
        Counted from 1; without it the file must have one channel, or the same in all.
    whole : bool
        All of it, for a recorded sweep. Without it what surrounds its loudest moment: of an hour only those
        seconds are ever held.

    Returns
    -------
    Recording

    Raises
    ------
    RecordingError
        If the file is no sound file, is cut off, silent or clipped, holds values that are no numbers, or
        several channels of which none is chosen.
    """
    path = Path(path)
    with _opened(path) as file:
        rate_hz, column = int(file.samplerate), _column(path, file, channel)
        found = _survey(path, file, column)
        if whole and found.n > LONGEST_SWEEP_S * rate_hz:
            raise RecordingError(
                f"{path}: lasts {found.n / rate_hz:.0f} s; accepted for a recorded sweep: up to "
                f"{LONGEST_SWEEP_S:g} s. Cut it to the sweep and what follows"
            )
        first = 0 if whole else max(0, found.peak_at - round(BEFORE_S * rate_hz))
        last = found.n if whole else min(found.n, found.peak_at + round(LONGEST_RESPONSE_S * rate_hz))
        file.seek(first)
        samples = np.concatenate([block for _, block in _blocks(path, file, column, last - first)])
        coarse = file.subtype in _COARSE
    told = "{file}: 8 bits a sample: what is 45 dB below the loudest is lost."
    notes = (sentence(told, file=plain(path.name)),) if coarse else ()
    return Recording(path, rate_hz, samples, first / rate_hz, found.n / rate_hz, notes)


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """A sound file, open and promising; what its reader or the system says otherwise, in one message."""
    import soundfile

    try:
        with path.open("rb", buffering=0) as raw:  # the decoder shares its place in the file
            _check_head(path, raw)
            with soundfile.SoundFile(os.dup(raw.fileno()), closefd=True) as file:
                if file.format not in _LOSSLESS:
                    raise RecordingError(
                        f"{path}: {file.format} changes what it stores; accepted: WAV or FLAC, made from the "
                        "recording itself"
                    )
                yield file
    except OSError as problem:
        raise RecordingError(f"{path}: cannot be read: {problem.strerror or problem}") from None
    except (soundfile.SoundFileError, RuntimeError, TypeError, ValueError, MemoryError) as problem:
        words = " ".join(str(problem).split()).rstrip(".")
        raise RecordingError(f"{path}: is no sound file that can be read: {words}") from None


def _check_head(path: Path, raw: Any) -> None:
    """Refuse what is empty or ends before its head says: readers take such files for whole ones."""
    size = os.fstat(raw.fileno()).st_size
    if size == 0:
        raise RecordingError(f"{path}: is empty")
    if size > _LARGEST_BYTES:
        raise RecordingError(f"{path}: has {size >> 30} GB; accepted: up to {_LARGEST_BYTES >> 30} GB")
    head = raw.read(12)
    if head[:4] == b"RIFF" and head[8:] == b"WAVE":
        promised, held = _data_bytes(raw, size)
        if promised > held:
            raise RecordingError(
                f"{path}: is cut off: its head promises {promised} bytes of sound, {held} are there. Copy it "
                "again"
            )
    raw.seek(0)


def _data_bytes(raw: Any, size: int) -> tuple[int, int]:
    """Bytes of sound that a WAV file promises and holds; none promised where it does not say."""
    while len(head := raw.read(8)) == 8:
        name, length = struct.unpack("<4sI", head)
        if name == b"data":
            # Recorders that write as they go leave the length open.
            is_open = length in (0, 0xFFFFFFFF, 0x7FFFFFFF, 0xFFFFFFFF - 36)
            return (0 if is_open else length), size - raw.tell()
        raw.seek(length + (length & 1), os.SEEK_CUR)
        if raw.tell() > size:
            break
    return 0, 0


def _column(path: Path, file: Any, channel: int | None) -> int | None:
    """Which channel is taken, from 0; None where all must be alike."""
    n = int(file.channels)
    if channel is not None and not 1 <= channel <= n:
        have = "one channel" if n == 1 else f"channels 1 to {n}"
        raise RecordingError(f"{path}: has {have}, not {channel}")
    if file.samplerate < 8000 or file.samplerate > 1_000_000:
        raise RecordingError(
            f"{path}: {file.samplerate} samples a second; accepted: 8000 to 1000000, usually 48000"
        )
    return None if channel is None and n > 1 else (channel or 1) - 1


def _blocks(path: Path, file: Any, column: int | None, n: int) -> Iterator[tuple[int, Floats]]:
    """Up to so many samples, block by block, with where each begins."""
    at, step = 0, max(1, _BLOCK // int(file.channels))
    while at < n:
        block = file.read(min(step, n - at), dtype="float64", always_2d=True)
        if len(block) == 0:
            return
        if column is None and (block != block[:, :1]).any():
            raise RecordingError(
                f"{path}: has {file.channels} channels that differ; choose one by its number: "
                f"{path.name}:1 is the first"
            )
        yield at, np.ascontiguousarray(block[:, column or 0])
        at += len(block)


@dataclass(frozen=True)
class _Found:
    """How many samples a file holds, and which of them is the loudest."""

    n: int
    peak_at: int


def _survey(path: Path, file: Any, column: int | None) -> _Found:
    """Go through a file once: its length, its loudest sample; refuse what cannot be used."""
    n, peak, peak_at, clipped_at, tail = 0, 0.0, 0, list[tuple[int, float]](), np.zeros(0)
    for at, block in _blocks(path, file, column, _ENDLESS):
        if not np.isfinite(block).all():
            bad_s = (at + int(np.argmin(np.isfinite(block)))) / file.samplerate
            raise RecordingError(f"{path}: holds values that are no numbers, the first at {bad_s:.3f} s")
        size = np.abs(block)
        if size.max() > peak:
            peak, peak_at = float(size.max()), at + int(np.argmax(size))
        joint = np.concatenate([tail, block])
        clipped_at += [(at - len(tail) + first, top) for first, top in _flat_tops(joint)]
        tail, n = block[-(_CLIPPED - 1) :], at + len(block)
    _check_survey(path, file, n, peak, clipped_at)
    return _Found(n, peak_at)


def _flat_tops(samples: Floats) -> list[tuple[int, float]]:
    """Where some equal loud samples follow each other, and how loud they are."""
    if len(samples) < _CLIPPED:
        return []
    same = samples[1:] == samples[:-1]
    flat = same[1:] & same[:-1] & (np.abs(samples[2:]) >= _LOUD)
    return [(int(first), float(abs(samples[first]))) for first in np.flatnonzero(flat)[:1000]]


def _check_survey(path: Path, file: Any, n: int, peak: float, clipped_at: list[tuple[int, float]]) -> None:
    """Refuse what ends too soon, says nothing, or was too loud for its converter."""
    rate_hz = file.samplerate
    if n < file.frames and file.frames < _ENDLESS:
        raise RecordingError(
            f"{path}: is cut off: its head promises {file.frames / rate_hz:.2f} s, {n / rate_hz:.2f} s are "
            "there. Copy it again"
        )
    if n < 0.005 * rate_hz:
        raise RecordingError(f"{path}: lasts {1e3 * n / rate_hz:.1f} ms; that is no measurement")
    if peak < _SILENT:
        raise RecordingError(f"{path}: is silent; look at cables, inputs and the chosen channel")
    clipped = [at for at, top in clipped_at if top >= 0.999 * peak]
    if clipped:
        raise RecordingError(
            f"{path}: is clipped, first at {clipped[0] / rate_hz:.3f} s: levels re the direct sound mean "
            "nothing then. Turn the input down by 6 dB and measure again"
        )

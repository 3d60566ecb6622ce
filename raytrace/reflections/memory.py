"""What faces and panels sent back along lines before: while something moves most lines stay as they are."""

from collections.abc import Callable, Hashable, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Complexes = NDArray[np.complex128]


class Memory:
    """Pressures by what they were sent back from and along which line, kept as long as they are asked for."""

    def __init__(self) -> None:
        self._before: dict[Hashable, dict[bytes, Complexes]] = {}
        self._now: dict[Hashable, dict[bytes, Complexes]] = {}

    def turn(self) -> None:
        """Something has moved: forget what was not asked for since it did so the last time."""
        self._before, self._now = self._now, {}

    def recall(self, face: Hashable, lines: Sequence[bytes], work: Callable[[Ints], Complexes]) -> Complexes:
        """Pressures of some lines, (n, n_bands, 24).

        Parameters
        ----------
        face : hashable
            All that decides what comes back, but for the line.
        lines : sequence of bytes
            See `lines_of`.
        work : callable
            Pressures of those lines, by their index (m,), that are not known yet.
        """
        before, now = self._before.get(face, {}), self._now.setdefault(face, {})
        now |= {line: before[line] for line in lines if line in before}
        asked = [k for k, line in enumerate(lines) if line not in now]
        if asked:
            pressures = work(np.array(asked))
            now |= {lines[k]: pressure.copy() for k, pressure in zip(asked, pressures, strict=True)}
        return np.array([now[line] for line in lines])


def lines_of(*numbers: Floats | Ints) -> list[bytes]:
    """Lines that have their numbers in the same row of some arrays (n, ...), as what tells them apart."""
    return [b"".join(row.tobytes() for row in rows) for rows in zip(*numbers, strict=True)]

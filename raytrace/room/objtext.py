"""Text of an OBJ file -> raw faces, with the line of whatever cannot be read; made for long files."""

import re
import warnings
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import counted, plain
from raytrace.room.rawmesh import MeshError, RawMesh, no_faces

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SILENT = {"vt", "vn", "vp", "s", "mtllib", "usemap", "lod", "shadow_obj", "trace_obj", "mg", "bevel"}
_LABELS = {"l": "line element", "p": "point element"}
_LOOSE_SHARE = (
    0.005  # of all points: some programs leave a few that no face names, so it is no more than asked
)
_SEAM = "\x1f"  # a blank to all who split words
_JOINED = re.compile(r"\\[ \t]*\n")
_TEXTURES = re.compile(r"(?<=\d)/[\d/-]*(?!\S)")
_COMMA = re.compile(r"[+-]?\d+,(\d+)(?:[eE][+-]?\d+)?")


@dataclass
class _Lines:
    """What stands behind the first word of lines of one kind, with their numbers from 1."""

    rests: list[str] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)


@dataclass
class _Sorted:
    """The lines of a file by what they say."""

    vertices: _Lines = field(default_factory=_Lines)
    faces: _Lines = field(default_factory=_Lines)
    before: list[int] = field(default_factory=list)  # vertices above each face
    groups: list[str] = field(default_factory=list)
    materials: list[str] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)
    threads: list[str] = field(default_factory=list)  # corners of lines and points, which are no faces
    last_name: str = ""  # of a group or object
    is_bare: bool = False  # nothing stands in that


def parse_obj(text: str, *, file: str, unnamed: str) -> RawMesh:
    """The faces of an OBJ file in its own numbers.

    Parameters
    ----------
    text : str
        All of it.
    file : str
        Its name, for messages.
    unnamed : str
        What faces without a group, object or material are called.

    Raises
    ------
    MeshError
        With the line of what cannot be read.
    """
    lines = _sort(text)
    _refuse_cut_off(text, file)
    report: list[str] = []
    points = _points(lines.vertices, file, report)
    if not lines.faces.numbers:
        raise MeshError(f"{file} {no_faces(len(lines.vertices.rests), lines=bool(lines.skipped['l']))}")
    corners, starts = _corners(lines, len(points), file)
    report += _lacking_words(lines, corners, len(points))
    by_material = len(set(lines.groups)) == 1 and len(set(lines.materials)) > 1
    chosen = [
        (material if by_material else group or material) or unnamed
        for group, material in zip(lines.groups, lines.materials, strict=True)
    ]
    number = {name: k for k, name in enumerate(dict.fromkeys(chosen))}
    for word, count in lines.skipped.items():
        what = (
            counted(count, _LABELS[word]) if word in _LABELS else f"{counted(count, 'line')} of kind {word!r}"
        )
        report.append(f"{what} left out: no faces")
    return RawMesh(
        points=points,
        corners=corners,
        starts=starts,
        names=tuple(number),
        name_of_face=np.array([number[name] for name in chosen]),
        lines=np.array(lines.faces.numbers),
        named_by="materials, since all faces are in one group" if by_material else RawMesh.named_by,
        report=tuple(report),
    )


def _refuse_cut_off(text: str, file: str) -> None:
    """Refuse a text that ends in the middle of a point or a face, as half a copy does."""
    if text.endswith(("\n", "\r")):
        return
    words = text.rpartition("\n")[2].split()
    if words[:1] in (["v"], ["f"]) and (len(words) < 4 or words[-1].endswith("/")):
        number = text.count("\n") + 1
        raise MeshError(
            f"{file} ends early, in the middle of line {number}: it was cut off; copy or export it again"
        )


def _lacking_words(lines: _Sorted, corners: Ints, n_points: int) -> list[str]:
    """Whether a text may lack its last faces: points are left that no face names, or a name with no face."""
    ask = "was the file cut off?"
    told = []
    n_loose = n_points - len(np.union1d(corners, _threaded(lines.threads, n_points)))
    if n_loose >= max(_LOOSE_SHARE * n_points, 3):
        told.append(f"{counted(n_loose, 'point')} of no face: {ask}")
    if lines.is_bare:
        told.append(f'no face in the last group, "{lines.last_name}": {ask}')
    return told


def _threaded(words: list[str], n_points: int) -> Ints:
    """Points that lines name, from 0; what is no number of one is left, since no face needs it."""
    numbers = [word.partition("/")[0] for word in words]
    rows = [
        int(number) - 1 for number in numbers if number.isascii() and number.isdigit() and len(number) < 10
    ]
    return np.array([row for row in rows if 0 <= row < n_points], np.int64)


def _sort(text: str) -> _Sorted:
    """Lines by their first word; a backslash at the end joins the next one on."""
    found = _Sorted()
    vertices, faces = found.vertices, found.faces
    group, material = "", ""
    whole = text.replace("\r\n", "\n").replace("\r", "\n")
    # A joined line keeps the number of its first; the lines it swallowed still count.
    swallows = "\\" in whole
    if swallows:
        whole = _JOINED.sub(f" {_SEAM}", whole.replace(_SEAM, " ")).rstrip().removesuffix("\\")
    number = 0
    for line in whole.split("\n"):
        number += 1
        first = number
        if swallows and _SEAM in line:
            number += line.count(_SEAM)
        words = line.split(None, 1)
        if not words or words[0][0] == "#":
            continue
        kind, rest = words[0], words[-1] if len(words) == 2 else ""
        if kind == "v":
            vertices.rests.append(rest.partition("#")[0] if "#" in rest else rest)
            vertices.numbers.append(first)
        elif kind == "f":
            faces.rests.append(rest.partition("#")[0] if "#" in rest else rest)
            faces.numbers.append(first)
            found.before.append(len(vertices.numbers))
            found.groups.append(group)
            found.is_bare = False
            found.materials.append(material)
        elif kind in ("o", "g"):
            group = plain(" ".join(rest.split()))
            found.last_name, found.is_bare = group, bool(group)
        elif kind == "usemtl":
            material = plain(" ".join(rest.split()))
        elif kind not in _SILENT:
            found.skipped[kind] += 1
            found.is_bare = False
            found.threads += rest.split() if kind in _LABELS else []
    return found


def _points(lines: _Lines, file: str, report: list[str]) -> Floats:
    """Coordinates of all vertices, (n, 3) in the file's own numbers."""
    n_points = len(lines.rests)
    n_each = len(lines.rests[0].split()) if n_points else 3  # more than three where a scan has colours
    numbers = _numbers("\n".join(lines.rests), np.float64)
    if n_each >= 3 and len(numbers) == n_each * n_points and _all_of(n_each, lines.rests):
        points = np.ascontiguousarray(numbers.reshape(-1, n_each)[:, :3])
    else:
        points = np.array(_slow_points(lines, file, report)).reshape(-1, 3)
    wrong = ~np.isfinite(points).all(axis=1)
    if wrong.any():
        row = int(np.argmax(wrong))
        said = lines.rests[row].strip()
        raise MeshError(f"{file} line {lines.numbers[row]}: a coordinate is not a finite number: {said!r}")
    return points


def _numbers(text: str, kind: type) -> NDArray[Any]:
    """Numbers between blanks; too few of them, or none, where a word is no number."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of older numpy, which stops at that word
            return np.fromstring(text, kind, sep=" ")
    except ValueError:
        return np.empty(0, kind)


def _all_of(n_each: int, rests: list[str]) -> bool:
    return all(len(rest.split()) == n_each for rest in rests)


def _slow_points(lines: _Lines, file: str, report: list[str]) -> list[tuple[float, float, float]]:
    """Vertices one by one: with decimal commas where the whole file can only mean those."""
    words = [rest.split()[:3] for rest in lines.rests]
    first = next((k for k, line in enumerate(words) if any("," in word for word in line)), None)
    commas = first is not None and _are_decimal_commas(words)
    points = []
    for line, number, rest in zip(words, lines.numbers, lines.rests, strict=True):
        try:
            x, y, z = (float(word.replace(",", ".") if commas else word) for word in line)
        except ValueError:
            where, said = f"{file} line {number}", rest.strip()
            if any("," in word for word in line):
                raise MeshError(f"{where}: decimal comma in {said!r}; export with decimal points") from None
            raise MeshError(f"{where}: three coordinates are needed, found {said!r}") from None
        points.append((x, y, z))
    if commas and first is not None:
        report.append(f"decimal commas read as points (the first in line {lines.numbers[first]})")
    return points


def _are_decimal_commas(words: list[list[str]]) -> bool:
    """Whether commas can only part decimals: no points anywhere, and not all could part thousands."""
    matches = [_COMMA.fullmatch(word) for line in words for word in line if "," in word]
    if any(match is None for match in matches) or any("." in word for line in words for word in line):
        return False
    return any(
        match is not None and (len(match[1]) != 3 or match[0].lstrip("+-").startswith("0"))
        for match in matches
    )


def _corners(lines: _Sorted, n_points: int, file: str) -> tuple[Ints, Ints]:
    """Vertex numbers from 0 of all faces in a row, no corner twice running, and where each face starts."""
    rests = lines.faces.rests
    counts = np.array([len(rest.split()) for rest in rests])
    text = "\n".join(rests)
    numbers = _numbers(_TEXTURES.sub("", text) if "/" in text else text, np.int64)
    if len(numbers) != counts.sum():
        numbers = _slow_numbers(lines, file)
    face = np.repeat(np.arange(len(rests)), counts)
    before = np.repeat(np.array(lines.before), counts)
    wrong = (numbers == 0) | (numbers < -before)
    if wrong.any():
        row = int(np.argmax(wrong))
        where = f"{file} line {lines.faces.numbers[face[row]]}"
        raise MeshError(f"{where}: there is no vertex {numbers[row]}; they count from 1, or back from -1")
    corners = np.where(numbers > 0, numbers - 1, before + numbers)
    if (corners >= n_points).any():
        row = int(np.argmax(corners >= n_points))
        line = lines.faces.numbers[face[row]]
        raise MeshError(f"{file} line {line}: there is no vertex {corners[row] + 1}, only {n_points}")
    starts = np.concatenate([[0], np.cumsum(counts)])
    return _without_repeats(corners, starts)


def _slow_numbers(lines: _Sorted, file: str) -> Ints:
    """The first number of every corner, `3/1/2` and the like."""
    numbers = []
    for rest, where in zip(lines.faces.rests, lines.faces.numbers, strict=True):
        for word in rest.split():
            try:
                index = int(word.partition("/")[0])
            except ValueError:
                problem = f"{word!r} is not a corner; accepted: 3, 3/1, 3//2 or -1"
                raise MeshError(f"{file} line {where}: {problem}") from None
            numbers.append(max(min(index, 2**62), -(2**62)))
    return np.array(numbers, np.int64)


def _without_repeats(corners: Ints, starts: Ints) -> tuple[Ints, Ints]:
    counts = np.diff(starts)
    previous = np.roll(corners, 1)
    filled = counts > 0
    previous[starts[:-1][filled]] = corners[starts[1:][filled] - 1]
    kept = corners != previous
    kept_before = np.concatenate([[0], np.cumsum(kept)])
    return corners[kept], kept_before[starts]

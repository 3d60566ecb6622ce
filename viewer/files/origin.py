"""Whose output it is: what it keeps of the scene it was made of, so that no other one takes its place."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from raytrace import Scene

_MAKER = "hitspot"


class OutputRefused(Exception):
    """Output cannot go where it was to go; its text is the whole message."""


@dataclass(frozen=True)
class Place:
    """Where output goes.

    Attributes
    ----------
    path : Path
        The folder or file.
    replace : bool
        Whether what was made of another scene may be replaced there.
    """

    path: Path
    replace: bool = False

    @classmethod
    def of(cls, where: "str | Path | Place") -> "Place":
        """The same for a bare path, where only output of the same scene is replaced."""
        return where if isinstance(where, Place) else cls(Path(where))


@dataclass(frozen=True)
class Origin:
    """What an output is, and the scene it was made of: the name of its file, and what tells jobs apart.

    Where the file lies is left out, for the same scene gives the same bytes from any folder.
    """

    what: str
    file: str
    title: str
    client: str
    place: str

    @classmethod
    def of(cls, what: str, scene: Scene) -> "Origin":
        """The origin of an output, "report" for example, of a scene."""
        job = scene.job
        return cls(what, scene.file_name, scene.title, job.client or "", job.place or "")

    @property
    def words(self) -> str:
        """The scene as a message names it."""
        whose = ", ".join(part for part in (self.client, self.place) if part)
        return f'"{self.title}" ({self.file}{"; " if whose else ""}{whose})'

    @property
    def record(self) -> dict[str, str]:
        """What is kept in the output, as plain data."""
        kept = {"made by": _MAKER, "holds": self.what, "scene": self.file, "title": self.title}
        return kept | {"client": self.client, "place": self.place}

    @classmethod
    def read(cls, record: Mapping[str, Any]) -> "Origin | None":
        """The origin that was kept; None where the record is not ours."""
        keys = ("holds", "scene", "title", "client", "place")
        if record.get("made by") != _MAKER or not all(isinstance(record.get(key), str) for key in keys):
            return None
        return cls(*(record[key] for key in keys))


def check_origin(place: Place, record: Mapping[str, Any], origin: Origin) -> None:
    """Refuse a place whose record is not ours, or tells of another scene that is not to be replaced."""
    found, what = Origin.read(record), origin.what
    if found is None or found.what != what:
        raise OutputRefused(f"{place.path}: holds no {what} of ours, so it is left alone; give another --out")
    if found != origin and not place.replace:
        raise OutputRefused(
            f"{place.path}: holds the {what} of another scene, {found.words}, not of {origin.words}; give "
            "another --out, or replace it: --replace"
        )

"""Scene file -> Scene: checked, frozen, plain. The only reader of scene files."""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, PlainValidator, PrivateAttr, ValidationError

from raytrace.acoustics import DEFAULT_SCATTERING, Material, load_library, read_directivity
from raytrace.facts import Sentence, plain
from raytrace.scene.builds import load_builds, read_builds
from raytrace.scene.covers import Cover, load_covers, read_covers
from raytrace.scene.limits import USUAL_LIMITS, Limits, read_limits
from raytrace.scene.naming import nearest_name, quoted_list
from raytrace.scene.rooms import (
    BoxObject,
    BoxRoom,
    GableRoom,
    LeanToRoom,
    MeshObject,
    MeshRoom,
    Opening,
    PlanRoom,
    SectionRoom,
    by_shape,
)
from raytrace.scene.tables import (
    PRICE,
    Air,
    Build,
    Cloud,
    DirectivityFile,
    Job,
    Joists,
    KeepOut,
    Method,
    OwnMaterial,
    Panel,
    Seat,
    Speaker,
    Stand,
    Table,
    Text,
    problems,
)
from raytrace.scene.text import KeyPath, SceneError, SceneFile, read_scene_file
from raytrace.scene.units import told_in
from raytrace.scene.values import TableOf, Wrong, below, name, shown

_ROOM_SHAPES: dict[str, type[Table]] = {
    "box": BoxRoom,
    "gable": GableRoom,
    "lean-to": LeanToRoom,
    "plan": PlanRoom,
    "section": SectionRoom,
    "mesh": MeshRoom,
}
_OBJECT_SHAPES: dict[str, type[Table]] = {"box": BoxObject, "mesh": MeshObject}


def _surfaces(value: object) -> dict[str, str]:
    if not isinstance(value, dict):
        raise Wrong(
            f'expected a table: default = "plasterboard", "left wall" = "brick"; found {shown(value)}'
        )
    for surface, material in value.items():
        if isinstance(material, dict):
            raise Wrong(
                "expected the name of a material; found a table (a name with a dot stands in quotes)",
                surface,
            )
    return {surface: below(surface, name, material) for surface, material in value.items()}


def _owned(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 1000:
        raise Wrong(f"expected how many there are, a whole number from 0 to 1000; found {shown(value)}")
    return value


PRICES, STOCK = TableOf(PRICE, '"wool 100" = 48'), TableOf(_owned, '"wool 100" = 6')


class Scene(Table):
    """A whole scene file, checked as far as a text can be; geometry is checked by `build_room`.

    Field names are the keys of the file; lengths in metres, angles in degrees as written. Made by
    `load_scene`, which also keeps the text so that later stages can point into it (`Scene.error`).
    """

    what = "a scene"
    title: Text
    job: Job = Job()
    air: Air = Air()
    room: Annotated[
        BoxRoom | GableRoom | LeanToRoom | PlanRoom | SectionRoom | MeshRoom,
        PlainValidator(lambda value: by_shape(value, _ROOM_SHAPES)),
    ]
    surfaces: Annotated[dict[str, str], PlainValidator(_surfaces)] = Field(default_factory=dict)
    materials: dict[str, OwnMaterial] = Field(default_factory=dict)
    openings: tuple[Opening, ...] = ()
    objects: tuple[
        Annotated[BoxObject | MeshObject, PlainValidator(lambda value: by_shape(value, _OBJECT_SHAPES))], ...
    ] = ()
    speakers: tuple[Speaker, ...]
    seats: tuple[Seat, ...]
    keep_outs: tuple[KeepOut, ...] = ()
    joists: tuple[Joists, ...] = ()
    builds: Annotated[dict[str, Build], PlainValidator(read_builds)] = Field(default_factory=dict)
    prices: Annotated[dict[str, float], PlainValidator(PRICES)] = Field(default_factory=dict)
    """Of one finished panel, by the name of its build."""
    stock: Annotated[dict[str, int], PlainValidator(STOCK)] = Field(default_factory=dict)
    """How many panels are owned, by the name of their build."""
    covers: Annotated[dict[str, Cover], PlainValidator(read_covers)] = Field(default_factory=dict)
    """Own covers, and prices of those of the library."""
    panels: tuple[Panel, ...] = ()
    stands: tuple[Stand, ...] = ()
    clouds: tuple[Cloud, ...] = ()
    limits: Annotated[Limits, PlainValidator(read_limits)] = USUAL_LIMITS
    method: Method = Method()
    _file: SceneFile = PrivateAttr()

    @property
    def path(self) -> Path:
        """The file, as it was named."""
        return self._file.path

    @property
    def file_name(self) -> str:
        """The name of the file as it can be printed: what is no letter is replaced."""
        return plain(self._file.path.name)

    @property
    def text(self) -> str:
        """The whole text of the file."""
        return self._file.text

    @property
    def document(self) -> dict[str, Any]:
        """The file as TOML has it, lengths still as they were written; not to be changed."""
        return self._file.table

    def where(self, key: KeyPath) -> tuple[int, int]:
        """Line and column of a key path, both from 1; of what holds it, if the file does not give it."""
        return self._file.where(key)

    def error(
        self, key: KeyPath, message: str | Sentence, *, at: Literal["key", "value"] = "value"
    ) -> SceneError:
        """The error that says `message` about a key path, for example `("speakers", 0, "position")`.

        The amounts of a sentence are told in the scene's own units.
        """
        words = message if isinstance(message, str) else message.told(told_in(self.job.units or "metric"))
        return self._file.error(key, words, at=at)

    def resolve(self, file: str) -> Path:
        """Where a file named in the scene lies: relative names start from the scene's own folder."""
        return self._file.path.parent / file

    @property
    def named_files(self) -> dict[KeyPath, Path]:
        """Files that the scene names, by the key that does: meshes of room and objects, directivities."""
        named: dict[KeyPath, str] = {}
        if isinstance(self.room, MeshRoom):
            named["room", "file"] = self.room.file
        for index, entry in enumerate(self.objects):
            if isinstance(entry, MeshObject):
                named["objects", index, "file"] = entry.file
        for index, speaker in enumerate(self.speakers):
            if isinstance(speaker.directivity, DirectivityFile):
                named["speakers", index, "directivity", "file"] = speaker.directivity.file
        return {key: self.resolve(file) for key, file in named.items()}

    def holds(self, path: Path) -> bool:
        """Whether a file lies in the scene's own folder, or in one within it."""
        return path.resolve().is_relative_to(self._file.path.parent.resolve())

    @property
    def is_bare(self) -> bool:
        """Whether there are no panels, stands and clouds in it."""
        return not (self.panels or self.stands or self.clouds)

    @property
    def left_over(self) -> dict[str, int]:
        """How many panels of each build are owned and have no place in it."""
        placed = Counter(panel.build for panel in self.panels)
        for stand in self.stands:
            placed[stand.build] += stand.stacked
        for cloud in self.clouds:
            placed[cloud.build] += 0 if cloud.raft else cloud.count  # its slabs have no frames
        left = {name: count - placed[name] for name, count in self.stock.items()}
        return {name: count for name, count in left.items() if count > 0}

    def without_panels(self) -> "Scene":
        """The same scene bare: no panels, stands and clouds."""
        return self.model_copy(update={"panels": (), "stands": (), "clouds": ()})

    def material(self, name: str | None) -> Material:
        """A material by name, the scene's own first, then the library; None is an open hole.

        Raises
        ------
        KeyError
            If there is no such material; every name the file gives has been checked.
        """
        if name is None:
            return load_library()["open"]
        model, own = self.method.plain_surfaces, self.materials.get(name)
        if own is None:
            known = load_library()[name]
            return known if known.at_an_angle == model else replace(known, at_an_angle=model)
        scattering = DEFAULT_SCATTERING if own.scattering is None else np.array(own.scattering)
        source = own.source or "own values, no source given"
        return Material(name, np.array(own.absorption), scattering, source, model)

    @property
    def known_builds(self) -> tuple[str, ...]:
        """Names of all builds, the scene's own first, then the library's."""
        return tuple(dict.fromkeys([*self.builds, *load_builds()]))

    def build(self, name: str) -> Build:
        """A panel build by name with its price, the scene's own first, then the library.

        Raises
        ------
        KeyError
            If there is no such build; every name the file gives has been checked.
        """
        own = self.builds.get(name)
        build = load_builds()[name] if own is None else own
        price = self.price(name)
        return build if price == build.price else build.model_copy(update={"price": price})

    @property
    def known_covers(self) -> dict[str, Cover]:
        """All covers by name, the scene's own first, then the library's."""
        return {**self.covers, **{k: own for k, own in load_covers().items() if k not in self.covers}}

    def covering(self, opening: Opening) -> str | None:
        """The material that sound meets at an opening, by name: of what covers it, else its own."""
        return opening.material if opening.cover is None else self.known_covers[opening.cover].material

    def price(self, name: str) -> float | None:
        """Price of one finished panel of a build: of [prices], else of its entry, else of what it is like."""
        own = self.builds.get(name)
        if name in self.prices:
            return self.prices[name]
        if own is None or own.price is not None:
            return None if own is None else own.price
        # What is like its own name is like one of the library, which has no prices.
        return None if own.like is None or own.like == name else self.price(own.like)


_SHOWN_NAMES = 12  # more names than that hide the message
_CLOSEST_M = 0.1  # of a speaker to the ears, about the radius of a head


def load_scene(path: str | Path, text: str | None = None) -> Scene:
    """Read and check a scene file.

    Parameters
    ----------
    path : str or Path
        A TOML file; the keys are explained in the README.
    text : str, optional
        What stands in the file, for one that is being edited; files it names are looked for beside `path`.

    Returns
    -------
    Scene
        Frozen; the text of the file is kept for messages of later stages.

    Raises
    ------
    SceneError
        For anything wrong with the file, with line, column and what is accepted instead.
    """
    file = read_scene_file(path, text)
    try:
        scene = Scene.model_validate(_titled(file.table, Path(path)))
    except ValidationError as problem:
        key, message, at = min(problems(problem), key=lambda found: file.span(found[0], at=found[2]))
        raise file.error(key, message, at=at) from None
    scene._file = file
    _check_names(scene)
    _check_uses(scene)
    _check_materials(scene)
    _check_files(scene)
    return scene


def _titled(table: dict[str, Any], path: Path) -> dict[str, Any]:
    """What a file holds; without a title it has the name of the file."""
    return table | {"title": plain(path.stem)} if table.get("title", "") == "" else table


def _check_names(scene: Scene) -> None:
    """Each name once in its list; panels, stands and clouds share one set of names."""
    for table in ("materials", "builds", "covers"):
        for key in getattr(scene, table):
            try:
                name(key)
            except Wrong as wrong:
                raise scene.error((table, key), str(wrong), at="key") from None
    for lists in (
        ("openings",),
        ("objects",),
        ("speakers",),
        ("seats",),
        ("keep_outs",),
        ("panels", "stands", "clouds"),
    ):
        taken: dict[str, str] = {}
        for kind in lists:
            for index, entry in enumerate(getattr(scene, kind)):
                if entry.name in taken:
                    raise scene.error(
                        (kind, index, "name"), f"{shown(entry.name)} is taken already by {taken[entry.name]}"
                    )
                taken[entry.name] = f"{kind}[{index + 1}]"


def _check_uses(scene: Scene) -> None:
    """Something that plays, someone who listens, and builds that exist."""
    if not scene.seats:
        raise scene.error(("seats",), "at least one [[seats]] is needed")
    if not any(speaker.use == "main" for speaker in scene.speakers):
        key: KeyPath = ("speakers", 0, "use") if scene.speakers else ("speakers",)
        raise scene.error(key, 'at least one [[speakers]] with use = "main" is needed')
    for index, speaker in enumerate(scene.speakers):
        if any(math.dist(speaker.position, seat.ears) < _CLOSEST_M for seat in scene.seats):
            raise scene.error(("speakers", index, "position"), "the same place as the ears of a seat")
        if isinstance(speaker.aim, tuple) and math.dist(speaker.position, speaker.aim) < _CLOSEST_M:
            raise scene.error(("speakers", index, "aim"), "the speaker's own place: aim at another point")
    for kind in ("openings", "objects"):
        for index, entry in enumerate(getattr(scene, kind)):
            cover = getattr(entry, "cover", None)
            if cover is not None and cover not in scene.known_covers:
                raise scene.error((kind, index, "cover"), _unknown("cover", cover, scene.known_covers))
    known = scene.known_builds
    check_named(scene, scene._file)
    for kind in ("panels", "stands", "clouds"):
        for index, entry in enumerate(getattr(scene, kind)):
            if entry.build not in known:
                raise scene.error((kind, index, "build"), _unknown("build", entry.build, known))


def check_named(scene: Scene, file: SceneFile) -> None:
    """Builds that a file's [prices] and [stock] name are known, and no price stands in two places of it."""
    for table in ("prices", "stock"):
        for named in file.table.get(table, ()):
            if named not in scene.known_builds:
                raise file.error((table, named), _unknown("build", named, scene.known_builds), at="key")
    for named in file.table.get("prices", ()):
        if "price" in file.table.get("builds", {}).get(named, ()):
            raise file.error(("prices", named), f"builds.{shown(named)} states a price already", at="key")


def _check_materials(scene: Scene) -> None:
    known = {**load_library(), **scene.materials}
    uses: list[tuple[KeyPath, str | None]] = [
        (("surfaces", surface), material) for surface, material in scene.surfaces.items()
    ]
    uses += [(("openings", index, "material"), entry.material) for index, entry in enumerate(scene.openings)]
    uses += [(("covers", own, "material"), cover.material) for own, cover in scene.covers.items()]
    uses += [(("objects", index, "material"), entry.material) for index, entry in enumerate(scene.objects)]
    for key, material in uses:
        if material is not None and material not in known:
            raise scene.error(key, f"{_unknown('material', material, known)} (hitspot materials lists all)")


def _check_files(scene: Scene) -> None:
    """Files that the scene names are there."""
    for key, path in scene.named_files.items():
        if path.exists() and not path.is_file():
            what = "a folder" if path.is_dir() else "a pipe or a device"
            raise scene.error(key, f"no such file: {path} is {what}")
        if not path.is_file():
            raise scene.error(key, f"no such file: {path}{_near_file(path)}")
        if "directivity" in key:
            try:
                read_directivity(path)
            except ValueError as problem:
                raise scene.error(key, str(problem)) from None


def _near_file(path: Path) -> str:
    if not path.parent.is_dir():
        return f"; there is no folder {path.parent}"
    alike = (file.stem for file in path.parent.iterdir() if file.suffix.lower() == path.suffix.lower())
    nearest = nearest_name(path.stem, alike)
    return f', did you mean "{nearest}{path.suffix}"?' if nearest else ""


def _unknown(what: str, found: str, names: Iterable[str]) -> str:
    nearest = nearest_name(found, names)
    if nearest is not None:
        return f"unknown {what} {shown(found)}, did you mean {shown(nearest)}?"
    known = list(names)
    more = " and more" if len(known) > _SHOWN_NAMES else ""
    return f"unknown {what} {shown(found)}" + (
        f"; known: {quoted_list(known[:_SHOWN_NAMES])}{more}" if known else f"; no {what}s are given"
    )

"""The tables of a scene file below the top level, one frozen class each; field names are the keys."""

from collections.abc import Iterable, Iterator
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import BaseModel, ConfigDict, PlainValidator, ValidationError, model_validator

from raytrace.acoustics import AngleModel
from raytrace.scene.naming import nearest_name, quoted_list
from raytrace.scene.text import KeyPath
from raytrace.scene.values import (
    Choice,
    Length,
    ListOf,
    Number,
    Whole,
    Wrong,
    date_text,
    name,
    shown,
    text,
    yes_or_no,
)

POSITION = Length(-65.0, 65.0, "1.2")
_OFFSET = Length(-90.0, 90.0, "0.4")  # a slope is longer than the room below it
_PART = Length(0.001, 60.0, "0.6")
_ROOM_SIDE = Length(1.0, 60.0, "4.2")
_ROOM_HEIGHT = Length(1.5, 12.0, "2.4")
EAVES = Length(0.0, 12.0, "1.1")
_DEGREES = Number(-360.0, 360.0, "30", "degrees")
_SHARE = Number(0.0, 1.0, "0.1")
PRICE = Number(0.0, 1e6, "48")
_BANDS = ListOf(_SHARE, "[0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]", exactly=8, of="63 Hz to 8 kHz")
_SPOT = ListOf(_OFFSET, "[0.4, 1.2]", exactly=2)
_CORNER = ListOf(POSITION, "[4.0, 3.0]", exactly=2)
# As many corners as a round wall in steps of a degree has; each edge is held against each other one.
OUTLINE = ListOf(_CORNER, "[[0, 0], [4, 0], [4, 3], [0, 3]]", at_least=3, at_most=400)
_RECTANGLE = ListOf(_PART, "[0.6, 1.2]", exactly=2)

_DRIVERS = ListOf(Length(-1.0, 1.0, '"-120 mm"'), '["-120 mm", "40 mm"]', exactly=2, of="woofer, tweeter")

Position = Annotated[float, PlainValidator(POSITION)]
Part = Annotated[float, PlainValidator(_PART)]
RoomSide = Annotated[float, PlainValidator(_ROOM_SIDE)]
RoomHeight = Annotated[float, PlainValidator(_ROOM_HEIGHT)]
EavesHeight = Annotated[float, PlainValidator(EAVES)]
Depth = Annotated[float, PlainValidator(Length(0.0, 10.0, '"50 mm"'))]
Degrees = Annotated[float, PlainValidator(_DEGREES)]
Tilt = Annotated[float, PlainValidator(Number(-90.0, 90.0, "10", "degrees"))]
Name = Annotated[str, PlainValidator(name)]
Names = Annotated[tuple[str, ...], PlainValidator(ListOf(name, '["wall a", "wall b"]'))]
Text = Annotated[str, PlainValidator(text)]
SurveyError = Annotated[float, PlainValidator(Length(0.0, 0.5, '"10 mm"'))]
Point = Annotated[tuple[float, float, float], PlainValidator(ListOf(POSITION, "[0.8, 1.2, 1.2]", exactly=3))]
Spot = Annotated[tuple[float, float], PlainValidator(_SPOT)]
Rectangle = Annotated[tuple[float, float], PlainValidator(_RECTANGLE)]
Block = Annotated[tuple[float, float, float], PlainValidator(ListOf(_PART, "[1.5, 0.7, 0.03]", exactly=3))]
Outline = Annotated[
    tuple[tuple[float, float], ...],
    PlainValidator(OUTLINE),
]
Turned = Annotated[Literal[0, 90], PlainValidator(lambda value: _turned(value))]


class Table(BaseModel):
    """A table whose keys are all known: an unknown or a missing one is refused by name."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)
    what: ClassVar[str] = ""
    """What the table is called in messages, if its key alone does not say it."""

    @model_validator(mode="before")
    @classmethod
    def _check_keys(cls, value: Any) -> Any:
        if isinstance(value, cls):
            return value
        keys = cls.model_fields
        if not isinstance(value, dict):
            brackets = ": it is given once, in single brackets" if is_table_list(value) else ""
            raise Wrong(f"expected a table with {quoted_list(keys)}; found {shown(value)}{brackets}")
        for key in value:
            if key not in keys:
                raise Wrong(unknown_key(key, keys, cls.what), key, at="key")
        for key, field in keys.items():
            if field.is_required() and key not in value:
                raise Wrong(f"missing{_for_example(key, field.metadata)}", key)
        return value


def is_table_list(value: object) -> bool:
    """Whether a value was written with [[double brackets]]."""
    return isinstance(value, list) and bool(value) and all(isinstance(entry, dict) for entry in value)


def unknown_key(key: str, keys: Iterable[str], what: str = "") -> str:
    """The nearest of the keys, else all of them, and whose keys they are."""
    keys = tuple(keys)
    nearest = nearest_name(key, keys)
    if nearest is not None:
        return f"unknown key {shown(key)}, did you mean {shown(nearest)}?"
    return f"unknown key {shown(key)}; {what or 'this table'} takes {quoted_list(keys)}"


_EXAMPLES = {
    "room": "a scene has one table [room]",
    "speakers": "a scene has at least one table [[speakers]]",
    "seats": "a scene has at least one table [[seats]]",
    "eaves": "write for example eaves = 1.1",
    "name": 'write for example name = "left"',
    "surface": 'write for example surface = "ceiling"',
    "wall": 'write for example wall = "left wall"',
    "towards": 'write for example towards = "front wall"',
    "material": 'write for example material = "plasterboard"',
    "build": 'write for example build = "slab 100", and a table [builds."slab 100"]',
    "file": 'write for example file = "room.obj"',
    "size": 'write for example size = [0.6, "1200 mm"]',
}


def _for_example(key: str, metadata: list[Any]) -> str:
    """How a missing key is written: from its reader where that knows, else from the list."""
    examples = (getattr(getattr(entry, "func", None), "example", None) for entry in metadata)
    example = next((example for example in examples if example is not None), None)
    return f"; {_EXAMPLES[key]}" if example is None else f"; write for example {key} = {example}"


def _turned(value: object) -> int:
    if isinstance(value, bool) or value not in (0, 90):
        raise Wrong(f"found {shown(value)}; accepted: 0 or 90 (degrees)")
    return int(value)


Problem = tuple[KeyPath, str, Literal["key", "value"]]


def problems(problem: ValidationError, outer: KeyPath = ()) -> Iterator[Problem]:
    """Key path, message and what to point at, for every mistake pydantic collected."""
    for entry in problem.errors(include_url=False):
        key = (*outer, *entry["loc"])
        error = entry.get("ctx", {}).get("error")
        if isinstance(error, ValidationError):
            yield from problems(error, key)
        elif isinstance(error, Wrong):
            yield (*key, *error.tail), str(error), error.at
        elif entry["type"] == "tuple_type":
            found = shown(entry["input"])
            yield key, f"expected a list of tables, each in double brackets; found {found}", "value"
        elif entry["type"] == "dict_type":
            found = shown(entry["input"])
            yield key, f"expected tables with names of their own; found {found}", "value"
        else:
            yield key, entry["msg"], "value"


class Job(Table):
    """Who, where, when; only what is given is printed."""

    client: Text | None = None
    place: Text | None = None
    purpose: Text | None = None
    author: Text | None = None
    date: Annotated[str | None, PlainValidator(date_text)] = None
    surveyed_by: Text | None = None
    survey_error: SurveyError | None = None
    """A measured length is usually off by less: two in three are, one standard error. [m]"""
    drilling: Annotated[bool | tuple[str, ...] | None, PlainValidator(lambda value: _drilling(value))] = None
    """True, False or the surfaces that may be drilled; None where nothing was said."""
    raised: Annotated[bool, PlainValidator(yes_or_no)] = False
    """Whether stands that hold their panels up off the floor may be proposed."""
    access: Rectangle | None = None
    """The narrowest way in, a hatch, stair or car: width and height. [m]"""
    units: Annotated[Literal["metric", "imperial"] | None, PlainValidator(Choice(("metric", "imperial")))] = (
        None
    )
    """Of everything that is printed, unless a command says otherwise."""
    paper: Annotated[Literal["A4", "Letter"] | None, PlainValidator(Choice(("A4", "Letter")))] = None
    """What documents and drawings are printed on; None for what goes with the units."""


def _drilling(value: object) -> bool | tuple[str, ...]:
    if isinstance(value, list):
        return ListOf(name, '["ceiling"]')(value)
    if isinstance(value, bool):
        return value
    raise Wrong(
        f'expected true, false or a list of surfaces that may be drilled, ["ceiling"]; found {shown(value)}'
    )


class Air(Table):
    """Temperature [degC], relative humidity [%], pressure [kPa]."""

    temperature: Annotated[float, PlainValidator(Number(-20.0, 50.0, "20.0", "degC"))] = 20.0
    humidity: Annotated[float, PlainValidator(Number(0.0, 100.0, "50.0", "%"))] = 50.0
    pressure: Annotated[float, PlainValidator(Number(50.0, 110.0, "101.325", "kPa"))] = 101.325


class Method(Table):
    """What is reckoned by which model, where more than one has its reasons."""

    plain_surfaces: Annotated[AngleModel, PlainValidator(Choice(get_args(AngleModel)))] = "random incidence"
    """How bare surfaces and openings reflect at an angle."""


class Aim(Table):
    """Direction of a speaker's axis. [deg]"""

    yaw: Degrees
    pitch: Tilt = 0.0


class TwoWay(Table):
    """A woofer and a tweeter on a rigid sphere: radii, own heights [m], crossover [Hz]."""

    what = "a two-way speaker"
    radius: Annotated[float, PlainValidator(Length(0.005, 0.5, "0.065"))] = 0.065
    tweeter_radius: Annotated[float, PlainValidator(Length(0.003, 0.2, "0.0125"))] = 0.0125
    crossover: Annotated[float, PlainValidator(Number(20.0, 20000.0, "2500", "Hz"))] = 2500.0
    box_radius: Annotated[float, PlainValidator(Length(0.01, 1.0, "0.13"))] = 0.13
    drivers: Annotated[tuple[float, float], PlainValidator(_DRIVERS)] = (0.0, 0.0)
    """Heights of woofer and tweeter above the acoustic centre. [m]"""

    @model_validator(mode="after")
    def _check_radii(self) -> "TwoWay":
        for key in ("radius", "tweeter_radius"):
            if getattr(self, key) >= self.box_radius:
                raise Wrong(
                    f"{getattr(self, key):g} m does not fit a box of radius {self.box_radius:g} m", key
                )
        return self


class DirectivityFile(Table):
    """A CSV of degrees off axis and eight band levels re the axis. [dB]"""

    what = "a directivity file"
    file: Name


def _aim(value: object) -> Any:
    if isinstance(value, dict):
        return Aim.model_validate(value)
    if isinstance(value, list):
        return ListOf(POSITION, "[2.0, 1.5, 1.2]", exactly=3)(value)
    if value == "seat":
        return value
    if isinstance(value, str) and nearest_name(value, ["seat"]):
        raise Wrong(f'found {shown(value)}, did you mean "seat"?')
    raise Wrong(f'found {shown(value)}; accepted: "seat", a point [x, y, z] or {{yaw = 20, pitch = 0}}')


def _directivity(value: object) -> Any:
    if isinstance(value, dict):
        return (DirectivityFile if "file" in value else TwoWay).model_validate(value)
    if isinstance(value, str):
        return Choice(("two-way", "omni"))(value)
    raise Wrong(
        'expected "two-way", "omni", {radius = 0.065, crossover = 2500, ...} or {file = "speaker.csv"}; '
        f"found {shown(value)}"
    )


class Speaker(Table):
    """A loudspeaker at its acoustic centre [m]; a sub is omni and takes no part in verdicts."""

    name: Name
    position: Point
    aim: Annotated[
        Literal["seat"] | tuple[float, float, float] | Aim, PlainValidator(lambda value: _aim(value))
    ] = "seat"
    """The first seat, a point [m], or yaw and pitch."""
    use: Annotated[Literal["main", "sub"], PlainValidator(Choice(("main", "sub")))] = "main"
    directivity: Annotated[
        Literal["omni", "two-way"] | TwoWay | DirectivityFile,
        PlainValidator(lambda value: _directivity(value)),
    ] = "two-way"
    body: Annotated[
        tuple[float, float, float] | Literal["none"] | None, PlainValidator(lambda value: _body(value))
    ] = None
    """Depth, width and height of the cabinet, the acoustic centre in the middle of its front [m]: it hides
    and reflects for all other speakers."""


def _body(value: object) -> Any:
    if isinstance(value, list | tuple):
        return ListOf(_PART, '["250 mm", "200 mm", "350 mm"]', exactly=3, of="depth, width, height")(value)
    if value == "none":
        return value
    raise Wrong(f'found {shown(value)}; accepted: depth, width and height, [0.25, 0.2, 0.35], or "none"')


class Seat(Table):
    """Ears [m] and half-sizes of the range the head moves in. [m]"""

    name: Name
    ears: Point
    zone: Annotated[
        tuple[float, float, float], PlainValidator(ListOf(Length(0.0, 1.0), "[0.15, 0.20, 0.05]", exactly=3))
    ] = (0.15, 0.20, 0.05)


class OwnMaterial(Table):
    """A material of the scene's own: energy shares per octave band, 63 Hz to 8 kHz."""

    absorption: Annotated[tuple[float, ...], PlainValidator(_BANDS)]
    scattering: Annotated[tuple[float, ...] | None, PlainValidator(lambda value: _scattering(value))] = None
    source: Text | None = None


def _scattering(value: object) -> tuple[float, ...]:
    if isinstance(value, list | tuple):
        return _BANDS(value)
    return (_SHARE(value),) * 8


class KeepOut(Table):
    """A part of a surface that stays free: a rectangle or a disc, and how far into the room. [m]"""

    name: Name
    surface: Name
    at: Spot | None = None
    size: Rectangle | None = None
    centre: Spot | None = None
    radius: Part | None = None
    depth: Depth = 0.0
    reason: Text | None = None

    @model_validator(mode="after")
    def _check_form(self) -> "KeepOut":
        rectangle = [key for key in ("at", "size") if getattr(self, key) is not None]
        disc = [key for key in ("centre", "radius") if getattr(self, key) is not None]
        if rectangle and disc:
            raise Wrong("give at and size, or centre and radius, not a mixture", disc[0], at="key")
        if not rectangle and not disc:
            raise Wrong("missing; give at and size, or centre and radius", "at")
        if len(rectangle) == 1 or len(disc) == 1:
            missing = ({"at", "size"} if rectangle else {"centre", "radius"}) - {*rectangle, *disc}
            raise Wrong(f"missing; {(rectangle + disc)[0]} needs it", missing.pop())
        return self


ALONG_LEVEL = ("front to back", "left to right")
ALONG_UPRIGHT = ("across", "up")
"""Which way joists run: along u and along v of the set-out frame of a level surface, and of any other."""


class Joists(Table):
    """Timbers behind a surface: the way they run, offset of the first, spacing, width. [m]

    On a level surface they run from front to back or from left to right, on any other across it or up; of
    scenes from before these words "u" is the first of each pair and "v" the second.
    """

    what = "joists"
    surface: Name
    along: Annotated[str, PlainValidator(Choice((*ALONG_LEVEL, *ALONG_UPRIGHT, "u", "v")))]
    first: Position
    spacing: Annotated[float, PlainValidator(Length(0.05, 5.0, "0.4"))]
    width: Annotated[float, PlainValidator(Length(0.01, 1.0, '"45 mm"'))] = 0.045
    known: Annotated[Literal["surveyed", "assumed"], PlainValidator(Choice(("surveyed", "assumed")))] = (
        "assumed"
    )

    @property
    def along_u(self) -> bool:
        """Whether they run along u of the set-out frame of their surface, and are counted along v."""
        return self.along in (ALONG_LEVEL[0], ALONG_UPRIGHT[0], "u")


class Facing(Table):
    """Cloth or foil over the wool: flow resistance [Pa s/m], mass [kg/m2]."""

    resistance: Annotated[float, PlainValidator(Number(0.0, 1e5, "30"))] = 0.0
    mass: Annotated[float, PlainValidator(Number(0.0, 50.0, "0.2"))] = 0.0


class Build(Table):
    """How a panel is made: size, thickness [m], flow resistivity [Pa s/m2], density [kg/m3], price."""

    what = "a build"
    like: Name | None = None
    """The build from which everything comes that its own entry leaves out."""
    size: Rectangle
    thickness: Annotated[float, PlainValidator(Length(0.001, 1.0, '"50 mm"'))]
    flow_resistivity: Annotated[float, PlainValidator(Number(100.0, 1e6, "12000", "Pa s/m2"))]
    density: Annotated[float | None, PlainValidator(Number(1.0, 2000.0, "60", "kg/m3"))] = None
    facing: Annotated[str | Facing | None, PlainValidator(lambda value: _facing(value))] = None
    frame: Text | None = None
    back: Annotated[Literal["open", "solid"], PlainValidator(Choice(("open", "solid")))] = "open"
    price: Annotated[float | None, PlainValidator(PRICE)] = None
    """Of one finished panel, in whatever money the scene counts, as its own entry states it."""
    pack: Annotated[int | None, PlainValidator(Whole(1, 50))] = None
    """Slabs in a pack."""


def _facing(value: object) -> Any:
    return Facing.model_validate(value) if isinstance(value, dict | Facing) else text(value)


class Panel(Table):
    """A panel on a surface: centre in its frame, air behind it [m]; turned 90 swaps width and height."""

    name: Name
    surface: Name
    build: Name
    centre: Spot
    turned: Turned = 0
    gap: Depth = 0.0
    across_corner: Name | None = None


class Stand(Table):
    """Standing or leaning panels: foot (x, y), height of the lower edge [m], yaw and lean. [deg]"""

    name: Name
    build: Name
    at: Spot
    yaw: Degrees
    turned: Turned = 0
    lift: Depth = 0.0
    lean: Annotated[float, PlainValidator(Number(0.0, 45.0, "5", "degrees"))] = 0.0
    stacked: Annotated[int, PlainValidator(Whole(1, 4))] = 1
    """How many panels of the build stand one above the other."""


class CloudPanel(Table):
    """One panel of a cloud laid out one by one: centre in the set-out frame. [m]"""

    centre: Spot
    turned: Turned = 0


class CloudTilt(Table):
    """The side a cloud looks to, as the name of a surface, and by how much. [deg]"""

    towards: Name
    deg: Annotated[float, PlainValidator(Number(0.0, 45.0, "10", "degrees"))]


class Cloud(Table):
    """Panels hung under a surface: a grid about `centre`, or one by one; drop to their top. [m]"""

    name: Name
    surface: Name
    build: Name
    centre: Spot | None = None
    rows: Annotated[int | None, PlainValidator(Whole(1, 50))] = None
    columns: Annotated[int | None, PlainValidator(Whole(1, 50))] = None
    spacing: Depth = 0.0
    """Clear distance between neighbouring panels of a grid. [m]"""
    panels: tuple[CloudPanel, ...] = ()
    raft: Annotated[bool, PlainValidator(yes_or_no)] = False
    """One frame for all slabs, which lie on bars in it, in place of a frame and hooks for each."""
    drop: Depth
    level: Annotated[Literal["true", "along"], PlainValidator(Choice(("true", "along")))] = "true"
    tilt: CloudTilt | None = None

    @model_validator(mode="after")
    def _check_layout(self) -> "Cloud":
        grid = [key for key in ("centre", "rows", "columns") if getattr(self, key) is not None]
        if self.panels and grid:
            raise Wrong("give centre, rows and columns, or panels, not both", grid[0], at="key")
        if not self.panels and len(grid) < 3:
            missing = next(key for key in ("centre", "rows", "columns") if key not in grid)
            raise Wrong(
                "missing; give centre, rows and columns, or panels = [{centre = [u, v]}, ...]", missing
            )
        return self

    @property
    def count(self) -> int:
        """How many panels it is."""
        return len(self.panels) or (self.rows or 0) * (self.columns or 0)

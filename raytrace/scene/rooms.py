"""Rooms, objects and openings of a scene file, one frozen class each; field names are the keys."""

from typing import Annotated, Literal

from pydantic import PlainValidator, model_validator

from raytrace.scene.naming import nearest_name, quoted_list
from raytrace.scene.tables import (
    EAVES,
    Block,
    Degrees,
    Depth,
    EavesHeight,
    Name,
    Names,
    Outline,
    Part,
    Point,
    Position,
    Rectangle,
    RoomHeight,
    RoomSide,
    Spot,
    SurveyError,
    Table,
    Text,
    Tilt,
    is_table_list,
)
from raytrace.scene.values import Choice, Length, ListOf, Number, Whole, Wrong, below, shown, yes_or_no


class Slope(Table):
    """A roof that rises inwards from a wall: eaves [m], pitch [deg]."""

    wall: Name
    eaves: EavesHeight
    pitch: Annotated[float, PlainValidator(Number(1.0, 89.0, "40", "degrees"))]


class RoomTable(Table):
    """What a room of any shape may say."""

    assumed: Names = ()
    """Surfaces whose place nobody measured."""


class BoxRoom(RoomTable):
    """A cuboid, its roof cut by slopes where given. [m]"""

    what = 'a room of shape "box"'
    shape: Literal["box"]
    length: RoomSide
    width: RoomSide
    height: RoomHeight
    slopes: tuple[Slope, ...] = ()


class GableRoom(RoomTable):
    """Two slopes that meet in a ridge along the length or the width. [m]"""

    what = 'a room of shape "gable"'
    shape: Literal["gable"]
    length: RoomSide
    width: RoomSide
    eaves: Annotated[tuple[float, float], PlainValidator(lambda value: _eaves(value))]
    """Heights of the left and right eaves; of the front and back ones with `ridge_along` "width"."""
    ridge: RoomHeight
    ridge_along: Annotated[Literal["length", "width"], PlainValidator(Choice(("length", "width")))] = "length"
    ridge_at: Position | None = None
    """Offset of the ridge from the left (front) wall; None is the middle."""
    flat: RoomHeight | None = None
    """Height of a flat strip of ceiling."""

    @model_validator(mode="after")
    def _check_heights(self) -> "GableRoom":
        if self.ridge <= max(self.eaves):
            raise Wrong(f"{self.ridge:g} m is not above the eaves ({max(self.eaves):g} m)", "ridge")
        across_key = "width" if self.ridge_along == "length" else "length"
        across = self.width if self.ridge_along == "length" else self.length
        if self.ridge_at is not None and not 0.0 < self.ridge_at < across:
            raise Wrong(
                f"{self.ridge_at:g} m is not between 0 and the {across_key} ({across:g} m)", "ridge_at"
            )
        if self.flat is not None and not max(self.eaves) < self.flat < self.ridge:
            raise Wrong(
                f"{self.flat:g} m is not between eaves ({max(self.eaves):g} m) and ridge ({self.ridge:g} m)",
                "flat",
            )
        return self


def _eaves(value: object) -> tuple[float, float]:
    if isinstance(value, list | tuple):
        left, right = ListOf(EAVES, "[1.1, 1.4]", exactly=2)(value)
        return left, right
    both = EAVES(value)
    return both, both


class LeanToRoom(RoomTable):
    """A cuboid below one sloping ceiling. [m]"""

    what = 'a room of shape "lean-to"'
    shape: Literal["lean-to"]
    length: RoomSide
    width: RoomSide
    low: EavesHeight
    high: RoomHeight
    low_side: Annotated[
        Literal["front", "back", "left", "right"], PlainValidator(Choice(("front", "back", "left", "right")))
    ]

    @model_validator(mode="after")
    def _check_heights(self) -> "LeanToRoom":
        if self.high <= self.low:
            raise Wrong(f"{self.high:g} m is not above the low side ({self.low:g} m)", "high")
        return self


class MeasuredLength(Table):
    """A wall or diagonal as it was measured, from one corner of the plan to another, counted from 1. [m]"""

    what = "a length between corners"
    corners: Annotated[tuple[int, int], PlainValidator(ListOf(Whole(1, 400), "[1, 3]", exactly=2))]
    length: Part
    error: SurveyError | None = None
    """One standard error, where it is not that of the survey."""


class MeasuredHeight(Table):
    """A height from floor to level ceiling as it was measured. [m]"""

    what = "a measured height"
    height: RoomHeight
    place: Text | None = None
    """Where, in words."""
    error: SurveyError | None = None
    """One standard error, where it is not that of the survey."""


class PlanRoom(RoomTable):
    """Walls over an outline, one height, its roof cut by slopes where given. [m]"""

    what = 'a room of shape "plan"'
    shape: Literal["plan"]
    corners: Outline
    height: RoomHeight
    walls: Names = ()
    """One name per wall, corner 1 to 2 first; empty for "wall 1", "wall 2", ..."""
    slopes: tuple[Slope, ...] = ()
    diagonals: tuple[MeasuredLength, ...] = ()
    """Walls and diagonals as measured, more than a plan needs: `hitspot survey` adjusts corners to them."""
    heights: tuple[MeasuredHeight, ...] = ()
    """Heights as measured in several places."""

    @model_validator(mode="after")
    def _check_outline(self) -> "PlanRoom":
        check_outline(self.corners, "corners")
        for index, measured in enumerate(self.diagonals):
            self._check_ends(measured.corners, index)
        if self.walls and len(self.walls) != len(self.corners):
            raise Wrong(
                f"{len(self.walls)} names for {len(self.corners)} walls (one from each corner to the next)",
                "walls",
            )
        for index, wall in enumerate(self.walls):
            if wall in (*self.walls[:index], "floor", "ceiling"):
                raise Wrong(
                    f"{shown(wall)} is taken already; every surface needs its own name", "walls", index
                )
        return self

    def _check_ends(self, ends: tuple[int, int], index: int) -> None:
        """Refuse a length that does not run between two corners of the plan."""
        if max(ends) > len(self.corners):
            raise Wrong(
                f"there are {len(self.corners)} corners, none has the number {max(ends)}",
                "diagonals",
                index,
                "corners",
            )
        if ends[0] == ends[1]:
            raise Wrong("a length runs from one corner to another one", "diagonals", index, "corners")


class SectionRoom(RoomTable):
    """A cross-section carried along the room. [m]"""

    what = 'a room of shape "section"'
    shape: Literal["section"]
    length: RoomSide | None = None
    width: RoomSide | None = None
    """Exactly one of the two: `length` with a profile of (y, z), `width` with one of (x, z)."""
    profile: Outline

    @model_validator(mode="after")
    def _check_profile(self) -> "SectionRoom":
        if self.length is not None and self.width is not None:
            raise Wrong("give length or width, not both: the profile holds the other", "width", at="key")
        if self.length is None and self.width is None:
            raise Wrong(
                "missing; give length with a profile of [y, z], or width with one of [x, z]", "length"
            )
        check_outline(self.profile, "profile")
        return self


class MeshPlace(Table):
    """A mesh file and how it stands in the room: unit, axis that points up, turn about z [deg], move [m]."""

    shape: Literal["mesh"]
    file: Name
    unit: Annotated[
        Literal["mm", "cm", "m", "in", "ft"], PlainValidator(Choice(("mm", "cm", "m", "in", "ft")))
    ]
    up: Annotated[Literal["z", "y"], PlainValidator(Choice(("z", "y")))] = "z"
    turn: Degrees = 0.0
    move: Annotated[
        tuple[float, float, float], PlainValidator(ListOf(Length(-1e7, 1e7), "[0.0, 1.2, 0.0]", exactly=3))
    ] = (0.0, 0.0, 0.0)


class MeshRoom(MeshPlace, RoomTable):
    """A room from a mesh file."""

    what = 'a room of shape "mesh"'


class BoxObject(Table):
    """A cuboid in the room: centre and size along its own axes [m], yaw and pitch [deg]."""

    what = 'an object of shape "box"'
    name: Name
    shape: Literal["box"]
    centre: Point
    size: Block
    yaw: Degrees = 0.0
    pitch: Tilt = 0.0
    material: Name
    cover: Name | None = None
    """What is bought for it: furniture of the covers, by name."""


class MeshObject(MeshPlace):
    """An object from a mesh file; without a material its faces take theirs from [surfaces]."""

    what = 'an object of shape "mesh"'
    name: Name
    material: Name | None = None


def by_shape(value: object, shapes: dict[str, type[Table]]) -> Table:
    """The table that the key "shape" announces."""
    if not isinstance(value, dict):
        brackets = ": it is given once, in single brackets" if is_table_list(value) else ""
        raise Wrong(f'expected a table with a "shape"; found {shown(value)}{brackets}')
    if "shape" not in value:
        near = next((key for key in value if nearest_name(key, ["shape"])), None)
        if near is not None:
            raise Wrong(f'unknown key {shown(near)}, did you mean "shape"?', near, at="key")
        raise Wrong(f"missing; accepted: {quoted_list(shapes)}", "shape")
    shape = below("shape", Choice(tuple(shapes)), value["shape"])
    return shapes[shape].model_validate(value)


class Swing(Table):
    """Which side the hinge is on, seen from inside, and how far the leaf reaches into the room. [m]"""

    hinge: Annotated[Literal["left", "right"], PlainValidator(Choice(("left", "right")))]
    out: Annotated[float, PlainValidator(Length(0.05, 4.0, "0.75"))]


class Opening(Table):
    """A window, door, open hole or cover in a surface; `at` and `size` in its set-out frame. [m]"""

    name: Name
    surface: Name
    at: Spot
    size: Rectangle
    material: Name | None = None
    """None only where the sound leaves (`kind` "opening")."""
    kind: Annotated[
        Literal["window", "door", "opening", "cover"],
        PlainValidator(Choice(("window", "door", "opening", "cover"))),
    ]
    swing: Swing | None = None
    depth: Depth | None = None
    stands: Annotated[bool, PlainValidator(yes_or_no)] = False
    """Whether a stand may be proposed before this window."""
    cover: Name | None = None
    """What is bought to lie or hang over it, a cover by name: sound meets that instead of `material`."""

    @model_validator(mode="after")
    def _check_material(self) -> "Opening":
        if self.cover is not None and self.kind == "opening":
            raise Wrong("nothing hangs over an open hole", "cover", at="key")
        if self.material is None and self.kind != "opening" and not (self.cover and self.kind == "cover"):
            raise Wrong(
                f'missing; what the {self.kind} is made of, for example material = "glass"', "material"
            )
        if self.swing is not None and self.kind not in ("window", "door"):
            raise Wrong(
                f"only a window or a door swings, this is of kind {shown(self.kind)}", "swing", at="key"
            )
        if self.stands and self.kind != "window":
            raise Wrong(
                f"only a window may have stands before it, this is of kind {shown(self.kind)}",
                "stands",
                at="key",
            )
        return self


def check_outline(corners: tuple[tuple[float, float], ...], key: str) -> None:
    """Refuse an outline with a corner twice, an area of nothing or edges that cross."""
    n_corners = len(corners)
    for index, corner in enumerate(corners):
        if corner == corners[index - 1]:
            raise Wrong("the same point as the one before it; the outline closes by itself", key, index)
    for i in range(n_corners):
        for j in range(i + 2, n_corners):
            if (j + 1) % n_corners != i and _edges_meet(
                corners[i], corners[i + 1], corners[j], corners[(j + 1) % n_corners]
            ):
                raise Wrong(f"the edge that starts here meets the one that starts at entry {i + 1}", key, j)
    twice_area = sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)
    )
    if abs(twice_area) < 1.0:
        raise Wrong(f"encloses {abs(twice_area) / 2:.3g} m²; at least 0.5 m² is expected", key)


def _edges_meet(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]
) -> bool:
    def side(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    def within(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> bool:
        return min(p[0], q[0]) <= r[0] <= max(p[0], q[0]) and min(p[1], q[1]) <= r[1] <= max(p[1], q[1])

    sides = (side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b))
    if sides[0] * sides[1] < 0.0 and sides[2] * sides[3] < 0.0:
        return True
    touching = ((a, b, c), (a, b, d), (c, d, a), (c, d, b))
    return any(s == 0.0 and within(*t) for s, t in zip(sides, touching, strict=True))

"""A floor plan as DXF -> the outline of one room with its doors and windows."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import counted, plain
from raytrace.room import UNITS, MeshError, RoofPlane, in_room
from raytrace.scan.dxfentities import MOST_CORNERS, Insert, named_inserts, open_drawing, rings_by_layer
from raytrace.scan.planfaces import Ring, rooms_within
from raytrace.scan.shapes import RoomShape, shape_of, turn_for, within_outline

if TYPE_CHECKING:
    from ezdxf.document import Drawing

Floats = NDArray[np.float64]

# $INSUNITS of the DXF reference, of which rooms are drawn in.
_UNIT_CODES = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
_FACE_SHARE = 0.7  # walls 0.3 m thick leave so much of a room of 12 m2
_ROOM_M2, _MOST_TOLD = 2.0, 4
_FLOOR_M2, _DOOR_M = (4.0, 150.0), (0.55, 1.35)
_NEAR_WALL_M = 0.45  # a block stands in the thickness of its wall
_NARROWEST_M = 0.3  # an opening is no narrower


@dataclass(frozen=True)
class PlanOpening:
    """A door or window of a plan: its wall, from where to where on it from its first corner. [m]"""

    kind: str
    wall: int
    start_m: float
    end_m: float
    told_by: str


@dataclass(frozen=True)
class FloorPlan:
    """One room of a floor plan.

    Attributes
    ----------
    file, layer : str
    shape : RoomShape
    openings : tuple of PlanOpening
    unit : str
    turn_deg : float
        By how much the plan was turned. [deg]
    move : (3,) float
        And then moved. [m]
    report : tuple of str
        What was done, in sentences.
    """

    file: str
    layer: str
    shape: RoomShape
    openings: tuple[PlanOpening, ...]
    unit: str
    turn_deg: float
    move: tuple[float, float, float]
    report: tuple[str, ...]


@dataclass(frozen=True)
class PlanSettings:
    """How a plan is read; None where the file shall say.

    Attributes
    ----------
    height_m : float
        Of the room, which no plan shows. [m]
    layer : str or None
    outline : int or None
        Which of the layer's closed outlines, the largest first, from 1; None for the largest that runs round
        no others.
    room : int or None
        Which of several rooms inside an outline of walls that have both their faces drawn, the largest first
        from 1.
    unit : str or None
    turn_deg : float
        Further turn, after the walls lie along x and y. [deg]
    tolerance_m : float
        How far corners may be moved to make it a box. [m]
    """

    height_m: float
    layer: str | None = None
    outline: int | None = None
    room: int | None = None
    unit: str | None = None
    turn_deg: float = 0.0
    tolerance_m: float = 0.015


def read_floorplan(path: Path, settings: PlanSettings) -> FloorPlan:
    """The room that an outline of a DXF file draws.

    Parameters
    ----------
    path : Path
    settings : PlanSettings

    Raises
    ------
    MeshError
        If the file does not read, no layer holds a closed outline, or no unit makes a room of it.
    """
    document = open_drawing(path)
    found_rings, open_gaps = rings_by_layer(document)
    key = _layer(found_rings, open_gaps, path.name, settings.layer)
    layer, rings = plain(key), found_rings[key]
    chosen = _chosen(rings, settings, layer=layer, file=path.name)
    ring = chosen.ring
    inserts = list(named_inserts(document))
    unit, told = _unit(document, ring, inserts, settings.unit, path.name)
    said = _others_words(rings, chosen, layer=layer, unit=unit)
    corners = _metres(ring.corners, unit)
    corners, turned_round = _anticlockwise(_without_repeats(corners))
    if len(corners) < 3 or len(corners) > MOST_CORNERS:
        raise MeshError(f"{path.name}: an outline of {len(corners)} corners; 3 to {MOST_CORNERS} make a room")
    turn_deg = turn_for(corners, tolerance_m=settings.tolerance_m) + settings.turn_deg
    placed = _turned(corners, turn_deg)
    move = -placed.min(axis=0)
    flat = [RoofPlane("ceiling", (0.0, 0.0), settings.height_m)]
    shape = shape_of(placed + move, flat, tolerance_m=settings.tolerance_m)

    def to_room(points: Floats) -> Floats:
        placed_there: Floats = _turned(_metres(points, unit), turn_deg) + move
        return placed_there

    found = [_on_wall(shape, to_room(own.corners), own.kind, f'block "{own.name}"') for own in inserts]
    found += [_on_wall(shape, to_room(gap), "", "a gap in the wall") for gap in ring.gaps]
    openings = tuple(_apart([own for own in found if own is not None]))
    lost = [own for own, placed_there in zip(inserts, found, strict=False) if placed_there is None]
    report = [*told, *said, *_shape_words(shape, turned_round)]
    report += _lost_words(lost)
    x, y = move.tolist()
    return FloorPlan(
        path.name, layer, shape, openings, unit, turn_deg, (x, y, 0.0), tuple(plain(line) for line in report)
    )


def _layer(
    found: Mapping[str, list[Ring]], gaps: Mapping[str, list[Floats]], file: str, asked: str | None
) -> str:
    """The layer that is meant."""
    if not found:
        raise MeshError(f"{file}: no layer holds a closed outline: {_open_words(gaps)}")
    named = {plain(layer): layer for layer in found}
    listed = ", ".join(f'"{name}" ({len(found[layer])})' for name, layer in named.items())
    if asked is None and len(found) > 1:
        raise MeshError(f"{file}: say which layer is meant, --layer; closed outlines are on {listed}")
    name = next(iter(named)) if asked is None else plain(asked)
    if name not in named:
        own = {layer: gap for layer, gap in gaps.items() if plain(layer) == name and gap}
        why = f": {_open_words(own)}" if own else ""
        raise MeshError(f'{file}: no closed outline on a layer "{name}"; there are {listed}{why}')
    return named[name]


def _open_words(gaps: Mapping[str, list[Floats]]) -> str:
    """Where the outline of a layer stays open, and what closes it."""
    told = [
        f"({a[0]:.9g}, {a[1]:.9g}) and ({b[0]:.9g}, {b[1]:.9g}), {np.hypot(*(b - a)):.9g} apart"
        for own in gaps.values()
        for a, b in own[:_MOST_TOLD]
    ]
    if not told:
        return "draw the room as one closed polyline"
    (layer, *_) = (plain(layer) for layer, own in gaps.items() if own)
    return (
        f'on layer "{layer}" it is open between {"; between ".join(told[:_MOST_TOLD])}, in the numbers of '
        "the drawing. Draw a line there, or the room as one closed polyline; only what is as narrow as a "
        "door is closed on its own"
    )


@dataclass(frozen=True)
class _Chosen:
    """The outline of a room, its number on the layer, why it is that one, and which others walls enclose."""

    ring: Ring
    number: int
    why: str
    beside: tuple[tuple[int, Ring], ...] = ()


def _chosen(own: list[Ring], settings: PlanSettings, *, layer: str, file: str) -> _Chosen:
    """The outline that is meant."""
    asked, room = settings.outline, settings.room or 1
    if asked is not None:
        if not 1 <= asked <= len(own):
            raise MeshError(
                f'{file}: layer "{layer}" holds {counted(len(own), "closed outline")}; --outline {asked}'
            )
        number, why = asked, ""
    else:
        number = next((k for k, ring in enumerate(own) if not _runs_round(ring, own[k + 1 :])), 0) + 1
        why = "what is larger runs round rooms" if number > 1 else ""
    ring = own[number - 1]
    rooms = rooms_within([ring]) if ring.is_band else [ring]
    thick = float(np.median([other.band for other in own if other.is_band] or [0.0]))
    walls = [other for other in own if other.band < 2.0 * thick]  # short ones too
    if not rooms and asked is None and len(walls) > 2:
        # Each wall by itself, as a thin rectangle.
        rooms = rooms_within(walls)
    if not rooms:
        x, y = ring.corners[0]
        raise MeshError(
            f'{file}: outline {number} on layer "{layer}", at ({x:.9g}, {y:.9g}), is a band about '
            f"{ring.band:.2g} wide in the numbers of the drawing, as walls drawn with both their faces are: "
            "draw the room's inner outline as one closed polyline"
        )
    if room > len(rooms) or settings.room == 0:
        raise MeshError(
            f'{file}: outline {number} on layer "{layer}" holds {counted(len(rooms), "room")}; --room '
            f"{settings.room}"
        )
    if ring.is_band:
        why = "walls drawn with both their faces: the room is what their inner faces enclose"
    beside = tuple((k, other) for k, other in enumerate(rooms, 1) if k != room)
    return _Chosen(rooms[room - 1], number, why, beside)


def _runs_round(ring: Ring, others: Sequence[Ring]) -> bool:
    """Whether an outline is that of a house, or of walls' outer faces: nearly full of other outlines."""
    inside = [other for other in others if within_outline(ring.corners, other.corners).all()]
    outermost = [
        other
        for other in inside
        if not any(own is not other and within_outline(own.corners, other.corners).all() for own in inside)
    ]
    return sum(other.area for other in outermost) > _FACE_SHARE * ring.area


def _others_words(own: list[Ring], chosen: _Chosen, *, layer: str, unit: str) -> list[str]:
    """Which of several outlines was taken, and how large it and the others are."""
    others = [(f"--outline {k}", ring) for k, ring in enumerate(own, 1) if k != chosen.number]
    told = [
        f"{_size_words(ring, unit)}, {key}"
        for key, ring in (*((f"--room {k}", ring) for k, ring in chosen.beside), *others)
        if ring.area * _metres(np.ones((1, 2)), unit)[0, 0] ** 2 >= _ROOM_M2
    ]
    because = f" ({chosen.why})" if chosen.why else ""
    if not told:
        return [f"outline {chosen.number} was taken{because}"] if because else []
    more = f"; and {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    return [
        f'layer "{layer}" holds {counted(len(own), "closed outline")}: number {chosen.number} is taken'
        f"{because}, {_size_words(chosen.ring, unit)}. Set aside: " + "; ".join(told[:_MOST_TOLD]) + more
    ]


def _size_words(ring: Ring, unit: str) -> str:
    """How large an outline is along most of its walls."""
    corners = _metres(ring.corners, unit)
    length, width = np.ptp(_turned(corners, turn_for(corners, tolerance_m=0.0)), axis=0)
    area_m2 = ring.area * float(_metres(np.ones((1, 2)), unit)[0, 0]) ** 2
    return f"{length:.2f} by {width:.2f} m ({area_m2:.1f} m²)"


def _lost_words(lost: Sequence[Insert]) -> list[str]:
    """Which doors and windows lie in no wall, and where they stand in the drawing."""
    if not lost:
        return []
    named = [
        '{} "{}" at ({:.9g}, {:.9g})'.format(own.kind, own.name, *own.corners.mean(axis=0))
        for own in lost[:_MOST_TOLD]
    ]
    more = f" and {len(lost) - _MOST_TOLD} more" if len(lost) > _MOST_TOLD else ""
    lie = "lies" if len(lost) == 1 else "lie"
    return [
        f"{', '.join(named)}{more}, in the numbers of the drawing, {lie} in no wall of this outline: left out"
    ]


def _unit(
    document: "Drawing", ring: Ring, inserts: Sequence[Insert], asked: str | None, file: str
) -> tuple[str, list[str]]:
    """What the numbers count: as asked, as the file says if that makes a room with doors, else what does."""
    hint = _UNIT_CODES.get(int(document.header.get("$INSUNITS", 0) or 0))
    doors = [float(np.ptp(own.corners, axis=0).max()) for own in inserts if own.kind == "door"]
    doors += [float(np.linalg.norm(gap[1] - gap[0])) for gap in ring.gaps]

    def makes_a_room(unit: str) -> bool:
        scale = float(_metres(np.ones((1, 2)), unit)[0, 0])
        fits = _FLOOR_M2[0] <= ring.area * scale**2 <= _FLOOR_M2[1]
        return fits and (not doors or any(_DOOR_M[0] <= door * scale <= _DOOR_M[1] for door in doors))

    sane = [unit for unit in UNITS if makes_a_room(unit)]
    if asked:
        if asked in sane or not sane:
            return asked, []
        area_m2 = ring.area * float(_metres(np.ones((1, 2)), asked)[0, 0]) ** 2
        widths = ", ".join(
            f"{door * float(_metres(np.ones((1, 2)), asked)[0, 0]):.3g} m" for door in doors[:3]
        )
        with_doors = f" with doors and gaps {widths} wide" if doors else ""
        said = f"read as {asked} as asked it is a room of {area_m2:.0f} m²{with_doors}"
        return asked, [f"{said}: --unit {sane[0]} makes a usual one"]
    if hint in sane:
        others = [unit for unit in sane if unit != hint]
        return str(hint), [f"read as {hint}, as the file says" + _else(others)]
    if not sane:
        areas = ", ".join(
            f"{unit} {ring.area * float(_metres(np.ones((1, 2)), unit)[0, 0]) ** 2:.3g} m2" for unit in UNITS
        )
        raise MeshError(
            f"{file}: no unit makes a room of this outline ({areas}), with a door of usual width: give --unit"
        )
    why = f"the file says {hint}, which makes no room or no door" if hint else "the file does not say"
    return sane[0], [f"read as {sane[0]} ({why})" + _else(sane[1:])]


def _else(others: Sequence[str]) -> str:
    return f"; if that is wrong: --unit {' or '.join(others)}" if others else ""


def _metres(points: Floats, unit: str) -> Floats:
    flat = np.column_stack([points, np.zeros(len(points))])
    return in_room(flat, unit, "z")[:, :2]


def _anticlockwise(corners: Floats) -> tuple[Floats, bool]:
    x, y = corners.T
    is_clockwise = float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) < 0.0
    return (corners[::-1].copy(), True) if is_clockwise else (corners, False)


def _without_repeats(corners: Floats) -> Floats:
    """An outline without corners twice, and without corners in a straight wall."""
    kept = corners[np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1) > 0.002]
    before, after = kept - np.roll(kept, 1, axis=0), np.roll(kept, -1, axis=0) - kept
    turn = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    straight = turn <= 1e-3 * np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    result: Floats = kept[~straight]
    return result


def _turned(points: Floats, turn_deg: float) -> Floats:
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turned: Floats = points @ np.array([[cosine, sine], [-sine, cosine]])
    return turned


def _on_wall(shape: RoomShape, points: Floats, kind: str, told_by: str) -> PlanOpening | None:
    """Where on which wall some points lie; None where they lie in none."""
    best: tuple[float, PlanOpening] | None = None
    for k, start in enumerate(shape.corners):
        end = shape.corners[(k + 1) % len(shape.corners)]
        length = float(np.linalg.norm(end - start))
        along = (end - start) / length
        reach = np.clip((points - start) @ along, 0.0, length)
        # The leaf of a door stands out into the room: what of it is nearest to the wall says where it is.
        off = np.abs((points - start) @ np.array([-along[1], along[0]]))
        low, high = float(reach.min()), float(reach.max())
        if float(off.min()) <= _NEAR_WALL_M and high - low >= _NARROWEST_M:
            wide_kind = kind or ("door" if high - low <= _DOOR_M[1] else "window")
            found = PlanOpening(wide_kind, k, low, high, told_by)
            ranked = float(off.min()) + 0.2 * float(off.max())
            if best is None or ranked < best[0]:
                best = (ranked, found)
    return None if best is None else best[1]


def _apart(openings: list[PlanOpening]) -> Iterator[PlanOpening]:
    """Openings that do not lie over one before them on the same wall."""
    kept: list[PlanOpening] = []
    for own in openings:
        if not any(o.wall == own.wall and o.start_m < own.end_m and own.start_m < o.end_m for o in kept):
            kept.append(own)
    return iter(kept)


def _shape_words(shape: RoomShape, turned_round: bool) -> list[str]:
    told = ["drawn clockwise: turned round"] if turned_round else []
    if shape.off_m > 0.0005:
        told.append(f"corners moved by up to {1000 * shape.off_m:.0f} mm to make the room a {shape.kind}")
    return told

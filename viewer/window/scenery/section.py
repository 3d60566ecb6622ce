"""A section through the room: what a plane leaves of it, and the faces and wall lines where it cuts."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from raytrace import Room, format_length
from viewer import look
from viewer.pictures import Camera, Layer, loops_of, one_colour, parts, polygons, polylines
from viewer.window.scenery.scenery import SWITCHES
from viewer.window.scenery.spans import fill_spans, hatch_spans, parts_inside
from viewer.window.state import Cut, OnScreen, nearest_line, ray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Pixel = tuple[float, float]

WALL_M = 0.050  # drawn thickness of a cut wall, outwards: a scene gives its walls none
HATCH_M = 0.060
HATCHED = ("furniture", "panel")
DARKER = 0.35  # share of ink in the colour of a cut face
HATCH_LINE_M = 0.0035
STEEP, SLANTING = 0.8, 0.25  # sines: seen from above; seen so flat that a cut along the room shows nothing
INWARDS_M = 1e-6  # walls are cut this far inside the room where the plane lies in one of them
GRIP_PX, GRIP_STEPS = 6.0, 65
NEAREST = 0.005  # share of the room that a pulled section leaves at least
END_ON = 0.05  # squared sine of the angle between sight and pull, below which up is away
CUT_FACES = ("cut faces", "cut hatching", "cut outlines", "cut walls", "cut wall lines", "cut panes")
UNCUT = frozenset({"dimensions", "refused mark", *CUT_FACES})
"""Layers of which a section leaves everything."""


@dataclass(frozen=True)
class Plane:
    """A plane across one axis of the room, and the side of it that is kept.

    Attributes
    ----------
    axis : int
        0, 1 or 2 for a plane across x, y or z.
    at_m : float
        Where on that axis. [m]
    keeps_far : bool
        Whether what is kept has the larger coordinate.
    """

    axis: int
    at_m: float
    keeps_far: bool

    @property
    def normal(self) -> Floats:
        """Unit vector into what is kept, (3,)."""
        normal = np.zeros(3)
        normal[self.axis] = 1.0 if self.keeps_far else -1.0
        return normal

    @property
    def origin(self) -> Floats:
        """A point of the plane, (3,). [m]"""
        origin = np.zeros(3)
        origin[self.axis] = self.at_m
        return origin

    def keeps(self, points: Floats) -> Bools:
        """Whether points (..., 3) are on the side that is kept."""
        return np.asarray((np.asarray(points)[..., self.axis] >= self.at_m) == self.keeps_far)

    def flat(self, points: Floats) -> Floats:
        """The two coordinates in the plane of points (..., 3): height last, from above y last."""
        return np.delete(np.asarray(points), self.axis, axis=-1)

    def in_room(self, flat: Floats, lift_m: float) -> Floats:
        """Points of the plane (..., 2) in the room, (..., 3), lifted off it towards what is taken away."""
        at = self.at_m - lift_m * float(self.normal[self.axis])
        return np.insert(np.asarray(flat, np.float64), self.axis, at, axis=-1)


@dataclass(frozen=True)
class CutGrip:
    """A section held by the pointer: as it was then, at which place (3,) [m], under which pixel."""

    cut: Cut
    place: Floats
    pixel: Pixel


def plane_of(shown: OnScreen) -> Plane | None:
    """The plane of a record's section."""
    return None if shown.cut is None else plane_at(shown.study.room, shown.cut)


def plane_at(room: Room, cut: Cut) -> Plane:
    """The plane of a section through a room, inside it by a hair where it would lie in a wall."""
    low, high = room.bounds[:, cut.axis]
    at_m = np.clip(low + cut.share * (high - low), low + INWARDS_M, high - INWARDS_M)
    return Plane(cut.axis, float(at_m), cut.keeps_far)


def nearer_half(camera: Camera) -> Cut:
    """The section through the middle that opens the room towards the eye, along its length if it can."""
    x, y, z = camera.forward
    axis, way = (2, z) if abs(z) > STEEP else (1, y) if abs(y) > SLANTING else (0, x)
    return Cut(axis, 0.5, keeps_far=bool(way > 0.0))


def cut_at(shown: OnScreen, camera: Camera, pixel: Pixel) -> CutGrip | None:
    """The section gripped where its outline on the room's surfaces is under a pixel; None beside it."""
    plane, room = plane_of(shown), shown.study.room
    if plane is None or shown.cut is None:
        return None
    lines = list(slices(room.triangles[_is_shell(room)], plane))
    near = nearest_line(camera, lines, pixel, GRIP_PX)
    if near is None:
        return None
    start, end = lines[near]
    places = start + np.linspace(0.0, 1.0, GRIP_STEPS)[:, None] * (end - start)
    apart = np.linalg.norm(camera.project(places) - np.array(pixel), axis=1)
    return CutGrip(shown.cut, places[np.argmin(apart)], pixel)


def pulled_cut(grip: CutGrip, room: Room, camera: Camera, pixel: Pixel) -> Cut:
    """The section when the pointer that grips it is at another pixel.

    Where its plane is seen from straight ahead, up is away from the eye.
    """
    axis = grip.cut.axis
    way, (low, high) = np.eye(3)[axis], room.bounds[:, axis]
    start, now = (_along_m(camera, grip.place, way, at) for at in (grip.pixel, pixel))
    if start is None or now is None:
        sign = 1.0 if float(camera.forward @ way) > 0.0 else -1.0
        step_m = sign * (grip.pixel[1] - pixel[1]) / camera.pixels_per_metre(grip.place)
    else:
        step_m = now - start
    share = grip.cut.share + step_m / float(high - low)
    return replace(grip.cut, share=float(np.clip(share, NEAREST, 1.0 - NEAREST)))


def cut_words(shown: OnScreen, cut: Cut) -> str:
    """Where a section is, from the side that its lengths are measured from."""
    low, high = shown.study.room.bounds[:, cut.axis]
    told = format_length(float(cut.share * (high - low)), units=shown.units)
    return f"cut {told} {('from the front', 'from the left', 'up')[cut.axis]}"


def _along_m(camera: Camera, place: Floats, way: Floats, pixel: Pixel) -> float | None:
    """How far along a line through a place what is seen at a pixel lies; None where it is seen end-on."""
    origin, direction = ray(camera, pixel)
    flat = way - (way @ direction) * direction
    size = float(flat @ flat)
    return None if size < END_ON else float((origin - place) @ flat) / size


def without(layer: Layer, plane: Plane) -> Layer:
    """What a section leaves of a layer."""
    is_face = bool(layer.mesh.GetNumberOfPolys())
    pieces: list[Floats] = []
    rows: list[int] = []
    for row, loop in enumerate(loops_of(layer.mesh) if layer.mesh.n_cells else ()):
        kept = [_kept_face(loop, plane)] if is_face else _kept_lines(loop, plane)
        kept = [piece for piece in kept if len(piece) > (2 if is_face else 1)]
        pieces += kept
        rows += [row] * len(kept)
    mesh = (polygons if is_face else polylines)(pieces)
    return replace(layer, mesh=mesh, colours=layer.colours[rows])


def _kept_face(loop: Floats, plane: Plane) -> Floats:
    """The part of a convex outline on the kept side."""
    kept, corners = plane.keeps(loop), []
    for i in range(len(loop)):
        if kept[i]:
            corners.append(loop[i])
        if kept[i] != kept[(i + 1) % len(loop)]:
            corners.append(_crossing(loop[i], loop[(i + 1) % len(loop)], plane))
    return np.array(corners).reshape(-1, 3)


def _kept_lines(line: Floats, plane: Plane) -> list[Floats]:
    """The parts of an open line on the kept side."""
    kept = plane.keeps(line)
    parts: list[list[Floats]] = [[line[0]]] if kept[0] else []
    for i in range(1, len(line)):
        if kept[i] != kept[i - 1]:
            at = _crossing(line[i - 1], line[i], plane)
            if kept[i]:
                parts.append([at])
            else:
                parts[-1].append(at)
        if kept[i]:
            parts[-1].append(line[i])
    return [np.array(part) for part in parts]


def _crossing(one: Floats, other: Floats, plane: Plane) -> Floats:
    share = (plane.at_m - one[plane.axis]) / (other[plane.axis] - one[plane.axis])
    return np.asarray(one + share * (other - one))


def cut_faces(shown: OnScreen) -> dict[str, Layer]:
    """What a section shows of itself: walls as a bold line, solid things filled, some of them hatched.

    Lines of windows and doors interrupt the walls; what an opening lets out leaves a gap.
    """
    plane, theme, scale = plane_of(shown), shown.colours, shown.stage.scale
    if plane is None:
        none = polygons([])
        return {name: Layer(none, np.empty((0, 3))) for name in CUT_FACES}
    lift = look.RAISE_M * scale
    room = shown.study.room
    walls, panes, shell = _wall_lines(room, plane)
    faces: list[Floats] = []
    colours: list[Floats] = []
    lines: list[Floats] = []
    edges: list[Floats] = []
    for part, triangles in _solids(shown):
        cut = plane.flat(slices(triangles, plane))
        filled = fill_spans(cut, shell)
        faces += filled
        colours += [_mixed(theme.palette.faces[part], theme.ink)] * len(filled)
        edges += parts_inside(cut, shell)
        lines += hatch_spans(cut, shell, HATCH_M * scale) if part in HATCHED else []
    bands = _bands(walls, WALL_M)
    flat = {
        "cut faces": polygons([plane.in_room(face, lift) for face in faces]),
        "cut hatching": polylines([plane.in_room(line, 2 * lift) for line in lines]),
        "cut outlines": polylines([plane.in_room(edge, lift) for edge in edges]),
        "cut walls": polygons([plane.in_room(band, lift) for band in bands]),
        "cut wall lines": polylines([plane.in_room(line, lift) for line, _ in walls]),
        "cut panes": polylines([plane.in_room(line, lift) for line in panes]),
    }
    radii = (0.0, HATCH_LINE_M, look.OBJECT_EDGE_M, 0.0, look.EDGE_M, look.PANE_EDGE_ON_M)
    ink = (theme.ink, theme.edge, theme.ink, theme.ink, theme.ink, theme.pane_edge)
    layers = {
        name: Layer(flat[name], one_colour(colour, flat[name]), radius_m=radius * scale)
        for name, radius, colour in zip(CUT_FACES, radii, ink, strict=True)
    }
    layers["cut faces"] = replace(layers["cut faces"], colours=np.array(colours).reshape(-1, 3))
    return layers


def _mixed(colour: str, ink: str) -> Floats:
    return np.asarray((1.0 - DARKER) * look.rgb(colour) + DARKER * look.rgb(ink))


def _solids(shown: OnScreen) -> list[tuple[str, Floats]]:
    """Skins (n, 3, 3) of everything solid that is drawn, each with what it is."""
    off = {part for part, switch in SWITCHES.items() if switch not in shown.layers}
    off |= {"head"} if shown.view == "seat" else set()
    return [(part, skin) for part, skin in parts.solids(shown.stage) if part not in off]


def slices(triangles: Floats, plane: Plane) -> Floats:
    """Where triangles (n, 3, 3) meet a plane: straight pieces, (m, 2, 3)."""
    return _sliced(triangles, plane)[0]


def _sliced(triangles: Floats, plane: Plane) -> tuple[Floats, NDArray[np.int64]]:
    """The same with the row of the triangle that each piece comes from, (m,)."""
    heights = np.asarray(triangles)[:, :, plane.axis] - plane.at_m
    above = heights >= 0.0
    rows = np.flatnonzero(above.any(axis=1) & ~above.all(axis=1))
    above, heights, met = above[rows], heights[rows], np.asarray(triangles)[rows]
    # The corner that lies alone on its side, and the two others.
    alone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    each = np.arange(len(rows))
    ends = []
    for step in (1, 2):
        other = (alone + step) % 3
        share = heights[each, alone] / (heights[each, alone] - heights[each, other])
        ends.append(met[each, alone] + share[:, None] * (met[each, other] - met[each, alone]))
    return np.stack(ends, axis=1).reshape(-1, 2, 3), rows


def _is_shell(room: Room) -> Bools:
    """Which triangles are the room's own surfaces."""
    own = room.is_room_surface[room.surface_of_triangle]
    return np.asarray(own & (room.facet_of_triangle < room.n_solid_facets))


def _wall_lines(room: Room, plane: Plane) -> tuple[list[tuple[Floats, Floats]], list[Floats], Floats]:
    """Cut lines of walls (2, 2), each with its outward direction (2,), of panes, and of the whole shell."""
    is_room = _is_shell(room)
    triangles, surfaces = room.triangles[is_room], room.surface_of_triangle[is_room]
    pieces, rows = _sliced(triangles, plane)
    walls: list[tuple[Floats, Floats]] = []
    panes: list[Floats] = []
    for piece, surface in zip(pieces, surfaces[rows], strict=True):
        out = plane.flat(-room.surfaces[surface].frame.n)
        out = out / max(float(np.linalg.norm(out)), 1e-12)
        for (start, end), kind in _parted(room, int(surface), piece):
            flat = plane.flat(piece[0] + np.array([[start], [end]]) * (piece[1] - piece[0]))
            if kind == "":
                walls.append((flat, out))
            elif kind != "opening":
                panes.append(flat)
    return walls, panes, plane.flat(pieces)


def _parted(room: Room, surface: int, piece: Floats) -> list[tuple[tuple[float, float], str]]:
    """Shares of a cut line (2, 3) of a surface with the kind of opening each lies in, "" for the wall."""
    frame = room.surfaces[surface].frame
    flat = frame.to_plane(piece)
    inside: list[tuple[float, float, str]] = []
    for opening in room.openings:
        if opening.surface == surface and opening.kind != "cover":
            low, high = _share_in(flat, opening.rect)
            inside += [(low, high, opening.kind)] if high - low > 1e-9 else []
    parts: list[tuple[tuple[float, float], str]] = []
    at = 0.0
    for low, high, kind in sorted(inside):
        parts += [((at, low), "")] if low > at else []
        parts.append(((low, high), kind))
        at = max(at, high)
    return [*parts, ((at, 1.0), "")] if at < 1.0 else parts


def _share_in(line: Floats, rect: Floats) -> tuple[float, float]:
    """From which share of a flat line (2, 2) to which it runs in a rectangle; equal where it does not."""
    low, high = 0.0, 1.0
    for axis in range(2):
        start, way = float(line[0, axis]), float(line[1, axis] - line[0, axis])
        near, far = rect[axis], rect[axis + 2]
        if abs(way) < 1e-12:
            if not near < start < far:
                return 0.0, 0.0
            continue
        one, other = sorted(((near - start) / way, (far - start) / way))
        low, high = max(low, one), min(high, other)
    return (low, high) if high > low else (0.0, 0.0)


def _bands(walls: list[tuple[Floats, Floats]], thick_m: float) -> list[Floats]:
    """Walls as bands outside the air, (4, 2) each, with their outer corners closed."""
    bands = [np.array([*line, line[1] + thick_m * out, line[0] + thick_m * out]) for line, out in walls]
    ends: dict[tuple[int, int], list[tuple[Floats, Floats]]] = {}
    for line, out in walls:
        for point in line:
            ends.setdefault((round(point[0] * 1e5), round(point[1] * 1e5)), []).append((point, out))
    for met in ends.values():
        for i, (point, one) in enumerate(met):
            for _, other in met[:i]:
                turn = 1.0 + float(one @ other)
                if 0.05 < turn < 1.999:
                    mitre = point + thick_m * (one + other) / turn
                    bands.append(np.array([point, point + thick_m * one, mitre, point + thick_m * other]))
    return bands

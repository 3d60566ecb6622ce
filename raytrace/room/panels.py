"""Panels, stands and clouds of a scene as flat plates in its room, before anything is said of sound."""

import string
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from raytrace.room.buildstack import Depths, depths_of
from raytrace.room.facets import Facet
from raytrace.room.polygons import locate
from raytrace.room.setout import LEVEL_COSINE, Frame, Orientation, orientation
from raytrace.room.surfaces import Surface
from raytrace.scene import Build, Cloud, KeyPath, Panel, Scene, Stand, frame_section

Floats = NDArray[np.float64]

PARALLEL_COSINE = LEVEL_COSINE  # 3 degrees
Kind = Literal["surface", "corner", "stand", "cloud"]
PATCH_GAP_M = 0.3  # a plate nearer than this to what lies behind it is one reflector with it
_FLUSH_M = 1e-9  # nearer than that a back lies on its surface
_DOWN, _UP, _FRONT = np.array([0.0, 0.0, -1.0]), np.array([0.0, 0.0, 1.0]), np.array([-1.0, 0.0, 0.0])


@dataclass(frozen=True)
class PlacedPanel:
    """One panel where it is to be.

    Attributes
    ----------
    name, group : str
        Its own; that of its entry in the scene, which for a panel of a cloud is the cloud.
    key : tuple
        Key path of the entry, for `Scene.error`.
    member : int
        Which panel of its entry, 0 the first; of a cloud in the order of its rows or of its list.
    label : str
        What tells it from the others of its cloud: "A1", "2"; empty for a panel of its own.
    kind : str
        "surface", "corner", "stand" or "cloud".
    build_name, build : str, Build
        How it is made.
    corners : (4, 3) float
        Of its front face: lower left, lower right, upper right, upper left of a person who faces it; a
        level face is looked at with the front wall up. [m]
    normal : (3,) float
        Unit vector out of the front face.
    width_m, height_m, thickness_m : float
        Along corners 0 to 1, along corners 1 to 2, and front to back.
    turned : int
        0, or 90 where width and height of the build are swapped.
    surface : int or None
        Surface of the room it hangs on or under, or stands before.
    gap_m : float
        Air between the back of its wool and that surface, square to it at the panel's middle; NaN without.
    rect : (4,) float
        u0, v0, u1, v1 of its outline on that surface; NaN without one. [m]
    acts_as : str
        "patch": parallel to its surface and near, one reflector with it. "free": both faces reflect, and
        sound passes.
    stacked : int
        How many panels of the build stand one above the other in it; all others are one.
    in_raft : bool
        It lies in one frame with the others of its cloud. To sound it is the slab that it would be in a
        frame of its own, at the same place: slabs that touch add up to one large one, gaps stay gaps, and
        the raft's timber (bars about 20 mm wide below the slabs) is left out.
    """

    name: str
    group: str
    key: KeyPath
    member: int
    label: str
    kind: Kind
    build_name: str
    build: Build
    corners: Floats
    normal: Floats
    width_m: float
    height_m: float
    thickness_m: float
    turned: int
    surface: int | None
    gap_m: float
    rect: Floats
    acts_as: Literal["patch", "free"]
    stacked: int = 1
    in_raft: bool = False

    @property
    def centre(self) -> Floats:
        """Middle of the front face, (3,). [m]"""
        middle: Floats = self.corners.mean(axis=0)
        return middle

    @property
    def right(self) -> Floats:
        """Unit vector along its lower edge, to the right of a person who faces it, (3,)."""
        along: Floats = (self.corners[1] - self.corners[0]) / self.width_m
        return along

    @property
    def up(self) -> Floats:
        """Unit vector along its right edge, up, (3,)."""
        along: Floats = (self.corners[2] - self.corners[1]) / self.height_m
        return along

    @property
    def leans_back(self) -> bool:
        """Whether it looks up a little, as one that leans against a wall does."""
        return bool(self.normal[2] > 1e-6)  # more than rounding leaves

    @property
    def back(self) -> Floats:
        """Corners of the back face, behind those of the front, (4, 3). [m]"""
        behind: Floats = self.corners - self.thickness_m * self.normal
        return behind

    @cached_property
    def depths(self) -> Depths:
        """How deep it is made."""
        return depths_of(self.build)

    @cached_property
    def box(self) -> tuple[float, ...]:
        """Smallest x, y, z of what is made, then the largest. [m]"""
        both = np.concatenate([self.corners, self.rear])
        return (*both.min(axis=0).tolist(), *both.max(axis=0).tolist())

    @property
    def rear(self) -> Floats:
        """Corners of the back of its frame or board, behind those of the front, (4, 3). [m]"""
        behind: Floats = self.corners - self.depths.outer_m * self.normal
        return behind

    @property
    def clear_m(self) -> float:
        """From the back of what is made to the surface: what a spacer measures; NaN without one. [m]"""
        clear_m = self.gap_m - self.depths.behind_m
        return 0.0 if abs(clear_m) < _FLUSH_M else clear_m

    @property
    def middle(self) -> Floats:
        """Middle between both faces, (3,). [m]"""
        within: Floats = self.centre - 0.5 * self.thickness_m * self.normal
        return within

    @property
    def area_m2(self) -> float:
        """Of one face."""
        return self.width_m * self.height_m


@dataclass(frozen=True)
class Plate:
    """A rectangle in the room: where a panel's back is, before it is known what lies behind.

    Attributes
    ----------
    middle, normal : (3,) float
        Middle of the back face [m]; unit vector out of the front.
    along : (3,) float
        Direction of the build's first size.
    size : tuple of float
        Along `along` and square to it. [m]
    """

    middle: Floats
    normal: Floats
    along: Floats
    size: tuple[float, float]


@dataclass(frozen=True)
class FreePanelGroup:
    """Panels that hang free in one plane, for whatever meets it: one reflector with gaps.

    Attributes
    ----------
    name : str
    panels : tuple of int
        Indices into the room's panels.
    front, back : (4, 3) float
        Smallest rectangle round all faces on either side, anticlockwise as seen from that side. [m]
    """

    name: str
    panels: tuple[int, ...]
    front: Floats
    back: Floats


def free_panel_groups(panels: Sequence[PlacedPanel]) -> tuple[FreePanelGroup, ...]:
    """The free-hung panels of a room, those of one cloud together.

    Parameters
    ----------
    panels : sequence of PlacedPanel
    """
    groups: dict[str, list[int]] = {}
    for index, panel in enumerate(panels):
        if panel.acts_as == "free":
            groups.setdefault(panel.group, []).append(index)
    free_groups = []
    for name, members in groups.items():
        whole = round_all([panels[k] for k in members])
        free_groups.append(FreePanelGroup(name, tuple(members), whole.corners, whole.back[::-1]))
    return tuple(free_groups)


def round_all(panels: Sequence[PlacedPanel]) -> PlacedPanel:
    """The smallest panel round all panels of one cloud, named as the cloud."""
    first = panels[0]
    corners = np.concatenate([panel.corners for panel in panels])
    across, along = (corners - first.centre) @ first.right, (corners - first.centre) @ first.up
    a, b = (across.min(), across.max()), (along.min(), along.max())
    spots = [(a[0], b[0]), (a[1], b[0]), (a[1], b[1]), (a[0], b[1])]
    rects = np.array([panel.rect for panel in panels])
    return replace(
        first,
        name=first.group,
        corners=np.array([first.centre + u * first.right + v * first.up for u, v in spots]),
        width_m=float(a[1] - a[0]),
        height_m=float(b[1] - b[0]),
        rect=np.concatenate([rects[:, :2].min(axis=0), rects[:, 2:].max(axis=0)]),
    )


def place_panels(
    scene: Scene, surfaces: Sequence[Surface], facets: Sequence[Facet]
) -> tuple[PlacedPanel, ...]:
    """Every panel of a scene in the room, clouds panel by panel; not yet checked against anything.

    Parameters
    ----------
    scene : Scene
    surfaces, facets : sequence of Surface, of Facet
        Of the room and its objects.

    Returns
    -------
    tuple of PlacedPanel
        Panels, stands, clouds, each in the order of the file.
    """
    by_name = {surface.name: surface for surface in surfaces}
    placed: list[PlacedPanel] = []
    for index, panel in enumerate(scene.panels):
        build = scene.build(panel.build)
        surface = by_name[panel.surface]
        if panel.across_corner is None:
            plate = _flat_plate(panel, build, surface)
        else:
            _refuse_what_is_no_corner(scene, index, surface, by_name[panel.across_corner])
            plate = _corner_plate(panel, build, surface, by_name[panel.across_corner], facets)
        kind: Kind = "surface" if panel.across_corner is None else "corner"
        placed.append(_panel(panel, ("panels", index), kind, build, plate, panel.turned))
    for index, stand in enumerate(scene.stands):
        build = scene.build(stand.build)
        entry = _panel(stand, ("stands", index), "stand", build, _stand_plate(stand, build), stand.turned)
        placed.append(replace(entry, stacked=stand.stacked))
    for index, cloud in enumerate(scene.clouds):
        build = scene.build(cloud.build)
        _refuse_what_holds_no_cloud(scene, index, by_name)
        for member, (label, plate, turned) in enumerate(_cloud_plates(cloud, build, by_name)):
            hung = _panel(cloud, ("clouds", index), "cloud", build, plate, turned)
            hung = replace(hung, name=f"{cloud.name} {label}", member=member, label=label)
            placed.append(replace(hung, in_raft=cloud.raft))
    names = [surface.name for surface in surfaces]
    return tuple(_before_its_surface(scene, panel, names, surfaces, facets) for panel in placed)


def _refuse_what_is_no_corner(scene: Scene, index: int, surface: Surface, other: Surface) -> None:
    """A panel across a corner lies over two surfaces that are not parallel."""
    if abs(float(surface.frame.n @ other.frame.n)) > PARALLEL_COSINE:
        what = f'"{other.name}" makes no corner with "{surface.name}": they are parallel'
        raise scene.error(("panels", index, "across_corner"), what)


def _refuse_what_holds_no_cloud(scene: Scene, index: int, by_name: dict[str, Surface]) -> None:
    """A cloud hangs under what looks down, and tilts towards what stands to its side."""
    cloud = scene.clouds[index]
    held = by_name[cloud.surface].frame.n
    is_upright = orientation(held) is Orientation.UPRIGHT
    if is_upright or held[2] > 0.0:
        lies = "is upright: hang [[panels]] on it" if is_upright else "looks up"
        what = f'a cloud hangs under a ceiling or a slope; "{cloud.surface}" {lies}'
        raise scene.error(("clouds", index, "surface"), what)
    if cloud.tilt is not None and orientation(by_name[cloud.tilt.towards].frame.n).is_level:
        what = f'"{cloud.tilt.towards}" is level: a cloud tilts towards a wall or a slope'
        raise scene.error(("clouds", index, "tilt", "towards"), what)


def _panel(
    entry: Panel | Stand | Cloud, key: KeyPath, kind: Kind, build: Build, plate: Plate, turned: int
) -> PlacedPanel:
    """A plate as a panel; the edge of its front that a viewer sees on the right runs along `corners` 1, 2."""
    across = _cross(plate.normal, plate.along)
    wanted = _FRONT if orientation(plate.normal).is_level else _UP
    axes = [(plate.along, plate.size), (across, plate.size[::-1])]
    axes += [(-axis, size) for axis, size in axes]
    up, (height_m, width_m) = max(axes, key=lambda choice: float(choice[0] @ wanted))
    right = _cross(up, plate.normal)
    front = plate.middle + build.thickness * plate.normal
    steps = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    corners = np.array([front + 0.5 * (a * width_m * right + b * height_m * up) for a, b in steps])
    return PlacedPanel(
        name=entry.name,
        group=entry.name,
        key=key,
        member=0,
        label="",
        kind=kind,
        build_name=entry.build,
        build=build,
        corners=corners,
        normal=plate.normal,
        width_m=width_m,
        height_m=height_m,
        thickness_m=build.thickness,
        turned=turned,
        surface=None,
        gap_m=float("nan"),
        rect=np.full(4, np.nan),
        acts_as="free",
    )


def _cross(a: Floats, b: Floats) -> Floats:
    """Vector product of two vectors (3,): numpy's own takes ten times as long for a single one."""
    (x, y, z), (u, v, w) = a.tolist(), b.tolist()
    return np.array([y * w - z * v, z * u - x * w, x * v - y * u])


def _turned(build: Build, turned: int) -> tuple[float, float]:
    return build.size if turned == 0 else (build.size[1], build.size[0])


def _flat_plate(panel: Panel, build: Build, surface: Surface) -> Plate:
    frame = surface.frame
    behind_m = panel.gap + depths_of(build).behind_m
    middle = frame.to_room(np.array(panel.centre)) + behind_m * frame.n
    return Plate(middle, frame.n, frame.u - (frame.u @ frame.n) * frame.n, _turned(build, panel.turned))


def _corner_plate(
    panel: Panel, build: Build, surface: Surface, other: Surface, facets: Sequence[Facet]
) -> Plate:
    """A panel whose frame touches two surfaces with its long edges, as far from the corner on both.

    `centre` gives the place along the corner; what it says across does not matter.
    """
    normals = surface.frame.n, other.frame.n
    line = np.cross(*normals)
    line /= np.linalg.norm(line)
    away = [np.cross(line, n) for n in normals]
    away = [a if a @ towards > 0 else -a for a, towards in zip(away, normals[::-1], strict=True)]
    offsets = [facets[s.facets[0]].offset for s in (surface, other)]
    start = surface.frame.to_room(np.array(panel.centre))
    corner = np.linalg.solve(np.array([*normals, line]), np.array([*offsets, line @ start]))
    size = _turned(build, panel.turned)
    runs_along_u = abs(line @ surface.frame.u) >= abs(line @ surface.frame.v)
    along_m, across_m = size if runs_along_u else size[::-1]
    reach_m = across_m / float(np.linalg.norm(away[0] - away[1]))
    normal = away[0] + away[1]
    normal /= np.linalg.norm(normal)
    middle = corner + 0.5 * reach_m * (away[0] + away[1]) + (panel.gap + depths_of(build).behind_m) * normal
    return Plate(middle, normal, line, (along_m, across_m))


def _stand_plate(stand: Stand, build: Build) -> Plate:
    """`at` is under the middle of the lower front edge; leaning, the top goes back.

    Between panels one above the other lie the timbers of both frames.
    """
    yaw, lean = np.radians([stand.yaw, stand.lean])
    ahead = np.array([np.cos(yaw), np.sin(yaw), 0.0])
    normal = np.cos(lean) * ahead + np.sin(lean) * _UP
    rising = np.cos(lean) * _UP - np.sin(lean) * ahead
    foot = np.array([*stand.at, stand.lift + depths_of(build).outer_m * np.sin(lean)])
    wide, high = _turned(build, stand.turned)
    between_m = 2.0 * frame_section(build.frame, build.thickness).thickness_m
    size = (wide, stand.stacked * (high + between_m) - between_m)
    middle = foot + 0.5 * size[1] * rising - build.thickness * normal
    return Plate(middle, normal, _cross(rising, normal), size)


def _cloud_plates(cloud: Cloud, build: Build, by_name: dict[str, Surface]) -> list[tuple[str, Plate, int]]:
    """Name, plate and turn of each panel: rows from the front or up a slope, columns from the left."""
    frame = by_name[cloud.surface].frame
    is_level = orientation(frame.n).is_level
    spots, names, turns = _cloud_spots(cloud, build, is_level)
    normal = frame.n if cloud.level == "along" else _DOWN
    along = frame.u - (frame.u @ normal) * normal
    across = frame.v - (frame.v @ normal) * normal
    # A grid is laid out on the cloud itself, single panels where they are seen from the surface.
    seen_along, seen_across = np.linalg.norm(along), np.linalg.norm(across)
    along, across = along / seen_along, across / seen_across
    mean = np.mean(spots, axis=0)
    middle = frame.to_room(mean) + cloud.drop * (frame.n if cloud.level == "along" else _DOWN)
    if cloud.panels:
        spots = mean + (spots - mean) * np.array([seen_along, seen_across])
    if cloud.tilt is not None:
        turn = _tilt(normal, by_name[cloud.tilt.towards].frame, cloud.tilt.deg)
        normal, along, across = turn @ normal, turn @ along, turn @ across
    middle = middle + depths_of(build).behind_m * normal
    plates = [
        Plate(middle + (u - mean[0]) * along + (v - mean[1]) * across, normal, along, _turned(build, turned))
        for (u, v), turned in zip(spots, turns, strict=True)
    ]
    return list(zip(names, plates, turns, strict=True))


def _cloud_spots(cloud: Cloud, build: Build, is_level: bool) -> tuple[Floats, list[str], list[int]]:
    """Centres in the set-out frame, names and turns of the panels of a cloud."""
    if cloud.panels:
        single = np.array([panel.centre for panel in cloud.panels], np.float64)
        turns: list[int] = [panel.turned for panel in cloud.panels]
        return single, [str(k + 1) for k in range(len(turns))], turns
    assert cloud.centre is not None
    assert cloud.rows is not None
    assert cloud.columns is not None
    step_u, step_v = build.size[0] + cloud.spacing, build.size[1] + cloud.spacing
    # On a plan the rows follow one another from the front, along u; up a slope along v.
    along_u, along_v = (cloud.rows, cloud.columns) if is_level else (cloud.columns, cloud.rows)
    spots: list[tuple[float, float]] = []
    names: list[str] = []
    for row in range(cloud.rows):
        for column in range(cloud.columns):
            i, j = (row, column) if is_level else (column, row)
            spots.append(
                (
                    cloud.centre[0] + (i - 0.5 * (along_u - 1)) * step_u,
                    cloud.centre[1] + (j - 0.5 * (along_v - 1)) * step_v,
                )
            )
            names.append(f"{_letter(row)}{column + 1}")
    return np.array(spots), names, [0] * len(spots)


def _letter(row: int) -> str:
    letters = string.ascii_uppercase
    return (
        letters[row] if row < len(letters) else letters[row // len(letters) - 1] + letters[row % len(letters)]
    )


def _tilt(normal: Floats, towards: Frame, degrees: float) -> Floats:
    """Rotation (3, 3) that turns a face looking along `normal` towards a surface of the room."""
    aim = -towards.n - (-towards.n @ normal) * normal
    axis = np.cross(normal, aim / np.linalg.norm(aim))
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    angle = np.radians(degrees)
    turn: Floats = np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
    return turn


def _before_its_surface(
    scene: Scene,
    panel: PlacedPanel,
    names: Sequence[str],
    surfaces: Sequence[Surface],
    facets: Sequence[Facet],
) -> PlacedPanel:
    """A panel that knows which surface lies behind it, how far, and whether it acts as a part of it."""
    if panel.kind == "stand":
        index = _surface_behind(panel, surfaces, facets)
        if index is None:
            return panel
    else:
        entry = getattr(scene, str(panel.key[0]))[panel.key[1]]
        index = names.index(entry.surface)
    frame = surfaces[index].frame
    gap_m = float((panel.back.mean(axis=0) - frame.origin) @ frame.n)
    gap_m = 0.0 if abs(gap_m) < _FLUSH_M else gap_m
    uv = frame.to_plane(panel.corners)
    rect = np.concatenate([uv.min(axis=0), uv.max(axis=0)])
    near = panel.normal @ frame.n >= PARALLEL_COSINE and gap_m <= PATCH_GAP_M + 1e-9 + 1e-9
    return replace(panel, surface=index, gap_m=gap_m, rect=rect, acts_as="patch" if near else "free")


def _surface_behind(panel: PlacedPanel, surfaces: Sequence[Surface], facets: Sequence[Facet]) -> int | None:
    """The nearest surface of the room that a person behind an upright panel would back into."""
    start = panel.back.mean(axis=0)
    level = np.array([panel.normal[0], panel.normal[1], 0.0])
    way = -level / np.linalg.norm(level)
    nearest: tuple[float, int] | None = None
    for facet in facets:
        frame = surfaces[facet.surface].frame
        towards = float(way @ facet.normal)
        if surfaces[facet.surface].owner is not None or towards > -0.5:
            continue
        distance = (facet.offset - float(start @ facet.normal)) / towards
        if distance < 0.0 or (nearest is not None and (distance, facet.surface) >= nearest):
            continue
        loops = [frame.to_plane(loop) for loop in (facet.outline, *facet.holes)]
        hit = frame.to_plane(start + distance * way)[None]
        if locate(hit, loops, 1e-9)[0] >= 0:
            nearest = distance, facet.surface
    return None if nearest is None else nearest[1]

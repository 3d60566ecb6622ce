"""Rafts: one timber frame for all slabs of a cloud, which lie on bars in it; its parts and what they span."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.making.framing import PLYWOOD_KG_M3, WRAP_M, Part, Piece, cloth_kg, wool_kg
from raytrace.making.timber import Timber, batten_for, frame_timber
from raytrace.room import BOARD_M, PlacedPanel, Room, round_all
from raytrace.scene import Scene

Floats = NDArray[np.float64]

SOFTWOOD_PA = 8.0e9
"""Mean stiffness along the grain of the softest usual class, C16 (EN 338, from memory). [Pa]"""
CREEP = 1.6
"""Sag after years over the first sag: 1 + k_def, solid timber in a dry room (EN 1995-1-1, from memory)."""
SAG_SHARE = 1.0 / 200.0
"""Of a span that it may sag, creep included. Common practice, no source."""
OVERHANG_SPANS = 2.0
"""An overhang counts as a span so many times as long: sound for a beam that is alike all along, whose end
sinks by w a^4 / 8EI against 5 w L^4 / 384EI in a span, both over the same share of L (textbook beams)."""
BAR_STEP_M = 0.6
"""Farthest that bars under one slab are apart. Common practice, no source."""
TURNBUCKLE_M, TAKE_UP_M = 0.110, 0.040
"""Length of a small turnbuckle from eye to eye when half-way, and what it takes up in all. Common practice,
no source."""

_GRAVITY_M_S2 = 9.81
_SAME_BAR_M = 0.050  # bars nearer than that are one


@dataclass(frozen=True)
class Bars:
    """Cross bars below the slabs of a raft, which they carry, from rail to rail.

    Attributes
    ----------
    timber : Timber
    on_edge : bool
        Its larger side stands upright.
    along_m : tuple of float
        Middle lines along the rails, from the corner of the slabs. [m]
    most_m : float
        Longest span at which they keep to `SAG_SHARE`. [m]
    """

    timber: Timber
    on_edge: bool
    along_m: tuple[float, ...]
    most_m: float

    @property
    def deep_m(self) -> float:
        """How far they reach below the slabs."""
        return self.timber.depth_m if self.on_edge else self.timber.thickness_m

    @property
    def wide_m(self) -> float:
        """As seen from below."""
        return self.timber.thickness_m if self.on_edge else self.timber.depth_m


@dataclass(frozen=True, eq=False)
class Raft:
    """One frame for all slabs of a cloud: two rails that hang, two ends between them, bars below the slabs.

    Attributes
    ----------
    panels : tuple of int
        Indices into `Room.panels`.
    whole : PlacedPanel
        The smallest panel round all its slabs.
    axis : int
        Rails run along the width of `whole` (0) or along its height (1).
    rail : Timber
        On edge, its underside level with that of the slabs; ends are of the same.
    bars : Bars
    piece : Piece
        All that it is made of.
    """

    panels: tuple[int, ...]
    whole: PlacedPanel
    axis: int
    rail: Timber
    bars: Bars
    piece: Piece

    @property
    def name(self) -> str:
        """Of its cloud."""
        return self.whole.group

    @property
    def slabs_m(self) -> Floats:
        """Width and height of the rectangle round the slabs, (2,). [m]"""
        return np.array([self.whole.width_m, self.whole.height_m])

    @property
    def rail_m(self) -> float:
        """Length of a rail, which takes the ends between itself and the other."""
        return float(self.slabs_m[self.axis]) + 2.0 * self.rail.thickness_m

    @property
    def bar_span_m(self) -> float:
        """From middle to middle of the rails."""
        return float(self.slabs_m[1 - self.axis]) + self.rail.thickness_m

    @property
    def rise_m(self) -> float:
        """How far the upper edge of the rails, where cords begin, stands above the slabs; below: negative."""
        return self.rail.depth_m - self.whole.thickness_m

    @property
    def most_rail_m(self) -> float:
        """Longest span at which a rail keeps to `SAG_SHARE`: each carries half of the raft. [m]"""
        timber = self.rail
        return longest_span_m(timber.thickness_m, timber.depth_m, 0.5 * self.piece.mass_kg / self.rail_m)

    @property
    def sides(self) -> Floats:
        """Unit vectors along the width and the height of the slabs, (2, 3)."""
        return np.stack([self.whole.right, self.whole.up])

    def on_top(self, spot: Floats) -> Floats:
        """A place level with the rails' upper edges, counted from the slabs' lower left corner, (3,). [m]"""
        place: Floats = self.whole.back[0] - self.rise_m * self.whole.normal + spot @ self.sides
        return place

    @property
    def underside(self) -> Floats:
        """Corners of the plane of the bars' lower faces, below the slabs' rectangle, (4, 3). [m]"""
        corners: Floats = self.whole.corners + self.bars.deep_m * self.whole.normal
        return corners

    def blocks(self) -> list[tuple[str, Floats, Floats]]:
        """Every timber: what it is, its outline as seen from the front (4, 3), its lower and upper face. [m]

        The last are heights above the slabs' front, against the direction it looks in, (2,).
        """
        thick = self.rail.thickness_m
        upright = (0.0, self.rail.depth_m)
        flip = slice(None, None, 1 if self.axis == 0 else -1)
        length, across = self.slabs_m[flip]
        found = []
        for low in (-thick, across):
            found.append(("raft rail", (-thick, low, length + thick, low + thick), upright))
        for low in (-thick, length):
            found.append(("raft end", (low, 0.0, low + thick, across), upright))
        half = 0.5 * self.bars.wide_m
        for middle in self.bars.along_m:
            outline = (middle - half, -thick, middle + half, across + thick)
            found.append(("raft bar", outline, (-self.bars.deep_m, 0.0)))
        blocks = []
        for name, (a0, c0, a1, c1), faces in found:
            corners = np.array([(a0, c0), (a1, c0), (a1, c1), (a0, c1)])[:, flip][flip]
            blocks.append((name, self.whole.corners[0] + corners @ self.sides, np.array(faces)))
        return blocks


def longest_span_m(wide_m: float, deep_m: float, kg_m: float) -> float:
    """The longest span of a timber, alike loaded, at which it sags by no more than `SAG_SHARE` of it. [m]

    5 w L^4 / (384 E I) times the creep, as a beam that ends at both supports (textbook): where it runs on
    beyond them it sags less.

    Examples
    --------
    >>> round(longest_span_m(0.020, 0.050, 4.6), 2)
    2.07
    """
    stiffness = SOFTWOOD_PA * wide_m * deep_m**3 / 12.0
    return float((384.0 * stiffness * SAG_SHARE / (5.0 * CREEP * kg_m * _GRAVITY_M_S2)) ** (1.0 / 3.0))


def find_rafts(scene: Scene, room: Room) -> tuple[Raft, ...]:
    """The rafts of a scene, in the order of its clouds.

    Rails run across the joists where those are known, so that a hook anywhere along a rail can meet one,
    else along the longer side; the other way where bars between them would sag too much.

    Parameters
    ----------
    scene, room : Scene, Room

    Returns
    -------
    tuple of Raft
    """
    groups: dict[str, list[int]] = {}
    for index, panel in enumerate(room.panels):
        if panel.in_raft:
            groups.setdefault(panel.group, []).append(index)
    return tuple(_raft(scene, room, members) for members in groups.values())


def _raft(scene: Scene, room: Room, members: Sequence[int]) -> Raft:
    slabs = [room.panels[k] for k in members]
    whole = round_all(slabs)
    longer = int(whole.height_m > whole.width_m)
    first = _across_joists(scene, room, whole)
    options = [
        _with_rails(members, slabs, whole, axis) for axis in (longer if first is None else first, longer)
    ]
    options.append(_with_rails(members, slabs, whole, 1 - longer))
    return next((raft for raft in options if raft.bar_span_m <= raft.bars.most_m), options[1])


def _across_joists(scene: Scene, room: Room, whole: PlacedPanel) -> int | None:
    """The side of a cloud that runs across the joists over it, 0 or 1; None where none are known."""
    assert whole.surface is not None, "a cloud hangs under a surface"
    surface = room.surfaces[whole.surface]
    for entry in scene.joists:
        if entry.surface == surface.name:
            way = surface.frame.u if entry.along_u else surface.frame.v
            return int(abs(whole.up @ way) < abs(whole.right @ way))
    return None


def _with_rails(members: Sequence[int], slabs: Sequence[PlacedPanel], whole: PlacedPanel, axis: int) -> Raft:
    """A raft whose rails run along the width (0) or the height (1) of its slabs."""
    build = whole.build
    rail = frame_timber(build.frame, build.thickness)
    bars = _bars(slabs, whole, axis, rail)
    return Raft(tuple(members), whole, axis, rail, bars, _piece(slabs, whole, axis, rail, bars))


def _bars(slabs: Sequence[PlacedPanel], whole: PlacedPanel, axis: int, rail: Timber) -> Bars:
    """Two bars or more under every slab, flat where that is stiff enough, else on edge."""
    way = (whole.right, whole.up)[axis]
    places: list[float] = []
    step_m = 0.0
    for slab in slabs:
        ends = np.sort((slab.corners - whole.corners[0]) @ way)[[0, -1]]
        count = max(2, int(np.ceil((ends[1] - ends[0]) / BAR_STEP_M - 1e-9)))
        step_m = max(step_m, float(ends[1] - ends[0]) / count)
        places += (ends[0] + (ends[1] - ends[0]) * (np.arange(count) + 0.5) / count).tolist()
    kept: list[float] = []
    for place in sorted(places):
        if not kept or place - kept[-1] >= _SAME_BAR_M:
            kept.append(round(place, 4))
    timber = batten_for(rail)
    thin, deep = timber.thickness_m, timber.depth_m
    build = whole.build
    each_kg_m2 = wool_kg(build, 1.0) + cloth_kg(build, (1.0, 1.0), (1.0, 1.0))
    each_kg_m2 += PLYWOOD_KG_M3 * BOARD_M if build.back == "solid" else 0.0
    kg_m = step_m * each_kg_m2 + timber.kg_m
    flat_m, on_edge_m = longest_span_m(deep, thin, kg_m), longest_span_m(thin, deep, kg_m)
    across = (whole.height_m, whole.width_m)[axis] + rail.thickness_m
    on_edge = across > flat_m
    return Bars(timber, on_edge, tuple(kept), on_edge_m if on_edge else flat_m)


def _piece(slabs: Sequence[PlacedPanel], whole: PlacedPanel, axis: int, rail: Timber, bars: Bars) -> Piece:
    """All of a raft: its timber, the slabs in it, one cloth below and round it and one above."""
    build = whole.build
    sides = whole.width_m, whole.height_m
    length, across = sides[axis], sides[1 - axis]
    parts = (
        Part("raft rail", rail, length + 2.0 * rail.thickness_m, 2),
        Part("raft end", rail, across, 2),
        Part("raft bar", bars.timber, across + 2.0 * rail.thickness_m, len(bars.along_m)),
    )
    width, height = (side + 2.0 * rail.thickness_m for side in sides)
    depth = whole.depths.outer_m - whole.depths.board_m + bars.deep_m
    front = width + 2 * (depth + WRAP_M), height + 2 * (depth + WRAP_M)
    is_solid = build.back == "solid"
    slab_m2 = sum(slab.area_m2 for slab in slabs)
    return Piece(
        parts=parts,
        slab_m=(*sides, build.thickness),
        outer_m=(width, height, depth + whole.depths.board_m),
        front_cloth_m=front,
        back_cloth_m=(width, height),
        board_m=build.size if is_solid else None,
        wool_kg=wool_kg(build, slab_m2),
        timber_kg=sum(part.count * part.length_m * part.timber.kg_m for part in parts),
        cloth_kg=cloth_kg(build, front, (width, height)),
        board_kg=PLYWOOD_KG_M3 * BOARD_M * slab_m2 if is_solid else 0.0,
    )

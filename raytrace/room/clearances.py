"""Whether a panel may be where a scene puts it: refused with the reason where it may not."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Hint, Sentence, millimetres, sentence
from raytrace.room.facets import Facet, turns_around
from raytrace.room.fitting import refuse_overhang
from raytrace.room.panels import PlacedPanel, round_all
from raytrace.room.setout import Orientation, is_overhead, orientation, shared_size_m
from raytrace.room.surfaces import PlacedOpening, Surface
from raytrace.scene import KeepOut, KeyPath, Scene

Floats = NDArray[np.float64]

TOUCH_M = 0.0005  # half a millimetre: what people round to when they write a length down
HEAD_ROOM_M = 2.0  # common practice, no source
_DOOR_WAY_M = 0.9  # what a person with something to carry needs before a door; common practice, no source
_ON_FLOOR_M = 0.020  # thinner than anything that stands
_ROUND = np.radians(np.arange(11.25, 360.0, 22.5))
_QUARTER = np.radians(np.arange(0.0, 91.0, 15.0))


@dataclass(frozen=True)
class Solid:
    """A convex body: its corners (n, 3) [m] and the directions of its edges (m, 3)."""

    corners: Floats
    edges: Floats

    @cached_property
    def low(self) -> Floats:
        """Smallest x, y and z, (3,). [m]"""
        return np.asarray(self.corners.min(axis=0))

    @cached_property
    def high(self) -> Floats:
        """Largest x, y and z, (3,). [m]"""
        return np.asarray(self.corners.max(axis=0))


def prism(outline: Floats, along: Floats) -> Solid:
    """The body between a flat convex outline (n, 3) and the same one moved by `along` (3,). [m]"""
    sides = _sides(outline)
    # The other two sides of a parallelogram say nothing new.
    sides = sides[:2] if len(sides) == 4 and np.abs(sides[0] + sides[2]).max() < 1e-12 else sides
    edges = np.concatenate([sides, along[None]])
    return Solid(np.concatenate([outline, outline + along]), edges[edges.any(axis=1)])


def _sides(outline: Floats) -> Floats:
    """From each corner of an outline (n, 3) to the next one. [m]"""
    return np.concatenate([outline[1:], outline[:1]]) - outline


def overlap_m(a: Solid, b: Solid) -> float:
    """By how much one convex body must be moved to leave another; negative or 0 where they are apart. [m]

    Notes
    -----
    Two convex bodies are apart exactly if their shadows are apart along the normal of a face of one of
    them or along the product of two of their edges (separating axes; textbook).
    """
    boxes = float(np.minimum(a.high - b.low, b.high - a.low).min())
    if boxes <= 0.0:
        return boxes
    pairs = [(a.edges, a.edges), (b.edges, b.edges), (a.edges, b.edges)]
    axes = np.concatenate([_products(p, q) for p, q in pairs])
    length = np.linalg.norm(axes, axis=1)
    axes = axes[length > 1e-9] / length[length > 1e-9, None]
    shadow_a, shadow_b = a.corners @ axes.T, b.corners @ axes.T
    apart = np.minimum(
        shadow_a.max(axis=0) - shadow_b.min(axis=0), shadow_b.max(axis=0) - shadow_a.min(axis=0)
    )
    return float(apart.min())


def _products(p: Floats, q: Floats) -> Floats:
    """Vector products of each of some vectors (n, 3) with each of others (m, 3), (n m, 3)."""
    x, y, z = p.T[:, :, None]
    u, v, w = q.T[:, None, :]
    return np.stack([y * w - z * v, z * u - x * w, x * v - y * u], axis=-1).reshape(-1, 3)


def panel_solid(panel: PlacedPanel) -> Solid:
    """A panel as a body, as deep as it is made."""
    return prism(panel.corners, -panel.depths.outer_m * panel.normal)


@dataclass(frozen=True)
class Site:
    """What a panel must keep clear of.

    Attributes
    ----------
    scene : Scene
    surfaces, facets, openings
        Of the room and its objects.
    skins : dict
        Triangles (n, 3, 3) of the room and of each object, by owner; None for the room. [m]
    """

    scene: Scene
    surfaces: Sequence[Surface]
    facets: Sequence[Facet]
    openings: Sequence[PlacedOpening]
    skins: dict[str | None, Floats]

    @cached_property
    def swings(self) -> tuple[tuple[str, Solid], ...]:
        """What the leaf of each opening that has one sweeps, with the opening's name."""
        return tuple(
            (opening.name, _swept(self, opening))
            for opening in self.openings
            if self.scene.openings[opening.index].swing is not None
        )

    @cached_property
    def kept_free(self) -> tuple[tuple[KeepOut, Solid], ...]:
        """Each place that is kept free, as deep as it is."""
        return tuple((keep_out, _kept_solid(self, keep_out)) for keep_out in self.scene.keep_outs)

    @cached_property
    def boxes(self) -> dict[str | None, tuple[Floats, Floats]]:
        """Smallest and largest x, y, z of every triangle of the skins, both (n, 3). [m]"""
        return {owner: (skin.min(axis=1), skin.max(axis=1)) for owner, skin in self.skins.items()}


def check_clearances(site: Site, panels: Sequence[PlacedPanel], clear: Sequence[PlacedPanel] = ()) -> None:
    """Refuse the first panel that is not where it may be.

    Parameters
    ----------
    site : Site
    panels : sequence of PlacedPanel
    clear : sequence of PlacedPanel
        Panels that were where they may be at the same site: of those that have not moved it is only asked
        whether what has moved runs into them.

    Raises
    ------
    SceneError
        That says what is in the way and by how much.
    """
    before = {(panel.key, panel.member): panel for panel in clear}
    moved: list[PlacedPanel] = []
    for index, panel in enumerate(panels):
        if _stays(panel, before.get((panel.key, panel.member))):
            reason = _into_panel(panel_solid(panel), moved) if moved else None
        else:
            reason = why_not(site, panel, panels[:index])
            moved.append(panel)
        if reason is not None:
            raise site.scene.error(place_key(site.scene, panel), _about(panel.name, reason))
    for key in dict.fromkeys(panel.key for panel in panels if panel.in_raft):
        own = [panel for panel in panels if panel.key == key]
        whole = round_all(own)
        reason = _why_no_raft(site, whole, [panel for panel in panels if panel.key != key])
        if reason is not None:
            raise site.scene.error((*key, "raft"), _about(whole.name, reason, "the frame of "))


def _stays(panel: PlacedPanel, before: PlacedPanel | None) -> bool:
    """Whether a panel is what and where it was."""
    return (
        before is not None
        and (panel.kind, panel.surface, panel.build) == (before.kind, before.surface, before.build)
        and np.array_equal(panel.corners, before.corners)
    )


def _about(name: str, reason: Sentence, part: str = "") -> Sentence:
    return sentence('{part}"{name}" {reason}', part=part, name=name, reason=reason)


def _why_no_raft(site: Site, whole: PlacedPanel, others: Iterable[PlacedPanel]) -> Sentence | None:
    """What lies between the slabs of a raft, where its bars run, though no slab covers it."""
    solid = panel_solid(whole)
    return (
        _over_opening(site, whole)
        or _over_keep_out(site, whole, solid)
        or _into_something(site, solid)
        or _into_panel(solid, others)
    )


def place_key(scene: Scene, panel: PlacedPanel) -> KeyPath:
    """The key that says where a panel is."""
    if panel.kind == "cloud" and scene.clouds[int(panel.key[1])].panels:
        return (*panel.key, "panels", panel.member, "centre")
    return (*panel.key, "at" if panel.kind == "stand" else "centre")


def why_not(site: Site, panel: PlacedPanel, others: Iterable[PlacedPanel]) -> Sentence | None:
    """Why a panel may not be where it is, as the rest of a sentence; None where nothing speaks against it.

    Parameters
    ----------
    site : Site
    panel : PlacedPanel
    others : iterable of PlacedPanel
        Panels that are there already.

    Raises
    ------
    SceneError
        For a panel on a surface that reaches past its edge.
    """
    solid = panel_solid(panel)
    if panel.kind == "surface" and panel.surface is not None:
        surface = site.surfaces[panel.surface]
        refuse_overhang(site.scene, place_key(site.scene, panel), panel.rect, surface, site.facets)
    return (
        _not_drilled(site, panel)
        or _over_opening(site, panel)
        or _in_swing(site, solid)
        or _over_keep_out(site, panel, solid)
        or _into_something(site, solid)
        or _into_panel(solid, others)
        or _low_head_room(site, panel)
        or _around_someone(site, panel)
    )


def why_no_body(site: Site, solid: Solid, others: Iterable[PlacedPanel]) -> Sentence | None:
    """Why something that belongs to a panel, its feet say, may not be where it is; None where it may."""
    return (
        _in_swing(site, solid)
        or _in_kept_free(solid, site.kept_free)
        or _into_something(site, solid)
        or _into_panel(solid, others)
    )


def may_drill(scene: Scene, surface: Surface) -> bool:
    """Whether a surface may be drilled: a floor needs no holes."""
    drilling, is_floor = scene.job.drilling, orientation(surface.frame.n) is Orientation.LEVEL_UP
    if drilling is None or isinstance(drilling, bool):
        return drilling is not False or is_floor
    return surface.name in drilling or surface.owner in drilling or is_floor


_STANDS_INSTEAD = Hint(": use [[stands]] there, standing or leaning")
_HUNG_INSTEAD = (
    ": nothing that stands reaches it; ask whether it may be drilled, sit nearer to the speakers, or carry a "
    "cloud on a frame with legs of its own, which is not planned here"
)


def _not_drilled(site: Site, panel: PlacedPanel) -> Sentence | None:
    if panel.kind == "stand" or panel.surface is None:
        return None
    surfaces = [site.surfaces[panel.surface]]
    if panel.kind == "corner":
        other = site.scene.panels[int(panel.key[1])].across_corner
        surfaces += [surface for surface in site.surfaces if surface.name == other]
    if any(may_drill(site.scene, surface) for surface in surfaces):
        return None
    return sentence(
        'needs fixings in "{surface}", which may not be drilled{key}{instead}',
        surface=surfaces[0].name,
        key=Hint(" (job.drilling)"),
        instead=_HUNG_INSTEAD if is_overhead(surfaces[0].frame.n) else _STANDS_INSTEAD,
    )


def _over_opening(site: Site, panel: PlacedPanel) -> Sentence | None:
    for opening in site.openings:
        if opening.kind == "cover" or panel.surface != opening.surface:
            continue
        shared = shared_size_m(panel.rect, opening.rect)
        in_the_way = opening.kind == "door" and panel.gap_m < _DOOR_WAY_M
        if (shared > TOUCH_M).all() and (panel.kind != "stand" or in_the_way):
            wide, high = (millimetres(side) for side in shared)
            covered = 'covers {wide} x {high} of the {kind} "{opening}"'
            return sentence(covered, wide=wide, high=high, kind=opening.kind, opening=opening.name)
    return None


def _in_swing(site: Site, solid: Solid) -> Sentence | None:
    for name, swept in site.swings:
        reach_m = overlap_m(solid, swept)
        if reach_m > TOUCH_M:
            in_the_way = 'stands {reach} in the way of the leaf of "{opening}"'
            return sentence(in_the_way, reach=millimetres(reach_m), opening=name)
    return None


def in_swings(site: Site) -> tuple[tuple[str, str], ...]:
    """Each object that stands where the leaf of an opening sweeps, with the opening's name."""
    return tuple(
        (owner, name)
        for name, swept in site.swings
        for owner in site.skins
        if owner is not None and _reaches_into(site, owner, swept)
    )


def _reaches_into(site: Site, owner: str, solid: Solid) -> bool:
    skin, (lows, highs) = site.skins[owner], site.boxes[owner]
    near = np.flatnonzero(((highs > solid.low) & (lows < solid.high)).all(axis=1)).tolist()
    if any(overlap_m(solid, _triangle(skin[k])) > TOUCH_M for k in near):
        return True
    return bool(abs(turns_around(solid.corners.mean(axis=0)[None], skin)[0]) > 0.5)


def _swept(site: Site, opening: PlacedOpening) -> Solid:
    """What the leaf of an opening sweeps on its way."""
    swing = site.scene.openings[opening.index].swing
    assert swing is not None, "asked of openings with a leaf only"
    frame = site.surfaces[opening.surface].frame
    u0, v0, u1, v1 = opening.rect
    hinge, leaf = (u0, u1 - u0) if swing.hinge == "left" else (u1, u0 - u1)
    sector = [(hinge, v0, 0.0)]
    sector += [(hinge + leaf * np.cos(q), v0, swing.out * np.sin(q)) for q in _QUARTER]
    outline = np.array([frame.to_room(np.array([u, v])) + out * frame.n for u, v, out in sector])
    return prism(outline, (v1 - v0) * frame.v)


def _over_keep_out(site: Site, panel: PlacedPanel, solid: Solid) -> Sentence | None:
    own = None if panel.surface is None or panel.kind == "stand" else site.surfaces[panel.surface]
    for keep_out, kept in site.kept_free:
        if own is None or keep_out.surface != own.name:
            reason = _in_kept_free(solid, [(keep_out, kept)])
            if reason is not None:
                return reason
            continue
        # Whatever hangs under it covers it, however far below.
        outline = _outline(keep_out)
        on_plane = np.column_stack([own.frame.to_plane(panel.corners), np.zeros(4)])
        flat = np.column_stack([outline, np.zeros(len(outline))])
        up = np.array([0.0, 0.0, 1.0])
        reach_m = overlap_m(prism(on_plane, up), prism(flat, up))
        if reach_m > TOUCH_M:
            return _kept_free(keep_out, reach_m)
    return None


def _in_kept_free(solid: Solid, kept_free: Iterable[tuple[KeepOut, Solid]]) -> Sentence | None:
    for keep_out, kept in kept_free:
        reach_m = overlap_m(solid, kept)
        if reach_m > TOUCH_M:
            return _kept_free(keep_out, reach_m)
    return None


def _kept_solid(site: Site, keep_out: KeepOut) -> Solid:
    """What is kept free, as deep as it is."""
    frame = next(surface.frame for surface in site.surfaces if surface.name == keep_out.surface)
    is_floor = orientation(frame.n) is Orientation.LEVEL_UP
    # A floor that is kept free is free of what stands on it, whatever depth was given.
    depth_m = max(keep_out.depth, _ON_FLOOR_M) if is_floor else keep_out.depth
    return prism(frame.to_room(_outline(keep_out)), depth_m * frame.n)


def _kept_free(keep_out: KeepOut, reach_m: float) -> Sentence:
    return sentence(
        'reaches {reach} into what is kept free for "{keep_out}"{why}',
        reach=millimetres(reach_m),
        keep_out=keep_out.name,
        why=f" ({keep_out.reason})" if keep_out.reason else "",
    )


def _outline(keep_out: KeepOut) -> Floats:
    """What is kept free on its surface, (n, 2): discs as the sixteen-sided figure round them. [m]"""
    if keep_out.at is not None and keep_out.size is not None:
        (u, v), (w, h) = keep_out.at, keep_out.size
        return np.array([(u, v), (u + w, v), (u + w, v + h), (u, v + h)])
    assert keep_out.centre is not None
    assert keep_out.radius is not None
    reach_m = keep_out.radius / np.cos(np.pi / len(_ROUND))
    disc: Floats = np.array(keep_out.centre) + reach_m * np.column_stack([np.cos(_ROUND), np.sin(_ROUND)])
    return disc


def _into_something(site: Site, solid: Solid) -> Sentence | None:
    """Walls and objects that a panel runs into."""
    for owner, skin in site.skins.items():
        lows, highs = site.boxes[owner]
        reaches, begins = highs > solid.low, lows < solid.high
        if owner is not None and not (reaches.any(axis=0) & begins.any(axis=0)).all():
            continue
        near = np.flatnonzero((reaches & begins).all(axis=1)).tolist()
        reach_m = max((overlap_m(solid, _triangle(skin[k])) for k in near), default=0.0)
        turns = abs(turns_around(solid.corners.mean(axis=0)[None], skin)[0])
        if owner is None and (reach_m > TOUCH_M or turns < 0.5):
            return _wall_hit(site, solid)
        if owner is not None and (reach_m > TOUCH_M or turns > 0.5):
            if turns < 0.5:
                return sentence('runs into "{thing}" by {reach}', thing=owner, reach=millimetres(reach_m))
            return sentence('runs into "{thing}"', thing=owner)
    return None


def _triangle(corners: Floats) -> Solid:
    return Solid(corners, _sides(corners))


def _wall_hit(site: Site, solid: Solid) -> Sentence:
    """Which surface of the room a panel goes through deepest, and by how much."""
    through = []
    for surface in site.surfaces:
        if surface.owner is None:
            heights = (solid.corners - surface.frame.origin) @ surface.frame.n
            past_m = -float(heights.min())
            if past_m > TOUCH_M and heights.max() > 0.0:
                through.append((past_m, surface.name))
    if not through:
        return sentence("reaches out of the room")
    past_m, name = min(through)
    return sentence('reaches {past} into "{wall}"', past=millimetres(past_m), wall=name)


def _into_panel(solid: Solid, others: Iterable[PlacedPanel]) -> Sentence | None:
    (x0, y0, z0), (x1, y1, z1) = solid.low.tolist(), solid.high.tolist()
    for other in others:
        left, front, low, right, rear, high = other.box
        # Most are nowhere near: only bodies whose boxes meet are worth a closer look.
        if right <= x0 or left >= x1 or rear <= y0 or front >= y1 or high <= z0 or low >= z1:
            continue
        reach_m = overlap_m(solid, panel_solid(other))
        if reach_m > TOUCH_M:
            return sentence('overlaps "{other}" by {reach}', other=other.name, reach=millimetres(reach_m))
    return None


def _low_head_room(site: Site, panel: PlacedPanel) -> Sentence | None:
    """A cloud too low to walk under, unless an object stands below or the ceiling itself is that low."""
    if panel.kind != "cloud" or panel.surface is None:
        return None
    floor_m = float(site.skins[None][..., 2].min())
    lowest = panel.corners[np.argmin(panel.corners[:, 2])]
    frame = site.surfaces[panel.surface].frame
    ceiling_m = lowest[2] - float((lowest - frame.origin) @ frame.n) / float(frame.n[2])
    head_room_m = float(lowest[2]) - floor_m
    if (
        head_room_m >= HEAD_ROOM_M - TOUCH_M
        or ceiling_m - floor_m < HEAD_ROOM_M
        or _is_over_object(site, panel)
    ):
        return None
    return sentence(
        "leaves {left} of head room; {kept} are kept except over a desk or another object",
        left=millimetres(head_room_m),
        kept=millimetres(HEAD_ROOM_M),
    )


def _is_over_object(site: Site, panel: PlacedPanel) -> bool:
    x, y, z = panel.centre
    for owner, skin in site.skins.items():
        if owner is not None:
            low, high = skin.min(axis=(0, 1)), skin.max(axis=(0, 1))
            if low[0] <= x <= high[0] and low[1] <= y <= high[1] and high[2] <= z:
                return True
    return False


def _around_someone(site: Site, panel: PlacedPanel) -> Sentence | None:
    placed = [('holds the speaker "{name}"', s.name, s.position) for s in site.scene.speakers]
    placed += [('holds the ears of the seat "{name}"', s.name, s.ears) for s in site.scene.seats]
    for what, name, position in placed:
        x, y, z = np.array([panel.right, panel.up, -panel.normal]) @ (np.array(position) - panel.corners[0])
        if 0.0 < x < panel.width_m and 0.0 < y < panel.height_m and 0.0 < z < panel.thickness_m:
            return sentence(what, name=name)
    return None

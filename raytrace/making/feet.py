"""Feet of stands: what they take of the floor, and what they run into there."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, millimetres, sentence
from raytrace.making.frameroom import with_frame
from raytrace.making.stands import TOUCHES_M, StandBody, find_stability, stand_body, why_unstable
from raytrace.room import TOUCH_M, PlacedPanel, Room, Site, Solid, overlap_m, prism, why_no_body
from raytrace.scene import Scene

Floats = NDArray[np.float64]

_UP = np.array([0.0, 0.0, 1.0])


def feet_solids(panel: PlacedPanel) -> tuple[Solid, ...]:
    """What a stand needs below and beside its panels: legs and feet, or blocks, each as a body.

    Parameters
    ----------
    panel : PlacedPanel
    """
    return () if panel.kind != "stand" else _carrying(panel, stand_body(panel))


def _carrying(panel: PlacedPanel, body: StandBody) -> tuple[Solid, ...]:
    carried = (part for part in body.parts if part.name != "panel")
    return tuple(prism(_in_room(panel, p.across_m[0], p.side), _span(panel, p.across_m)) for p in carried)


def feet_outlines(panel: PlacedPanel) -> tuple[Floats, ...]:
    """What a stand rests on from above: an outline of each foot or block on the floor, (4, 3). [m]"""
    outlines = []
    for part in stand_body(panel).parts:
        if part.name in ("foot", "block"):
            rear, front = part.side[:, 0].min(), part.side[:, 0].max()
            ends = np.array([(rear, 0.0), (front, 0.0)])
            left, right = (_in_room(panel, across, ends) for across in part.across_m)
            outlines.append(np.concatenate([left, right[::-1]]))
    return tuple(outlines)


def _in_room(panel: PlacedPanel, across_m: float, side: Floats) -> Floats:
    """Points of a stand in the room, (n, 3): so far to its right, ahead of its front edge and up (n, 2)."""
    ahead = panel.normal * [1.0, 1.0, 0.0]
    ahead /= np.linalg.norm(ahead)
    start = 0.5 * (panel.corners[0] + panel.corners[1]) * [1.0, 1.0, 0.0]
    points: Floats = start + across_m * panel.right + side[:, :1] * ahead + side[:, 1:] * _UP
    return points


def _span(panel: PlacedPanel, across_m: tuple[float, float]) -> Floats:
    return (across_m[1] - across_m[0]) * panel.right


def site_of(scene: Scene, room: Room) -> Site:
    """What something new in a room must keep clear of."""
    return Site(scene, room.surfaces, room.facets[: room.n_solid_facets], room.openings, room.skins)


def why_no_stand(site: Site, panel: PlacedPanel, others: Sequence[PlacedPanel]) -> Sentence | None:
    """Why a stand is not put up: it would not stand, or its feet and legs cannot be where they must.

    Parameters
    ----------
    site : Site
    panel : PlacedPanel
    others : sequence of PlacedPanel
        Panels that are there already, as they are placed; frames, and feet of those that stand, count too.

    Returns
    -------
    Sentence or None
        The rest of a sentence; None where nothing speaks against it.
    """
    body = stand_body(panel)
    return why_unstable(panel, body) or _why_no_feet(site, panel, body, others)


def _why_no_feet(
    site: Site, panel: PlacedPanel, body: StandBody, others: Sequence[PlacedPanel]
) -> Sentence | None:
    framed = [with_frame(other) for other in others]
    feet = [foot for other in others for foot in feet_solids(other)]
    for solid in _carrying(panel, body):
        reason = why_no_body(site, solid, framed)
        if reason is None:
            met = any(overlap_m(solid, foot) > TOUCH_M for foot in feet)
            reason = sentence("meets those of another stand") if met else None
        if reason is not None:
            needs = "needs feet {long} long so that it does not tip: with them it {reason}"
            return sentence(needs, long=millimetres(body.foot_m), reason=reason)
    return None


def check_stands(scene: Scene, room: Room) -> None:
    """Refuse the first stand of a scene that is not to be built as it is given.

    Raises
    ------
    SceneError
        That says which limit it does not keep.
    """
    for found in find_stability(scene, room):
        panel = room.panels[found.panel]
        reason = why_unstable(panel, found.body)
        if reason is None and found.leans and not found.to_wall_m <= TOUCHES_M:
            before = sentence(": its top ends {short} before the wall", short=millimetres(found.to_wall_m))
            reason = sentence("leans on nothing{before}", before="" if np.isnan(found.to_wall_m) else before)
        if reason is not None:
            raise scene.error(panel.key, sentence('"{panel}" {reason}', panel=panel.name, reason=reason))


def feet_notes(scene: Scene, room: Room) -> tuple[Sentence, ...]:
    """Stands whose feet have no room where a scene puts them, a sentence each.

    Parameters
    ----------
    scene, room : Scene, Room
    """
    stands = [panel for panel in room.panels if panel.kind == "stand"]
    if not stands:
        return ()
    site = site_of(scene, room)
    notes = []
    for panel in stands:
        others = [other for other in room.panels if other is not panel]
        reason = _why_no_feet(site, panel, stand_body(panel), others)
        if reason is not None:
            notes.append(sentence("{panel} {reason}.", panel=panel.name, reason=reason))
    return tuple(notes)

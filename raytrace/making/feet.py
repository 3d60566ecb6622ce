"""Feet of stands: what they take of the floor, and what they run into there."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, millimetres, sentence
from raytrace.making.frameroom import with_frame
from raytrace.making.loads import find_foot_m
from raytrace.room import TOUCH_M, PlacedPanel, Room, Site, Solid, overlap_m, prism, why_no_body
from raytrace.scene import Scene

Floats = NDArray[np.float64]

FOOT_HEIGHT_M = 0.045
"""Of the timber that a foot is made of, laid flat. Common practice, no source."""
_UP = np.array([0.0, 0.0, 1.0])
_ON_FLOOR_M = 0.010


def feet_solids(panel: PlacedPanel) -> tuple[Solid, ...]:
    """What a stand needs below and beside its panel: its feet as one plate, and the legs of a raised one.

    A leaning panel needs none. Feet are as deep as makes it tip beyond ten degrees only, centred under
    the panel.

    Parameters
    ----------
    panel : PlacedPanel
    """
    if panel.kind != "stand" or panel.normal[2] > 1e-6:
        return ()
    outer = with_frame(panel)
    ends = outer.corners[:2] * [1.0, 1.0, 0.0]
    middle = ends - 0.5 * panel.thickness_m * panel.normal
    reach = 0.5 * find_foot_m(panel) * panel.normal
    plate = np.array([middle[0] - reach, middle[1] - reach, middle[1] + reach, middle[0] + reach])
    solids = [prism(plate, FOOT_HEIGHT_M * _UP)]
    lift_m = float(panel.corners[:, 2].min())
    if lift_m > _ON_FLOOR_M:
        back = ends - panel.thickness_m * panel.normal
        solids.append(prism(np.array([ends[0], ends[1], back[1], back[0]]), lift_m * _UP))
    return tuple(solids)


def site_of(scene: Scene, room: Room) -> Site:
    """What something new in a room must keep clear of."""
    return Site(scene, room.surfaces, room.facets[: room.n_solid_facets], room.openings, room.skins)


def why_no_feet(site: Site, panel: PlacedPanel, others: Sequence[PlacedPanel]) -> Sentence | None:
    """Why a stand's feet and legs cannot be where they must, as the rest of a sentence; None where they can.

    Parameters
    ----------
    site : Site
    panel : PlacedPanel
    others : sequence of PlacedPanel
        Panels that are there already; the feet of those that stand count too.
    """
    for solid in feet_solids(panel):
        reason = why_no_body(site, solid, others)
        if reason is None:
            feet = [foot for other in others for foot in feet_solids(other)]
            met = any(overlap_m(solid, foot) > TOUCH_M for foot in feet)
            reason = sentence("meets those of another stand") if met else None
        if reason is not None:
            needs = "needs feet {deep} deep: with them it {reason}"
            return sentence(needs, deep=millimetres(find_foot_m(panel)), reason=reason)
    return None


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
        reason = why_no_feet(site, panel, others)
        if reason is not None:
            notes.append(sentence("{panel} {reason}.", panel=panel.name, reason=reason))
    return tuple(notes)

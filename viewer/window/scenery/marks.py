"""Outlines of what is selected to be moved: where it is, and where it was asked to be and cannot."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from raytrace import KeyPath
from viewer import look
from viewer.pictures import Layer, column, dashes, loops_of, meshes, one_colour, outlines, picked, polylines
from viewer.window.state import OnScreen, Thing, partner_of, plan_lines, point_of, surface_outline, things_of

Floats = NDArray[np.float64]

DASH_M = 0.05


def marks(shown: OnScreen) -> dict[str, Layer]:
    """What is selected, moves with it or is held over the room in outline; dashed where it cannot be.

    Dashed as well is what a refused change would have left no place for.
    """
    scale = shown.stage.scale
    lines = [] if shown.thing is None else outline_of(shown, shown.thing)
    asked: list[Floats] = []
    if shown.thing is not None and shown.wanted is not None:
        step = np.array(shown.wanted) - point_of(shown.study, shown.thing)
        asked = [np.array(ends) + step for line in lines for ends in pairwise(line)]
    for path in shown.misfits:
        asked += [np.array(ends) for line in entry_outline(shown, path) for ends in pairwise(line)]
    partner = partner_of(shown.study, shown.thing) if shown.thing is not None and shown.in_pairs else None
    both = lines if partner is None else lines + outline_of(shown, partner)
    for path in shown.entries:
        if path != shown.thing:
            both = [*both, *entry_outline(shown, path)]
    both = both if shown.placing is None else [*both, *shown.placing.outline]
    both = [*both, *plan_lines(shown)]
    parts = {"mark": polylines(both), "refused mark": dashes(polylines(asked), dash_m=DASH_M * scale)}
    return {
        name: Layer(
            mesh, one_colour(shown.colours.accent, mesh), radius_m=look.OUTLINE_M * scale, is_over=True
        )
        for name, mesh in parts.items()
    }


def entry_outline(shown: OnScreen, path: KeyPath) -> list[Floats]:
    """Lines round a table of the scene that is selected, where the study has it already."""
    if path in things_of(shown.study):
        return outline_of(shown, path)
    return surface_outline(shown.study, path)


def outline_of(shown: OnScreen, thing: Thing) -> list[Floats]:
    """Lines (k, 3) round a thing. [m]"""
    study, (kind, index) = shown.study, thing
    if kind == "objects":
        name, stage = study.scene.objects[index].name, shown.stage
        solid = study.room.facets[: study.room.n_solid_facets]  # a cloud may have the name of an object
        own = [i for i, f in enumerate(solid) if study.room.surfaces[f.surface].owner == name]
        return loops_of(picked(stage.edges, np.any(np.isin(column(stage.edges, "facets", 4), own), axis=1)))
    if kind in ("speakers", "seats"):
        mesh = meshes.speakers(study) if kind == "speakers" else meshes.zones(study)
        return loops_of(outlines(picked(mesh, column(mesh, kind.rstrip("s")) == index)))
    own_panels = [panel for panel in study.room.panels if panel.key[:2] == (kind, index)]
    return [np.vstack([face, face[:1]]) for p in own_panels for face in (p.corners, p.back)]

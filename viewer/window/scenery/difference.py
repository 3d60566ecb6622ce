"""What differs from another variant of the room: where its things stand, and what stands here alone."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from raytrace import KeyPath, Scene
from viewer import look
from viewer.pictures import Layer, dashes, loops_of, one_colour, polylines
from viewer.window.scenery.marks import entry_outline
from viewer.window.state import OnScreen

Floats = NDArray[np.float64]

KINDS = ("speakers", "seats", "objects", "openings", "keep_outs", "joists", "panels", "stands", "clouds")
DASH_M = 0.04
MOST_NAMES = 6
HERE_M = 0.004  # radius of the lines round what only stands here


def differences(shown: OnScreen) -> dict[str, Layer]:
    """Dashed what the other variant has otherwise or alone, in thin lines what this one has."""
    there: list[Floats] = []
    here: list[Floats] = []
    scale = shown.stage.scale
    if shown.beside is not None:
        other = _as_other(shown)
        scenes = shown.study.scene, other.study.scene
        there = [line for path in differing(*scenes) for line in entry_outline(other, path)]
        if shown.beside.study.scene.room != shown.study.scene.room:
            there += loops_of(shown.beside.stage.edges)
        here = [line for path in differing(*scenes[::-1]) for line in entry_outline(shown, path)]
    steps = dashes(
        polylines([np.array(ends) for line in there for ends in pairwise(line)]), dash_m=DASH_M * scale
    )
    lines = polylines(here)
    colour = shown.colours.ink
    return {
        "there": Layer(steps, one_colour(colour, steps), radius_m=look.OUTLINE_M * scale, is_over=True),
        "here": Layer(lines, one_colour(colour, lines), radius_m=HERE_M * scale, is_over=True),
    }


def differing(one: Scene, other: Scene) -> list[KeyPath]:
    """Entries of `other` that are none of `one`."""
    return [
        (kind, k)
        for kind in KINDS
        for k, entry in enumerate(getattr(other, kind))
        if entry not in getattr(one, kind)
    ]


def _as_other(shown: OnScreen) -> OnScreen:
    assert shown.beside is not None
    return replace(shown, study=shown.beside.study, stage=shown.beside.stage)


def other_names(shown: OnScreen) -> list[tuple[str, Floats]]:
    """Names of what the other variant has otherwise or alone, a few of them, and where they stand."""
    if shown.beside is None:
        return []
    other = _as_other(shown)
    names = []
    for path in differing(shown.study.scene, other.study.scene):
        lines, entry = entry_outline(other, path), getattr(other.study.scene, str(path[0]))[path[1]]
        if lines and getattr(entry, "name", None):
            names.append((f"{entry.name} in {shown.beside.name}", np.vstack(lines).mean(axis=0)))
    return names if len(names) <= MOST_NAMES else []

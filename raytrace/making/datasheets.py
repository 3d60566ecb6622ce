"""Data sheet of a build as it is used: absorption, ratings, depth, mass, and the next thinner and thicker."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import (
    Medium,
    Rating,
    absorption,
    air_density_kg_m3,
    band_frequencies_hz,
    random_absorption,
    rate_stack,
    speed_of_sound_m_s,
)
from raytrace.facts import Amount, Sentence, Unit, sentence
from raytrace.making.framing import mass_notes, take_apart
from raytrace.making.timber import BATTEN, batten_for, frame_timber
from raytrace.room import PlacedPanel, Room, depths_of, facing_note, stack_of
from raytrace.scene import Air, Build, Scene

Floats = NDArray[np.float64]

_USUAL_MM = (20, 30, 50, 75, 100, 150, 200, 300)
_USUAL_INCHES = (1, 2, 3, 4, 6, 8, 12)
_SAME_M = 0.002
_LOWEST_Y = 0.01  # f / flow resistivity down to which Miki's fit was made


@dataclass(frozen=True, eq=False)
class ThicknessCurve:
    """What one thickness of a build does on a hard wall.

    Attributes
    ----------
    thickness_m : float
    depth_m : float
        With the air behind it, to the wall.
    normal, random : (n_bands,) float
        Absorption per octave, mean over the band: head on, and from all sides.
    rating : Rating
    mass_kg : float
        Of one panel, frame and cloth included.
    """

    thickness_m: float
    depth_m: float
    normal: Floats
    random: Floats
    rating: Rating
    mass_kg: float


@dataclass(frozen=True, eq=False)
class DataSheet:
    """What a client may know of one build as it is mounted.

    Attributes
    ----------
    build_name : str
    build : Build
    gap_m : float
        Air between the back of what is made and the wall; what the frame holds behind its wool is beside it.
    used_for : tuple of str
        Names of the panels.
    own, thinner, thicker : ThicknessCurve
        The build, and the same wool in the next usual thicknesses with the same air behind; None
        where none is usual or none was asked for.
    notes : tuple of Sentence
        What was assumed.
    """

    build_name: str
    build: Build
    gap_m: float
    used_for: tuple[str, ...]
    own: ThicknessCurve
    thinner: ThicknessCurve | None
    thicker: ThicknessCurve | None
    notes: tuple[Sentence, ...]


def list_datasheets(scene: Scene, room: Room) -> tuple[DataSheet, ...]:
    """A sheet for each build of a room's panels and each depth of air behind it.

    Parameters
    ----------
    scene, room : Scene, Room

    Returns
    -------
    tuple of DataSheet
        In the order of the panels. Panels that stand or hang free of any surface are shown on a hard wall.
    """
    groups: dict[tuple[str, float], list[PlacedPanel]] = {}
    for panel in room.panels:
        gap_m = round(panel.clear_m, 3) if panel.acts_as == "patch" and panel.build.back == "open" else 0.0
        groups.setdefault((panel.build_name, max(gap_m, 0.0)), []).append(panel)
    return tuple(
        make_datasheet(name, scene.build(name), gap_m=gap_m, air=scene.air, panels=panels)
        for (name, gap_m), panels in groups.items()
    )


def make_datasheet(
    name: str,
    build: Build,
    *,
    gap_m: float,
    air: Air,
    panels: Sequence[PlacedPanel] = (),
    alone: bool = False,
) -> DataSheet:
    """The sheet of one build.

    Parameters
    ----------
    name, build : str, Build
    gap_m : float
        Between the back of what is made and a hard wall. [m]
    air : Air
        Of the room.
    panels : sequence of PlacedPanel
        Those that are built so.
    alone : bool
        Without its neighbours, which take two thirds of the time.

    Returns
    -------
    DataSheet
    """
    medium = Medium(speed_of_sound_m_s(air.temperature), air_density_kg_m3(air.temperature, air.pressure))
    thinner_m, thicker_m = (None, None) if alone else neighbours_m(build)
    return DataSheet(
        build_name=name,
        build=build,
        gap_m=gap_m,
        used_for=tuple(panel.name for panel in panels),
        own=_curve(build, build.thickness, gap_m, medium),
        thinner=None if thinner_m is None else _curve(build, thinner_m, gap_m, medium),
        thicker=None if thicker_m is None else _curve(build, thicker_m, gap_m, medium),
        notes=_notes(build, panels),
    )


def neighbours_m(build: Build) -> tuple[float | None, float | None]:
    """The next thinner and thicker usual slab; None beyond the ends. [m]"""
    is_metric = batten_for(frame_timber(build.frame, build.thickness)) == BATTEN
    usual = [0.001 * mm for mm in _USUAL_MM] if is_metric else [0.0254 * inch for inch in _USUAL_INCHES]
    thinner = [t for t in usual if t < build.thickness - _SAME_M]
    thicker = [t for t in usual if t > build.thickness + _SAME_M]
    return max(thinner, default=None), min(thicker, default=None)


def _curve(build: Build, thickness_m: float, gap_m: float, medium: Medium) -> ThicknessCurve:
    made = _in_another_thickness(build, thickness_m)
    piece = take_apart(made, hung=False)
    stack = stack_of(made, depths_of(made).behind_m + gap_m)
    frequencies = band_frequencies_hz()
    return ThicknessCurve(
        thickness_m=thickness_m,
        depth_m=piece.outer_m[2] + gap_m,
        normal=absorption(stack, frequencies, 1.0, medium).mean(axis=-1),
        random=random_absorption(stack, frequencies, medium).mean(axis=-1),
        rating=rate_stack(stack, medium),
        mass_kg=piece.mass_kg,
    )


def _in_another_thickness(build: Build, thickness_m: float) -> Build:
    """Another slab gets a frame as deep as itself, of the same thickness of timber."""
    if thickness_m == build.thickness:
        return build
    timber = frame_timber(build.frame, build.thickness)
    frame = f"{1000 * timber.thickness_m:g}x{1000 * thickness_m:g} mm"
    return build.model_copy(update={"thickness": thickness_m, "frame": frame})


def _notes(build: Build, panels: Sequence[PlacedPanel]) -> tuple[Sentence, ...]:
    notes = [
        sentence(
            "Computed, not measured: Miki's model of the wool, layers on a hard wall without end, all "
            "angles up to 78 degrees. A laboratory's sample of {sample} measures higher, by its edges.",
            sample=Amount((10.0,), Unit.M2),
        ),
        sentence(
            "Below about {lowest} Hz the model is carried beyond the range it was fitted to.",
            lowest=f"{_LOWEST_Y * build.flow_resistivity:.0f}",
        ),
        facing_note(build),
        *mass_notes(build),
    ]
    if build.back == "solid":
        solid = "The solid back counts as hard; air behind it makes no difference to these figures."
        notes.append(sentence(solid))
    if any(panel.acts_as == "free" for panel in panels):
        free = (
            "Hung or standing free it also takes up sound from behind: the figures are those on a hard wall."
        )
        notes.append(sentence(free))
    return tuple(notes)

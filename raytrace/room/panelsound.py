"""What a panel does to the sound that meets it: as a patch of its surface, or hanging free."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import (
    DEFAULT_SCATTERING,
    Backing,
    Incidence,
    Material,
    Medium,
    band_frequencies_hz,
    even_reflection,
    random_absorption,
    reflection,
    to_wall_plane,
    transmission,
)
from raytrace.room.buildstack import stack_of
from raytrace.room.facets import Facet
from raytrace.room.panels import FreePanelGroup, PlacedPanel
from raytrace.room.setout import room_frame
from raytrace.room.surfaces import Surface
from raytrace.scene import Build, Scene

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Bands = NDArray[np.int64] | slice

_COARSE = Incidence(n_angles=32)


def patch_reflection(
    panel: PlacedPanel, cos_theta: Floats, medium: Medium, wall: Floats, *, bands: Bands = slice(None)
) -> Complexes:
    """Reflection factor of a panel with its surface behind it, referred to the surface's own plane.

    Parameters
    ----------
    panel : PlacedPanel
        That acts as a patch.
    cos_theta : (n,) float
        Cosines of the angles of incidence.
    medium : Medium
    wall : (n, n_bands, 1) float
        Reflection factor of the surface behind it at these angles.
    bands : (n_bands,) int or slice
        Octaves that are asked for; `wall` has those.

    Returns
    -------
    (n, n_bands, 24) complex ndarray
        At the frequencies of `air.band_frequencies_hz`.
    """
    frequency, cosine = band_frequencies_hz()[bands], cos_theta[:, None, None]
    stack = stack_of(panel.build, panel.gap_m)
    backing: Backing = "rigid" if panel.build.back == "solid" else wall
    at_face = reflection(stack, frequency, cosine, medium, backing=backing)
    height_m = panel.gap_m + panel.thickness_m
    forward = to_wall_plane(height_m, cosine, frequency, speed_of_sound_m_s=medium.speed_of_sound_m_s)
    return np.asarray(at_face * forward)


def face_reflection(
    build: Build, is_front: bool, cos_theta: Floats, medium: Medium, *, bands: Bands = slice(None)
) -> Complexes:
    """Reflection factor at one face of a panel with air behind it, (n, n_bands, 24).

    Parameters
    ----------
    build : Build
    is_front : bool
        Which face; a solid back reflects everything.
    cos_theta : (n,) float
        Cosines of the angles of incidence.
    medium : Medium
    bands : (n_bands,) int or slice
        Octaves that are asked for.
    """
    frequency, cosine = band_frequencies_hz()[bands], cos_theta[:, None, None]
    if build.back == "solid":
        if is_front:
            return reflection(stack_of(build), frequency, cosine, medium)
        return np.ones((len(cos_theta), *frequency.shape), np.complex128)
    stack = stack_of(build) if is_front else stack_of(build)[::-1]
    return reflection(stack, frequency, cosine, medium, backing="free")


def passed_pressure(
    build: Build, cos_theta: Floats, medium: Medium, *, bands: Bands = slice(None)
) -> Complexes:
    """Pressure behind a panel against the undisturbed wave there, (n, n_bands, 24); 0 for a solid back.

    Parameters
    ----------
    build : Build
    cos_theta : (n,) float
        Cosines of the angles of incidence.
    medium : Medium
    bands : (n_bands,) int or slice
        Octaves that are asked for.
    """
    frequency, cosine = band_frequencies_hz()[bands], cos_theta[:, None, None]
    if build.back == "solid":
        return np.zeros((len(cos_theta), *frequency.shape), np.complex128)
    undisturbed = to_wall_plane(
        0.5 * build.thickness, cosine, frequency, speed_of_sound_m_s=medium.speed_of_sound_m_s
    )
    return np.asarray(transmission(stack_of(build), frequency, cosine, medium) * undisturbed)


def patch_material(panel: PlacedPanel, medium: Medium, wall: Material) -> Material:
    """A panel before its surface as a material: random incidence, means over the octaves."""
    behind = tuple(even_reflection(wall.absorption).tolist())
    return _material(panel.build_name, panel.build, round(panel.gap_m, 6), medium, behind)


@cache
def _material(
    name: str, build: Build, gap_m: float, medium: Medium, behind: tuple[float, ...] | None
) -> Material:
    """A build before a surface with reflection factors (n_bands,), or hanging free."""
    frequency = band_frequencies_hz()
    backing: Backing = "rigid"
    if build.back == "open":
        backing = "free" if behind is None else np.array(behind)[:, None]
    lost = random_absorption(stack_of(build, gap_m), frequency, medium, backing=backing, incidence=_COARSE)
    share = np.clip(lost.mean(axis=1), 0.0, 1.0)
    return Material(name, share, DEFAULT_SCATTERING, "computed from the build (Miki; random incidence)")


def with_free_panels(
    scene: Scene,
    surfaces: tuple[Surface, ...],
    facets: tuple[Facet, ...],
    panels: Sequence[PlacedPanel],
    free_groups: Sequence[FreePanelGroup],
    medium: Medium,
) -> tuple[tuple[Surface, ...], tuple[Facet, ...]]:
    """Surfaces and facets with the two sides of every group of free panels behind them.

    As materials they keep what they pass as well as what they reflect, and gaps between panels absorb
    nothing: in the decay, where only energy counts, a group of free panels returns all that it does not
    take out.

    Raises
    ------
    SceneError
        If a surface has the name that a side of a group of free panels takes.
    """
    taken = {surface.name for surface in surfaces}
    more_surfaces, more_facets = list(surfaces), list(facets)
    for group in free_groups:
        members = [panels[k] for k in group.panels]
        first = members[0]
        sides = ("underside", "top") if first.kind == "cloud" else ("front", "back")
        for side, outline, normal in zip(
            sides, (group.front, group.back), (first.normal, -first.normal), strict=True
        ):
            name = f"{group.name} {side}"
            if name in taken:
                raise scene.error((*first.key, "name"), f'a surface is called "{name}" already; rename one')
            area_m2 = float(np.linalg.norm(np.cross(outline[1] - outline[0], outline[3] - outline[0])))
            filled = sum(panel.area_m2 for panel in members) / area_m2
            material = free_material(first, side, medium)
            material = replace(material, absorption=material.absorption * min(filled, 1.0))
            offset = float(outline[0] @ normal)
            frame = room_frame(normal, offset, [outline])
            more_facets.append(Facet(len(more_surfaces), outline, (), normal, offset))
            place = (len(more_facets) - 1,)
            more_surfaces.append(Surface(name, group.name, frame, material, place, (), area_m2))
    return tuple(more_surfaces), tuple(more_facets)


def free_material(panel: PlacedPanel, side: str, medium: Medium) -> Material:
    """One side of a panel that hangs or stands free as a material; it keeps what it passes, too.

    Parameters
    ----------
    panel : PlacedPanel
    side : {"underside", "top", "front", "back"}
    medium : Medium
    """
    if panel.build.back == "solid" and side in ("top", "back"):
        return Material(panel.build_name, np.zeros(8), DEFAULT_SCATTERING, "a solid back reflects everything")
    return _material(panel.build_name, panel.build, 0.0, medium, None)

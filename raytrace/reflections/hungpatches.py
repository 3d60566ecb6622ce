"""A panel with a gap before its surface: a face of its own, and screens on either side."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import band_frequencies_hz, shared_weight, to_wall_plane
from raytrace.reflections.freecrossings import incidence_cosines, outline_weight
from raytrace.room import (
    PATCH_GAP_M,
    Frame,
    PlacedPanel,
    Room,
    face_reflection,
    passed_pressure,
    patch_reflection,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

_HUNG_M = 0.1  # from such a gap on every part of the reflection passes the panel at its own place
_CLOSE_M = 0.15  # up to such a gap what bounces between panel and surface goes with the rest
# Up to so far beside a panel its parts pass it apart, from there on less and less: what is bent there is weak
# and would cost as much time as all that meets the panel.
_BESIDE_M = (0.3, 0.7)


class PanelParts(NamedTuple):
    """What a panel does to the sound, (n, n_bands, 24) each; the last two empty for one without a gap.

    whole: reflection factor with the surface behind, referred to the surface's plane; face: that of its
    front alone, there as well; passed: pressure behind it against the undisturbed wave.
    """

    whole: Complexes
    face: Complexes
    passed: Complexes

    def at(self, rows: Ints | Bools) -> "PanelParts":
        """The same of some lines."""
        return PanelParts(*(part[rows] if len(part) else part for part in self))


def panel_parts(
    room: Room, panel: PlacedPanel, cosine: Floats, wall: Floats, *, bands: Ints | slice = slice(None)
) -> PanelParts:
    """What a panel before its surface does to sound at some angles.

    Parameters
    ----------
    room, panel : Room, PlacedPanel
    cosine : (n,) float
        Cosines of the angles of incidence.
    wall : (n, n_bands, 1) float
        Reflection factor of the surface behind it at these angles.
    bands : (n_bands,) int or slice
        Octaves that are asked for.
    """
    medium = room.medium
    whole = patch_reflection(panel, cosine, medium, wall, bands=bands)
    if hung_share(panel.gap_m) == 0.0:
        return PanelParts(whole, whole[:0], whole[:0])
    forward = to_wall_plane(
        panel.gap_m + panel.thickness_m,
        cosine[:, None, None],
        band_frequencies_hz()[bands],
        speed_of_sound_m_s=room.speed_of_sound_m_s,
    )
    face = face_reflection(panel.build, True, cosine, medium, bands=bands) * forward
    return PanelParts(whole, face, passed_pressure(panel.build, cosine, medium, bands=bands))


class _Hung(NamedTuple):
    """A panel before its surface, and whom it is seen by: images and receivers (n, 3), chosen octaves."""

    room: Room
    panel: PlacedPanel
    images: Floats
    receivers: Floats
    bands: Ints | slice

    @property
    def normal(self) -> Floats:
        assert self.panel.surface is not None
        return self.room.surfaces[self.panel.surface].frame.n

    @property
    def cosine(self) -> Floats:
        """Of the angles of incidence, (n,)."""
        return incidence_cosines(self.normal, self.images, self.receivers)

    def behind(self, points: Floats) -> Floats:
        """Points (m, 3) mirrored in the surface."""
        assert self.panel.surface is not None
        heights = (points - self.room.surfaces[self.panel.surface].frame.origin) @ self.normal
        return np.asarray(points - 2.0 * heights[:, None] * self.normal)

    def farther(self, distance_m: float) -> "_Hung":
        """The same with a source so much farther behind the surface; negative for nearer."""
        return self._replace(images=self.images - distance_m * self.normal)


def hung_share(gap_m: float) -> float:
    """How far a panel is from one reflector in its surface's plane (0) to parts that pass it apart (1).

    With no gap the one form is nearer to wave solutions of strips (test_kirchhoff_waves.py) and of a treated
    room (test_full_waves.py), from 100 mm on the other.
    """
    return float(_rising(gap_m / _HUNG_M))


def near_share(panel: PlacedPanel, frame: Frame, ends: tuple[Floats, Floats]) -> Floats:
    """1 for lines that meet the surface at a panel or just beside it, 0 far beside one that is near, (n,)."""
    ahead, behind = ((points - frame.origin) @ frame.n for points in ends)
    spots = ends[0] + (ahead / (ahead - behind))[:, None] * (ends[1] - ends[0]) - panel.centre
    half = 0.5 * np.array([panel.width_m, panel.height_m])
    beyond = np.maximum(np.abs(np.stack([spots @ panel.right, spots @ panel.up], axis=1)) - half, 0.0)
    far = _rising((np.linalg.norm(beyond, axis=1) - _BESIDE_M[0]) / np.ptp(_BESIDE_M))
    share: Floats = 1.0 - (1.0 - _apart_share(panel.gap_m)) * far
    return share


def _apart_share(gap_m: float) -> float:
    """How far a panel is from one whose space behind it counts as narrow (0) to one that hangs free (1)."""
    return float(_rising((gap_m - _CLOSE_M) / (PATCH_GAP_M - _CLOSE_M)))


def _rising(part: Any) -> Any:
    """From 0 to 1, smoothly."""
    part = np.clip(part, 0.0, 1.0)
    return part * part * (3.0 - 2.0 * part)


def hung_effect(
    room: Room,
    panel: PlacedPanel,
    wall: Floats,
    parts: PanelParts,
    ends: tuple[Floats, Floats],
    bands: Ints | slice = slice(None),
) -> Complexes:
    """What a panel changes of its surface's reflection factor, each part where it passes, (n, n_bands, 24).

    What its face sends back weighs as that face; what goes behind it and comes back as
    1 + (T - 1) (K + K') + (T - 1)^2 K2; the rest as K2. With all weights alike that is (R_panel - R_wall) K.
    Of a panel far before its surface what bounces at its back between weighs as that back.

    Parameters
    ----------
    room, panel : Room, PlacedPanel
    wall : (n, n_bands, 1) float
        Reflection factor of the surface behind it.
    parts : PanelParts
        Of these lines.
    ends : tuple of (n, 3) float
        Source mirrored in the bounces up to this one, receiver in the later ones. [m]
    bands : (n_bands,) int or slice
        Octaves that are asked for.
    """
    hung = _Hung(room, panel, *ends, bands)
    once, both = _there_and_back(hung, parts.passed, 0.0)
    rest = parts.whole - parts.face - wall * parts.passed**2
    effect = _from_face(hung, parts.face) + wall * (once - 1.0) + rest * both
    share = _apart_share(panel.gap_m)
    if share > 0.0:
        effect += share * (
            _beside_own_angle(hung, parts.face) + wall**2 * _from_between(hung, parts.passed, both)
        )
    return np.asarray(effect)


def _from_face(hung: _Hung, face: Complexes) -> Complexes:
    """What its face sends back, referred to the surface's plane; `face`: where all of it is met."""
    height_m = hung.panel.gap_m + hung.panel.thickness_m
    nearer = hung.farther(-2.0 * height_m)
    weight = outline_weight(hung.room, hung.panel.corners, nearer.images, hung.receivers, hung.bands)
    return np.asarray(face * weight * _detour(hung, nearer, height_m))


def _beside_own_angle(hung: _Hung, face: Complexes) -> Complexes:
    """What its face sends back more at the angle at which it is met, not that of the surface behind."""
    panel, height_m = hung.panel, hung.panel.gap_m + hung.panel.thickness_m
    met = face_reflection(
        panel.build, True, hung.farther(-2.0 * height_m).cosine, hung.room.medium, bands=hung.bands
    )
    return _from_face(hung, met * _forward(hung, height_m) - face)


def _from_between(hung: _Hung, passed: Complexes, both: Complexes) -> Complexes:
    """What bounces at its back between two bounces at a hard surface, less the same weighed as the rest."""
    room, panel, bands = hung.room, hung.panel, hung.bands
    farther = hung.farther(2.0 * panel.gap_m)
    weight = outline_weight(room, hung.behind(panel.back), farther.images, hung.receivers, bands)
    met, own = (
        face_reflection(panel.build, False, h.cosine, room.medium, bands=bands) for h in (farther, hung)
    )
    passed_there = passed_pressure(panel.build, farther.cosine, room.medium, bands=bands)
    through, _ = _there_and_back(farther, passed_there, 2.0 * panel.gap_m)
    apart = met * weight * through * _detour(hung, farther, -panel.gap_m)
    return np.asarray((apart - own * passed**2 * both) * _forward(hung, -panel.gap_m))


def _there_and_back(hung: _Hung, passed: Complexes, between_m: float) -> tuple[Complexes, Complexes]:
    """What a panel lets pass there and back, its image so much farther behind the surface; and K2."""
    room, bands = hung.room, hung.bands
    outline = 0.5 * (hung.panel.corners + hung.panel.back)
    image = hung.behind(outline) - between_m * hung.normal
    going = outline_weight(room, image, hung.images, hung.receivers, bands)
    coming = outline_weight(room, outline, hung.images, hung.receivers, bands)
    rows = np.ones((len(hung.images), 1, 1, 1))
    ends = hung.images, hung.receivers
    frequency = band_frequencies_hz()[bands]
    shared = shared_weight(
        rows * image, rows * outline, *ends, frequency.ravel(), speed_of_sound_m_s=room.speed_of_sound_m_s
    )
    both = going * coming + shared.reshape(going.shape)
    missing = passed - 1.0
    return 1.0 + missing * (going + coming) + missing**2 * both, both


def _detour(hung: _Hung, other: _Hung, height_m: float) -> Complexes:
    """Spreading and phase of another image's line against those of the surface's own.

    The phase that a plane wave has for a face so high over the surface is in the reflection factor already.
    """
    own, far = (np.linalg.norm(h.receivers - h.images, axis=1)[:, None, None] for h in (hung, other))
    wavenumber = 2.0 * np.pi * band_frequencies_hz()[hung.bands] / hung.room.speed_of_sound_m_s
    return np.asarray(own / far * np.exp(1j * wavenumber * (own - far)) / _forward(hung, height_m))


def _forward(hung: _Hung, height_m: float) -> Complexes:
    """What refers a plane wave's reflection so high over the surface to that surface's plane."""
    frequency, speed = band_frequencies_hz()[hung.bands], hung.room.speed_of_sound_m_s
    return to_wall_plane(height_m, hung.cosine[:, None, None], frequency, speed_of_sound_m_s=speed)

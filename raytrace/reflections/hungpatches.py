"""A panel that hangs well before its surface: a face of its own, and screens on either side."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import band_frequencies_hz, shared_weight, to_wall_plane
from raytrace.reflections.freecrossings import incidence_cosines, outline_weight
from raytrace.room import PATCH_GAP_M, PlacedPanel, Room, face_reflection, passed_pressure

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Complexes = NDArray[np.complex128]

_CLOSE_M = 0.15  # up to such a gap a panel is one reflector with its surface


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
    def passed(self) -> Complexes:
        """Pressure behind the panel against the undisturbed wave, (n, n_bands, 24)."""
        cosine = incidence_cosines(self.normal, self.images, self.receivers)
        return passed_pressure(self.panel.build, cosine, self.room.medium)[:, self.bands]

    def returned(self, is_front: bool) -> Complexes:
        """Reflection factor at one of its faces, (n, n_bands, 24)."""
        cosine = incidence_cosines(self.normal, self.images, self.receivers)
        return face_reflection(self.panel.build, is_front, cosine, self.room.medium)[:, self.bands]

    def behind(self, points: Floats) -> Floats:
        """Points (m, 3) mirrored in the surface."""
        assert self.panel.surface is not None
        heights = (points - self.room.surfaces[self.panel.surface].frame.origin) @ self.normal
        return np.asarray(points - 2.0 * heights[:, None] * self.normal)

    def farther(self, distance_m: float) -> "_Hung":
        """The same with a source so much farther behind the surface; negative for nearer."""
        return self._replace(images=self.images - distance_m * self.normal)


def hung_share(gap_m: float) -> float:
    """How far a panel is from one reflector with its surface (0) to one that hangs free (1)."""
    part = min(max((gap_m - _CLOSE_M) / (PATCH_GAP_M - _CLOSE_M), 0.0), 1.0)
    return part * part * (3.0 - 2.0 * part)


def hung_effect(
    room: Room,
    panel: PlacedPanel,
    wall: Floats,
    reflection: Complexes,
    ends: tuple[Floats, Floats],
    bands: Ints | slice = slice(None),
) -> Complexes:
    """What a panel changes of its surface's reflection factor, each part where it passes, (n, n_bands, 24).

    What its face sends back weighs as that face; what goes behind it and comes back, once or with a bounce
    at its back between, as 1 + (T - 1) (K + K') + (T - 1)^2 K2; the rest as K2. With all weights alike
    that is (R_panel - R_wall) K.

    Parameters
    ----------
    room, panel : Room, PlacedPanel
    wall : (n_bands, 1) float
        Reflection factor of the surface behind it.
    reflection : (n, n_bands, 24) complex
        That of the panel with its surface, referred to the surface's plane.
    ends : tuple of (n, 3) float
        Source mirrored in the bounces up to this one, receiver in the later ones. [m]
    bands : (n_bands,) int or slice
        Octaves that are asked for.
    """
    hung = _Hung(room, panel, *ends, bands)
    cosine = incidence_cosines(hung.normal, *ends)[:, None, None]
    passed, at_face, at_back = hung.passed, hung.returned(True), hung.returned(False)
    frequency, speed = band_frequencies_hz()[bands], room.speed_of_sound_m_s
    to_face, to_back = (
        to_wall_plane(height, cosine, frequency, speed_of_sound_m_s=speed)
        for height in (panel.gap_m + panel.thickness_m, panel.gap_m)
    )
    once, both = _there_and_back(hung, 0.0)
    rest = reflection - at_face * to_face - (wall + wall**2 * at_back / to_back) * passed**2
    return np.asarray(_from_face(hung) + wall * (once - 1.0) + wall**2 * _from_between(hung) + rest * both)


def _from_face(hung: _Hung) -> Complexes:
    """What its face sends back, referred to the surface's plane."""
    panel = hung.panel
    nearer = hung.farther(-2.0 * (panel.gap_m + panel.thickness_m))
    weight = outline_weight(hung.room, panel.corners, nearer.images, hung.receivers, hung.bands)
    return np.asarray(nearer.returned(True) * weight * _detour(hung, nearer))


def _from_between(hung: _Hung) -> Complexes:
    """What bounces at its back between two bounces at a hard surface, referred to the surface's plane."""
    farther = hung.farther(2.0 * hung.panel.gap_m)
    back = hung.behind(hung.panel.back)
    weight = outline_weight(hung.room, back, farther.images, hung.receivers, hung.bands)
    through, _ = _there_and_back(farther, 2.0 * hung.panel.gap_m)
    return np.asarray(farther.returned(False) * weight * through * _detour(hung, farther))


def _there_and_back(hung: _Hung, between_m: float) -> tuple[Complexes, Complexes]:
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
    missing = hung.passed - 1.0
    return 1.0 + missing * (going + coming) + missing**2 * both, both


def _detour(hung: _Hung, other: _Hung) -> Complexes:
    """Spreading and phase of another image's line against those of the surface's own."""
    own, far = (np.linalg.norm(h.receivers - h.images, axis=1)[:, None, None] for h in (hung, other))
    wavenumber = 2.0 * np.pi * band_frequencies_hz()[hung.bands] / hung.room.speed_of_sound_m_s
    return np.asarray(own / far * np.exp(1j * wavenumber * (own - far)))

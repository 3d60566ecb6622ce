"""Wave fronts in the window's room: where the sound of one speaker has got to at the time cursor."""

from typing import Any

import numpy as np

from raytrace import WaveFronts, speaker_fronts
from viewer.pictures import Layer, Mesh, one_colour
from viewer.window.state import OnScreen

OPACITY = {"direct front": 0.5, "mirrored fronts": 0.35}  # before and after the first bounce


class Fronts:
    """Keeps what was traced of one speaker, so that the cursor can run."""

    def __init__(self) -> None:
        self._of: tuple[Any, ...] = ()
        self._traced: WaveFronts | None = None

    def layers(self, shown: OnScreen) -> dict[str, Layer]:
        """The front that comes straight from the speaker, and those that surfaces have mirrored."""
        points, pieces, order = np.zeros((0, 3)), np.zeros((0, 3), np.int64), np.zeros(0, np.int64)
        speaker = front_speaker(shown)
        if "fronts" in shown.layers and shown.time_s is not None:
            points, pieces, order = self._trace(shown, speaker).at(_since_it_left_s(shown, speaker))
        theme = shown.colours
        parts = {
            "direct front": (pieces[order == 0], theme.curve),
            "mirrored fronts": (pieces[order > 0], theme.unjudged),
        }
        meshes = {name: (_mesh(points, own), colour) for name, (own, colour) in parts.items()}
        return {
            name: Layer(mesh, one_colour(colour, mesh), "solid", OPACITY[name])
            for name, (mesh, colour) in meshes.items()
        }

    def _trace(self, shown: OnScreen, speaker: int) -> WaveFronts:
        scene = shown.study.scene
        of = (scene.room, scene.objects, scene.openings, scene.speakers, speaker, shown.until_s)
        if self._traced is None or self._of != of:
            longest_s = (
                float(shown.study.arrivals.direct.length_m.max()) / shown.study.room.speed_of_sound_m_s
            )
            self._traced = speaker_fronts(scene, speaker, until_s=shown.until_s + longest_s)
            self._of = of
        return self._traced


def front_speaker(shown: OnScreen) -> int:
    """Whose fronts are drawn: of the selected reflection, else the one listed alone, else the first."""
    if shown.chosen is not None:
        return shown.chosen[0]
    return shown.filter.speaker or 0


def _since_it_left_s(shown: OnScreen, speaker: int) -> float:
    """The time cursor counted from when the speaker sends, not from when the seat hears it. [s]"""
    assert shown.time_s is not None
    way = np.subtract(shown.study.scene.speakers[speaker].position, shown.study.scene.seats[shown.seat].ears)
    return shown.time_s + float(np.linalg.norm(way)) / shown.study.room.speed_of_sound_m_s


def _mesh(points: np.ndarray, pieces: np.ndarray) -> Mesh:
    import pyvista as pv

    if not len(pieces):
        return Mesh()
    used, corners = np.unique(pieces, return_inverse=True)
    faces = np.column_stack([np.full(len(pieces), 3), corners.reshape(-1, 3)])
    return Mesh.of(pv.PolyData(points[used], faces.ravel()))

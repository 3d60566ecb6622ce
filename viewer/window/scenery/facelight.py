"""Light on flat faces from one camera: the same all over a face, so worked out once for all its pixels."""

from typing import TYPE_CHECKING

import numpy as np

from viewer import look
from viewer.pictures import Camera, Floats, cross

if TYPE_CHECKING:
    from vtkmodules.vtkCommonDataModel import vtkPolyData


def face_planes(mesh: "vtkPolyData") -> tuple[Floats, Floats]:
    """Middles and unit normals of faces, both (n, 3); a face without an area gets no normal but zeros."""
    cells = mesh.GetPolys()
    points = np.asarray(memoryview(mesh.GetPoints().GetData()), np.float64)
    corners = points[np.asarray(memoryview(cells.GetConnectivityArray()))]
    ends = np.asarray(memoryview(cells.GetOffsetsArray()))
    starts = ends[:-1]
    following = np.arange(1, len(corners) + 1)
    following[ends[1:] - 1] = starts
    middles = np.add.reduceat(corners, starts) / np.diff(ends)[:, None]
    off = corners - np.repeat(middles, np.diff(ends), axis=0)  # near the origin Newell's sum loses no digits
    normals = np.add.reduceat(cross(off, off[following]), starts)
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    return middles, normals / np.where(size > 0.0, size, 1.0)


def lit(colours: Floats, planes: tuple[Floats, Floats], light: dict[str, float], camera: Camera) -> Floats:
    """Colours (n, 3) of faces in the light of `look.LIGHTS`, on the side that the camera sees.

    Parameters
    ----------
    colours : (n, 3) float
        Without light, between 0 and 1.
    planes : two (n, 3) float
        As `face_planes`.
    light : dict
        Shares of "ambient" and "diffuse" light that the faces return.
    camera : Camera
    """
    middles, normals = planes
    towards = np.sum(camera.to_eye(middles) * normals, axis=1, keepdims=True)
    seen = np.where(towards < 0.0, -normals, normals) @ np.stack([camera.right, camera.up, -camera.forward]).T
    share = np.full(len(colours), light["ambient"])
    for direction, strength in look.LIGHTS:
        unit = np.array(direction) / np.linalg.norm(direction)
        share += light["diffuse"] * strength * np.maximum(seen @ unit, 0.0)
    bright: Floats = np.minimum(colours * share[:, None], 1.0)
    return bright

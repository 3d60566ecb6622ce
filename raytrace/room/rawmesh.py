"""Faces of a mesh file as they stand in it: its own numbers, its own axes, no unit yet."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.room.polygons import triangulate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class MeshError(ValueError):
    """A mesh file that cannot be used; the text says where and what to do."""


@dataclass(frozen=True)
class RawMesh:
    """Faces of any number of corners, in a row.

    Attributes
    ----------
    points : (n, 3) float
        In the numbers and axes of the file.
    corners : (k,) int
        Rows of `points`, face after face.
    starts : (n_faces + 1,) int
        Where each face starts in `corners`.
    names : tuple of str
    name_of_face : (n_faces,) int
        Index into `names`.
    lines : (n_faces,) int
        Line of the file each stands in, counted from 1; of formats without lines, the number of the face.
    named_by : str
        What the names are those of.
    report : tuple of str
        What a person should know about the reading.
    up : str
        Which axis points up by the rules of the format; empty where it has none.
    """

    points: Floats
    corners: Ints
    starts: Ints
    names: tuple[str, ...]
    name_of_face: Ints
    lines: Ints
    named_by: str = "groups, objects or materials"
    report: tuple[str, ...] = ()
    up: str = ""

    def face(self, index: int) -> Ints:
        """Corners of one face, rows of `points`."""
        face: Ints = self.corners[self.starts[index] : self.starts[index + 1]]
        return face

    def triangles(self) -> tuple[Ints, Ints, Ints]:
        """All faces as triangles: (n, 3) rows of `points`, and the face each is of.

        Third come the faces that cross themselves: they have no triangles.

        Notes
        -----
        Faces of more than three corners may be concave: they are cut by ears, not as a fan.
        """
        counts = np.diff(self.starts)
        simple = np.flatnonzero(counts == 3)
        cut = [self.corners[self.starts[simple][:, None] + np.arange(3)]]
        faces = [simple]
        crossing = []
        for index in np.flatnonzero(counts > 3):
            try:
                ears = _ears(self.points, self.face(int(index)))
            except ValueError:
                crossing.append(index)
                continue
            cut.append(ears)
            faces.append(np.full(len(ears), index))
        return np.concatenate(cut), np.concatenate(faces), np.array(crossing, np.int64)


def no_faces(n_points: int, *, lines: bool = False) -> str:
    """What to say of a file in which there is no face."""
    if not n_points:
        return "holds no faces, nor points: is it a mesh of a room?"
    only = "lines" if lines else f"{n_points} points"
    return (
        f"holds no faces, only {only}: export it as a mesh, with surfaces (of a cloud of points the scanning "
        "program makes one)"
    )


def _ears(points: Floats, face: Ints) -> Ints:
    """Triangles of a face of many corners, as rows of `points`."""
    corners = points[face]
    ears = triangulate(corners).reshape(-1, 3)
    nearest = np.argmin(((ears[:, None] - corners[None]) ** 2).sum(axis=2), axis=1)
    rows: Ints = face[nearest].reshape(-1, 3)
    return rows

"""Faces and lines as VTK holds them. pyvista has a class for it, whose import takes half a second."""

from typing import Self

from vtkmodules.vtkCommonDataModel import vtkPolyData


class Mesh(vtkPolyData):
    """Faces or lines, with arrays that hold a row for each of them."""

    @classmethod
    def of(cls, data: vtkPolyData) -> Self:
        """The same points, cells and arrays."""
        mesh = cls()
        mesh.ShallowCopy(data)
        return mesh

    @property
    def n_cells(self) -> int:
        """How many faces or lines there are."""
        return int(self.GetNumberOfCells())

    def has(self, name: str) -> bool:
        """Whether its cells have an array of this name."""
        return bool(self.GetCellData().HasArray(name))

"""Facets as arrays, the form in which kernels take them."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class FacetArrays(NamedTuple):
    """All facets as arrays; corners of all loops one after another, the outer loop of a facet first."""

    normals: Floats
    """(n_facets, 3)"""
    offsets: Floats
    """(n_facets,) normal . x [m]"""
    points: Floats
    """(n_points, 3) corners of all loops [m]"""
    loop_start: Ints
    """(n_loops + 1,) first corner of each loop"""
    facet_loops: Ints
    """(n_facets + 1,) first loop of each facet"""
    axis: Ints
    """(n_facets,) axis along which the facet is largest, dropped in flat tests"""
    low: Floats
    """(n_facets, 3) lower corner of the box around each facet [m]"""
    high: Floats
    """(n_facets, 3) upper corner [m]"""

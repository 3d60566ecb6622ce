"""Slow, independent answers about waves: surface integrals, Fresnel forms, a two-dimensional wave solution.

Time convention e^{+jwt}; Green's functions e^{-jkr}/(4 pi r) and -j/4 H0^(2)(kr).
"""

from functools import cache
from itertools import pairwise

import numpy as np
from scipy.linalg import lu_factor, lu_solve
from scipy.special import fresnel, hankel2, j0, j1, y0, y1

_gauss = cache(np.polynomial.legendre.leggauss)
_X, _W = _gauss(8)
# Eight nodes on 0..1, squared towards 0, where a Green's function may have its logarithm.
_CROWDED_X, _CROWDED_W = (0.5 * (_X + 1.0)) ** 2, 0.5 * (_X + 1.0) * _W


def surface_weight(outline, image_source, receiver, wavenumber, *, nodes=180):
    """K of one polygon by Kirchhoff's integral over its surface, both obliquity factors kept.

    Born and Wolf, Principles of Optics, 8.3 (from memory). The surface is a signed sum of triangles from
    the first corner, each a square of Gauss nodes with one side shrunk to a point: no edge is ever
    looked at, and it does not matter where the spot is. Outline anticlockwise seen from the receiver.
    """
    x, w = _gauss(nodes)
    a, b = np.meshgrid(0.5 * (x + 1.0), 0.5 * (x + 1.0), indexing="ij")
    square = 0.25 * np.outer(w, w) * a
    areas = np.cross(outline[1:-1] - outline[0], outline[2:] - outline[0])
    normal = areas.sum(axis=0) / np.linalg.norm(areas.sum(axis=0))
    total = 0.0
    for p, q, area in zip(outline[1:-1], outline[2:], areas, strict=True):
        points = outline[0] + a[..., None] * ((p - outline[0]) + b[..., None] * (q - p))
        u, v = points - image_source, receiver - points
        r1, r2 = np.linalg.norm(u, axis=-1), np.linalg.norm(v, axis=-1)
        slope = (1j * wavenumber + 1 / r1) * (u @ normal) / r1 + (1j * wavenumber + 1 / r2) * (
            v @ normal
        ) / r2
        waves = np.exp(-1j * wavenumber * (r1 + r2)) / (r1 * r2) * slope
        total = total + (area @ normal) * (square * waves).sum()
    straight = np.linalg.norm(receiver - image_source)
    return total * straight * np.exp(1j * wavenumber * straight) / (4.0 * np.pi)


def rindel_energy_weight(low, high, a1, a2, wavelength_m):
    """|K|^2 of a rectangle at normal incidence that reaches from -low to high (2,) round the spot.

    The separable Fresnel form: J. H. Rindel, Applied Acoustics 34 (1991) 7 (from memory).
    """
    scale = 2.0 / np.sqrt(wavelength_m * 2.0 * a1 * a2 / (a1 + a2))
    energy = 1.0
    for a, b in zip(low, high, strict=True):
        (s1, c1), (s2, c2) = fresnel(scale * a), fresnel(scale * b)
        energy = energy * 0.5 * ((c1 + c2) ** 2 + (s1 + s2) ** 2)
    return energy


def straight_edge_weight(distance_m, a1, a2, wavelength_m):
    """K of an endless half plane at normal incidence, the spot `distance_m` inside its edge (Fresnel)."""
    s, c = fresnel(distance_m * np.sqrt(2.0 * (a1 + a2) / (wavelength_m * a1 * a2)))
    return ((0.5 + c) - 1j * (0.5 + s)) / (1.0 - 1j)


def strip_weight_2d(low, high, image_source, receiver, wavenumber, *, nodes=400):
    """K of a strip y = 0, low < x < high, between line sources: Kirchhoff's integral in two dimensions."""
    x, w = _gauss(nodes)
    points = np.stack([low + 0.5 * (high - low) * (x + 1.0), 0.0 * x], axis=-1)
    u, v = points - image_source, receiver - points
    r1, r2 = np.hypot(*u.T), np.hypot(*v.T)
    g1, g2 = (-0.25j * hankel2(0, wavenumber * r) for r in (r1, r2))
    slope1, slope2 = (0.25j * wavenumber * hankel2(1, wavenumber * r) for r in (r1, r2))
    waves = -g1 * slope2 * v[:, 1] / r2 - g2 * slope1 * u[:, 1] / r1
    direct = -0.25j * hankel2(0, wavenumber * np.hypot(*(receiver - image_source)))
    return 0.5 * (high - low) * (w * waves).sum() / direct


class BlockOnWall:
    """A line source before a hard wall y = 0 that carries a block of another fluid, as a wave problem.

    Boundary integral equations outside and inside the block, joined by pressure and normal velocity;
    constant elements. The Green's function outside holds the wall; so does that inside where the block
    rests on it, and its fourth side then needs no elements. R. D. Ciskowski, C. A. Brebbia, Boundary
    Element Methods in Acoustics, 1991 (from memory).

    width, thickness, gap to the wall, longest element: all in metres.
    """

    def __init__(self, width, thickness, gap, element):
        x, low, high = 0.5 * width, gap, gap + thickness
        corners = [np.array(c) for c in ((x, low), (x, high), (-x, high), (-x, low))]
        self.rests = gap == 0.0
        if not self.rests:
            corners.append(corners[0])
        starts, ends = [], []
        for a, b in pairwise(corners):
            n = max(3, int(np.ceil(np.hypot(*(b - a)) / element)))
            knots = a + (b - a) * (np.arange(n + 1) / n)[:, None]
            starts.append(knots[:-1])
            ends.append(knots[1:])
        self.start, self.edge = np.concatenate(starts), np.concatenate(ends) - np.concatenate(starts)
        self.length = np.hypot(*self.edge.T)
        self.normal = (
            np.stack([self.edge[:, 1], -self.edge[:, 0]], axis=-1) / self.length[:, None]
        )  # outwards
        self.middle = self.start + 0.5 * self.edge
        self._factors = {}

    def reflection(self, source, receiver, wavenumber, block_wavenumber, density_ratio):
        """Reflected pressure at the receiver re that of the bare wall; density of the block re air."""
        n = len(self.length)
        image = source * [1, -1]
        waves = (wavenumber, block_wavenumber, density_ratio)
        if waves not in self._factors:  # whoever sends and listens
            self._factors[waves] = lu_factor(self._matrix(*waves))
        incoming = sum(_green(np.hypot(*(self.middle - end).T), wavenumber)[0] for end in (source, image))
        solution = lu_solve(self._factors[waves], np.concatenate([incoming, np.zeros(n)]))
        single, double = self._layers(receiver[None], wavenumber, walled=True)
        scattered = (double @ solution[:n] - single @ solution[n:])[0]
        return 1.0 + scattered / _green(np.hypot(*(receiver - image)), wavenumber)[0]

    def _matrix(self, wavenumber, block_wavenumber, density_ratio):
        single, double = self._layers(self.middle, wavenumber, walled=True)
        single_in, double_in = self._layers(self.middle, block_wavenumber, walled=self.rests)
        half = 0.5 * np.eye(len(self.length))
        return np.block([[half - double, single], [half + double_in, -density_ratio * single_in]])

    def _layers(self, points, wavenumber, *, walled):
        """Integrals of G and of its slope along the outward normal over each element, (points, n)."""
        single, double = self._direct_layers(points, wavenumber)
        if walled:
            mirrored = self._direct_layers(points * [1, -1], wavenumber)
            single, double = single + mirrored[0], double + mirrored[1]
        return single, double

    def _direct_layers(self, points, wavenumber):
        away = points[:, None] - self.middle
        r = np.hypot(away[..., 0], away[..., 1])
        far = r > 3.0 * self.length
        length = np.broadcast_to(self.length, r.shape)
        out = (away * self.normal).sum(axis=-1)
        single, double = np.zeros(r.shape, complex), np.zeros(r.shape, complex)
        green, slope = _green(r[far], wavenumber)
        single[far], double[far] = green * length[far], -slope * out[far] / r[far] * length[far]
        i, j = np.nonzero(~far)
        if len(i):
            t, w = self._nodes_round_foot(points[i], j)
            d = points[i, None] - (self.start[j, None] + t[..., None] * self.edge[j, None])
            rho = np.hypot(d[..., 0], d[..., 1])
            green, slope = _green(rho, wavenumber)
            single[i, j] = (w * green).sum(axis=1) * self.length[j]
            out = (d * self.normal[j, None]).sum(axis=-1)
            double[i, j] = -(w * slope * out / rho).sum(axis=1) * self.length[j]
        return single, double

    def _nodes_round_foot(self, points, j):
        """Nodes and weights on 0..1, (n, 16), crowded round the feet of points (n, 2) on elements j (n,)."""
        along = ((points - self.start[j]) * self.edge[j]).sum(axis=-1)
        foot = np.clip(along / self.length[j] ** 2, 0.0, 1.0)[:, None]
        nodes = np.concatenate([foot - foot * _CROWDED_X, foot + (1.0 - foot) * _CROWDED_X], axis=1)
        return nodes, np.concatenate([foot * _CROWDED_W, (1.0 - foot) * _CROWDED_W], axis=1)


def _green(r, wavenumber):
    """-j/4 H0^(2)(kr) and its derivative by r."""
    z = wavenumber * r
    if np.isrealobj(z):
        return -0.25j * (j0(z) - 1j * y0(z)), 0.25j * wavenumber * (j1(z) - 1j * y1(z))
    return -0.25j * hankel2(0, z), 0.25j * wavenumber * hankel2(1, z)


def two_strips_weight_2d(strips, heights, image_source, receiver, wavenumber, *, nodes=400):
    """K2 of two strips y = heights[i], strips[i] (low, high): Kirchhoff's integral over both, line sources.

    Source below both, receiver above both. The field behind the first strip and its slope are taken at
    every node of the second one.
    """
    x, w = _gauss(nodes)
    (first, w1), (second, w2) = (
        (np.stack([low + 0.5 * (high - low) * (x + 1.0), 0.0 * x + y], axis=-1), 0.5 * (high - low) * w)
        for (low, high), y in zip(strips, heights, strict=True)
    )
    k = wavenumber
    u = first - image_source
    r = np.hypot(*u.T)
    sent, sent_slope = _green(r, k)
    sent_slope = sent_slope * u[:, 1] / r
    v = second[:, None] - first
    r = np.hypot(v[..., 0], v[..., 1])
    rise = v[..., 1] / r
    green, slope = _green(r, k)
    curve = (-(k**2) * green - slope / r) * rise**2 + slope / r * (1.0 - rise**2)
    between = -(slope * rise) @ (w1 * sent) - green @ (w1 * sent_slope)
    between_slope = -curve @ (w1 * sent) - (slope * rise) @ (w1 * sent_slope)
    v = receiver - second
    r = np.hypot(*v.T)
    green, slope = _green(r, k)
    # The slope of G along y at the strip is that at the receiver with the other sign.
    waves = -between * slope * v[:, 1] / r - green * between_slope
    return (w2 * waves).sum() / _green(np.hypot(*(receiver - image_source)), k)[0]

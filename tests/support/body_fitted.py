"""Modes of rooms by quadratic tetrahedra and triangles that fit their walls: another method, slow."""

from itertools import combinations, pairwise

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import eigsh, spsolve


def _matrices(vertices, simplices):
    """Stiffness, mass, nodes of each simplex, and the edges that have nodes, of quadratic simplices."""
    dim = vertices.shape[1]
    pairs = list(combinations(range(dim + 1), 2))
    edges = np.sort(np.concatenate([simplices[:, pair] for pair in pairs]), axis=1)
    unique, which = np.unique(edges, axis=0, return_inverse=True)
    on_edges = len(vertices) + which.reshape(len(pairs), -1).T
    nodes = np.concatenate([simplices, on_edges], axis=1)
    # Gradients of the barycentric coordinates, and the size of each simplex.
    corner = vertices[simplices]
    jacobian = corner[:, 1:] - corner[:, :1]
    size = np.abs(np.linalg.det(jacobian)) / (2.0 if dim == 2 else 6.0)
    inverse = np.linalg.inv(jacobian).transpose(0, 2, 1)
    gradient = np.concatenate([-inverse.sum(axis=1, keepdims=True), inverse], axis=1)
    mass = np.zeros((len(simplices), nodes.shape[1], nodes.shape[1]))
    stiffness = np.zeros_like(mass)
    for bary, weight in _rule(dim):
        value = np.array([b * (2 * b - 1) for b in bary] + [4 * bary[i] * bary[j] for i, j in pairs])
        slope = [(4 * bary[i] - 1) * gradient[:, i] for i in range(dim + 1)]
        slope += [4 * (bary[i] * gradient[:, j] + bary[j] * gradient[:, i]) for i, j in pairs]
        slope = np.stack(slope, axis=1)
        mass += weight * size[:, None, None] * np.outer(value, value)
        stiffness += weight * size[:, None, None] * (slope @ slope.transpose(0, 2, 1))
    n = len(vertices) + len(unique)
    rows = np.repeat(nodes, nodes.shape[1], axis=1).ravel()
    columns = np.tile(nodes, (1, nodes.shape[1])).ravel()
    k, m = (sparse.coo_array((x.ravel(), (rows, columns)), shape=(n, n)).tocsc() for x in (stiffness, mass))
    return k, m, nodes, unique


def frequencies_hz(vertices, simplices, n_modes, c):
    """Lowest frequencies of a mesh of triangles (n, 3) or tetrahedra (n, 4), walls hard; the first is 0."""
    k, m, _, _ = _matrices(vertices, simplices)
    start = np.cos(np.arange(k.shape[0]))
    values = eigsh(k, k=n_modes, M=m, sigma=-0.5, v0=start, return_eigenvectors=False)
    return np.sort(np.sqrt(np.maximum(values, 0.0))) * c / (2 * np.pi)


def green_function(vertices, tetrahedra, ends, wavenumbers, admittance):
    """Pressure from the first to the second of two points (2, 3) by direct solves, every wall lined alike."""
    stiffness, mass, nodes, edges = _matrices(vertices, tetrahedra)
    walls = _wall_mass(vertices, tetrahedra, edges, stiffness.shape[0])
    source, ear = (_values_at(vertices, tetrahedra, nodes, place, stiffness.shape[0]) for place in ends)
    result = []
    for k, b in zip(wavenumbers, admittance, strict=True):
        system = (stiffness - k * k * mass + 1j * k * b * walls).tocsc()
        result.append(ear @ spsolve(system, source.astype(complex)))
    return np.array(result)


def _wall_mass(vertices, tetrahedra, edges, n):
    """Integrals of products of quadratic functions over the faces that only one tetrahedron has."""
    faces = np.sort(np.concatenate([tetrahedra[:, c] for c in combinations(range(4), 3)]), axis=1)
    faces, count = np.unique(faces, axis=0, return_counts=True)
    faces = faces[count == 1]
    number = {tuple(edge): len(vertices) + row for row, edge in enumerate(edges.tolist())}
    pairs = ((0, 1), (0, 2), (1, 2))
    nodes = np.array([[*face, *(number[face[i], face[j]] for i, j in pairs)] for face in faces.tolist()])
    a, b, c = vertices[faces].transpose(1, 0, 2)
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    local = np.zeros((6, 6))
    for bary, weight in _rule(2):
        value = np.array([x * (2 * x - 1) for x in bary] + [4 * bary[i] * bary[j] for i, j in pairs])
        local += weight * np.outer(value, value)
    values = (area[:, None, None] * local).ravel()
    rows, columns = np.repeat(nodes, 6, axis=1).ravel(), np.tile(nodes, (1, 6)).ravel()
    return sparse.coo_array((values, (rows, columns)), shape=(n, n)).tocsc()


def _values_at(vertices, tetrahedra, nodes, place, n):
    """Values of all quadratic functions at a point."""
    corner = vertices[tetrahedra]
    inner = np.linalg.solve(
        (corner[:, 1:] - corner[:, :1]).transpose(0, 2, 1), (place - corner[:, 0])[..., None]
    )
    bary = np.concatenate([1 - inner.sum(axis=1), inner[..., 0]], axis=1)
    own = int(np.argmax(bary.min(axis=1)))
    b = bary[own]
    result = np.zeros(n)
    result[nodes[own]] = [
        *(x * (2 * x - 1) for x in b),
        *(4 * b[i] * b[j] for i, j in combinations(range(4), 2)),
    ]
    return result


def _rule(dim):
    """Points in barycentric coordinates and weights that add up to 1, exact to the fourth degree."""
    nodes, weights = np.polynomial.legendre.leggauss(4)
    nodes, weights = 0.5 * (nodes + 1), 0.5 * weights
    for index in np.ndindex(*(4,) * dim):
        # Gauss points of a cube, shrunk to a corner.
        rest, share, bary = 1.0, 1.0, []
        for k, i in enumerate(index):
            bary.append(rest * nodes[i])
            share *= weights[i] * (1.0 - nodes[i]) ** (dim - 1 - k)
            rest *= 1.0 - nodes[i]
        yield np.array([rest, *bary]), share * (2.0 if dim == 2 else 6.0)


def refined(points, triangles, times):
    """Triangles (n, 3) of points (m, 2) cut into four, again and again."""
    for _ in range(times):
        edges = np.sort(np.concatenate([triangles[:, p] for p in ((0, 1), (1, 2), (2, 0))]), axis=1)
        unique, which = np.unique(edges, axis=0, return_inverse=True)
        a, b, c = which.reshape(3, -1) + len(points)
        points = np.concatenate([points, points[unique].mean(axis=1)])
        i, j, k = triangles.T
        triangles = np.concatenate([np.stack(t, 1) for t in ((i, a, c), (a, j, b), (c, b, k), (a, b, c))])
    return points, triangles


def between_lines(xs, ys, step, keep):
    """Points and triangles of a plan between lines, `step` apart at most, where `keep(x, y)` holds."""
    x, y = (
        np.unique(
            np.concatenate([np.linspace(a, b, int(np.ceil((b - a) / step)) + 1) for a, b in pairwise(v)])
        )
        for v in (xs, ys)
    )
    points = np.stack(np.meshgrid(x, y, indexing="ij"), -1).reshape(-1, 2)
    triangles = []
    for i in range(len(x) - 1):
        for j in range(len(y) - 1):
            if keep(0.5 * (x[i] + x[i + 1]), 0.5 * (y[j] + y[j + 1])):
                a, b = i * len(y) + j, (i + 1) * len(y) + j
                triangles += [(a, b, b + 1), (a, b + 1, a + 1)]
    used, triangles = np.unique(np.array(triangles), return_inverse=True)
    return points[used], triangles.reshape(-1, 3)


def upright(points, triangles, heights, n_layers):
    """Tetrahedra over a plan from the floor to a roof that is flat over each triangle."""
    n = len(points)
    share = np.arange(n_layers + 1) / n_layers
    vertices = np.concatenate([np.column_stack([points, s * heights]) for s in share])
    # The corner with the lowest number goes up first in every prism, so that neighbours fit.
    a, b, c = np.sort(triangles, axis=1).T
    layer = np.concatenate(
        [np.stack(t, 1) for t in ((a, b, c, c + n), (a, b, b + n, c + n), (a, a + n, b + n, c + n))]
    )
    return vertices, np.concatenate([layer + k * n for k in range(n_layers)])


def along(cross_section_hz, length, n_modes, c):
    """Frequencies of a room whose cross-section goes on for a length."""
    steps = c / (2 * length) * np.arange(60)
    return np.sort(np.hypot.outer(cross_section_hz, steps).ravel())[:n_modes]

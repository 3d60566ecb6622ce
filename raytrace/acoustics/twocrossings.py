"""What two crossings of free-hung panels share, where a path goes behind them and comes back.

Unfolded at the surface behind, the panels' image and the panels are two screens on one straight line from
image source to receiver, a distance of twice the gap apart. Each lets pass 1 + (T - 1) K; both together
1 + (T - 1) K + (T' - 1) K' + (T - 1)(T' - 1) K2, with K2 Kirchhoff's integral over both. K2 is K K' far
apart and K with no gap between: what has gone round one edge has gone round its image as well.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Complexes = NDArray[np.complex128]

_ON_EDGE_M = 1e-7  # a line nearer to an edge counts as this far inside
_ALIKE = 1.0 - 1e-9  # two edges nearer to one another count as this much correlated


def shared_weight(
    first: ArrayLike,
    second: ArrayLike,
    image_source: ArrayLike,
    receiver: ArrayLike,
    frequency_hz: ArrayLike,
    *,
    speed_of_sound_m_s: float,
) -> Complexes:
    """Sum of K2 - K K' over all pairs of a panel at the first and one at the second crossing.

    0 for screens far apart, K (1 - K) for one panel with no gap, the same with both ends exchanged.

    Parameters
    ----------
    first, second : (n, n_panels, 4, 3) array_like
        Corners in order of the rectangles that each line crosses, or nearly, first and second: the panels
        of one plane and their images, all unfolded about the line. [m]
    image_source, receiver : (n, 3) array_like
        Ends of the lines. [m]
    frequency_hz : (n_frequencies,) array_like
        Fastest in ascending order, an octave in a row. [Hz]
    speed_of_sound_m_s : float

    Returns
    -------
    (n, n_frequencies) complex ndarray

    Raises
    ------
    ValueError
        If the shapes do not fit.

    Notes
    -----
    In the paraxial form the integral over both screens is for each axis of the panels a normal
    distribution of two variables: with distances a, L, c along the line D their variances are
    a (L + c)/(jkD) and c (L + a)/(jkD), their correlation ac over the root of a (L + c) c (L + a). The phase
    at two edges is then that of the detours over one, over the other and over both. Here these three are
    exact, which holds at steep angles and wide edges too. Corners are products of their edges: exact where
    the line lies square to one axis of the panels, approximate where it comes from askew.

    Examples
    --------
    >>> panel = np.array([[-0.6, -0.3, 0], [0.6, -0.3, 0], [0.6, 0.3, 0], [-0.6, 0.3, 0]])
    >>> near, far = (
    ...     shared_weight(
    ...         [[panel - [0, 0, gap]]], [[panel + [0, 0, gap]]], [[0, 0, -gap - 2]], [[0, 0, gap + 2]],
    ...         [500.0], speed_of_sound_m_s=343.2,
    ...     )[0, 0]
    ...     for gap in (0.1, 50.0)
    ... )
    >>> bool(abs(near) > 3 * abs(far))
    True
    """
    screens = np.asarray(first, np.float64), np.asarray(second, np.float64)
    ends = np.asarray(image_source, np.float64), np.asarray(receiver, np.float64)
    n = len(ends[0])
    if any(screen.ndim != 4 or screen.shape[::2] != (n, 4) or screen.shape[3] != 3 for screen in screens):
        raise ValueError(f"{n} lines, but panels have shapes {screens[0].shape} and {screens[1].shape}")
    wavenumber = np.asarray(frequency_hz, np.float64) * (2.0 * np.pi / speed_of_sound_m_s)
    if n == 0:
        return np.zeros((0, len(wavenumber)), np.complex128)
    apart_u, shared_u = _along_axis(*_across_edges(screens, ends, 0), wavenumber)
    apart_v, shared_v = _along_axis(*_across_edges(screens, ends, 1), wavenumber)
    pairs = shared_u * apart_v + apart_u * shared_v + shared_u * shared_v
    return np.asarray(pairs.sum(axis=(1, 2)))


def _across_edges(
    screens: tuple[Floats, Floats], ends: tuple[Floats, Floats], axis: int
) -> tuple[Floats, Floats, Floats, Floats]:
    """Both screens cut square to the edges that end them along an axis.

    Each edge as off the line, ahead of the source, (n, n_panels, 2, 2); then how far the line runs in that
    cut and along the edges, both (n,). [m]
    """
    way = ends[1] - ends[0]
    # Corners 0 and 1 end the first axis, their edges run to 3 and 2; 0 and 3 the second, to 1 and 2.
    begins, stops = ([0, 1], [3, 2]) if axis == 0 else ([0, 3], [1, 2])
    runs = [screen[:, 0, stops[0]] - screen[:, 0, begins[0]] for screen in screens]
    runs = [run / np.linalg.norm(run, axis=1, keepdims=True) for run in runs]
    along = runs[1] + np.where(np.sum(runs[0] * runs[1], axis=1) < 0.0, -1.0, 1.0)[:, None] * runs[0]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    slid_m = np.sum(way * along, axis=1)
    ahead = way - slid_m[:, None] * along
    run_m = np.linalg.norm(ahead, axis=1)
    ahead /= run_m[:, None]
    off = np.cross(along, ahead)
    cut = []
    for screen, run in zip(screens, runs, strict=True):
        normal = np.cross(screen[:, 0, 1] - screen[:, 0, 0], screen[:, 0, 3] - screen[:, 0, 0])
        share = np.sum((screen[:, 0, 0] - ends[0]) * normal, axis=1) / np.sum(way * normal, axis=1)
        spot = (ends[0] + share[:, None] * way)[:, None, None]
        corner, edge = screen[:, :, begins], run[:, None, None]
        foot = corner + np.sum((spot - corner) * edge, axis=3, keepdims=True) * edge - ends[0][:, None, None]
        cut.append(np.stack([np.sum(foot * d[:, None, None], axis=3) for d in (off, ahead)], axis=3))
        is_turned = cut[-1][:, :1, 0, 0] > cut[-1][:, :1, 1, 0]
        cut[-1] = np.where(is_turned[:, :, None, None], cut[-1][:, :, ::-1], cut[-1])
    return cut[0], cut[1], run_m, slid_m


def _along_axis(
    first: Floats, second: Floats, run_m: Floats, slid_m: Floats, wavenumber: Floats
) -> tuple[Complexes, Complexes]:
    """K K' of strips and what they share of K2, both (n, n_first, n_second, n_frequencies)."""
    from raytrace.kernels.crossings import shared_edges

    n = len(first)
    (strips, which), (others, which_other) = _unlike(first), _unlike(second)
    reach = _reach(strips.reshape(n, -1, 2), others.reshape(n, -1, 2), run_m, slid_m)
    root = np.sqrt(wavenumber)
    weights = [
        np.diff(half_plane_weight(edges[..., None] * root).reshape(n, -1, 2, len(root)), axis=2)[:, :, 0]
        for edges in (reach.first, reach.second)
    ]
    edges = np.empty((*reach.end.shape, len(wavenumber)), np.complex128)
    shared_edges(*reach, np.ascontiguousarray(wavenumber), edges)
    corners = edges.reshape(n, strips.shape[1], 2, others.shape[1], 2, len(wavenumber))
    shared = np.diff(np.diff(corners, axis=4), axis=2)[:, :, 0, :, 0]
    chosen = np.ix_(np.arange(n), which, which_other)
    return (weights[0][:, :, None] * weights[1][:, None])[chosen], shared[chosen]


def _unlike(strips: Floats) -> tuple[Floats, Ints]:
    """The strips (n, n_strips, 2, 2) that differ, and which of them each is: rows and columns of a cloud."""
    flat = np.round(strips.reshape(*strips.shape[:2], 4), 9) + 0.0  # of -0 and 0 one
    first: dict[bytes, int] = {}
    kept = [first.setdefault(flat[:, k].tobytes(), k) for k in range(flat.shape[1])]
    unlike = list(first.values())
    return strips[:, unlike], np.array([unlike.index(k) for k in kept], np.int64)


class _Reach(NamedTuple):
    """Edges in units in which the phase is k/2 times their square.

    first (n, a), second (n, b): roots of twice the detours over one edge, negative for an edge on the near
    side of the line [m^0.5]; end (n, a, b): artanh of the correlation that makes the detour over both.
    """

    first: Floats
    second: Floats
    end: Floats


def _reach(first: Floats, second: Floats, run_m: Floats, slid_m: Floats) -> _Reach:
    """Detours over edges (n, a, 2), over edges (n, b, 2), and over one of each."""
    straight = np.hypot(run_m, slid_m)

    def detour_m(longer: Floats) -> Floats:  # of a line that is so much longer in the cut
        run, slid, whole = (a.reshape(-1, *[1] * (longer.ndim - 1)) for a in (run_m, slid_m, straight))
        return np.asarray(longer * (2.0 * run + longer) / (whole + np.hypot(run + longer, slid)))

    run = run_m[:, None]
    (x1, z1), (x2, z2) = (
        (np.where(np.abs(e[..., 0]) < _ON_EDGE_M, _ON_EDGE_M, e[..., 0]), e[..., 1]) for e in (first, second)
    )
    to_first, to_second = _longer(x1, z1), _longer(x2, z2)
    from_first, from_second = _longer(x1, run - z1), _longer(x2, run - z2)
    h, g = (
        np.sign(x) * np.sqrt(2.0 * detour_m(longer))
        for x, longer in ((x1, to_first + from_first), (x2, to_second + from_second))
    )
    x1, z1, x2, z2 = x1[:, :, None], z1[:, :, None], x2[:, None], z2[:, None]
    between = _longer(x2 - x1, z2 - z1)
    both = 2.0 * detour_m(to_first[:, :, None] + between + from_second[:, None])
    # Either edge may lie on this side or on the other of the line past the other one.
    sides = np.sign((x1 * z2 - x2 * z1) * (x2 * (run[:, :, None] - z1) - x1 * (run[:, :, None] - z2)))
    rests = np.maximum(both - h[:, :, None] ** 2, 0.0) * np.maximum(both - g[:, None] ** 2, 0.0)
    correlation = (h[:, :, None] * g[:, None] - sides * np.sqrt(rests)) / both
    return _Reach(h, g, np.arctanh(np.clip(correlation, -_ALIKE, _ALIKE)))


def _longer(x: Floats, z: Floats) -> Floats:
    """How much longer a line is than its part z along the way, with all digits where x is small. [m]"""
    length = np.hypot(x, z)
    return np.asarray(np.where(z > 0.0, x**2 / (length + np.abs(z)), length - z))


def half_plane_weight(edge: ArrayLike) -> Complexes:
    """Fresnel's integral up to an edge: what a half plane weighs, 1/2 with the line through its edge.

    Parameters
    ----------
    edge : (...) array_like
        Root of 2 k times the detour over the edge, negative where the line misses the half plane.

    Returns
    -------
    (...) complex ndarray

    Notes
    -----
    1/2 + (1 + j)/2 (C - jS) at edge / sqrt(pi), C and S Fresnel's integrals (DLMF 7.2(iii), from memory).
    """
    from scipy.special import fresnel

    sine, cosine = fresnel(np.asarray(edge, np.float64) / np.sqrt(np.pi))
    return np.asarray(0.5 + (0.5 + 0.5j) * (cosine - 1j * sine))

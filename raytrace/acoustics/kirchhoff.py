"""What a reflector of finite size sends back: weights of polygons, panels that stand proud or hang.

A path that bounces at a polygon is the straight line from an image source to a receiver: for bounce i of a
path the source mirrored in bounces 1 to i and the listener mirrored in the later ones. The polygon's weight
K multiplies what an endless reflector in its plane would send. Time convention e^{+jwt}.
Kirchhoff's integral is a high-frequency form: where the shorter side of a polygon is under half a
wavelength its weight is indicative only.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Polygons = Floats | Sequence[Floats]


def kirchhoff_weight(
    polygons: Polygons,
    image_source: ArrayLike,
    receiver: ArrayLike,
    frequency_hz: ArrayLike,
    *,
    speed_of_sound_m_s: float,
) -> Complexes:
    """Complex weight K of a flat reflector against an endless one in its plane.

    K tends to 1 where the spot lies far inside, to 0 far outside, to 1/2 on an edge, at a corner to its
    angle over 2 pi, and is smooth in between; it holds for a spot anywhere. The same K weighs what passes
    through the polygon as an opening (Babinet), with the true source in place of its image.

    Parameters
    ----------
    polygons : (n, 3) ndarray or sequence of them
        Corners in order [m]. Several loops in one plane count as one reflector: holes run the other way
        round than their outline, separate pieces the same way.
    image_source, receiver : (..., 3) array_like
        Ends of the straight line, on either side of the plane; they broadcast. [m]
    frequency_hz : (...) array_like
        Fastest in ascending order, an octave in a row. [Hz]
    speed_of_sound_m_s : float

    Returns
    -------
    (..., ...) complex ndarray
        The shape of the points, then that of the frequencies.

    Raises
    ------
    ValueError
        If the shapes do not fit.

    Notes
    -----
    The surface integral is reduced exactly to one along the edges: G. A. Maggi (1888), A. Rubinowicz
    (1917), K. Miyamoto, E. Wolf, J. Opt. Soc. Am. 52 (1962) 615 (from memory). Error about 1e-7.

    Examples
    --------
    >>> square = np.array([[-0.6, -0.6, 0], [0.6, -0.6, 0], [0.6, 0.6, 0], [-0.6, 0.6, 0]])
    >>> K = kirchhoff_weight(square, [0.6, 0, -1.5], [0.6, 0, 1.5], [8000.0], speed_of_sound_m_s=343.2)
    >>> round(float(abs(K[0])), 1)  # the spot lies on an edge
    0.5
    """
    corners, loop_start = _loops(polygons)
    every_edge = np.ones(len(corners), dtype=np.bool_)
    return _edge_weights(
        corners, loop_start, every_edge, (image_source, receiver), frequency_hz, speed_of_sound_m_s, 0.0
    )


def open_edges_weight(
    polygons: Polygons,
    open_edges: ArrayLike,
    ends: tuple[ArrayLike, ArrayLike],
    frequency_hz: ArrayLike,
    *,
    speed_of_sound_m_s: float,
    tolerance_m: float,
) -> Complexes:
    """Complex weight of a facet that ends at some of its edges only.

    At an edge in a corner of the room the neighbour carries the field on, so it bends nothing: a spot
    anywhere up to it counts as inside. Without an open edge the weight is 1 on the facet and 0 beside it.

    Parameters
    ----------
    polygons, frequency_hz, speed_of_sound_m_s
        As for `kirchhoff_weight`.
    open_edges : (n_corners,) bool
        Whether the edge from this corner to the next one of its loop is free, all loops in a row.
    ends : tuple of (..., 3) array_like
        Image source and receiver, as for `kirchhoff_weight`. [m]
    tolerance_m : float
        A spot within this distance of a closed edge lies on the facet. [m]

    Returns
    -------
    (..., ...) complex ndarray
    """
    corners, loop_start = _loops(polygons)
    is_open = np.ascontiguousarray(open_edges, dtype=np.bool_)
    if is_open.shape != (len(corners),):
        raise ValueError(f"open_edges has shape {is_open.shape}, but there are {len(corners)} edges")
    return _edge_weights(corners, loop_start, is_open, ends, frequency_hz, speed_of_sound_m_s, tolerance_m)


def to_wall_plane(
    height_m: ArrayLike, cos_theta: ArrayLike, frequency_hz: ArrayLike, *, speed_of_sound_m_s: float
) -> Complexes:
    """Factor e^{+2jkh cos(theta)} that refers a reflection at a proud face to the wall behind it.

    Parameters
    ----------
    height_m : (...) array_like
        From the wall to the reflecting face: gap and thickness. [m]
    cos_theta : (...) array_like
        Cosine of the angle of incidence.
    frequency_hz : (...) array_like
        [Hz]
    speed_of_sound_m_s : float

    Returns
    -------
    (...) complex ndarray
    """
    k = 2.0 * np.pi * np.asarray(frequency_hz, dtype=np.float64) / speed_of_sound_m_s
    return np.asarray(np.exp(2j * k * np.asarray(height_m) * np.asarray(cos_theta)))


def hung_reflection(reflections: ArrayLike, weights: ArrayLike) -> Complexes:
    """What free-hung panels in one plane reflect: sum of R_i K_i.

    Parameters
    ----------
    reflections, weights : (n_panels, ...) array_like
        Reflection factor of each panel with air behind it, and its weight K.

    Returns
    -------
    (...) complex ndarray
    """
    return np.asarray((np.asarray(reflections) * np.asarray(weights)).sum(axis=0), dtype=np.complex128)


def hung_transmission(transmissions: ArrayLike, weights: ArrayLike) -> Complexes:
    """What free-hung panels let through at one crossing: 1 + sum of (T_i - 1) K_i.

    Parameters
    ----------
    transmissions, weights : (n_panels, ...) array_like
        Pressure behind each panel against the undisturbed wave at the same point (a stack's transmission
        times e^{+jkh cos(theta)}, h its thickness), and its weight K with the source's image on this leg.

    Returns
    -------
    (...) complex ndarray
    """
    passed = (np.asarray(transmissions, dtype=np.complex128) - 1.0) * np.asarray(weights)
    return np.asarray(1.0 + passed.sum(axis=0))


def _loops(polygons: Polygons) -> tuple[Floats, NDArray[np.int64]]:
    """All corners one after another, and where each loop starts."""
    single = isinstance(polygons, np.ndarray) and polygons.ndim == 2
    loops = [np.asarray(loop, dtype=np.float64) for loop in ([polygons] if single else polygons)]
    if any(loop.ndim != 2 or loop.shape[1] != 3 or len(loop) < 3 for loop in loops):
        raise ValueError(f"a polygon is (n, 3) corners, 3 or more; got {[loop.shape for loop in loops]}")
    start = np.cumsum([0, *(len(loop) for loop in loops)], dtype=np.int64)
    return np.ascontiguousarray(np.concatenate(loops)), start


def _edge_weights(
    corners: Floats,
    loop_start: NDArray[np.int64],
    is_open: NDArray[np.bool_],
    ends: tuple[ArrayLike, ArrayLike],
    frequency_hz: ArrayLike,
    speed_of_sound_m_s: float,
    tolerance_m: float,
) -> Complexes:
    from raytrace.kernels.edges import edge_weights

    images, receivers = (np.asarray(end, np.float64) for end in ends)
    if images.shape != receivers.shape:
        images, receivers = np.broadcast_arrays(images, receivers)
    if images.shape[-1:] != (3,):
        raise ValueError(f"image_source and receiver are (..., 3) points, got shape {images.shape}")
    frequency = np.asarray(frequency_hz, np.float64)
    wavenumber = np.ascontiguousarray(frequency.ravel()) * (2.0 * np.pi / speed_of_sound_m_s)
    pairs = images.size // 3
    weights = np.empty((pairs, wavenumber.size), dtype=np.complex128)
    edge_weights(
        corners,
        loop_start,
        is_open,
        np.ascontiguousarray(images.reshape(pairs, 3)),
        np.ascontiguousarray(receivers.reshape(pairs, 3)),
        wavenumber,
        tolerance_m,
        weights,
    )
    return weights.reshape(images.shape[:-1] + frequency.shape)

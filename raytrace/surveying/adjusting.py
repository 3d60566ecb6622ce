"""A plan that was measured more often than it needs: closing errors, least squares, and what does not fit."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.room import build_room
from raytrace.scene import MeasuredHeight, MeasuredLength, PlanRoom, Scene, load_scene, set_in_text
from raytrace.surveying.numbers import survey_error_m
from raytrace.surveying.plans import LEAST_ERROR_M, length_name, mean_error_m, steepness, ways_to_move

Floats = NDArray[np.float64]

# A standardised residual beyond which a measurement does not fit: one right one in a thousand lies there
# (W. Baarda, A testing procedure for use in geodetic networks, 1968, from memory).
MISFIT = 3.29
# A shift of corners that the lengths hold no better than this is left as drawn.
_LOOSE_M = 0.2
_UNCHECKED = 1e-3  # share of a measurement's variance that its residual has at least, if others check it
_ALIKE = 0.999  # share of the largest residual from which two are the same
_N_ROUNDS, _DONE_M = 12, 1e-10


@dataclass(frozen=True)
class FittedLength:
    """One measurement beside what the others say.

    Attributes
    ----------
    corners : (2,) tuple of int or None
        Counted from 1; None for a height.
    what : str
        What it is called.
    measured_m, drawn_m : float
        As it was measured, and as the scene has it: their difference is the closing error. [m]
    adjusted_m : float
        After the adjustment. [m]
    error_m : float
        One standard error of the measurement. [m]
    misfit : float
        Standardised residual: by the others, or by the drawing where they do not check it.
    by_others_m, by_others_error_m : float
        What those say of it, with its standard error. [m]
    is_left_out : bool
        Whether it does not fit and was left out.
    by_drawing : bool
        Whether only the room as drawn checks it.
    """

    corners: tuple[int, int] | None
    what: str
    measured_m: float
    drawn_m: float
    adjusted_m: float
    error_m: float
    misfit: float
    by_others_m: float
    by_others_error_m: float
    is_left_out: bool
    by_drawing: bool


@dataclass(frozen=True)
class Adjustment:
    """A plan adjusted to all that was measured of it.

    Attributes
    ----------
    corners : (n, 2) float
        Adjusted; the wall nearest to x = 0 keeps its line. [m]
    covariance : (2 n, 2 n) float
        Of the corners one after the other, x before y; what the lengths do not hold is as drawn, 0. [m2]
    n_free : int
        Ways in which corners could still move without any length changing.
    lengths, heights : tuple of FittedLength
    height_m, height_error_m : float
        Adjusted; as drawn and NaN where none was measured, or those that were contradict one another. [m]
    suspects : tuple of FittedLength
        Measurements of which one does not fit, and nothing tells which: the plan stays as drawn there.
    """

    corners: Floats
    covariance: Floats
    n_free: int
    lengths: tuple[FittedLength, ...]
    heights: tuple[FittedLength, ...]
    height_m: float
    height_error_m: float
    suspects: tuple[FittedLength, ...]

    @property
    def corner_errors_m(self) -> Floats:
        """One standard error of each coordinate, (n, 2)."""
        return np.sqrt(np.diag(self.covariance)).reshape(-1, 2)

    @property
    def misfits(self) -> tuple[FittedLength, ...]:
        """Measurements that do not fit the others."""
        return tuple(own for own in (*self.lengths, *self.heights) if own.is_left_out)


@dataclass(frozen=True)
class _Taped:
    """Lengths between corners: ends (n, 2) counted from 0, lengths and standard errors (n,). [m]"""

    ends: NDArray[np.int64]
    length_m: Floats
    error_m: Floats

    def of(self, corners: Floats) -> Floats:
        """How long they are between such corners. (n,) [m]"""
        along = corners[self.ends[:, 1]] - corners[self.ends[:, 0]]
        lengths: Floats = np.linalg.norm(along, axis=1)
        return lengths

    def at(self, rows: Sequence[int]) -> "_Taped":
        """Some of them."""
        chosen = np.array(rows, np.int64)
        return _Taped(self.ends[chosen], self.length_m[chosen], self.error_m[chosen])


@dataclass(frozen=True)
class _Fit:
    """Corners by some lengths, their covariance, and how many ways of moving no length holds."""

    corners: Floats
    spread: Floats
    n_free: int


def adjust_plan(scene: Scene) -> Adjustment | None:
    """The plan of a scene adjusted to the lengths and heights that were measured of it.

    Least squares of lengths weighed by their errors about the corners as drawn. While a length does not fit
    the others, the worst is left out and told; the rest is adjusted anew. What no other length checks is
    held against the drawing, each coordinate of which is off by the error of the survey: left out and told
    where they do not fit one another, else their weighed mean.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    Adjustment or None
        None for a room that is no plan, or of which nothing was measured beside its corners.

    Notes
    -----
    Standardised residuals w = v / sqrt(Q_vv): Baarda's data snooping (1968, from memory).
    """
    room = scene.room
    if not isinstance(room, PlanRoom) or not (room.diagonals or room.heights):
        return None
    usual_m = survey_error_m(scene)
    drawn = np.array(room.corners, np.float64)
    ends = np.array([own.corners for own in room.diagonals], np.int64).reshape(-1, 2) - 1
    lengths_m = np.array([own.length for own in room.diagonals], np.float64)
    taped = _Taped(ends, lengths_m, _errors_m(room.diagonals, usual_m))
    kept, alike = _snooped(drawn, taped)
    judged = _judged(drawn, taped, kept + alike, usual_m)
    lengths, fit = _fitted_lengths(room, taped, judged, kept=kept, alike=alike)
    heights, height_m, height_error_m = _fitted_heights(room, usual_m)
    suspects = [lengths[k] for k in alike]
    suspects += [own for own in heights if abs(own.misfit) > MISFIT and not own.is_left_out]
    return Adjustment(
        fit.corners,
        fit.spread,
        fit.n_free,
        lengths,
        heights,
        height_m,
        height_error_m,
        tuple(suspects),
    )


def adjusted_text(scene: Scene, adjustment: Adjustment) -> str:
    """The scene's text with adjusted corners and height, to the millimetre; all else as it was.

    Raises
    ------
    SceneError
        If the adjusted scene cannot be.
    """
    assert isinstance(scene.room, PlanRoom)
    text = scene.text
    for k, (corner, drawn) in enumerate(zip(adjustment.corners.tolist(), scene.room.corners, strict=True)):
        for axis in range(2):
            if round(corner[axis], 3) != round(drawn[axis], 3):
                key = ("room", "corners", k, axis)
                text = set_in_text(text, key, round(corner[axis], 3), path=scene.path)
    if round(adjustment.height_m, 3) != round(scene.room.height, 3):
        text = set_in_text(text, ("room", "height"), round(adjustment.height_m, 3), path=scene.path)
    build_room(load_scene(scene.path, text))
    return text


def _errors_m(measured: Sequence[MeasuredLength | MeasuredHeight], usual_m: float) -> Floats:
    errors = [usual_m if own.error is None else own.error for own in measured]
    return np.maximum(np.array(errors, np.float64), LEAST_ERROR_M)


def _snooped(drawn: Floats, taped: _Taped) -> tuple[list[int], list[int]]:
    """Which lengths fit each other, and of which one is off but nothing tells which."""
    kept, alike = list(range(len(taped.length_m))), list[int]()
    while kept:
        misfits = np.abs(np.nan_to_num(_misfits(_fit(drawn, taped.at(kept)), taped.at(kept))))
        if misfits.max() <= MISFIT:
            break
        worst = [kept[k] for k in np.flatnonzero(misfits > _ALIKE * misfits.max())]
        alike += worst if len(worst) > 1 else []
        kept = [k for k in kept if k not in worst]
    return kept, alike


@dataclass(frozen=True)
class _Judged:
    """What others say of each length, its standard error, and whether these others are the drawing. (n,)"""

    by_others_m: Floats
    error_m: Floats
    by_drawing: NDArray[np.bool_]


def _judged(drawn: Floats, taped: _Taped, among: Sequence[int], usual_m: float) -> _Judged:
    """Each length by those `among` them that it is none of, or by the drawing where they leave it free."""
    by_others_m, error_m = taped.of(drawn), np.full(len(taped.length_m), np.sqrt(2.0) * usual_m)
    by_drawing = np.ones(len(taped.length_m), np.bool_)
    whole = _fit(drawn, taped.at(among))
    for k in range(len(taped.length_m)):
        without = _fit(drawn, taped.at([j for j in among if j != k]))
        # Others that leave its ends free say nothing of it.
        if without.n_free == whole.n_free:
            own = taped.at([k])
            by_others_m[k], by_drawing[k] = own.of(without.corners)[0], False
            error_m[k] = np.sqrt(_variance_m2(without, own)[0])
    return _Judged(by_others_m, error_m, by_drawing)


def _fit(drawn: Floats, taped: _Taped) -> _Fit:
    """Least squares by Gauss and Newton; ways of moving that no length holds stay as drawn."""
    ways = ways_to_move(drawn)
    corners, spread = drawn, np.zeros((2 * len(drawn),) * 2)
    rank = 0
    for _ in range(_N_ROUNDS if len(taped.length_m) else 0):
        steep = steepness(corners, taped.ends) @ ways
        weight = 1.0 / taped.error_m
        left, size, right = np.linalg.svd(steep * weight[:, None], full_matrices=False)
        held = size > 1.0 / _LOOSE_M
        rank = int(held.sum())
        off = (taped.length_m - taped.of(corners)) * weight
        # Towards the plan as drawn wherever the lengths leave it free.
        back = ways.T @ (drawn - corners).ravel()
        free = back - right[held].T @ (right[held] @ back)
        step = right[held].T @ ((left[:, held].T @ off) / size[held]) + free
        corners = corners + (ways @ step).reshape(-1, 2)
        shape = ways @ right[held].T
        spread = (shape / size[held] ** 2) @ shape.T
        if np.abs(step).max() < _DONE_M:
            break
    return _Fit(corners, spread, ways.shape[1] - rank)


def _misfits(fit: _Fit, taped: _Taped) -> Floats:
    """Standardised residuals of lengths; NaN where no other one checks them, (n,)."""
    off_m = taped.length_m - taped.of(fit.corners)
    variance = taped.error_m**2
    left_over = variance - _variance_m2(fit, taped)
    checked = left_over > _UNCHECKED * variance
    misfits: Floats = np.where(checked, off_m / np.sqrt(np.where(checked, left_over, 1.0)), np.nan)
    return misfits


def _variance_m2(fit: _Fit, taped: _Taped) -> Floats:
    """Variance of each length by the adjusted corners, (n,)."""
    steep = steepness(fit.corners, taped.ends)
    variance: Floats = np.einsum("ij,jk,ik->i", steep, fit.spread, steep)
    return variance


def _fitted_lengths(
    room: PlanRoom, taped: _Taped, judged: _Judged, *, kept: Sequence[int], alike: Sequence[int]
) -> tuple[tuple[FittedLength, ...], _Fit]:
    """Each length beside what was drawn and adjusted, and the corners by those that fit."""
    drawn = np.array(room.corners, np.float64)
    misfit = (taped.length_m - judged.by_others_m) / np.hypot(taped.error_m, judged.error_m)
    taken = [k for k in kept if not (judged.by_drawing[k] and abs(misfit[k]) > MISFIT)]
    weight, weight_drawn = taped.error_m**-2, np.where(judged.by_drawing, judged.error_m**-2, 0.0)
    mean_m = (weight * taped.length_m + weight_drawn * judged.by_others_m) / (weight + weight_drawn)
    fit = _fit(drawn, _Taped(taped.ends, mean_m, (weight + weight_drawn) ** -0.5).at(taken))
    drawn_m, adjusted_m = taped.of(drawn), taped.of(fit.corners)
    found = [
        FittedLength(
            own.corners,
            length_name(room, *own.corners),
            own.length,
            float(drawn_m[k]),
            float(adjusted_m[k]),
            float(taped.error_m[k]),
            float(misfit[k]),
            float(judged.by_others_m[k]),
            float(judged.error_m[k]),
            k not in taken and k not in alike,
            bool(judged.by_drawing[k]),
        )
        for k, own in enumerate(room.diagonals)
    ]
    return tuple(found), fit


def _fitted_heights(room: PlanRoom, usual_m: float) -> tuple[tuple[FittedLength, ...], float, float]:
    """The heights beside their weighed mean, that mean and its standard error."""
    measured_m = np.array([own.height for own in room.heights], np.float64)
    errors_m = _errors_m(room.heights, usual_m)
    if len(measured_m) == 1:
        # One alone is checked by the height as drawn, as a length that no other checks.
        measured_m, errors_m = np.append(measured_m, room.height), np.append(errors_m, usual_m)
    if not len(measured_m):
        return (), room.height, float("nan")
    kept = list(range(len(measured_m)))
    while True:
        off = [abs(_off_others(measured_m, errors_m, kept, k)[2]) for k in kept]
        if len(kept) < 3 or max(off) <= MISFIT:
            break
        kept.pop(int(np.argmax(off)))
    contradict = max(off) > MISFIT
    mean_m, error_m = (room.height, float("nan")) if contradict else _mean(measured_m, errors_m, kept)
    is_alone = len(room.heights) == 1
    found = []
    for k, own in enumerate(room.heights):
        by_others_m, by_others_error_m, misfit = _off_others(measured_m, errors_m, kept, k)
        found.append(
            FittedLength(
                None,
                "height" + (f" {own.place}" if own.place else ""),
                own.height,
                room.height,
                mean_m,
                float(errors_m[k]),
                misfit,
                by_others_m,
                by_others_error_m,
                k not in kept or (is_alone and contradict),
                is_alone,
            )
        )
    return tuple(found), mean_m, error_m


def _mean(measured_m: Floats, errors_m: Floats, kept: Sequence[int]) -> tuple[float, float]:
    """Weighed mean of some values, and its standard error."""
    weight = 1.0 / errors_m[kept] ** 2
    return float(weight @ measured_m[kept] / weight.sum()), mean_error_m(errors_m[kept].tolist())


def _off_others(
    measured_m: Floats, errors_m: Floats, kept: Sequence[int], k: int
) -> tuple[float, float, float]:
    """What other kept values say of one, its standard error, how many errors it is off; NaN for none."""
    others = [j for j in kept if j != k]
    if not others:
        return (float("nan"),) * 3
    mean_m, error_m = _mean(measured_m, errors_m, others)
    return mean_m, error_m, float((measured_m[k] - mean_m) / np.hypot(errors_m[k], error_m))

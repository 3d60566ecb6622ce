"""Sixteen float32 at a time do what numpy does with them one by one, compiled or not."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numba import njit

from raytrace.kernels.sixteens import (
    N,
    at_place,
    bits_below,
    bits_up_to,
    fused,
    greater,
    lesser,
    pick_bits,
    put_row,
    reciprocal,
    row_of,
    spread,
)

RNG = np.random.default_rng(3)
ROWS = RNG.normal(size=(2, 4, N)).astype(np.float32)
ROWS[0, 1, :4] = ROWS[0, 0, :4]  # some equal, to tell < from <=
ROWS[1, 0, :2] = np.inf, -np.inf
A, B, C, D = ROWS[0]


@njit
def places(value, out):
    for k in range(N):
        out[k] = at_place(value, np.uint64(k))


@njit
def arithmetic(rows, out):
    a, b, c = row_of(rows, 0, 0), row_of(rows, 0, 1), row_of(rows, 0, 2)
    places(a + b, out[0])
    places(a - b, out[1])
    places(a * b, out[2])
    places(a / b, out[3])
    places(-c, out[4])
    places(abs(c), out[5])
    places(spread(rows[0, 3, 7]), out[6])
    places(fused(a, b, c), out[7])


@njit
def choices(rows, out):
    a, b, c = row_of(rows, 0, 0), row_of(rows, 0, 1), row_of(rows, 0, 2)
    places(lesser(a, c), out[0])
    places(greater(a, c), out[1])
    places(pick_bits(bits_below(a, c), b, c), out[2])
    put_row(rows, 1, 3, a)
    return bits_up_to(a, b), bits_below(a, b), bits_up_to(row_of(rows, 1, 0), spread(np.float32(0.0)))


def test_arithmetic_is_numpys_in_float32():
    out = np.empty((8, N), np.float32)
    arithmetic(ROWS, out)
    expected = A + B, A - B, A * B, A / B, -C, abs(C), np.full(N, D[7])
    np.testing.assert_array_equal(out[:7], expected)
    exact, parts = A.astype(float) * B + C, abs(A * B) + abs(C)
    assert (abs(out[7] - exact) <= np.finfo(np.float32).eps * parts).all()  # one rounding or two


def test_choices_and_bits_are_numpys():
    rows, out = ROWS.copy(), np.empty((3, N), np.float32)
    same, less, below = choices(rows, out)
    expected = np.minimum(A, C), np.maximum(A, C), np.where(A < C, B, C)
    np.testing.assert_array_equal(out, expected)
    np.testing.assert_array_equal(rows[1, 3], A)
    assert [bool(same >> k & 1) for k in range(N)] == (A <= B).tolist()
    assert [bool(less >> k & 1) for k in range(N)] == (A < B).tolist()
    assert [bool(below >> k & 1) for k in range(N)] == (ROWS[1, 0] <= 0).tolist()


@njit
def inverse_of(rows, out):
    places(reciprocal(row_of(rows, 0, 0)), out)


def test_a_reciprocal_is_right_to_two_units_in_the_last_place():
    rows = np.geomspace(1e-30, 1e30, 16 * 50).astype(np.float32).reshape(50, 1, N)
    for row in rows:
        out = np.empty(N, np.float32)
        inverse_of(row[None], out)
        exact = 1.0 / row[0].astype(float)
        assert (abs(out - exact) <= 2 * np.spacing(exact.astype(np.float32))).all()


def test_nothing_is_below_the_reciprocal_of_nothing():
    """What a ray along a plane rests on: inf or nan, no finite number."""
    out = np.empty(N, np.float32)
    inverse_of(np.zeros((1, 1, N), np.float32), out)
    assert not np.isfinite(out).any()


@pytest.mark.slow
def test_the_tree_meets_the_same_triangles_as_plain_python():
    code = """
import numpy as np
from raytrace.kernels.tree import closest_in_tree
from raytrace.room.rays import pack_tree
rng = np.random.default_rng(5)
corners = rng.uniform(-1, 1, (60, 1, 3)) + rng.uniform(-0.4, 0.4, (60, 3, 3))
ways = rng.normal(size=(40, 3))
ways /= np.linalg.norm(ways, axis=1)[:, None]
part, margin = np.empty(40, np.int32), np.empty(40, np.float32)
tree = pack_tree(corners)
closest_in_tree(np.zeros((40, 3)), ways, np.full(40, np.inf), tree, np.float32(1e-6), part, margin)
print(part.tolist())
"""
    found = [
        subprocess.run(
            [sys.executable, "-W", "ignore", "-c", code],
            env={**os.environ, "NUMBA_DISABLE_JIT": switch},
            cwd=Path(__file__).parents[3],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for switch in ("0", "1")
    ]
    assert found[0] == found[1]
    assert len(set(eval(found[0]))) > 5  # hits on many triangles, not forty misses

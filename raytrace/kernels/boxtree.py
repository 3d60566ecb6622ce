"""A binary tree of boxes, split where rays have least to do (surface area heuristic)."""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.jit import kernel

BINS = 16


class BoxTree(NamedTuple):
    """Node 0 holds everything; children stand after their parents, right after left.

    items : (n,) the boxes in the tree's order
    box : (n_nodes, 6) low and high corner of each node [m]
    left : (n_nodes,) left child, -1 in leaves; the right one follows it
    first, last : (n_nodes,) range of a node in `items`
    """

    items: np.ndarray
    box: np.ndarray
    left: np.ndarray
    first: np.ndarray
    last: np.ndarray


@kernel
def grow_box_tree(boxes, leaf_size):
    """Tree over boxes (n, 6) with leaves of at most `leaf_size`.

    J. Goldsmith, J. Salmon, IEEE Computer Graphics and Applications 7 (1987) 14; binned as in I. Wald,
    IEEE Symposium on Interactive Ray Tracing (2007) (both from memory).
    """
    n = boxes.shape[0]
    items = np.arange(n)
    box = np.empty((2 * n, 6))
    left = np.full(2 * n, -1, np.int64)
    first, last = np.zeros(2 * n, np.int64), np.zeros(2 * n, np.int64)
    last[0] = n
    n_nodes, node = 1, 0
    bins = np.empty((BINS, 6))
    counts = np.empty(BINS, np.int64)
    costs = np.empty(BINS)
    while node < n_nodes:
        _clear(box[node])
        for i in range(first[node], last[node]):
            _enclose(box[node], boxes[items[i]])
        if last[node] - first[node] > leaf_size:
            middle = _split(items, boxes, first[node], last[node], bins, counts, costs)
            left[node] = n_nodes
            first[n_nodes], last[n_nodes] = first[node], middle
            first[n_nodes + 1], last[n_nodes + 1] = middle, last[node]
            n_nodes += 2
        node += 1
    return BoxTree(
        items, box[:n_nodes].copy(), left[:n_nodes].copy(), first[:n_nodes].copy(), last[:n_nodes].copy()
    )


@kernel
def half_area(box):
    """Half the surface of a box (6,) [m2]: how many rays meet it."""
    x, y, z = box[3] - box[0], box[4] - box[1], box[5] - box[2]
    return x * y + y * z + z * x


@kernel
def _clear(box):
    for axis in range(3):
        box[axis], box[3 + axis] = np.inf, -np.inf


@kernel
def _enclose(box, other):
    for axis in range(3):
        box[axis] = min(box[axis], other[axis])
        box[3 + axis] = max(box[3 + axis], other[3 + axis])


@kernel
def _split(items, boxes, first, last, bins, counts, costs):
    """Sort a range of items into two; returns where the second begins."""
    least, best_axis, best_bin, best_low, best_scale = np.inf, -1, 0, 0.0, 0.0
    total = np.empty(6)
    for axis in range(3):
        low, high = np.inf, -np.inf
        for i in range(first, last):
            middle = boxes[items[i], axis] + boxes[items[i], 3 + axis]
            low, high = min(low, middle), max(high, middle)
        if not high > low:
            continue
        scale = BINS * (1.0 - 1e-9) / (high - low)
        counts[:] = 0
        for k in range(BINS):
            _clear(bins[k])
        for i in range(first, last):
            k = int((boxes[items[i], axis] + boxes[items[i], 3 + axis] - low) * scale)
            counts[k] += 1
            _enclose(bins[k], boxes[items[i]])

        # Cost of cutting before each bin: what lies from it on, then what lies before it.
        _clear(total)
        count = 0
        for k in range(BINS - 1, 0, -1):
            count += counts[k]
            _enclose(total, bins[k])
            costs[k] = half_area(total) * count if count else np.inf
        _clear(total)
        count = 0
        for k in range(1, BINS):
            count += counts[k - 1]
            _enclose(total, bins[k - 1])
            cost = costs[k] + half_area(total) * count if count else np.inf
            if cost < least:
                least, best_axis, best_bin, best_low, best_scale = cost, axis, k, low, scale
    if best_axis < 0:
        return (first + last) // 2
    i, j = first, last - 1
    while i <= j:
        middle = boxes[items[i], best_axis] + boxes[items[i], 3 + best_axis]
        if int((middle - best_low) * best_scale) < best_bin:
            i += 1
        else:
            items[i], items[j] = items[j], items[i]
            j -= 1
    return i

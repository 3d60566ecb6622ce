"""What is seen in every pixel: triangles with light and pattern, and round bars, the nearest in front.

Places on the screen are (x, y, nearness): pixels from the top left corner, and a number that grows towards
the eye and is linear on the screen: 1 / depth in a perspective, -depth in a parallel projection. Every kernel
fills rows `top` to `bottom` only, so that bands of one picture can be drawn side by side.
"""

from typing import NamedTuple

import numpy as np

from raytrace.kernels.jit import inlined, kernel

PLAIN, BOARDS, PLASTER, CLOTH, BLOCKS, GRAIN, GLASS = range(7)
BOARD_M, BOARD_LENGTH_M = 0.145, 1.9
BLOCK_M, BLOCK_LENGTH_M = 0.225, 0.45


class LightGrids(NamedTuple):
    """Brightness on grids of flat faces, and what the faces look like.

    values : (n,) float32 brightness of all grids, row by row, v outside
    start : (n_grids,) int64 first value of each
    shape : (n_grids, 2) int64 points along u and v
    low : (n_grids, 2) float32 u and v of the first point [m]
    step : (n_grids, 2) float32 [m]
    pattern : (n_grids,) int64
    """

    values: np.ndarray
    start: np.ndarray
    shape: np.ndarray
    low: np.ndarray
    step: np.ndarray
    pattern: np.ndarray


@inlined
def _hash(i, j):
    """A number between 0 and 1 that looks drawn by lot, the same for the same two whole numbers."""
    h = np.uint64(np.int64(i) * 374761393 + np.int64(j) * 668265263) & np.uint64(0xFFFFFFFF)
    h = ((h ^ (h >> np.uint64(13))) * np.uint64(1274126177)) & np.uint64(0xFFFFFFFF)
    return np.float32((h ^ (h >> np.uint64(16))) & np.uint64(0xFFFF)) / np.float32(65536.0)


@kernel
def _noise(x, y):
    """Smooth noise between -1 and 1, one hill to a unit."""
    i, j = np.floor(x), np.floor(y)
    a, b = x - i, y - j
    a, b = a * a * (3.0 - 2.0 * a), b * b * (3.0 - 2.0 * b)
    low = _hash(i, j) * (1.0 - a) + _hash(i + 1, j) * a
    high = _hash(i, j + 1) * (1.0 - a) + _hash(i + 1, j + 1) * a
    return 2.0 * (low * (1.0 - b) + high * b) - 1.0


@inlined
def _seam(place, width, pixel):
    """Share of a pixel that a joint of `width` covers, `place` from its middle. [m]"""
    return min(1.0, max(0.0, (0.5 * (width + pixel) - abs(place)) / pixel)) * min(1.0, width / pixel)


@kernel
def _courses(u, v, pixel, height, length, joint, bond):
    """Row and column of a board or block at (u, v), and the share of the pixel that its joint takes."""
    row = np.floor(v / height)
    shifted = u + (0.5 * length * (row % 2) if bond else _hash(row, 7) * length)
    column = np.floor(shifted / length)
    across = v / height - row
    along = shifted / length - column
    joint_share = max(
        _seam(min(across, 1.0 - across) * height, joint, pixel),
        _seam(min(along, 1.0 - along) * length, joint, pixel),
    )
    return row, column, joint_share


@kernel
def pattern_at(kind, u, v, pixel):
    """Brightness of a material at a place of its face, around 1.

    kind : one of the patterns; u, v : place [m]; pixel : size of a pixel there [m]
    """
    if kind == BOARDS:
        row, column, joint = _courses(u, v, pixel, BOARD_M, BOARD_LENGTH_M, 0.003, False)
        fade = min(1.0, 0.004 / pixel)
        grain = _noise(1.6 * u + 31.0 * row, 95.0 * v) + 0.6 * _noise(0.9 * u + 17.0 * column, 31.0 * v)
        return (1.0 + 0.075 * (_hash(row, column) - 0.5) + 0.016 * fade * grain) * (1.0 - 0.28 * joint)
    if kind == PLASTER:
        return 1.0 + 0.006 * _noise(1.7 * u, 1.7 * v) + 0.003 * _noise(9.0 * u, 9.0 * v)
    if kind == CLOTH:
        fade = min(1.0, 0.004 / pixel)
        return 1.0 + 0.015 * _noise(4.0 * u, 4.0 * v) + 0.05 * fade * _noise(150.0 * u, 150.0 * v)
    if kind == BLOCKS:
        row, column, joint = _courses(u, v, pixel, BLOCK_M, BLOCK_LENGTH_M, 0.010, True)
        return (1.0 + 0.02 * (_hash(row, column) - 0.5)) * (1.0 - 0.085 * joint)
    if kind == GRAIN:
        fade = min(1.0, 0.006 / pixel)
        return 1.0 + fade * (0.022 * _noise(0.8 * u, 42.0 * v) + 0.014 * _noise(2.1 * u, 110.0 * v))
    if kind == GLASS:
        return 1.0 + 0.05 * _noise(1.1 * (u + 0.8 * v), 0.1)
    return 1.0


@kernel
def light_at(grids, grid, u, v):
    """Brightness between the points of a grid."""
    nu, nv = grids.shape[grid, 0], grids.shape[grid, 1]
    x = min(max((u - grids.low[grid, 0]) / grids.step[grid, 0], 0.0), nu - 1.001)
    y = min(max((v - grids.low[grid, 1]) / grids.step[grid, 1], 0.0), nv - 1.001)
    i, j = int(x), int(y)
    a, b = x - i, y - j
    at = grids.start[grid] + j * nu + i
    low = grids.values[at] * (1.0 - a) + grids.values[at + 1] * a
    high = grids.values[at + nu] * (1.0 - a) + grids.values[at + nu + 1] * a
    return low * (1.0 - b) + high * b


@inlined
def _lay(pixels, y, x, red, green, blue, share):
    """Lay a colour (0 to 1) over a pixel (red, green, blue, opacity as bytes) by its share."""
    if share >= 1.0:
        pixels[y, x, 0] = np.uint8(min(255.0, 255.0 * red + 0.5))
        pixels[y, x, 1] = np.uint8(min(255.0, 255.0 * green + 0.5))
        pixels[y, x, 2] = np.uint8(min(255.0, 255.0 * blue + 0.5))
        pixels[y, x, 3] = 255
    else:
        below = pixels[y, x, 3] / 255.0
        whole = share + below * (1.0 - share)
        part = share / max(whole, 1e-6)
        pixels[y, x, 0] = np.uint8(min(255.0, 255.0 * red * part + pixels[y, x, 0] * (1.0 - part) + 0.5))
        pixels[y, x, 1] = np.uint8(min(255.0, 255.0 * green * part + pixels[y, x, 1] * (1.0 - part) + 0.5))
        pixels[y, x, 2] = np.uint8(min(255.0, 255.0 * blue * part + pixels[y, x, 2] * (1.0 - part) + 0.5))
        pixels[y, x, 3] = np.uint8(255.0 * whole + 0.5)


@inlined
def _crossing(ax, ay, bx, by, y):
    """Where an edge meets a row: the same number from both triangles that share it."""
    if ay > by or (ay == by and ax > bx):
        ax, ay, bx, by = bx, by, ax, ay
    return ax + (bx - ax) * ((y - ay) / (by - ay))


@kernel
def _span(corners, y):
    """First column in a triangle (3, 3) at a row, and the first one past it."""
    left, right = np.inf, -np.inf
    for k in range(3):
        one, other = corners[k], corners[(k + 1) % 3]
        if (one[1] <= y) != (other[1] <= y):
            x = _crossing(one[0], one[1], other[0], other[1], y)
            left, right = min(left, x), max(right, x)
    if left > right:
        return 0, 0
    return int(np.ceil(left - 0.5)), int(np.ceil(right - 0.5))


@kernel
def draw_triangles(screen, colours, places, grid, opacity, grids, is_parallel, band, near, pixels):
    """Triangles in their order; those that let light through must come after all others, far ones first.

    screen : (n, 3, 3) corners: x, y, nearness
    colours : (n, 3, 3) of the corners, 0 to 1
    places : (n, 3, 2) u and v of the corners on their face [m]
    grid : (n,) int64 light grid, -1 for none
    opacity : (n,) 1 is solid
    band : (top, bottom, metres that a pixel is wide where nearness is 1, or everywhere if parallel)
    near : (height, width) float32 nearness of what is seen
    pixels : (height, width, 4) uint8
    """
    top, bottom, metres = band
    for t in range(len(screen)):
        (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = screen[t, 0], screen[t, 1], screen[t, 2]
        area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        if area == 0.0:
            continue
        first = max(top, int(np.ceil(min(y0, y1, y2) - 0.5)))
        for y in range(first, min(bottom, int(np.ceil(max(y0, y1, y2) - 0.5)))):
            start, end = _span(screen[t], y + 0.5)
            for x in range(max(0, start), min(near.shape[1], end)):
                b = ((x + 0.5 - x0) * (y2 - y0) - (x2 - x0) * (y + 0.5 - y0)) / area
                c = ((x1 - x0) * (y + 0.5 - y0) - (x + 0.5 - x0) * (y1 - y0)) / area
                a = 1.0 - b - c
                z = a * z0 + b * z1 + c * z2
                if z <= near[y, x]:
                    continue
                if opacity[t] >= 1.0:
                    near[y, x] = z
                pixel = metres
                if not is_parallel:
                    a, b, c = a * z0 / z, b * z1 / z, c * z2 / z
                    pixel = metres / z
                shade, cool = 1.0, 0.0
                if grid[t] >= 0:
                    u = a * places[t, 0, 0] + b * places[t, 1, 0] + c * places[t, 2, 0]
                    v = a * places[t, 0, 1] + b * places[t, 1, 1] + c * places[t, 2, 1]
                    shade = light_at(grids, grid[t], u, v)
                    cool = 0.045 * (1.0 - shade)
                    shade *= pattern_at(grids.pattern[grid[t]], u, v, pixel)
                red = (a * colours[t, 0, 0] + b * colours[t, 1, 0] + c * colours[t, 2, 0]) * (shade - cool)
                green = (a * colours[t, 0, 1] + b * colours[t, 1, 1] + c * colours[t, 2, 1]) * shade
                blue = (a * colours[t, 0, 2] + b * colours[t, 1, 2] + c * colours[t, 2, 2]) * (shade + cool)
                _lay(pixels, y, x, red, green, blue, opacity[t])


@inlined
def _roundness(dx, dy, reach):
    """Light from the upper left on a round bar, (dx, dy) of `reach` pixels off its middle line."""
    out = np.sqrt(max(0.0, 1.0 - (dx * dx + dy * dy) / (reach * reach)))
    return 0.66 + 0.40 * max(0.0, (-0.35 * dx - 0.45 * dy) / reach + 0.82 * out)


@kernel
def draw_bars(screen, reach, colours, looks, is_parallel, top, bottom, near, pixels):
    """Round bars with round ends in their order, far ones first; their edges are smoothed.

    screen : (n, 2, 3) ends: x, y, nearness
    reach : (n, 3) radius at the ends [px]; radius [m]
    colours : (n, 3) 0 to 1
    looks : (n, 2) opacity; 1 where it is shaded round, 0 where it is of one colour
    near, pixels, top, bottom : as for `draw_triangles`
    """
    width = near.shape[1]
    for n in range(len(screen)):
        (x0, y0, z0), (x1, y1, z1) = screen[n, 0], screen[n, 1]
        dx, dy = x1 - x0, y1 - y0
        square = max(dx * dx + dy * dy, 1e-12)
        thick = max(reach[n, 0], reach[n, 1], 0.6) + 1.0
        for y in range(
            max(top, int(min(y0, y1) - thick)), min(bottom, int(np.ceil(max(y0, y1) + thick)) + 1)
        ):
            first, last = 0.0, 1.0
            if abs(dy) > 1e-9:
                low, high = (y + 0.5 - thick - y0) / dy, (y + 0.5 + thick - y0) / dy
                first, last = max(0.0, min(low, high)), min(1.0, max(low, high))
            left = min(x0 + first * dx, x0 + last * dx) - thick
            right = max(x0 + first * dx, x0 + last * dx) + thick
            for x in range(max(0, int(left)), min(width, int(np.ceil(right)) + 1)):
                px, py = x + 0.5 - x0, y + 0.5 - y0
                t = min(1.0, max(0.0, (px * dx + py * dy) / square))
                offx, offy = px - t * dx, py - t * dy
                off = np.sqrt(offx * offx + offy * offy)
                r = reach[n, 0] + t * (reach[n, 1] - reach[n, 0])
                drawn = max(r, 0.6)
                share = min(1.0, max(0.0, drawn - off + 0.5)) * min(1.0, r / drawn) * looks[n, 0]
                if share <= 0.0:
                    continue
                out = reach[n, 2] * np.sqrt(max(0.0, 1.0 - (off / drawn) ** 2))
                z = z0 + t * (z1 - z0)
                z = z + out if is_parallel else z / max(1.0 - z * out, 0.1)
                if z <= near[y, x]:
                    continue
                shade = _roundness(offx, offy, drawn) if looks[n, 1] > 0.0 else 1.0
                _lay(pixels, y, x, colours[n, 0] * shade, colours[n, 1] * shade, colours[n, 2] * shade, share)
                if share > 0.5:
                    near[y, x] = z

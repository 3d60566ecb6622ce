"""What bounds the air for long waves, cut to cells: volumes, areas and moments are exact."""

from itertools import pairwise

import numpy as np
import pytest

from raytrace.bass.airbody import air_body, cut_air
from raytrace.bass.elements import assemble
from raytrace.bass.grid import make_grid
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support.rooms import SHAPES, room_text

EXACT = 1e-9  # asked of volumes and areas; rounding is a thousandth of it

CHIMNEY = """
[[objects]]
name = "chimney"
shape = "box"
centre = [3.9, 1.4, 1.2]
size = [1.1, 0.9, 3.0]
yaw = 25
material = "wood"
[[objects]]
name = "step"
shape = "box"
centre = [3.5, 1.4, 0.2]
size = [1.4, 1.5, 0.7]
material = "wood"
"""


def cut(text, cell_m=0.43):
    room = build_room(load_scene("room.toml", text))
    body = air_body(room)
    return room, body, cut_air(body, make_grid(body.triangles, cell_m))


def piece_areas(pieces):
    """Vectors of area of pieces, (n_pieces, 3)."""
    start = pieces.start
    loops = [pieces.points[a:b] for a, b in pairwise(start)]
    return np.array([0.5 * np.cross(p[1:-1] - p[0], p[2:] - p[0]).sum(axis=0) for p in loops])


@pytest.mark.parametrize("name", SHAPES)
def test_volume_and_surface_of_every_shape_are_exact(name):
    room, _, air = cut(room_text(name))
    assert air.volume_m3 == pytest.approx(room.volume_m3, rel=EXACT)
    areas = piece_areas(air.faces)
    assert np.linalg.norm(areas, axis=1).sum() == pytest.approx(room.surface_area_m2, rel=EXACT)
    assert np.abs(areas.sum(axis=0)).max() < EXACT * room.surface_area_m2


def test_objects_that_cross_walls_and_each_other_leave_closed_air():
    room, _, air = cut(room_text("box", CHIMNEY))
    areas = piece_areas(air.faces)
    assert np.abs(areas.sum(axis=0)).max() < EXACT * room.surface_area_m2
    # Sampled volume: 3e5 points are right to 0.1 %, twice that here.
    rng = np.random.default_rng(0)
    inside = room.contains(rng.uniform(room.bounds[0], room.bounds[1], (300_000, 3)))
    assert air.volume_m3 == pytest.approx(room.volume_m3 * inside.mean(), rel=2e-3)


def test_moments_of_air_are_those_of_another_grid():
    # A polynomial of up to the eighth degree along each axis: cells of other sizes, the same integral.
    totals = []
    for cell_m in (0.37, 0.61):
        _, _, air = cut(
            room_text("hip", CHIMNEY.replace("3.9, 1.4", "2.9, 2.4").replace("3.5, 1.4", "2.5, 2.4")), cell_m
        )
        space, _, mass = assemble(air)
        nodes = node_places(space)
        # Products of two functions of the fourth degree, which cells hold exactly.
        p, q = nodes[:, 0] ** 4 * nodes[:, 1] ** 3, nodes[:, 2] ** 4 * nodes[:, 1] ** 4 - nodes[:, 0]
        totals.append(p @ (mass @ q))
    assert totals[0] == pytest.approx(totals[1], rel=EXACT)


def test_stiffness_knows_the_gradients_of_fields():
    _, _, air = cut(room_text("gable"))
    space, stiffness, _ = assemble(air)
    x, y, z = node_places(space).T
    # |grad|^2 of x + 2 y - 3 z is 14 everywhere; what is outside the air adds a hundred-millionth of it.
    field = x + 2 * y - 3 * z
    assert field @ (stiffness @ field) == pytest.approx(14 * air.volume_m3, rel=2e-8)


def node_places(space):
    """Places of the unknowns, (n_unknowns, 3)."""
    places = np.stack(np.meshgrid(*space.grid.nodes, indexing="ij"), -1).reshape(-1, 3)
    return places[space.unknown >= 0]


def test_grid_lines_fall_on_walls_along_the_axes():
    _, body, air = cut(room_text("elbow"))
    assert 3.4 in air.grid.lines[0]
    assert 3.4 in air.grid.lines[1]
    assert len(air.cut) == 0
    assert body.left_out == ()


def test_walls_nearer_to_each_other_than_cells_can_be_get_one_line():
    step = (
        '[[objects]]\nname = "step"\nshape = "box"\ncentre = [2, 1.5, 0.5]\nsize = [1.0, 1.0, 1.0]\n'
        'material = "wood"\n'
    )
    near = step.replace("step", "step 2").replace("[2, 1.5, 0.5]", "[2.005, 1.5, 0.5]")
    _, _, air = cut(room_text("box", step + near))
    spacing = np.concatenate([np.diff(line) for line in air.grid.lines])
    assert spacing.min() > 0.015
    # Two boxes of 1 m3, 5 mm apart: together 1.005 m3.
    assert air.volume_m3 == pytest.approx(4.2 * 3.0 * 2.4 - 1.005, rel=EXACT)

"""Scans with known truth: rooms meshed finely and roughened as a phone scan is."""

from dataclasses import dataclass, field

import numpy as np

from raytrace.room import triangulate
from raytrace.scan import cut_long

#: The irregular room of a scan: its outline, height and furniture. [m]
OUTLINE = (
    (0.0, 0.0), (3.92, 0.06), (4.31, 0.74), (4.30, 1.88), (3.88, 2.55), (3.86, 3.71),
    (2.30, 3.74), (2.29, 3.38), (1.05, 3.40), (1.06, 3.77), (0.03, 3.80),
)  # fmt: skip
HEIGHT = 2.44
DESK = ((0.50, 1.10, 0.0), (1.15, 2.55, 0.73))
SOFA = ((2.95, 1.00, 0.0), (3.75, 2.50, 0.45))
HOLE = ((2.6, 2.6), (3.1, 3.0))


@dataclass
class Rough:
    """What a scan does to a room: noise [m], edge length [m], shares and counts of faults."""

    noise: float = 0.008
    edge: float = 0.13
    outliers: float = 0.0
    flipped: float = 0.15
    repeated: int = 200
    degenerate: int = 40
    seed: int = 1


@dataclass
class Truth:
    """Flat faces of a room, each an outline with holes, anticlockwise seen from the air."""

    faces: list = field(default_factory=list)

    def add(self, outline, holes=()):
        self.faces.append((np.array(outline, float), [np.array(h, float) for h in holes]))


def box_sides(truth, low, high):
    """A block that stands on the floor: four sides and a top, open below."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    plan = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    for (ax, ay), (bx, by) in zip(plan, plan[1:] + plan[:1], strict=True):
        truth.add([(ax, ay, z0), (bx, by, z0), (bx, by, z1), (ax, ay, z1)])
    truth.add([(x, y, z1) for x, y in plan])


def plan_room(outline, height, *, blocks=(), hole=None, tops=None):
    """A room of upright walls; `tops(x, y)` gives the ceiling's height where it is not level (one plane)."""
    top = tops or (lambda _x, _y: height)
    truth = Truth()
    feet = [[(a[0], a[1], 0.0), (a[0], b[1], 0.0), (b[0], b[1], 0.0), (b[0], a[1], 0.0)] for a, b in blocks]
    truth.add([(x, y, 0.0) for x, y in outline], feet)
    holes = []
    if hole:
        (x0, y0), (x1, y1) = hole
        holes = [[(x, y, top(x, y)) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]]
    truth.add([(x, y, top(x, y)) for x, y in reversed(outline)], holes)
    for (ax, ay), (bx, by) in zip(outline, (*outline[1:], outline[0]), strict=True):
        truth.add([(bx, by, 0.0), (ax, ay, 0.0), (ax, ay, top(ax, ay)), (bx, by, top(bx, by))])
    for low, high in blocks:
        box_sides(truth, low, high)
    return truth


def two_storeys(size, *, slab, stair):
    """Two box rooms of one size one over the other, with a hole for a stair through the floor between."""
    (length, width, height), ((x0, y0), (x1, y1)) = size, stair
    outline = [(0, 0), (length, 0), (length, width), (0, width)]
    truth = plan_room(outline, height, hole=stair)
    up = np.array([0.0, 0.0, height + slab])
    hole = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    floor, *others = plan_room(outline, height).faces
    truth.add(floor[0] + up, [[(x, y, up[2]) for x, y in reversed(hole)]])
    for face, _ in others:
        truth.add(face + up)
    for (ax, ay), (bx, by) in zip(hole, hole[1:] + hole[:1], strict=True):
        truth.add([(ax, ay, height), (bx, by, height), (bx, by, up[2]), (ax, ay, up[2])])
    return truth


def furnished_box(size, low, high):
    """A box room with a block that is flush with its wall y = 0, and with x = 0 where it begins there.

    Nothing behind it or under it is there, as scans leave it.
    """
    (length, width, height), (x0, _, _), (x1, y1, z1) = size, low, high
    truth = plan_room([(0, 0), (length, 0), (length, width), (0, width)], height)
    floor = [(x1, 0), (length, 0), (length, width), (0, width)]
    wall = [(length, 0), (length, height), (0, height)]
    if x0 > 0.0:
        floor += [(0, 0), (x0, 0), (x0, y1), (x1, y1)]
        wall += [(0, 0), (x0, 0), (x0, z1), (x1, z1), (x1, 0)]
        truth.add([(x0, 0, 0), (x0, 0, z1), (x0, y1, z1), (x0, y1, 0)])
    else:
        floor += [(0, y1), (x1, y1)]
        wall += [(0, z1), (x1, z1), (x1, 0)]
        end = [(y1, 0), (width, 0), (width, height), (0, height), (0, z1), (y1, z1)]
        truth.faces[5] = (np.array([(0, y, z) for y, z in end], float), [])
    truth.faces[0] = (np.array([(x, y, 0) for x, y in floor], float), [])
    truth.faces[2] = (np.array([(x, 0, z) for x, z in wall], float), [])
    truth.add([(x1, 0, 0), (x1, y1, 0), (x1, y1, z1), (x1, 0, z1)])
    truth.add([(x0, y1, 0), (x0, y1, z1), (x1, y1, z1), (x1, y1, 0)])
    truth.add([(x0, 0, z1), (x1, 0, z1), (x1, y1, z1), (x0, y1, z1)])
    return truth


def sofa_room(low, size, *, seat, back, arm):
    """A room with a sofa in it that looks along y; `back` and `arm`: how thick and how high each is."""
    (x, y), (long, deep), (b, back_high), (a, arm_high) = low, size, back, arm
    truth = plan_room([(0, 0), (4.6, 0), (4.6, 3.8), (0, 3.8)], 2.5)
    foot = [(x, y, 0), (x, y + deep, 0), (x + long, y + deep, 0), (x + long, y, 0)]
    truth.faces[0] = (truth.faces[0][0], [np.array(foot, float)])
    inner, outer = (x + a, x + long - a), (x, x + long)
    front, rest = y + deep, y + b

    def level(x0, x1, y0, y1, z):
        truth.add([(x0, y0, z), (x1, y0, z), (x1, y1, z), (x0, y1, z)])

    def upright(x0, x1, at, z0, z1):
        truth.add([(x0, at, z0), (x1, at, z0), (x1, at, z1), (x0, at, z1)])

    level(*inner, rest, front, seat)
    level(*outer, y, rest, back_high)
    upright(*outer, y, 0, back_high)
    upright(*inner, rest, seat, back_high)
    upright(*inner, front, 0, seat)
    for out, inside in zip(outer, inner, strict=True):
        ends = min(out, inside), max(out, inside)
        level(*ends, rest, front, arm_high)
        upright(*ends, rest, arm_high, back_high)
        upright(*ends, front, 0, arm_high)
        side = [(y, 0), (front, 0), (front, arm_high), (rest, arm_high), (rest, back_high), (y, back_high)]
        truth.add([(out, *at) for at in side])
        truth.add(
            [(inside, *at) for at in ((rest, seat), (front, seat), (front, arm_high), (rest, arm_high))]
        )
    return truth


def scan_of(truth, rough):
    """Points (n, 3) [m] and triangles (m, 3) of a rough scan of a room."""
    rng = np.random.default_rng(rough.seed)
    soup = np.concatenate([triangulate(outline, holes) for outline, holes in truth.faces])
    corners, rows = np.unique(np.round(soup.reshape(-1, 3), 9), axis=0, return_inverse=True)
    points, triangles, _ = cut_long(corners, rows.reshape(-1, 3), rough.edge, most=300_000)
    # Every vertex off its place in all directions, a few far off.
    points = points + rng.normal(0.0, rough.noise, points.shape)
    far = rng.random(len(points)) < rough.outliers
    points[far] += rng.normal(0.0, 0.15, (far.sum(), 3))
    turned = rng.random(len(triangles)) < rough.flipped
    triangles[turned] = triangles[turned][:, ::-1]
    again = triangles[rng.integers(0, len(triangles), rough.repeated)]
    flat = rng.integers(0, len(points), rough.degenerate)
    mixed = np.concatenate([triangles, again, np.stack([flat, flat, (flat + 1) % len(points)], axis=1)])
    return points, mixed[rng.permutation(len(mixed))]


def obj_text(points, triangles, *, group="scan"):
    """The same as an OBJ in millimetres, y-up, kilometres off: as such files arrive."""
    x, y, z = points.T
    there = np.column_stack([x, z, -y]) * 1000.0 + (12345600.0, 0.0, -8765400.0)
    lines = [f"g {group}"]
    lines += ["v {:.3f} {:.3f} {:.3f}".format(*point) for point in there]
    lines += ["f {} {} {}".format(*corners) for corners in triangles + 1]
    return "\n".join(lines) + "\n"


def glb_bytes(points, triangles):
    """The same as a GLB in metres and y-up, as its standard has it."""
    import trimesh

    x, y, z = points.T
    return trimesh.Trimesh(np.column_stack([x, z, -y]), triangles, process=False).export(file_type="glb")


def room_11():
    """The irregular room with a desk and a sofa fused to its floor, and a hole in its ceiling."""
    return plan_room(OUTLINE, HEIGHT, blocks=(DESK, SOFA), hole=HOLE)


def gable_room(length, width, *, eaves, ridge):
    """A gable room with its ridge along the length, in the middle."""
    truth, middle = Truth(), width / 2
    truth.add([(0, 0, 0), (length, 0, 0), (length, width, 0), (0, width, 0)])
    gable = [(0, 0), (width, 0), (width, eaves), (middle, ridge), (0, eaves)]
    truth.add([(0, y, z) for y, z in gable])
    truth.add([(length, y, z) for y, z in reversed(gable)])
    for y, turn in ((0.0, -1), (width, 1)):
        foot = [(0, y, 0), (0, y, eaves), (length, y, eaves), (length, y, 0)]
        truth.add(foot[::-turn])
        truth.add([(0, y, eaves), (0, middle, ridge), (length, middle, ridge), (length, y, eaves)][::-turn])
    return truth


def section_room(length, profile):
    """A room whose cross-section, anticlockwise from (0, 0) along the floor, is the same all along."""
    truth, n = Truth(), len(profile)
    truth.add([(0, y, z) for y, z in profile])
    truth.add([(length, y, z) for y, z in reversed(profile)])
    for k in range(n):
        near, far = profile[k], profile[(k + 1) % n]
        truth.add([(0, *near), (length, *near), (length, *far), (0, *far)])
    return truth


def vault(width, *, eaves, rise, n=16):
    """Cross-section of a room under a part of a cylinder, of n facets; and the cylinder's height at y."""
    radius = (0.25 * width**2 + rise**2) / (2.0 * rise)

    def height(y):
        return eaves + rise - radius + np.sqrt(radius**2 - (y - 0.5 * width) ** 2)

    top = [(float(y), float(height(y))) for y in np.linspace(width, 0.0, n + 1)]
    return [(0.0, 0.0), (width, 0.0), *top], height


def domed_room(length, width, *, eaves, rise, n=12):
    """A room under a pillow that rises from all four walls."""
    truth = plan_room([(0, 0), (length, 0), (length, width), (0, width)], eaves)
    del truth.faces[1]
    x, y = np.meshgrid(np.linspace(0, length, n + 1), np.linspace(0, width, n + 1), indexing="ij")
    z = eaves + rise * (1 - (2 * x / length - 1) ** 2) * (1 - (2 * y / width - 1) ** 2)
    at = np.stack([x, y, z], axis=-1)
    for i in range(n):
        for j in range(n):
            truth.add([at[i, j], at[i + 1, j + 1], at[i + 1, j]])
            truth.add([at[i, j], at[i, j + 1], at[i + 1, j + 1]])
    return truth


def turned(points, turn_deg):
    """Points turned about the upright axis."""
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return points @ np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])


AS_DRAWN = Rough(noise=0.0, edge=10.0, flipped=0.0, repeated=0, degenerate=0)
COARSE = {"edge": 0.2, "repeated": 20, "degenerate": 4}


def written(folder, truth, *, turn_deg=0.0, **rough):
    points, triangles = scan_of(truth, Rough(**{**COARSE, **rough}))
    path = folder / "room.obj"
    path.write_text(obj_text(turned(points, turn_deg), triangles))
    return path

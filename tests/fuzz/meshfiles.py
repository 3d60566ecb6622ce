"""Mesh files gone wrong: OBJ by its lines, GLB, PLY and STL by their corners and by their bytes."""

import contextlib
import io
import itertools
import re

import numpy as np
import trimesh

from raytrace import MeshError, SceneError, clean_scan, draft_scene
from tests.bench.bench_growth import drum, loose
from tests.fuzz.scenetexts import TEXTS, tried
from tests.support.scans import Rough, gable_room, obj_text, room_11, scan_of
from tests.support.scenes import SCENES

MESH = (SCENES / "half-slope.obj").read_text(encoding="utf-8")
SUFFIXES = ("obj", "obj", "glb", "ply", "ascii.ply", "stl", "ascii.stl")


def obj_case(random):
    """A mesh as OBJ: a shipped room, a drum, or loose facets."""
    made = random.randrange(4)
    return MESH if made < 2 else drum(random.randrange(5, 40)) if made < 3 else loose(random.randrange(6, 30))


def broken_obj(random, text):
    """The same with corners moved, lines lost, doubled or changed."""
    lines = text.splitlines()
    for _ in range(random.randrange(1, 9)):
        k = random.randrange(len(lines))
        words = lines[k].split()
        way = random.randrange(6)
        if way == 0:
            del lines[k]
            lines = lines or ["v 0 0 0"]
        elif way == 1:
            lines.insert(random.randrange(len(lines)), lines[k])
        elif way == 2 and words and words[0] == "f":
            random.shuffle(words)
            lines[k] = "f " + " ".join(word for word in words if word != "f")
        elif way == 3 and words:
            words[random.randrange(len(words))] = random.choice(
                ("0", "-1", "1e9", "nan", "x", "1//1", "9" * 30)
            )
            lines[k] = " ".join(words)
        elif words and words[0] == "v" and len(words) == 4:
            step = random.choice((1e-5, 1e-3, 0.01, 0.3, 3.0))
            with contextlib.suppress(ValueError):
                lines[k] = "v " + " ".join(
                    f"{float(word) + random.gauss(0.0, step):.6f}" for word in words[1:]
                )
    return ("\n".join(lines) + "\n").encode()


def triangles_of(text):
    """Points and triangles of an OBJ whose faces have any number of corners, cut as fans."""
    points = [[float(word) for word in line.split()[1:4]] for line in text.splitlines() if line[:2] == "v "]
    triangles = []
    for line in text.splitlines():
        if line[:2] == "f ":
            corners = [int(word.split("/")[0]) - 1 for word in line.split()[1:]]
            triangles += [[corners[0], *pair] for pair in itertools.pairwise(corners)]
    return np.array(points), np.array(triangles)


def broken_mesh(random, suffix, points, triangles):
    """A file of another format: corners moved, faces lost, turned or doubled, then bytes changed."""
    rng = np.random.default_rng(random.getrandbits(32))
    points = np.array(points, float)
    some = rng.random(len(points)) < random.choice((0.0, 0.1, 1.0))
    points[some] += rng.normal(0.0, random.choice((1e-5, 1e-3, 0.01, 0.3, 3.0)), (some.sum(), 3))
    if random.random() < 0.1:
        points[rng.integers(len(points))] = random.choice((np.nan, np.inf, 1e30, 1e-30))
    triangles = triangles[rng.random(len(triangles)) > random.choice((0.0, 0.0, 0.1, 0.5))]
    turned = rng.random(len(triangles)) < random.choice((0.0, 0.1, 0.5))
    triangles[turned] = triangles[turned][:, ::-1]
    mesh = trimesh.Trimesh(points, triangles, process=False)
    with np.errstate(all="ignore"):
        if suffix == "ascii.ply":
            content = bytearray(trimesh.exchange.ply.export_ply(mesh, encoding="ascii"))
        else:
            kind = "stl_ascii" if suffix == "ascii.stl" else suffix
            made = trimesh.exchange.export.export_mesh(mesh, io.BytesIO(), file_type=kind)
            content = bytearray(made.encode() if isinstance(made, str) else made)
    for _ in range(random.choice((0, 0, 1, 3))):
        at = random.randrange(min(len(content), random.choice((20, 100, 400, len(content)))))
        way = random.randrange(4)
        if way == 0:
            content[at] = random.randrange(256)
        elif way == 1:
            four = random.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 0x80000000)).to_bytes(4, "little")
            content[at : at + 4] = four
        elif way == 2:
            del content[at : at + random.randrange(1, 40)]
        else:
            content[at:at] = random.randbytes(random.randrange(1, 40))
        if not content:
            break
    return bytes(content)


def as_room(file):
    """A scene whose room is a mesh."""
    room = re.sub(r"(?s)\[room\].*?\n\n", "", TEXTS["box"].replace("floor = ", "# "), count=1)
    room = re.sub(r"(?s)\[\[openings\]\].*?(?=\[\[speakers)", "", room)
    room = re.sub(r"(?s)\[\[joists\]\].*", "", room)
    return room + f'\n[room]\nshape = "mesh"\nfile = "{file}"\nunit = "m"\nup = "z"\n'


def as_object(file):
    """A scene with a mesh among its objects."""
    return TEXTS["box"] + (
        f'\n[[objects]]\nname = "thing"\nshape = "mesh"\nfile = "{file}"\nunit = "cm"\nup = "z"\n'
        'material = "plasterboard"\nmove = [2.5, 0.5, 0.0]\n'
    )


def meshes(random, folder):
    """A mesh file of any format gone wrong, as a room or as an object."""
    suffix = random.choice(SUFFIXES)
    text = obj_case(random)
    if suffix == "obj":
        content = broken_obj(random, text)
    else:
        content = broken_mesh(random, suffix, *triangles_of(text))
    file = f"mesh.{suffix}"
    (folder / file).write_bytes(content)
    form = as_room if random.random() < 0.5 else as_object
    return f"{suffix.removeprefix('ascii.')} {tried(folder / 'mesh.toml', form(file))}"


def scans(random, folder):
    """A scan of a small room gone wrong, made a scene by `clean`'s own steps."""
    truth = random.choice(
        (
            lambda: gable_room(3.0 + random.random(), 2.5, eaves=1.8, ridge=2.6),
            room_11,
        )
    )()
    rough = Rough(
        noise=random.choice((0.0, 0.008, 0.03)),
        edge=random.choice((0.3, 0.5)),
        outliers=random.choice((0.0, 0.01)),
        seed=random.randrange(10_000),
    )
    text = obj_text(*scan_of(truth, rough))
    suffix = random.choice(SUFFIXES)
    content = (
        broken_obj(random, text) if suffix == "obj" else broken_mesh(random, suffix, *triangles_of(text))
    )
    path = folder / f"scan.{suffix}"
    path.write_bytes(content)
    try:
        draft = draft_scene(clean_scan(path), folder / "scan.toml")
    except (MeshError, SceneError) as problem:
        return "refused" if str(problem).strip() else problem
    if draft.mesh is not None:
        (folder / "scan-room.obj").write_text(draft.mesh, encoding="utf-8")
    # What a person is to look over need not build, but it must read or be refused in words.
    return f"cleaned and {tried(folder / 'scan.toml', draft.text)}"

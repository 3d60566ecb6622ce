"""Mesh rooms and objects through the whole of `build_room`."""

from collections import Counter

import numpy as np
import pytest

from raytrace import SceneError, build_room
from raytrace.room.facets import turns_around
from tests.support.rooms import SHAPES, room_text

EXACT = 1e-12  # sums of a few dozen products of metres

BOX_CORNERS = [(x, y, z) for z in (0, 2.4) for y in (0, 3.0) for x in (0, 4.2)]
BOX_FACES = {
    "floor": (0, 1, 3, 2),
    "ceiling": (4, 6, 7, 5),
    "front wall": (0, 2, 6, 4),
    "back wall": (1, 5, 7, 3),
    "left wall": (0, 4, 5, 1),
    "right wall": (2, 3, 7, 6),
}


def obj_text(corners, faces, scale=1.0, order=(0, 1, 2)):
    """An OBJ of named faces; several loops may share a name."""
    lines = ["v " + " ".join(f"{scale * corner[k]:.10g}" for k in order) for corner in corners]
    for name, loops in faces.items():
        lines.append(f"o {name}")
        loops = [loops] if isinstance(loops[0], int) else loops
        lines += ["f " + " ".join(str(k + 1) for k in loop) for loop in loops]
    return "\n".join(lines) + "\n"


MESH = 'shape = "mesh"\nfile = "room.obj"\nunit = "{}"\n{}'


@pytest.fixture
def mesh_room(scene_of, tmp_path):
    def build(text, unit="m", place="", more="", **places):
        (tmp_path / "room.obj").write_text(text, encoding="utf-8")
        return build_room(scene_of(room_text(MESH.format(unit, place), more, **places)))

    return build


@pytest.fixture
def box(scene_of):
    return build_room(scene_of(room_text("box"), name="box.toml"))


def corner_sets(room):
    return {room.surface_names[f.surface]: {tuple(c) for c in f.outline.tolist()} for f in room.facets}


def is_closed(room):
    """Every edge of the room's own facets is shared by just two, to the last bit."""
    edges = Counter()
    for facet in room.facets:
        if room.surfaces[facet.surface].owner is None:
            for loop in (facet.outline, *facet.holes):
                corners = [tuple(c) for c in loop.tolist()]
                edges.update(zip(corners, corners[1:] + corners[:1], strict=True))
    return all(count == 1 and (b, a) in edges for (a, b), count in edges.items())


def test_a_box_as_a_mesh_is_the_box(mesh_room, box):
    room = mesh_room(obj_text(BOX_CORNERS, BOX_FACES))
    assert room.surface_names == box.surface_names
    assert corner_sets(room) == corner_sets(box)
    for a, b in zip(room.surfaces, box.surfaces, strict=True):
        assert a.frame.origin.tolist() == b.frame.origin.tolist()
        assert a.frame.u.tolist() == b.frame.u.tolist()
    assert room.volume_m3 == pytest.approx(4.2 * 3 * 2.4, rel=EXACT)


def test_millimetres_y_up_with_an_offset_come_back_to_the_box(mesh_room, box):
    moved = [(x + 12.3456, y - 8.7654, z) for x, y, z in BOX_CORNERS]
    # y-up: the file's y is our z, its z is our -y.
    corners = [(x, z, -y) for x, y, z in moved]
    text = obj_text(corners, BOX_FACES, scale=1000.0)
    room = mesh_room(text, "mm", 'up = "y"\nmove = [-12.3456, 8.7654, 0]')
    for name, corners in corner_sets(room).items():
        expected = np.array(sorted(corner_sets(box)[name]))
        assert np.array(sorted(corners)) == pytest.approx(expected, abs=1e-9)  # the file has ten digits


def test_the_message_about_a_moved_mesh_prints_the_move_that_mends_it(mesh_room):
    moved = [(x + 1.25, y - 0.5, z + 0.02) for x, y, z in BOX_CORNERS]
    with pytest.raises(SceneError) as caught:
        mesh_room(obj_text(moved, BOX_FACES), place="move = [0.25, 0, 0]")
    assert "front wall must end at x = 0" in str(caught.value)
    move = "move = [-1.2500, 0.5000, -0.0200]"
    assert move in str(caught.value)
    assert mesh_room(obj_text(moved, BOX_FACES), place=move).bounds[0] == pytest.approx([0, 0, 0], abs=EXACT)


def test_four_millimetres_off_zero_are_let_pass_and_six_are_not(mesh_room):
    def shifted(by):
        return obj_text([(x + by, y, z) for x, y, z in BOX_CORNERS], BOX_FACES)

    assert mesh_room(shifted(0.004)).bounds[0, 0] == 0.004
    with pytest.raises(SceneError, match="move = "):
        mesh_room(shifted(0.006))


@pytest.mark.parametrize(
    ("scale", "order", "unit", "hint"),
    [
        (1000.0, (0, 1, 2), "m", 'unit = "mm"'),
        (1.0, (0, 1, 2), "mm", 'unit = "m"'),
        (1 / 0.3048, (0, 1, 2), "mm", 'unit = "ft"'),
    ],
)
def test_a_mesh_of_no_rooms_size_proposes_the_unit(mesh_room, scale, order, unit, hint):
    with pytest.raises(SceneError) as caught:
        mesh_room(obj_text(BOX_CORNERS, BOX_FACES, scale, order), unit)
    assert "room.unit" in str(caught.value)
    assert hint in str(caught.value)


def test_triangles_of_a_wall_become_one_facet(mesh_room, box):
    faces = {name: [loop[:3], (loop[0], *loop[2:])] for name, loop in BOX_FACES.items()}
    room = mesh_room(obj_text(BOX_CORNERS, faces))
    assert len(room.facets) == 6
    assert corner_sets(room) == corner_sets(box)


def test_one_group_is_split_into_its_planes_by_size(mesh_room):
    room = mesh_room(obj_text(BOX_CORNERS, {"room": list(BOX_FACES.values())}))
    assert room.surface_names == tuple(f"room {k}" for k in range(1, 7))
    areas = [surface.area_m2 for surface in room.surfaces]
    assert areas == sorted(areas, reverse=True)
    assert any('"room" became "room 1" to "room 6"' in str(note) for note in room.notes)


def vaulted(n):
    """A box whose ceiling is an arch of n equal strips, as an OBJ."""
    angle = np.linspace(-0.7, 0.7, n + 1)
    radius = 1.5 / np.sin(0.7)
    arch = [(1.5 + radius * np.sin(a), 2.0 + radius * (np.cos(a) - np.cos(0.7))) for a in angle]
    profile = [(0, 0), (3, 0), *reversed(arch)]
    corners = [(x, y, z) for x in (0, 4.2) for y, z in profile]
    m = len(profile)
    strips = [(k, k + m, (k + 1) % m + m, (k + 1) % m) for k in range(m)]
    faces = {"floor": strips[0], "right wall": strips[1], "vault": strips[2:-1], "left wall": strips[-1]}
    ends = {"front wall": tuple(reversed(range(m))), "back wall": tuple(range(m, 2 * m))}
    return obj_text(corners, faces | ends)


def test_strips_of_one_size_are_numbered_in_the_order_of_the_file(mesh_room):
    room = mesh_room(vaulted(12))
    names = [f"vault {k}" for k in range(1, 13)]
    middle = {room.surface_names[f.surface]: f.outline[:, 1].mean() for f in room.facets}
    across = [middle[name] for name in names]
    assert across == sorted(across, reverse=True)


@pytest.mark.parametrize(("n", "is_told"), [(3, False), (12, True)])
def test_a_curve_cut_into_strips_is_told(mesh_room, n, is_told):
    told = [str(note) for note in mesh_room(vaulted(n)).notes if "curve cut into" in str(note)]
    assert len(told) == is_told
    assert all(f'"vault" is a curve cut into {n} flat pieces' in note for note in told)


def test_a_number_already_taken_is_passed_over(mesh_room):
    faces = {"wall": [BOX_FACES["left wall"], BOX_FACES["front wall"]], "wall 1": BOX_FACES["back wall"]}
    faces |= {name: BOX_FACES[name] for name in ("floor", "ceiling", "right wall")}
    room = mesh_room(obj_text(BOX_CORNERS, faces))
    assert room.surface_names == ("wall 2", "wall 3", "wall 1", "floor", "ceiling", "right wall")


def test_faces_the_wrong_way_round_are_turned_into_the_room(mesh_room, box):
    faces = {name: loop[::-1] if name in ("floor", "left wall") else loop for name, loop in BOX_FACES.items()}
    faces["ceiling"] = [(4, 6, 7), (4, 5, 7)]  # one of two triangles
    room = mesh_room(obj_text(BOX_CORNERS, faces))
    assert [f.normal.tolist() for f in room.facets] == [f.normal.tolist() for f in box.facets]
    assert room.volume_m3 == pytest.approx(box.volume_m3, rel=EXACT)
    assert any("3 faces turned round" in str(note) for note in room.notes)


def test_a_mesh_inside_out_is_the_same_room(mesh_room, box):
    room = mesh_room(obj_text(BOX_CORNERS, {name: loop[::-1] for name, loop in BOX_FACES.items()}))
    assert [f.normal.tolist() for f in room.facets] == [f.normal.tolist() for f in box.facets]


def test_repeated_faces_count_once(mesh_room, box):
    faces = {name: [loop, (loop[2], loop[3], loop[0], loop[1])] for name, loop in BOX_FACES.items()}
    room = mesh_room(obj_text(BOX_CORNERS, faces))
    assert corner_sets(room) == corner_sets(box)
    assert any("6 repeated faces left out" in str(note) for note in room.notes)


def test_corners_written_anew_for_each_face_are_shared_again(mesh_room, box):
    rng = np.random.default_rng(3)
    corners, faces = [], {}
    for name, loop in BOX_FACES.items():
        faces[name] = tuple(range(len(corners), len(corners) + 4))
        corners += [tuple(np.array(BOX_CORNERS[k]) + rng.uniform(-2e-5, 2e-5, 3)) for k in loop]
    room = mesh_room(obj_text(corners, faces))
    assert is_closed(room)
    assert room.volume_m3 == pytest.approx(box.volume_m3, rel=1e-4)  # corners were 0.02 mm off


def test_corners_a_millimetre_off_their_planes_are_brought_together(mesh_room, box):
    rng = np.random.default_rng(5)
    corners = [tuple(np.array(corner) + rng.uniform(-8e-4, 8e-4, 3)) for corner in BOX_CORNERS]
    corners = [tuple(np.array(c) - np.min(corners, axis=0)) for c in corners]
    room = mesh_room(obj_text(corners, BOX_FACES))
    assert len(room.facets) == 6
    assert is_closed(room)
    for facet in room.facets:
        assert np.abs(facet.outline @ facet.normal - facet.offset).max() < room.tolerance_m
    assert room.volume_m3 == pytest.approx(box.volume_m3, rel=2e-3)  # walls 0.8 mm off
    assert any("corners moved by up to" in str(note) for note in room.notes)


def test_a_face_bent_by_more_than_two_millimetres_is_refused(mesh_room):
    corners = list(BOX_CORNERS)
    corners[7] = (4.2, 3.0, 2.42)
    with pytest.raises(SceneError, match=r'room\.file: the face in line 12 \("ceiling"\) is bent.*5 mm'):
        mesh_room(obj_text(corners, BOX_FACES))


def test_a_bent_ceiling_of_triangles_becomes_two_pieces(mesh_room):
    corners = list(BOX_CORNERS)
    corners[7] = (4.2, 3.0, 2.8)
    faces = {**BOX_FACES, "ceiling": [(4, 6, 7), (4, 7, 5)]}
    room = mesh_room(obj_text(corners, faces))
    assert {"ceiling 1", "ceiling 2"} < set(room.surface_names)
    assert is_closed(room)
    # Tetrahedra over the box: each triangle rises from 0 to 0.4 m at one corner.
    assert room.volume_m3 == pytest.approx(4.2 * 3 * 2.4 + 2 * (4.2 * 3 / 2) * 0.4 / 3, rel=EXACT)


def test_a_scan_is_refused(mesh_room):
    rng = np.random.default_rng(11)
    n = 30
    grid = [(4.2 * i / n, 3.0 * j / n, z) for z in (0, 2.4) for j in range(n + 1) for i in range(n + 1)]
    corners = [(x, y, z + rng.uniform(0, 0.008)) for x, y, z in grid]
    loops = []
    for top in (0, (n + 1) ** 2):
        for j in range(n):
            for i in range(n):
                a = top + j * (n + 1) + i
                loops += [(a, a + 1, a + n + 2), (a, a + n + 2, a + n + 1)]
    with pytest.raises(
        SceneError, match=r"room\.file: this is a scan, not a drawing: more than 500 flat pieces"
    ):
        mesh_room(obj_text(corners, {"scan": loops}))


# A box with a niche of 0.2 m in its right wall: u 1.0-2.0, z 0.5-1.5.
NICHE_CORNERS = [
    *BOX_CORNERS,
    *[(x, y, z) for y in (3.0, 3.2) for x, z in ((1.0, 0.5), (2.0, 0.5), (2.0, 1.5), (1.0, 1.5))],
]
NICHE_FACES = {
    **{name: loop for name, loop in BOX_FACES.items() if name != "right wall"},
    "niche back": (12, 13, 14, 15),
    "niche floor": (8, 9, 13, 12),
    "niche top": (10, 11, 15, 14),
    "niche front side": (8, 12, 15, 11),
    "niche back side": (9, 10, 14, 13),
}
NICHE_VOLUME = 4.2 * 3 * 2.4 + 1.0 * 1.0 * 0.2


@pytest.mark.parametrize(
    "wall",
    [
        # A bridge from the outline to the hole and back, as drawing programs write it.
        [(2, 3, 7, 6, 2, 8, 11, 10, 9, 8)],
        # Four quads round the hole.
        [(2, 3, 9, 8), (3, 7, 10, 9), (7, 6, 11, 10), (6, 2, 8, 11)],
        # Triangles, one the wrong way round.
        [(2, 3, 9), (2, 9, 8), (3, 7, 10), (3, 9, 10), (7, 6, 11), (7, 11, 10), (6, 2, 8), (6, 8, 11)],
    ],
)
def test_a_wall_with_a_hole_is_one_facet_with_a_hole(mesh_room, wall):
    room = mesh_room(obj_text(NICHE_CORNERS, {**NICHE_FACES, "right wall": wall}))
    facet = room.facets[room.surfaces[room.surface_index("right wall")].facets[0]]
    assert len(facet.outline) == 4
    assert [len(hole) for hole in facet.holes] == [4]
    assert is_closed(room)
    assert room.volume_m3 == pytest.approx(NICHE_VOLUME, rel=EXACT)
    assert room.surfaces[room.surface_index("right wall")].area_m2 == pytest.approx(
        4.2 * 2.4 - 1.0, rel=EXACT
    )
    distance, hit = room.first_hit([[1.5, 1.5, 1.0], [3.0, 1.5, 1.0]], [[0, 1.0, 0]] * 2)
    assert distance == pytest.approx([1.7, 1.5], rel=EXACT)
    assert [room.surface_names[room.facets[k].surface] for k in hit] == ["niche back", "right wall"]


def test_no_ray_aimed_at_the_rim_of_a_hole_is_lost(mesh_room):
    wall = {"right wall": [(2, 3, 7, 6, 2, 8, 11, 10, 9, 8)]}
    room = mesh_room(obj_text(NICHE_CORNERS, {**NICHE_FACES, **wall}))
    rng = np.random.default_rng(2)
    rim = np.array(NICHE_CORNERS[8:12])
    pick = rng.integers(0, 4, 5000)
    targets = rim[pick] + rng.uniform(0, 1, (5000, 1)) * (np.roll(rim, -1, axis=0)[pick] - rim[pick])
    targets[:500] = rim[pick[:500]]
    origins = rng.uniform([0.1, 0.1, 0.1], [4.1, 2.9, 2.3], (5000, 3))
    away = targets - origins
    length = np.linalg.norm(away, axis=1)
    distance, _ = room.first_hit(origins, away / length[:, None])
    assert distance == pytest.approx(length, abs=1e-7)  # a ray at a slant along the wall


def test_a_corner_on_a_neighbours_edge_leaves_no_gap(mesh_room, box):
    # The left wall is cut in two at x = 2; floor and ceiling know nothing of it.
    corners = [*BOX_CORNERS, (2.0, 0, 0), (2.0, 0, 2.4)]
    faces = {**BOX_FACES, "left wall": [(0, 4, 9, 8), (8, 9, 5, 1)]}
    room = mesh_room(obj_text(corners, faces))
    assert corner_sets(room) == corner_sets(box)
    faces = {k: v for k, v in BOX_FACES.items() if k != "left wall"}
    faces |= {"left wall": (0, 4, 9, 8), "panelling": (8, 9, 5, 1)}
    room = mesh_room(obj_text(corners, faces))
    assert is_closed(room)
    assert len(room.facets) == 7
    assert not any("open" in str(note) for note in room.notes)


def test_two_pieces_of_a_name_in_one_plane_are_one_surface(mesh_room):
    # A strip of another name between them.
    corners = [*BOX_CORNERS, (1.5, 0, 0), (1.5, 0, 2.4), (2.5, 0, 0), (2.5, 0, 2.4)]
    faces = {**BOX_FACES, "left wall": [(0, 4, 9, 8), (10, 11, 5, 1)], "strip": (8, 9, 11, 10)}
    room = mesh_room(obj_text(corners, faces))
    wall = room.surfaces[room.surface_index("left wall")]
    assert len(wall.facets) == 2
    assert wall.area_m2 == pytest.approx(3.2 * 2.4, rel=EXACT)
    assert (wall.frame.width, wall.frame.height) == pytest.approx((4.2, 2.4), rel=EXACT)
    assert is_closed(room)


def test_an_open_mesh_says_how_far_it_is_open(mesh_room):
    faces = {name: loop for name, loop in BOX_FACES.items() if name != "ceiling"}
    room = mesh_room(obj_text(BOX_CORNERS, faces))
    assert any("open along 14.40 m of edges (4)" in str(note) for note in room.notes)
    assert np.abs(turns_around(np.array([[2.1, 1.5, 0.5]]), room.triangles))[0] > 0.5
    _, facet = room.first_hit([[2.1, 1.5, 0.5]], [[0, 0, 1.0]])
    assert facet[0] == -1


def test_a_closed_mesh_has_no_note_of_holes(mesh_room):
    assert not any("open" in str(note) for note in mesh_room(obj_text(BOX_CORNERS, BOX_FACES)).notes)


def test_an_elbow_as_a_mesh_of_concave_faces_is_the_elbow(mesh_room, scene_of):
    plan = [(0, 0), (6, 0), (6, 5.2), (3.4, 5.2), (3.4, 3.4), (0, 3.4)]
    corners = [(*xy, z) for z in (0, 2.45) for xy in plan]
    faces = {"floor": (0, 1, 2, 3, 4, 5), "ceiling": (11, 10, 9, 8, 7, 6)}
    faces |= {f"wall {k + 1}": ((k + 1) % 6, k, k + 6, (k + 1) % 6 + 6) for k in range(6)}
    room = mesh_room(obj_text(corners, faces))
    drawn = build_room(scene_of(room_text("elbow"), name="elbow.toml"))
    assert corner_sets(room) == corner_sets(drawn)
    assert room.volume_m3 == pytest.approx(drawn.volume_m3, rel=EXACT)
    for a, b in zip(room.surfaces, drawn.surfaces, strict=True):
        assert a.frame.u.tolist() == b.frame.u.tolist()
        assert a.frame.n.tolist() == b.frame.n.tolist()


DESK = '[[objects]]\nname = "desk"\nshape = "mesh"\nfile = "desk.obj"\nunit = "m"\nmaterial = "wood"\n{}'


def desk_text():
    corners = [(x, y, z) for z in (-0.1, 0.1) for y in (-0.3, 0.3) for x in (-0.5, 0.5)]
    return obj_text(corners, BOX_FACES)


def test_a_mesh_object_is_numbered_by_size_and_looks_outwards(scene_of, tmp_path):
    (tmp_path / "desk.obj").write_text(desk_text())
    more = DESK.format("move = [2.8, 1.5, 0.6]\nturn = 90\n")
    room = build_room(scene_of(room_text("box", more)))
    mine = [surface for surface in room.surfaces if surface.owner == "desk"]
    assert [surface.name for surface in mine] == [f"desk {k}" for k in range(1, 7)]
    assert [s.area_m2 for s in mine] == pytest.approx([0.6, 0.6, 0.2, 0.2, 0.12, 0.12], rel=EXACT)
    for surface in mine:
        facet = room.facets[surface.facets[0]]
        assert facet.normal @ (facet.outline.mean(axis=0) - [2.8, 1.5, 0.6]) > 0
    top = next(surface for surface in mine if surface.frame.n[2] == 1)
    assert top.frame.u.tolist() == [0, 1, 0]  # along its own length, turned by 90 degrees
    assert (top.frame.width, top.frame.height) == pytest.approx((1.0, 0.6), abs=EXACT)
    assert not room.contains([[2.8, 1.9, 0.6]])[0]
    assert room.contains([[3.2, 1.5, 0.6]])[0]


def test_a_mesh_object_of_one_face_is_numbered_too(scene_of, tmp_path):
    (tmp_path / "desk.obj").write_text("v 0 0 0\nv 1 0 0\nv 1 0.6 0\nv 0 0.6 0\nf 1 2 3 4\n")
    room = build_room(scene_of(room_text("box", DESK.format("move = [2.8, 1.5, 0.6]\n"))))
    assert room.surface_names[-1] == "desk 1"
    assert room.facets[-1].normal.tolist() == [0, 0, 1]
    assert any("air on both sides of 1 of its faces" in str(note) for note in room.notes)


def test_a_broken_object_file_points_at_its_key(scene_of, tmp_path):
    (tmp_path / "desk.obj").write_text("v 0,5 1.0 0\n")
    with pytest.raises(SceneError, match=r"objects\[1\]\.file: desk\.obj line 1: decimal comma"):
        build_room(scene_of(room_text("box", DESK.format(""))))


def test_a_file_outside_the_folder_of_the_scene_is_said(scene_of, tmp_path):
    outside = tmp_path.parent / f"{tmp_path.name}-desk.obj"
    outside.write_text("v 0 0 0\nv 1 0 0\nv 1 0.6 0\nv 0 0.6 0\nf 1 2 3 4\n")
    desk = DESK.format("move = [2.8, 1.5, 0.6]\n").replace("desk.obj", f"../{outside.name}")
    room = build_room(scene_of(room_text("box", desk)))
    said = f"../{outside.name} lies outside the folder of the scene: hand it on too"
    assert said in [str(note) for note in room.notes]


@pytest.mark.parametrize("shape", [shape for shape in SHAPES if shape != "tent"])
def test_every_shape_survives_being_written_as_triangles(mesh_room, scene_of, shape):
    """Triangles of one group, in a mixed order, every third turned round: the same planes come back."""
    drawn = build_room(scene_of(room_text(shape), name="drawn.toml"))
    corners = drawn.triangles.reshape(-1, 3)
    loops = [(3 * k, 3 * k + 1, 3 * k + 2)[:: -1 if k % 3 == 0 else 1] for k in range(len(drawn.triangles))]
    order = np.random.default_rng(4).permutation(len(loops))
    text = obj_text(corners.tolist(), {"room": [loops[k] for k in order]})
    places = {"speaker": "[0.75, 2.1, 1.15]", "seat": "[1.7, 2.5, 1.15]"} if shape == "hip" else {}
    room = mesh_room(text, **places)
    assert is_closed(room)
    assert len(room.facets) == len(drawn.facets)
    assert room.volume_m3 == pytest.approx(drawn.volume_m3, rel=1e-8)  # ten digits in the file
    assert room.surface_area_m2 == pytest.approx(drawn.surface_area_m2, rel=1e-8)


@pytest.mark.parametrize(
    ("more", "loop"),
    [
        ((), (0, 3, 1, 2)),  # its two halves cancel: no area at all
        (((1, 1, 1), (2, 1, 1), (1, 2, 1), (2, 2.5, 1)), (8, 9, 10, 11)),
    ],
)
def test_a_face_that_crosses_itself_is_refused_by_its_line(mesh_room, more, loop):
    faces = BOX_FACES | {"floor" if not more else "shelf": loop}
    with pytest.raises(
        SceneError, match=r"the face in line \d+ .* crosses itself: list its corners in order"
    ):
        mesh_room(obj_text([*BOX_CORNERS, *more], faces))


def test_a_disc_of_many_corners_keeps_its_area(mesh_room):
    turns = 2.0 * np.pi * np.arange(120) / 120
    disc = np.column_stack([2.0 + 0.05 * np.cos(turns), 1.5 + 0.05 * np.sin(turns), np.full(120, 1.0)])
    room = mesh_room(obj_text([*BOX_CORNERS, *disc], BOX_FACES | {"disc": tuple(range(8, 128))}))
    (facet,) = (f for f in room.facets if room.surface_names[f.surface] == "disc")
    assert 3 < len(facet.outline) < 120  # corners on a straight line to a tenth of a millimetre are left out
    area = next(s.area_m2 for s in room.surfaces if s.name == "disc")
    assert area == pytest.approx(
        np.pi * 0.05**2, rel=0.006
    )  # 0.1 mm off the rim: 2/3 of 0.2 / 50, and 120 sides


@pytest.mark.parametrize(
    "sliver",
    [
        ((1, 1, 1), (1.5, 1, 1), (2, 1.0009, 1)),
        ((1, 1, 1), (2, 1, 1), (2, 1.00005, 1), (1, 1.00005, 1)),
    ],
)
def test_a_sliver_of_its_own_is_left_out_and_said(mesh_room, sliver):
    faces = BOX_FACES | {"sliver": tuple(range(8, 8 + len(sliver)))}
    room = mesh_room(obj_text([*BOX_CORNERS, *sliver], faces))
    assert len(room.facets) == 6
    assert any("slivers narrower than 0.5 mm left out" in str(note) for note in room.notes)


def test_slivers_of_any_form_leave_no_figure_undefined(mesh_room):
    rng = np.random.default_rng(7)
    for _ in range(40):
        n, width = rng.integers(3, 6), 10.0 ** rng.uniform(-4.5, -2.3)
        along, across = np.sort(rng.uniform(0.0, 1.5, n)), width * rng.uniform(-0.5, 0.5, n)
        turns = np.arctan2((across - across.mean()) / width, along - along.mean())
        corners = np.column_stack([along, across, np.zeros(n)])[np.argsort(turns)]
        if rng.random() < 0.5:
            corners = corners @ np.linalg.qr(rng.normal(size=(3, 3)))[0].T
        corners = corners - corners.mean(axis=0) + (2.0, 1.5, 1.2)
        faces = BOX_FACES | {"sliver": tuple(range(8, 8 + n))}
        room = mesh_room(obj_text([*BOX_CORNERS, *corners], faces))
        assert all(np.isfinite(facet.outline).all() for facet in room.facets)
        assert all(np.isfinite(surface.area_m2) for surface in room.surfaces)


def test_scraps_that_tangle_in_one_plane_are_refused_by_their_name(mesh_room):
    # Loose triangles of one name, a millimetre wide, all within 2 mm of one plane.
    scraps = [
        [(4.4, 0.6, 0.4), (5.621974, 2.078122, 6.853836), (4.376966, 0.72, 0.48)],
        [(4.6, 0.6, 0.4), (4.72, 0.646961, 0.43), (4.646961, 0.72, 0.48)],
        [(3.4, 0.8, 0.4), (3.52, 0.756751, 0.43), (3.356751, 0.92, 0.48)],
        [(3.8, 0.8, 0.4), (3.92, 0.771222, 0.43), (3.771222, 0.92, 0.48)],
        [(4.0, 0.8, 0.4), (4.12, 0.793602, 0.43), (3.993602, 0.92, 0.48)],
    ]
    corners = [(0.01 * x + 2.5, 0.01 * y + 0.5, 0.01 * z + 1.0) for scrap in scraps for x, y, z in scrap]
    loose = [(8 + 3 * k, 9 + 3 * k, 10 + 3 * k) for k in range(len(scraps))]
    with pytest.raises(SceneError, match='the faces of "scraps 1" make no outline together'):
        mesh_room(obj_text([*BOX_CORNERS, *corners], {**BOX_FACES, "scraps": loose}))


def test_a_corner_beyond_all_rooms_is_refused_by_its_line(mesh_room):
    text = obj_text(BOX_CORNERS, BOX_FACES).replace("v 4.2 3 2.4", "v 4.2 3 1e30")
    with pytest.raises(SceneError, match=r"the face in line \d+ reaches 1e\+30 m away"):
        mesh_room(text)

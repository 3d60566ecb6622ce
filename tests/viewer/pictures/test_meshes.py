"""Datasets of the pictures by their numbers: areas, edges, places, nothing outside the room."""

import functools
import subprocess
import sys

import numpy as np
import pytest

from raytrace import run_study, speaker_axis
from tests.support.scenes import ROOT, SCENES
from tests.support.studies import shipped_study
from viewer.pictures import meshes
from viewer.pictures.faces import (
    all_of,
    column,
    cut_to_room,
    dashes,
    discs,
    edges,
    is_part,
    legs,
    loops_of,
    outlines,
    polygons,
    polylines,
    raised,
    room_faces,
)
from viewer.words import strong_rows

study_of = functools.partial(shipped_study, up_to_order=2)


def area(loop):
    return 0.5 * np.linalg.norm(
        sum(np.cross(loop[i] - loop[0], loop[i + 1] - loop[0]) for i in range(1, len(loop) - 1))
    )


def room_edges(study):
    """Edges where only facets of the room itself meet."""
    mesh = edges(room_faces(study.room), size_m=study.room.size_m)
    around = column(mesh, "facets", 4).astype(int)
    is_room = np.array([study.room.is_room_surface[facet.surface] for facet in study.room.facets])
    of_room = (is_room[around] | (around < 0)).all(axis=1)
    assert (is_part(mesh, "wall", "floor") == of_room).all()
    return around[of_room]


@pytest.mark.parametrize("name", ["box", "ridge", "elbow", "hip"])
def test_faces_add_up_to_the_area_of_the_room(name):
    study = study_of(name)
    mesh = room_faces(study.room)
    is_room = is_part(mesh, "wall", "floor")
    total = sum(area(loop) for loop, kept in zip(loops_of(mesh), is_room, strict=True) if kept)
    assert total == pytest.approx(study.room.surface_area_m2, rel=1e-9)  # float64 sums of a few triangles


@pytest.mark.parametrize(("name", "count"), [("box", 12), ("elbow", 18), ("ridge", 15)])
def test_a_room_has_the_edges_of_its_solid_and_two_faces_at_each(name, count):
    # Euler: edges = corners + faces - 2: 8 + 6 - 2, 12 + 8 - 2, 10 + 7 - 2.
    around = room_edges(study_of(name))
    assert len(np.unique(around, axis=0)) == count  # furniture may cut an edge in two
    assert ((around >= 0).sum(axis=1) == 2).all()


def test_an_edge_is_cut_where_a_neighbour_ends_in_its_middle():
    long = np.array([[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]], float)
    short = np.array([[0, 0, 0], [1, 0, 0], [1, 0, 1], [0, 0, 1]], float)
    mesh = edges(polygons([long, short], facet=[4, 7], part=all_of("wall", 2)), size_m=3.0)
    met = {tuple(np.round(line.mean(axis=0), 6)): set(row) - {-1} for line, row in zip(
        loops_of(mesh), column(mesh, "facets", 4).tolist(), strict=True)}  # fmt: skip
    assert met[0.5, 0.0, 0.0] == {4, 7}
    assert met[1.5, 0.0, 0.0] == {4}


def test_edges_inside_a_facet_are_no_edges():
    square = [
        np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0]], float),
        np.array([[0, 0, 0], [1, 1, 0], [0, 1, 0]], float),
    ]
    assert edges(polygons(square, facet=[3, 3], part=all_of("wall", 2)), size_m=1.5).n_cells == 4
    assert edges(polygons(square, facet=[3, 5], part=all_of("wall", 2)), size_m=1.5).n_cells == 5


def test_a_chimney_drawn_taller_than_the_roof_ends_at_the_slopes():
    study = study_of("ridge")
    mesh = room_faces(study.room)
    own = [study.room.surfaces[s].owner == "chimney breast" for s in column(mesh, "surface")]
    points = np.concatenate([loop for loop, kept in zip(loops_of(mesh), own, strict=True) if kept])
    roof = 1.10 + (2.60 - 1.10) * (
        1 - np.abs(points[:, 1] - 2.20) / 2.20
    )  # eaves, ridge, half width of the scene
    assert (points[:, 2] <= roof + 1e-9).all()
    assert points[:, 2].max() == pytest.approx(2.60, abs=1e-9)  # under the ridge it reaches the roof


def test_what_lies_in_a_wall_is_not_in_the_air():
    room = study_of("box").room
    outside = np.array([[1, 1, 2.4], [2, 1, 2.4], [2, 2, 2.4]])
    assert cut_to_room(room, outside, np.array([0, 0, 1.0])) == []
    half = cut_to_room(room, outside + np.array([0, 1.5, -1.0]), np.array([0, 0, 1.0]))
    assert sum(map(area, half)) == pytest.approx(
        0.375, rel=1e-9
    )  # y < 3 keeps 0.5 (1 - 0.5^2) of the triangle


def test_paths_have_the_length_of_their_arrivals():
    study = study_of("ridge")
    rows = meshes.shown_rows(study).main
    mesh = meshes.paths(study, rows)
    lengths = [np.linalg.norm(np.diff(line, axis=0), axis=1).sum() for line in loops_of(mesh)]
    # float32: pyvista keeps what it is given, but a dataset that was written and read would not.
    assert lengths == pytest.approx(study.arrivals.length_m[rows], rel=1e-9)
    assert column(mesh, "order").tolist() == study.arrivals.order[rows].tolist()


def test_pictures_show_first_bounces_and_all_over_the_limit_weakest_first():
    study = study_of("elbow")
    table, shown = study.arrivals, meshes.shown_rows(study)
    judged = (table.seat == 0) & ~np.isnan(table.margin_db)
    over = np.isin(np.arange(len(table.order)), list(strong_rows(study)))
    assert set(shown.main) == set(np.flatnonzero(judged & (over | (table.order == 1))))
    near = table.level_re_limit_db > meshes.FAINT_FROM_DB
    assert set(shown.faint) == set(np.flatnonzero(judged & ~over & (table.order == 2) & near))
    assert (np.diff(study.arrivals.level_re_limit_db[shown.main]) >= 0).all()


def test_spots_lie_on_their_surfaces():
    study = study_of("ridge")
    spots = meshes.spots(study, meshes.shown_rows(study).main)
    for point, normal, surface in zip(spots.points, spots.normals, spots.surface, strict=True):
        frame = study.room.surfaces[surface].frame
        assert (point - frame.origin) @ normal == pytest.approx(0.0, abs=1e-9 * study.room.size_m)
    first = study.arrivals.path_points[spots.row[0], 1]
    assert spots.points[0] == pytest.approx(first)


def test_patches_stay_on_their_slope():
    study = study_of("ridge")
    mesh = meshes.patches(study, 0)
    assert mesh.n_cells > 0
    for loop, normal in zip(loops_of(mesh), column(mesh, "normal", 3), strict=True):
        assert study.room.contains(loop.mean(axis=0)[None] + 1e-3 * normal)[0]
    patch = column(mesh, "patch")[0]
    whole = study.treatment_areas[patch].outline
    drawn = sum(
        area(loop) for loop, i in zip(loops_of(mesh), column(mesh, "patch"), strict=True) if i == patch
    )
    assert drawn <= area(np.c_[whole, np.zeros(len(whole))]) + 1e-9


def test_panes_have_the_size_of_their_openings():
    study = study_of("classroom")
    mesh = meshes.panes(study)
    sizes = [study.scene.openings[i].size for i in column(mesh, "opening")]
    assert [area(loop) for loop in loops_of(mesh)] == pytest.approx([w * h for w, h in sizes], rel=1e-9)


def test_speakers_face_where_they_aim_with_the_acoustic_centre_in_front():
    study = study_of("box")
    mesh = meshes.speakers(study)
    for loop, speaker, is_front in zip(
        loops_of(mesh), column(mesh, "speaker"), is_part(mesh, "speaker front"), strict=True
    ):
        if is_front:
            entry = study.scene.speakers[speaker]
            normal = np.cross(loop[1] - loop[0], loop[2] - loop[0])
            assert normal / np.linalg.norm(normal) == pytest.approx(
                speaker_axis(study.scene, entry), abs=1e-9
            )
            assert loop.mean(axis=0) == pytest.approx(entry.position, abs=1e-9)
    assert is_part(mesh, "speaker front").sum() == 2
    assert loops_of(meshes.speaker_axes(study, length_m=0.3))[0] == pytest.approx(
        np.array(
            [
                entry := study.scene.speakers[0].position,
                entry + 0.3 * speaker_axis(study.scene, study.scene.speakers[0]),
            ]
        )
    )


def test_subs_are_boxes_without_a_front():
    study = study_of("classroom")
    mesh = meshes.speakers(study)
    subs = [i for i, speaker in enumerate(study.scene.speakers) if speaker.use == "sub"]
    assert len(subs) == 2
    assert not is_part(mesh, "speaker front")[np.isin(column(mesh, "speaker"), subs)].any()
    assert meshes.drivers(study).n_cells == 2 * len(meshes.DRIVERS)


def test_every_seat_has_a_head_at_its_ears_and_its_zone():
    study = study_of("classroom")
    heads, zones = meshes.heads(study), meshes.zones(study)
    for i, seat in enumerate(study.scene.seats):
        own = [loop for loop, owner in zip(loops_of(heads), column(heads, "seat"), strict=True) if owner == i]
        assert np.concatenate(own)[:, 2].max() == pytest.approx(seat.ears[2] + 0.115)  # half a head of 23 cm
        zone = np.concatenate(
            [z for z, owner in zip(loops_of(zones), column(zones, "seat"), strict=True) if owner == i]
        )
        assert np.ptp(zone, axis=0) / 2 == pytest.approx(seat.zone)


def test_a_seat_without_a_zone_shows_none(scene_of):
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    seat = text.index("ears =")
    scene = scene_of(text[:seat] + "zone = [0, 0, 0]\n" + text[seat:])
    study = run_study(scene, up_to_order=1)
    assert meshes.zones(study).n_cells == 0
    assert outlines(meshes.zones(study)).n_cells == 0


def test_dashes_cover_three_fifths_of_a_line():
    line = polygons([])  # no cells at all stay none
    assert dashes(line, dash_m=0.1).n_cells == 0
    study = study_of("box")
    direct = meshes.direct_paths(study, 0)
    whole = sum(np.linalg.norm(line[1] - line[0]) for line in loops_of(direct))
    drawn = sum(np.linalg.norm(line[1] - line[0]) for line in loops_of(dashes(direct, dash_m=0.001)))
    assert drawn / whole == pytest.approx(0.6, abs=0.002)  # one dash of a millimetre more or less per line


def test_legs_are_the_straight_pieces_of_lines_with_their_arrays():
    bent = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 2.0, 0.0]])
    mesh = legs(polylines([bent, bent[:2] + 5.0], row=[7, 9]))
    assert [len(line) for line in loops_of(mesh)] == [2, 2, 2]
    assert column(mesh, "row").tolist() == [7, 7, 9]
    assert np.concatenate(loops_of(mesh)[:2]) == pytest.approx(bent[[0, 1, 1, 2]], abs=0)
    assert legs(polylines([])).n_cells == 0


def test_discs_are_round_and_lie_across_their_normal():
    normal = np.array([[0.6, 0.0, 0.8]])
    (loop,) = loops_of(discs(np.array([[1.0, 2.0, 3.0]]), normal, radii_m=np.array([0.05])))
    away = loop - [1.0, 2.0, 3.0]
    assert np.linalg.norm(away, axis=1) == pytest.approx(0.05)
    assert away @ normal[0] == pytest.approx(0.0, abs=1e-12)


def test_raised_faces_keep_their_arrays():
    mesh = meshes.panes(study_of("box"))
    up = raised(mesh, column(mesh, "normal", 3), by_m=0.01)
    for low, high, normal in zip(loops_of(mesh), loops_of(up), column(mesh, "normal", 3), strict=True):
        assert high - low == pytest.approx(np.tile(0.01 * normal, (4, 1)), abs=1e-12)
    assert column(up, "opening").tolist() == column(mesh, "opening").tolist()


def test_panels_are_closed_blocks_that_look_outwards(scene_of):
    text = (SCENES / "box.toml").read_text() + (
        '[[panels]]\nname = "p"\nsurface = "left wall"\nbuild = "wool 50"\ncentre = [3.0, 1.2]\ngap = 0.03\n'
        '[[clouds]]\nname = "c"\nsurface = "ceiling"\nbuild = "wool 50"\ncentre = [1.0, 1.5]\nrows = 1\n'
        "columns = 2\ndrop = 0.1\n"
    )
    study = run_study(scene_of(text), up_to_order=1)
    mesh = meshes.panels(study)
    assert mesh.n_cells == 3 * 6
    loops, normals, owners = loops_of(mesh), column(mesh, "normal", 3), column(mesh, "panel")
    for index, panel in enumerate(study.room.panels):
        own = [k for k in range(mesh.n_cells) if owners[k] == index]
        middle = np.mean([loops[k].mean(axis=0) for k in own], axis=0)
        assert all((loops[k].mean(axis=0) - middle) @ normals[k] > 0 for k in own)
        # Divergence theorem: a sixth of the sum of area times height over the origin, faces flat.
        volume = sum(area(loops[k]) * (loops[k][0] @ normals[k]) / 3 for k in own)
        assert volume == pytest.approx(panel.area_m2 * panel.thickness_m, rel=1e-5)  # points are float32


def test_panels_that_hang_free_add_no_faces_to_the_room(scene_of):
    text = (SCENES / "box.toml").read_text()
    stand = '[[stands]]\nname = "s"\nbuild = "wool 50"\nat = [3.0, 1.5]\nyaw = 180\n'
    bare, treated = (run_study(scene_of(t), up_to_order=1).room for t in (text, text + stand))
    assert len(treated.facets) == len(bare.facets) + 2
    assert room_faces(treated).n_cells == room_faces(bare).n_cells


def test_meshes_do_without_the_graphics_library_that_takes_half_a_second_to_import():
    code = (
        "import sys, numpy as np\n"
        "from viewer.pictures import loops_of, polygons\n"
        "mesh = polygons([np.eye(3)], row=[7])\n"
        "assert (mesh.n_cells, mesh.has('row'), mesh.has('facet')) == (1, True, False)\n"
        "assert np.array_equal(loops_of(mesh), [np.eye(3)])\n"
        "assert 'pyvista' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)

import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh

from raytrace.room.meshfile import read_mesh
from raytrace.room.polygons import area_vector
from raytrace.room.rawmesh import MeshError
from tests.support.scenes import ROOT


@pytest.fixture
def read(tmp_path):
    def parse(text, *, unit="m", **how):
        path = tmp_path / "room.obj"
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return read_mesh(path, unit=unit, **how)

    return parse


TRIANGLE = "v 0 0 0\nv 4 0 0\nv 0 3 0\n"


def only(mesh):
    (polygon,) = mesh.polygons
    return polygon


def test_a_face_keeps_its_corners_name_and_line(read):
    polygon = only(read(TRIANGLE + "o floor\nf 1 2 3\n"))
    assert polygon.name == "floor"
    assert polygon.line == 5
    assert polygon.corners.tolist() == [[0, 0, 0], [4, 0, 0], [0, 3, 0]]


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("o floor\n", "floor"),
        ("g floor\n", "floor"),
        ("o house\ng floor\n", "floor"),
        ("g house\no floor\n", "floor"),
        ("usemtl concrete\n", "concrete"),
        ("o floor\nusemtl concrete\n", "floor"),
        ("o  old   timber floor \n", "old timber floor"),
        ("", "room"),  # the name of the file
    ],
)
def test_the_name_is_that_of_the_nearest_group_or_object(read, words, name):
    assert only(read(TRIANGLE + words + "f 1 2 3\n")).name == name


def test_materials_name_the_faces_where_one_group_holds_all(read):
    mesh = read(TRIANGLE + "o Cube\nusemtl floor\nf 1 2 3\nusemtl wall\nf 3 2 1\n")
    assert [p.name for p in mesh.polygons] == ["floor", "wall"]
    assert "materials, since all faces are in one group" in mesh.report[0]


def test_corner_forms_and_negative_numbers_mean_the_same(read):
    for face in ("f 1 2 3", "f 1/5 2/6 3/7", "f 1//5 2//6 3//7", "f 1/1/1 2/2/2 3/3/3", "f -3 -2 -1"):
        assert only(read(TRIANGLE + face)).corners.tolist() == [[0, 0, 0], [4, 0, 0], [0, 3, 0]]


def test_negative_numbers_count_back_from_the_face(read):
    mesh = read(TRIANGLE + "f -3 -2 -1\nv 9 9 9\nv 0 0 1\nv 4 0 1\nv 0 3 1\nf -3 -2 -1\n")
    assert [p.corners[0, 2] for p in mesh.polygons] == [0, 1]


def test_line_ends_tabs_comments_and_continuations_are_read(read):
    plain = only(read(TRIANGLE + "f 1 2 3\n")).corners.tolist()
    for text in (
        (TRIANGLE + "f 1 2 3\n").replace("\n", "\r\n"),
        (TRIANGLE + "f 1 2 3\n").replace("\n", "\r"),
        (TRIANGLE + "f 1 2 3\n").replace(" ", "\t"),
        TRIANGLE + "# a note\nf 1 \\\n 2 \\\n 3 # the floor",
        "\ufeff" + TRIANGLE + "f 1 2 3",
    ):
        assert only(read(text)).corners.tolist() == plain


def test_names_in_latin_1_are_kept_and_reported(read):
    mesh = read((TRIANGLE + "o Tür\nf 1 2 3\n").encode("latin-1"))
    assert only(mesh).name == "Tür"
    assert any("latin-1" in line for line in mesh.report)


def test_lines_points_and_what_is_unknown_are_reported(read):
    mesh = read(TRIANGLE + "l 1 2\nl 2 3\np 1\ncurv 0 1 1 2\nvt 0 0\nvn 0 0 1\ns off\nf 1 2 3\n")
    assert len(mesh.polygons) == 1
    assert any("2 line elements left out" in line for line in mesh.report)
    assert any("1 point element left out" in line for line in mesh.report)
    assert any("1 line of kind 'curv' left out" in line for line in mesh.report)
    assert not any("'vn'" in line for line in mesh.report)


def test_faces_without_area_are_left_out_and_reported(read):
    mesh = read(TRIANGLE + "v 8 0 0\nf 1 2 2\nf 1 2\nf 1 2 4\nf 1 1 2 2 3\n")
    assert len(only(mesh).corners) == 3
    assert any("3 faces without area left out (the first in line 5)" in line for line in mesh.report)


def test_a_concave_face_keeps_its_area(read):
    mesh = read("v 0 0 0\nv 6 0 0\nv 6 5.2 0\nv 3.4 5.2 0\nv 3.4 3.4 0\nv 0 3.4 0\nf 1 2 3 4 5 6\n")
    assert area_vector(only(mesh).corners) == pytest.approx([0, 0, 25.08], abs=1e-12)  # rounding of products


def test_unit_axis_turn_and_move_are_applied_in_this_order(read):
    text = "v 1000 2000 -3000\nv 0 0 0\nv 1000 0 0\nf 1 2 3\n"
    first = only(read(text, unit="mm", up="y", turn_deg=90, move=(10, 0, 0))).corners[0]
    # y-up (1, 2, -3) m stands at x 1, y 3, z 2; a quarter turn takes it to x -3, y 1.
    assert first.tolist() == [7, 1, 2]


@pytest.mark.parametrize(
    ("unit", "number", "metres"),
    [("mm", "4200", 4.2), ("cm", "420", 4.2), ("in", "100", 2.54), ("ft", "10", 3.048)],
)
def test_units_are_exact(read, unit, number, metres):
    corners = only(read(f"v 0 0 0\nv {number} 0 0\nv 0 {number} 0\nf 1 2 3\n", unit=unit)).corners
    assert corners[1, 0] == metres


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("\n \n", "is empty"),
        ("solid room\nendsolid\n", "is an STL mesh, whatever its name says: rename it to end in .stl"),
        ("# room\n", "holds no faces, nor points"),
        (TRIANGLE, "holds no faces, only 3 points: export it as a mesh, with surfaces"),
        (TRIANGLE + "l 1 2 3\n", "only lines"),
        (TRIANGLE + "f 1 1 1\n", "none of the 1 faces has an area"),
        ("v 0,5 1.5 0\nf 1 1 1\n", "line 1: decimal comma in '0,5 1.5 0'; export with decimal points"),
        ("v 1,500 0 0\nf 1 1 1\n", "line 1: decimal comma in '1,500 0 0'; export with decimal points"),
        ("v 1 2\nf 1 1 1\n", "line 1: three coordinates are needed"),
        ("v 1 2 nan\nf 1 1 1\n", "line 1: a coordinate is not a finite number"),
        (TRIANGLE + "f 1 2 4\n", "line 4: there is no vertex 4, only 3"),
        (TRIANGLE + "f 0 1 2\n", "line 4: there is no vertex 0"),
        (TRIANGLE + "f -4 1 2\n", "line 4: there is no vertex -4"),
        (TRIANGLE + "f a b c\n", "line 4: 'a' is not a corner"),
        (b"\x89PNG\r\n\x1a\n\0\0", "is a PNG picture, whatever its name says: export the room as OBJ"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "is a JPEG picture, whatever its name says"),
        (b"glTF\2\0\0\0", "is a GLB scene, whatever its name says: rename it to end in .glb"),
        (b"ply\nformat ascii 1.0\n", "is a PLY mesh, whatever its name says: rename it to end in .ply"),
        (b"  0\r\nSECTION\r\n", "is a DXF drawing, whatever its name says: rename it to end in .dxf"),
        (b"\0\0\0\x18ftypheic", "is a film or a picture from a phone"),
        (b"v \0 0 0", "not a text file"),
    ],
)
def test_a_file_that_cannot_be_used_says_why(read, text, words):
    with pytest.raises(MeshError) as caught:
        read(text)
    assert words in str(caught.value)
    assert "room.obj" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("room.jpg", b"\xff\xd8\xff\xe0", r"^room\.jpg is a JPEG picture: export the room"),
        ("plan.dwg", b"AC1032\0\0", r"^plan\.dwg is a DWG drawing: .* a floor plan as DXF$"),
        ("room.stl", b"PK\3\4", r"^room\.stl is an archive .*, whatever its name says: export"),
    ],
)
def test_a_file_of_another_kind_is_called_what_it_is(tmp_path, name, content, words):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(MeshError, match=words):
        read_mesh(path, unit="m")


def test_a_missing_file_says_so(tmp_path):
    with pytest.raises(MeshError, match=r"none\.obj cannot be read"):
        read_mesh(tmp_path / "none.obj", unit="m")


def test_corners_are_plain_floats(read):
    assert only(read(TRIANGLE + "f 1 2 3")).corners.dtype == np.float64


def test_decimal_commas_are_read_where_they_can_mean_nothing_else(read):
    mesh = read("v 0 0 0\nv 4,25 0 0\nv 0 3,125 0\nf 1 2 3\n")
    assert only(mesh).corners.tolist() == [[0, 0, 0], [4.25, 0, 0], [0, 3.125, 0]]
    assert "room.obj: decimal commas read as points (the first in line 2)" in mesh.report


def test_colours_behind_the_coordinates_are_passed_over(read):
    coloured = TRIANGLE.replace("\n", " 0.5 0.5 0.5\n")
    assert (
        only(read(coloured + "f 1 2 3")).corners.tolist() == only(read(TRIANGLE + "f 1 2 3")).corners.tolist()
    )


def test_lines_that_a_backslash_joins_still_count(read):
    with pytest.raises(MeshError, match="line 6: there is no vertex 9"):
        read(TRIANGLE + "f 1 \\\n 2 3\nf 1 2 9\n")


def test_no_file_no_pipe_no_device_and_nothing_too_large_is_read(tmp_path):
    os.mkfifo(tmp_path / "pipe.obj")
    (tmp_path / "loop.obj").symlink_to(tmp_path / "loop.obj")
    (tmp_path / "large.obj").touch()
    os.truncate(tmp_path / "large.obj", 10**9)  # a file of holes: it takes no room on the disk
    for name, words in (
        ("pipe.obj", "it is no file but a folder, pipe or device"),
        (".", "it is no file but a folder, pipe or device"),
        ("loop.obj", "cannot be read"),
        ("large.obj", "is 1000 MB; at most 256 MB are read"),
    ):
        with pytest.raises(MeshError, match=words):
            read_mesh(tmp_path / name, unit="m")
    with pytest.raises(MeshError, match="pipe or device"):
        read_mesh(Path("/dev/zero"), unit="m")


@pytest.mark.parametrize("suffix", ["glb", "ply", "stl"])
def test_other_formats_come_in_with_the_names_they_have(tmp_path, suffix):
    scene = trimesh.Scene()
    scene.add_geometry(trimesh.creation.box((4.0, 3.0, 2.5)), node_name="old cellar", geom_name="old cellar")
    path = tmp_path / f"room.{suffix}"
    whole = scene if suffix == "glb" else scene.to_geometry()
    path.write_bytes(whole.export(file_type=suffix))
    mesh = read_mesh(path, unit="m")
    assert {p.name for p in mesh.polygons} == {"old cellar" if suffix == "glb" else "room"}
    corners = np.concatenate([p.corners for p in mesh.polygons])
    assert np.ptp(corners, axis=0).tolist() == [4.0, 3.0, 2.5]


def test_a_gltf_that_points_at_other_files_is_refused(tmp_path):
    path = tmp_path / "room.gltf"
    path.write_text(
        '{"asset": {"version": "2.0"}, "buffers": [{"uri": "../../secret.bin", "byteLength": 9}]}'
    )
    with pytest.raises(MeshError, match=r'keeps its numbers in another file, "\.\./\.\./secret\.bin"'):
        read_mesh(path, unit="m")


@pytest.mark.parametrize("suffix", ["glb", "gltf", "ply", "stl"])
def test_a_broken_file_of_another_format_is_one_message(tmp_path, suffix):
    path = tmp_path / f"room.{suffix}"
    path.write_bytes(b"ply\nformat ascii 1.0\nelement vertex 999999999999\nend_header\n" + bytes(range(256)))
    with pytest.raises(MeshError, match=r"^room\."):
        read_mesh(path, unit="m")


#: Files as they really arrive: what is odd about each, the file, and exactly what is said of it.
MESSES = [
    (
        "names with spaces, no MTL",
        "mtllib lost.mtl\ng old timber floor\n",
        "",
        ['1 face in 1 part named by groups, objects or materials: "old timber floor" 1'],
    ),
    (
        "material names alone",
        "usemtl oak\n",
        "",
        ['1 face in 1 part named by groups, objects or materials: "oak" 1'],
    ),
    (
        "line elements",
        "",
        "l 1 2\n",
        [
            '1 face in 1 part named by groups, objects or materials: "room" 1',
            "1 line element left out: no faces",
        ],
    ),
    (
        "a degenerate triangle",
        "",
        "f 1 2 2\n",
        [
            '1 face in 1 part named by groups, objects or materials: "room" 1',
            "1 face without area left out (the first in line 5)",
        ],
    ),
    (
        "a free-form curve",
        "",
        "curv 0 1 1 2\n",
        [
            '1 face in 1 part named by groups, objects or materials: "room" 1',
            "1 line of kind 'curv' left out: no faces",
        ],
    ),
]


@pytest.mark.parametrize(("mess", "above", "below", "said"), MESSES, ids=[mess[0] for mess in MESSES])
@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["LF", "CRLF"])
def test_a_mess_is_reported_to_the_word(read, mess, above, below, said, ends):
    print(mess)
    mesh = read((TRIANGLE + above + "f -3 -2 -1\n" + below).replace("\n", ends))
    assert list(mesh.report) == [f"room.obj: {line}" for line in said]


def test_what_the_reader_of_a_broken_file_logs_does_not_reach_the_terminal():
    code = "import logging, raytrace.room.meshformats; logging.getLogger('trimesh').error('failed')"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}  # in this process pytest takes what is logged
    done = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=True)
    assert done.stderr == b""


@pytest.mark.parametrize("share", [0.02, 0.5, 0.99])
@pytest.mark.parametrize("suffix", ["glb", "stl"])
def test_a_file_that_was_cut_off_says_so(tmp_path, suffix, share):
    whole = trimesh.creation.icosphere(3).export(file_type=suffix)
    path = tmp_path / f"cut.{suffix}"
    path.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(MeshError, match=rf"cut\.{suffix} ends early: \d+ of the {len(whole)} bytes"):
        read_mesh(path, unit="m")


@pytest.mark.parametrize("share", [0.5, 0.99])
@pytest.mark.parametrize("encoding", ["ascii", "binary"])
def test_a_ply_that_was_cut_off_says_so(tmp_path, encoding, share):
    whole = trimesh.creation.icosphere(3).export(file_type="ply", encoding=encoding)
    path = tmp_path / "cut.ply"
    path.write_bytes(whole)
    assert len(read_mesh(path, unit="m").polygons) == 1280
    path.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(MeshError, match=r"cut\.ply ends early: \d+ of the \d+ (bytes|numbers) that its head"):
        read_mesh(path, unit="m")


@pytest.mark.parametrize("last", ["f 1 2", "v 0.5 1", "f 1/1/1 2/2/2 3/"])
def test_an_obj_that_ends_in_the_middle_of_a_line_says_so(read, last):
    with pytest.raises(MeshError, match=r"ends early, in the middle of line 5: it was cut off"):
        read(TRIANGLE + "f 1 2 3\n" + last)


@pytest.mark.parametrize("end", ["", "\n"])
def test_an_obj_whose_last_points_are_of_no_face_may_have_been_cut_off(read, end):
    points = TRIANGLE + "v 0 0 1\nv 1 0 1\nv 0 1 1\n"
    assert "3 points of no face: was the file cut off?" in " ".join(read(points + "f 1 2 3" + end).report)
    assert "of no face" not in " ".join(read(points + "f 1 2 3\nf 4 5 6" + end).report)
    few = TRIANGLE + "v 0 0 1\nv 1 0 1\n"
    assert "cut off" not in " ".join(read(few + "f 1 2 3" + end).report)


def test_an_obj_whose_last_group_has_no_face_may_have_been_cut_off(read):
    text = TRIANGLE + "g floor\nf 1 2 3\no desk\ng desk\n"
    assert 'no face in the last group, "desk": was the file cut off?' in " ".join(read(text).report)
    assert "cut off" not in " ".join(read(text + "f 3 2 1\n").report)


def test_points_and_groups_of_lines_lack_no_face(read):
    text = TRIANGLE + "g floor\nf 1 2 3\nv 0 0 1\nv 1 0 1\nv 0 1 1\ng path\nl 4/1 5 6 99 x -1\n"
    report = " ".join(read(text).report)
    assert "1 line element left out" in report
    assert "cut off" not in report


def test_an_obj_cut_off_by_whole_lines_says_so(read):
    mesh = trimesh.creation.icosphere(4)
    lines = ["v {:.6f} {:.6f} {:.6f}".format(*point) for point in mesh.vertices]
    lines += ["f {} {} {}".format(*corners) for corners in mesh.faces + 1]
    text = "\n".join(lines) + "\n"
    assert "cut off" not in " ".join(read(text).report)
    short = text[: text.index("\n", int(0.97 * len(text))) + 1]
    assert re.search(r"\d+ points of no face: was the file cut off\?", " ".join(read(short).report))

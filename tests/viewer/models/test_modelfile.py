"""Models hold the room to the last bit, with names and colours, and read back as what they were made of."""

import io

import numpy as np
import pytest
import trimesh

from raytrace import build_room, load_scene
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study
from viewer.models import model_bytes, model_parts


@pytest.fixture(scope="module")
def study():
    return shipped_study("box", up_to_order=1)


@pytest.fixture(scope="module")
def parts(study):
    return model_parts(study)


def test_every_surface_spot_and_path_is_a_part_with_its_name(study, parts):
    kinds = [part.kind for part in parts]
    assert kinds.count("surface") == 6
    assert kinds.count("path") == kinds.count("spot") == len(study.arrivals.order)  # first order only
    assert {"floor", "speaker left", "seat mix"} <= {part.name for part in parts}
    assert any(part.name.startswith("path 1 left to mix: ") and part.name.endswith(" ms") for part in parts)


def test_an_obj_read_back_as_a_room_is_the_same_room_to_the_last_bit(study, parts, tmp_path):
    walls = [part for part in parts if part.kind == "surface"]
    (tmp_path / "room.obj").write_bytes(model_bytes(walls, ".obj", title="box"))
    text = (SCENES / "box.toml").read_text()
    start, end = text.index("[room]"), text.index("[surfaces]")
    mesh = '[room]\nshape = "mesh"\nfile = "room.obj"\nunit = "m"\n'
    (tmp_path / "box.toml").write_text(text[:start] + mesh + text[end:])
    again = build_room(load_scene(tmp_path / "box.toml"))
    assert set(again.surface_names) == set(study.room.surface_names)
    for one in again.surfaces:
        other = next(surface for surface in study.room.surfaces if surface.name == one.name)
        assert one.frame.origin.tolist() == other.frame.origin.tolist()
        assert (one.frame.width, one.frame.height) == (other.frame.width, other.frame.height)


def test_openings_are_faces_of_their_own_where_they_are_in_walls_that_stay_whole(study, parts):
    openings = [part for part in parts if part.kind == "opening"]
    assert len(openings) == len(study.room.openings) > 0
    for part, own in zip(openings, study.room.openings, strict=True):
        surface = study.room.surfaces[own.surface]
        assert part.name == f"{own.name} ({own.kind} in {surface.name})"
        uv = np.sort(surface.frame.to_plane(part.points), axis=0)[[0, -1]].reshape(-1)
        assert uv == pytest.approx(own.rect, abs=1e-12)  # its rounding
        corners = part.points[part.triangles]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert (across @ surface.frame.n > 0.0).all()  # anticlockwise as seen from the air
        u0, v0, u1, v1 = own.rect
        assert 0.5 * np.linalg.norm(across, axis=1).sum() == pytest.approx((u1 - u0) * (v1 - v0), rel=1e-12)
    names = set(
        trimesh.load_scene(io.BytesIO(model_bytes(parts, ".glb", title="b")), file_type="glb").geometry
    )
    assert {part.name for part in openings} <= names


def test_a_ply_holds_the_same_corners_to_the_last_bit(parts):
    ply = model_bytes(parts, ".ply", title="box").decode()
    n_vertices = int(ply.split("element vertex ")[1].split()[0])
    body = ply.split("end_header\n")[1].splitlines()
    points = np.array([[float(x) for x in line.split()[:3]] for line in body[:n_vertices]])
    assert points.tolist() == np.concatenate([part.points for part in parts]).tolist()
    mesh = trimesh.load_mesh(io.BytesIO(ply.encode()), file_type="ply", process=False)
    assert len(mesh.faces) == sum(len(part.triangles) for part in parts)


def test_an_stl_holds_the_faces_of_surfaces_to_the_last_bit_and_nothing_that_has_no_faces(parts):
    stl = model_bytes(parts, ".stl", title="box").decode()
    solids = [part for part in parts if part.kind == "surface"]
    assert [line[6:] for line in stl.splitlines() if line.startswith("solid ")] == [p.name for p in solids]
    points = [[float(x) for x in row.split()[1:]] for row in stl.splitlines() if row.startswith("vertex")]
    assert points == np.concatenate([part.points[part.triangles].reshape(-1, 3) for part in solids]).tolist()
    mesh = trimesh.load_mesh(io.BytesIO(stl.encode()), file_type="stl")
    # Facets turn into the air, so the body of air counts negative; 32 bits keep seven figures.
    assert abs(mesh.volume) == pytest.approx(4.2 * 3.0 * 2.4, rel=1e-6)


def test_a_glb_keeps_names_lines_and_places(parts):
    scene = trimesh.load_scene(io.BytesIO(model_bytes(parts, ".glb", title="box")), file_type="glb")
    assert {"floor", "left wall", "speaker left"} <= set(scene.graph.nodes_geometry)
    lines = [thing for thing in scene.geometry.values() if isinstance(thing, trimesh.path.Path3D)]
    assert len(lines) == sum(part.kind == "path" for part in parts)
    transform, name = scene.graph["left wall"]
    assert np.allclose(transform, np.eye(4))
    low, high = scene.geometry[name].bounds
    # Upwards is y there, and the room's y runs towards the viewer's -z; 32 bits keep seven figures.
    assert low == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)
    assert high == pytest.approx((4.2, 2.4, 0.0), abs=1e-6)


def test_panels_are_blocks_as_thick_as_they_are():
    study = shipped_study("treated-box", up_to_order=1)
    blocks = [part for part in model_parts(study) if part.kind == "panel"]
    assert len(blocks) == len(study.room.panels)
    for block, panel in zip(blocks, study.room.panels, strict=True):
        mesh = trimesh.Trimesh(block.points, block.triangles)
        volume_m3 = panel.width_m * panel.height_m * panel.thickness_m
        assert mesh.is_watertight
        assert mesh.volume == pytest.approx(volume_m3, rel=1e-9)  # outwards: it is positive; rounding

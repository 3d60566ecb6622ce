"""Rooms scanned with known truth come back as scenes within a surveyor's reach."""

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from raytrace.kernels import regions
from raytrace.reflections import find_arrivals
from raytrace.room import MeshError, RoofPlane, build_room
from raytrace.scan import ScanSettings, clean_scan, cut_long, draft_scene
from raytrace.scene import load_scene
from tests.support.scans import (
    COARSE,
    DESK,
    HEIGHT,
    OUTLINE,
    SOFA,
    Rough,
    Truth,
    box_sides,
    domed_room,
    gable_room,
    obj_text,
    plan_room,
    room_11,
    scan_of,
    section_room,
    vault,
    written,
)
from tests.support.scenes import SCENES


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("scan")


@pytest.fixture(scope="module")
def room(folder):
    return clean_scan(written(folder, room_11(), repeated=200, degenerate=40))


@pytest.fixture(scope="module")
def scene(room, folder):
    path = folder / "scan.toml"
    path.write_text(draft_scene(room, path).text)
    return load_scene(path)


def off_m(corners, truth):
    """How far each true corner is from the nearest one found."""
    away = np.linalg.norm(np.asarray(truth)[:, None] - np.asarray(corners)[None], axis=2)
    return away.min(axis=1)


def test_the_irregular_room_comes_back_corner_by_corner(room):
    assert room.shape.kind == "plan"
    assert len(room.shape.corners) == len(OUTLINE)
    # 10 mm is what is promised of surfaces; a corner of two of them is off by both.
    assert off_m(room.shape.corners, OUTLINE).max() < 0.012
    assert dict(room.shape.numbers)["height"] == pytest.approx(
        HEIGHT, abs=0.003
    )  # noise / sqrt(points), far below


def test_walls_of_the_irregular_room_keep_their_directions_and_areas(room):
    true = np.array(OUTLINE)
    order = [int(np.argmin(np.linalg.norm(room.shape.corners - corner, axis=1))) for corner in true]
    found = room.shape.corners[order]
    for k in range(len(true)):
        here, there = (np.subtract(c[(k + 1) % len(c)], c[k]) for c in (found, true))
        length = np.linalg.norm(there)
        turn = np.degrees(
            np.arcsin((here[0] * there[1] - here[1] * there[0]) / length / np.linalg.norm(here))
        )
        # Half a degree, or 8 mm over its length where a wall is so short that this is more.
        assert abs(turn) < max(0.5, np.degrees(0.008 / length))
        assert np.linalg.norm(here) == pytest.approx(length, rel=0.02, abs=0.012)  # 2 %, or both corners


def test_desk_and_sofa_are_cut_off_with_their_sizes(room):
    assert [block.name for block in room.objects] == ["table 1", "seat 1"]
    for block, (low, high) in zip(room.objects, (DESK, SOFA), strict=True):
        # One edge of the mesh rounds furniture off: 12 mm more than the noise.
        assert block.size == pytest.approx(np.subtract(high, low), abs=0.02)
        assert block.centre == pytest.approx((np.add(low, high)) / 2, abs=0.012)


def test_every_fault_of_the_scan_is_told(room):
    assert "200 repeated faces dropped" in room.report
    assert "40 faces without area dropped" in room.report
    n_turned = next(int(line.split()[0]) for line in room.report if "turned round" in line)
    n_faces = sum(surface.triangles for surface in room.surfaces)
    assert 0.12 < n_turned / n_faces < 0.26  # 15 % were flipped; noise tips some more over
    (hole,) = room.holes
    assert hole.surface == "ceiling"
    assert hole.area_m2 == pytest.approx(0.5 * 0.4, abs=0.02)  # 8 mm all round it
    assert (room.reading.unit, room.reading.up) == ("mm", "y")
    assert all(surface.p95_mm < 3 * 8.0 for surface in room.surfaces)  # two standard deviations and an edge


def test_spots_of_the_scan_are_those_of_the_true_room(scene, tmp_path):
    walls = scene.room.walls
    start = np.argmin(np.linalg.norm(np.array(scene.room.corners), axis=1))
    true = tmp_path / "true.toml"
    corners = np.roll(OUTLINE, int(start), axis=0).tolist()
    places = "".join(
        f'[[speakers]]\nname = "{s.name}"\nposition = {list(s.position)}\n' for s in scene.speakers
    ) + "".join(f'[[seats]]\nname = "{s.name}"\nears = {list(s.ears)}\n' for s in scene.seats)
    true.write_text(
        f'[room]\nshape = "plan"\nheight = {HEIGHT}\ncorners = {corners}\nwalls = {list(walls)}\n'
        f'[surfaces]\ndefault = "plasterboard"\n{places}'
    )
    spots = [_spots(scene), _spots(load_scene(true))]
    common = spots[0].keys() & spots[1].keys()
    assert len(common) >= 8
    # 20 mm is what is promised of spots of the first order.
    assert max(np.linalg.norm(spots[0][key] - spots[1][key]) for key in common) < 0.02


def _spots(scene):
    """First-order spots on the room itself by speaker and surface."""
    built = build_room(scene)
    arrivals = find_arrivals(scene, built, up_to_order=1)
    return {
        (int(arrivals.speaker[k]), built.surface_names[arrivals.path_surfaces[k, 0]]): arrivals.path_points[
            k, 1
        ]
        for k in np.flatnonzero(arrivals.order == 1)
    }


def test_the_scene_of_a_scan_reads_and_holds_what_was_found(scene):
    built = build_room(scene)
    assert built.floor_area_m2 == pytest.approx(14.7, rel=0.02)  # areas within 2 %
    assert {thing.name for thing in scene.objects} == {"table 1", "seat 1"}
    assert [opening.kind for opening in scene.openings] == ["opening"]
    assert len(scene.speakers) == 2
    assert len(scene.seats) == 1
    # Noise of 8 mm at each corner is 4.6 mm at the middle of three; whole millimetres, upwards.
    assert 0.0046 <= scene.job.survey_error <= 0.009


def test_suggested_ears_and_speakers_are_neither_at_half_the_height_nor_at_half_the_length(scene):
    ears, height = scene.seats[0].ears, scene.room.height
    assert 1.15 <= ears[2] <= 1.25  # seated, common practice
    for speaker in scene.speakers:
        # Floor and ceiling mirror the speaker to -z and 2 h - z: images as far off arrive together.
        assert abs((2.0 * height - speaker.position[2] - ears[2]) - (speaker.position[2] + ears[2])) >= 0.2
    depth = max(x for x, _ in scene.room.corners)
    assert abs(ears[0] / depth - 0.5) > 0.04


def test_a_hole_is_closed_with_a_named_patch_when_asked(room, folder):
    text = draft_scene(room, folder / "patched.toml", patch="plasterboard").text
    (opening,) = tomllib.loads(text)["openings"]
    assert opening["name"] == "closed ceiling hole middle right"
    assert (opening["kind"], opening["material"]) == ("cover", "plasterboard")


@pytest.mark.parametrize(
    ("kind", "truth", "numbers"),
    [
        (
            "box",
            plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4),
            {"length": 4.2, "width": 3.0, "height": 2.4},
        ),
        (
            "lean-to",
            plan_room([(0, 0), (4.5, 0), (4.5, 2.9), (0, 2.9)], 0.0, tops=lambda x, _y: 2.05 + 0.7 * x / 4.5),
            {"length": 4.5, "width": 2.9, "low": 2.05, "high": 2.75, "low_side": "front"},
        ),
        (
            "gable",
            gable_room(5.6, 4.4, eaves=1.1, ridge=2.6),
            {"length": 5.6, "width": 4.4, "eaves left": 1.1, "eaves right": 1.1, "ridge": 2.6},
        ),
    ],
)
def test_simple_rooms_come_back_as_their_own_shape_however_they_stand(tmp_path, kind, truth, numbers):
    room = clean_scan(written(tmp_path, truth, turn_deg=17.0))
    assert room.shape.kind == kind
    found = dict(room.shape.numbers)
    for key, value in numbers.items():
        # 10 mm of two opposite surfaces.
        assert found[key] == (value if isinstance(value, str) else pytest.approx(value, abs=0.01))
    path = tmp_path / "scene.toml"
    path.write_text(draft_scene(room, path).text)
    assert build_room(load_scene(path)).surface_names


def test_an_l_shaped_room_comes_back_as_a_plan(tmp_path):
    outline = [(0, 0), (6.0, 0), (6.0, 5.2), (3.4, 5.2), (3.4, 3.4), (0, 3.4)]
    room = clean_scan(written(tmp_path, plan_room(outline, 2.45), turn_deg=-17.0))
    assert room.shape.kind == "plan"
    assert off_m(room.shape.corners, outline).max() < 0.01  # what is promised of surfaces


def test_a_pilaster_whose_sides_are_too_narrow_to_be_seen_stands_square(tmp_path):
    pilaster = [(0.0, 1.9), (0.06, 1.9), (0.06, 0.9), (0.0, 0.9)]
    outline = [(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8), *pilaster]
    room = clean_scan(written(tmp_path, plan_room(outline, 2.4), noise=0.004))
    assert len(room.shape.corners) == len(outline)
    # Walls within 10 mm; how far they go along is known to an edge of the mesh where nothing stands there.
    across, along = np.abs(np.array(outline)[:, None] - room.shape.corners[None]).transpose(2, 0, 1)
    assert np.hypot(across, 0.5 * along).min(axis=1).max() < 0.012
    assert not room.patched
    assert built_from(room, tmp_path).volume_m3 == pytest.approx((3.6 * 2.8 - 0.06) * 2.4, rel=0.01)


def turned_deg(shape):
    """By how much each wall of the irregular room is turned, by its name. [deg]"""
    true = np.array(OUTLINE)
    own = np.linalg.norm(true[:, None] - shape.corners[None], axis=2).argmin(axis=1)
    here, there = (np.roll(c, -1, axis=0) - c for c in (shape.corners[own], true))
    turn = np.arctan2(here[:, 1], here[:, 0]) - np.arctan2(there[:, 1], there[:, 0])
    off = np.degrees(np.abs((turn + np.pi) % (2.0 * np.pi) - np.pi))
    return dict(zip([shape.walls[k] for k in own], off.tolist(), strict=True))


@pytest.mark.parametrize(
    ("rough", "corner_m"),
    [
        ({"noise": 0.005, "edge": 0.13}, 0.010),
        ({"noise": 0.02, "edge": 0.13}, 0.012),  # a corner is off by both its walls, which are off by 10 mm
        ({"outliers": 0.05}, 0.015),
    ],
)
def test_rougher_scans_of_the_irregular_room_still_close(tmp_path, rough, corner_m):
    room = clean_scan(written(tmp_path, room_11(), **rough))
    assert len(room.shape.corners) == len(OUTLINE)
    assert off_m(room.shape.corners, OUTLINE).max() < corner_m
    if "edge" in rough:  # as dense as scans are
        turned = turned_deg(room.shape)
        assert (
            max(turned.values()) < 0.5
        )  # what is promised of surfaces, the narrow ones of 0.36 m among them
        error_deg = {surface.name: surface.turn_deg for surface in room.surfaces}
        said = next((line for line in room.doubts if "may have turned" in line), "")
        for name, deg in turned.items():
            # Three standard errors; corners are in whole millimetres.
            assert deg < 3.0 * error_deg[name] + np.degrees(0.001 / 0.36)
            assert (f"{name} by" in said) == (error_deg[name] > 0.25)
    assert {block.name for block in room.objects} >= {"table 1", "seat 1"}


def test_two_rooms_taken_as_one_are_told_to_be_no_room(tmp_path):
    both = plan_room([(0, 0), (4.2, 0), (4.2, 5.1), (0, 5.1)], 2.5)
    both.faces += plan_room([(6.0, 0), (9.0, 0), (9.0, 3.6), (6.0, 3.6)], 2.4).faces
    drawn = {"noise": 0.0, "edge": 10.0, "flipped": 0.0, "repeated": 0, "degenerate": 0}
    room = clean_scan(written(tmp_path, both, **drawn), ScanSettings(room=0))
    (said,) = [line for line in room.doubts if "two rooms in the file" in line]
    assert any(f"{surface.name} by {surface.p95_mm:.0f} mm" in said for surface in room.surfaces)


def test_one_room_leaves_no_doubt_about_two(room):
    assert not any("rooms" in line for line in room.doubts)


def test_a_torn_scan_gets_its_largest_holes_as_openings_and_the_others_told(tmp_path):
    points, triangles = scan_of(plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4), Rough(edge=0.3))
    kept = np.random.default_rng(3).random(len(triangles)) > 0.12
    path = tmp_path / "torn.obj"
    path.write_text(obj_text(points, triangles[kept]))
    room = clean_scan(path)
    draft = draft_scene(room, tmp_path / "torn.toml")
    assert len(room.holes) > 60
    placed = draft.text.count("[[openings]]")
    assert 20 < placed <= 40
    (told,) = [note for note in draft.notes if "the scan is torn" in note]
    area_m2 = sum(hole.area_m2 for hole in room.holes[40:])
    assert told.startswith(f"the {len(room.holes) - 40} smallest holes, {area_m2:.2f} m² together, left out")
    lost = [note for note in draft.notes if "found no place" in note]
    assert placed + len(lost) == 40


def test_a_missing_strip_of_ceiling_is_a_hole(tmp_path):
    truth = plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4, hole=((1.0, 0.1), (1.4, 2.9)))
    room = clean_scan(written(tmp_path, truth))
    assert room.shape.kind == "box"
    assert [hole.surface for hole in room.holes] == ["ceiling"]
    assert room.holes[0].area_m2 == pytest.approx(0.4 * 2.8, rel=0.06)  # 8 mm all round 6.4 m


def test_a_drawing_is_read_as_well_as_a_scan(tmp_path):
    truth = plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4)
    room = clean_scan(written(tmp_path, truth, noise=0.0, edge=10.0, flipped=0.5, repeated=0, degenerate=0))
    assert dict(room.shape.numbers) == pytest.approx({"length": 4.2, "width": 3.0, "height": 2.4}, abs=1e-6)
    assert sum(surface.triangles for surface in room.surfaces) == 12  # pieces at edges count to one side


def built_from(room, folder):
    """The room of the scene that a scan became."""
    path = folder / "scene.toml"
    draft = draft_scene(room, path)
    path.write_text(draft.text)
    if draft.mesh:
        (folder / "scene-room.obj").write_text(draft.mesh)
    return build_room(load_scene(path))


def test_a_roof_with_one_slope_and_a_flat_comes_back_as_a_section(tmp_path):
    profile = [(0, 0), (3.6, 0), (3.6, 2.4), (1.73, 2.4), (0, 0.95)]
    room = clean_scan(written(tmp_path, section_room(4.8, profile), turn_deg=17.0))
    assert room.shape.kind == "section"
    assert dict(room.shape.numbers)["length"] == pytest.approx(4.8, abs=0.01)  # two surfaces of 5 mm
    # 10 mm is what is promised of surfaces, a corner of two of them is off by both.
    assert off_m(room.shape.profile(), profile).max() < 0.015
    built = built_from(room, tmp_path)
    assert set(built.surface_names) == {surface.name for surface in room.surfaces}


@pytest.mark.parametrize("turn_deg", [0.0, 90.0])  # the ridge along the length and along the width
def test_a_barrel_roof_is_few_flat_strips_with_the_deviation_told(tmp_path, turn_deg):
    profile, height = vault(4.0, eaves=1.8, rise=1.0)
    room = clean_scan(written(tmp_path, section_room(5.0, profile), noise=0.005, turn_deg=turn_deg))
    assert room.shape.kind == "section"
    assert not room.objects
    strips = [surface for surface in room.surfaces if "slope" in surface.name or surface.name == "ceiling"]
    assert 5 <= len(strips) <= 10
    across, up = room.shape.profile()[2:].T
    # Strips lie within 30 mm of the cylinder, as --distance has it; its own facets are 8 mm off.
    assert np.abs(up - height(np.clip(across, 0.0, 4.0))).max() < 0.038
    worst = max(surface.p95_mm for surface in strips)
    assert worst < 30.0
    told = next(line for line in room.report if "as a curve does" in line)
    assert f"it is {len(strips)} flat pieces, {worst:.0f} mm off the scan" in told
    built = built_from(room, tmp_path)
    assert {surface.name for surface in strips} < set(built.surface_names)


def test_a_dome_is_flat_pieces_and_no_furniture(tmp_path):
    room = clean_scan(written(tmp_path, domed_room(4.5, 4.0, eaves=2.2, rise=0.9), noise=0.005))
    assert room.shape.kind == "mesh"
    assert not room.objects
    assert any("as a curve does: it is" in line for line in room.report)
    true_m3 = 4.5 * 4.0 * (2.2 + 0.9 * 4 / 9)  # the mean of 1 - u^2 is 2/3
    assert built_from(room, tmp_path).volume_m3 == pytest.approx(true_m3, rel=0.02)  # 30 mm of 2.6 m


def test_a_face_that_crosses_itself_is_left_out_and_said(tmp_path):
    truth = plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4)
    path = written(tmp_path, truth, noise=0.0, edge=10.0, flipped=0.0, repeated=0, degenerate=0)
    text = path.read_text()
    n, line = text.count("v "), text.count("\n") + 6
    corners = [(1, 0, 1), (2, 0, 1), (2, 0, 2), (1, 0, 2), (1.4, 0, 1.3)]
    there = "".join(f"v {12345600 + 1000 * x} {1000 * y} {-8765400 - 1000 * z}\n" for x, y, z in corners)
    path.write_text(text + there + f"f {n + 1} {n + 2} {n + 4} {n + 3} {n + 5}\n")
    room = clean_scan(path)
    assert dict(room.shape.numbers) == pytest.approx({"length": 4.2, "width": 3.0, "height": 2.4}, abs=1e-6)
    assert f"1 face left out for crossing itself (the first in line {line})" in room.report


@pytest.fixture(scope="module")
def sloped(folder):
    truth = plan_room([(0, 0), (4.5, 0), (4.5, 2.9), (2.0, 2.9), (2.0, 2.0), (0, 2.0)], 0.0,
                      tops=lambda x, _y: 2.05 + 0.7 * x / 4.5)  # fmt: skip
    return clean_scan(written(folder, truth))


def test_a_roof_of_no_simple_shape_is_written_as_flat_faces(sloped, tmp_path):
    assert sloped.shape.kind == "mesh"
    path = tmp_path / "scene.toml"
    draft = draft_scene(sloped, path)
    path.write_text(draft.text)
    (tmp_path / "scene-room.obj").write_text(draft.mesh)
    built = build_room(load_scene(path))
    assert built.floor_area_m2 == pytest.approx(4.5 * 2.0 + 2.5 * 0.9, rel=0.02)  # areas within 2 %
    assert not [note for note in built.notes if "open along" in str(note)]
    assert not [note for note in draft.notes if "does not read" in note]


def test_flat_faces_that_are_no_room_are_refused_with_the_reason(sloped, tmp_path):
    roof = (RoofPlane("ceiling", (0.6, 0.0), -0.2),)  # it meets the floor 0.33 m behind the front wall
    sunk = replace(sloped, shape=replace(sloped.shape, roof=roof))
    with pytest.raises(
        MeshError, match=r"room.obj: .* make no room: ceiling comes down to 0.20 m .* try other"
    ):
        draft_scene(sunk, tmp_path / "scene.toml")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(("edge", "words"), [(0.5, "walls were found"), (9.0, "4 faces make no room")])
def test_walls_that_close_no_outline_are_one_message(tmp_path, edge, words):
    truth = Truth()
    truth.add([(0, 0, 0), (4, 0, 0), (4, 3, 0), (0, 3, 0)])
    truth.add([(0, 0, 0), (0, 0, 2.4), (4, 0, 2.4), (4, 0, 0)])
    path = tmp_path / "sheet.obj"
    rough = Rough(noise=0.0, edge=edge, repeated=0, degenerate=0)
    path.write_text(obj_text(*scan_of(truth, rough)))
    with pytest.raises(MeshError, match=words):
        clean_scan(path)


def test_a_scan_without_one_of_its_walls_says_what_can_be_done(tmp_path):
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4)
    truth.faces = [face for face in truth.faces if not (face[0][:, 0] == 3.6).all()]
    with pytest.raises(MeshError) as refused:
        clean_scan(written(tmp_path, truth))
    said = str(refused.value)
    assert "the 3 walls that were found close no outline (3.6" in said  # 8 mm of noise beyond 3.60 m
    assert "what is missing is the back wall, 2.8" in said
    assert "m long and 2.4" in said
    assert "--patch MATERIAL" in said
    assert "hitspot new" in said


def test_a_wall_that_was_not_scanned_is_put_where_the_floor_ends_when_asked(tmp_path):
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4)
    truth.faces = [face for face in truth.faces if not (face[0][:, 0] == 3.6).all()]
    room = clean_scan(written(tmp_path, truth), ScanSettings(patch_wall=True, tolerance_m=0.03))
    assert room.shape.kind == "box"
    # The floor's last row of points is 8 mm rough, and nothing tells the wall from it.
    assert dict(room.shape.numbers)["length"] == pytest.approx(3.6, abs=0.02)
    assert room.patched == ("back wall",)
    assert any("no back wall was scanned" in line for line in room.doubts)
    path = tmp_path / "scene.toml"
    draft = draft_scene(room, path, patch="brick")
    assert tomllib.loads(draft.text)["surfaces"]["back wall"] == "brick"
    assert tomllib.loads(draft.text)["room"]["assumed"] == ["back wall"]
    path.write_text(draft.text)
    (note,) = [note for note in build_room(load_scene(path)).notes if "not measured" in str(note)]
    assert "The back wall" in str(note)
    assert not tomllib.loads(draft.text).get("openings")


@pytest.mark.parametrize("far", [9000.0, 1e30])
def test_a_vertex_kilometres_away_is_a_stray_and_no_room(tmp_path, far):
    points, triangles = scan_of(
        plan_room([(0, 0), (4.2, 0), (4.2, 3.0), (0, 3.0)], 2.4), Rough(**{**COARSE, "edge": 0.4})
    )
    points[7] = (far, -far, 50.0)
    path = tmp_path / "room.obj"
    path.write_text(obj_text(points, triangles))
    room = clean_scan(path)
    assert room.shape.kind == "box"
    assert len(room.points) < 20_000  # its triangles, kilometres long, would be millions of pieces
    assert any("1 stray point dropped" in line for line in room.report)


def test_what_hangs_long_under_the_ceiling_is_a_beam(tmp_path):
    low, high = (1.6, 0.1, 2.1), (1.9, 2.7, 2.35)
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4)
    box_sides(truth, low, high)
    (x0, y0, z0), (x1, y1, _) = low, high
    truth.add([(x0, y1, z0), (x1, y1, z0), (x1, y0, z0), (x0, y0, z0)])
    (beam,) = clean_scan(written(tmp_path, truth)).objects
    assert beam.name == "beam 1"
    assert beam.centre[2] == pytest.approx(2.225, abs=0.01)  # what is promised of surfaces


def test_a_beam_from_wall_to_wall_ends_at_both_walls(tmp_path):
    low, high = (1.6, 0.0, 2.1), (1.9, 2.8, 2.35)
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4)
    (x0, y0, z0), (x1, y1, z1) = low, high
    for x, turn in ((x0, 1), (x1, -1)):
        truth.add([(x, y1, z0), (x, y0, z0), (x, y0, z1), (x, y1, z1)][::turn])
    truth.add([(x0, y1, z0), (x1, y1, z0), (x1, y0, z0), (x0, y0, z0)])
    truth.add([(x0, y0, z1), (x1, y0, z1), (x1, y1, z1), (x0, y1, z1)])
    (beam,) = clean_scan(written(tmp_path, truth)).objects
    assert max(beam.size[:2]) == pytest.approx(2.8, abs=0.02)  # two surfaces of 10 mm


def test_faces_that_reach_far_are_cut_into_so_many_pieces_and_no_more():
    corners = np.array([[0.0, 0.0, 0.0], [9000.0, 0.0, 0.0], [0.0, 9000.0, 0.0]])
    points, pieces, parent = cut_long(corners, np.array([[0, 1, 2]]), 0.12, most=1000)
    assert 1000 < len(pieces) <= 4000  # one cut makes four of each
    sides = points[pieces[:, 1:]] - points[pieces[:, :1]]
    areas = 0.5 * np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
    assert areas.sum() == pytest.approx(9000.0**2 / 2)
    assert not parent.any()


def test_growing_looks_only_at_what_lies_beside_it():
    n = 1000
    neighbours = (np.arange(n)[:, None] + np.arange(9)) % n
    points, normals = np.zeros((n, 3)), np.tile([0.0, 0.0, 1.0], (n, 1))
    points[:, 2] = 0.1 * (np.arange(n) % 2)  # every other one lies in the plane
    passed, reached = np.zeros(n, np.int64), np.empty(n, np.int64)
    given = points, normals, neighbours, np.ones(n, bool), 5

    def looked_at(plane, number):
        count = regions.reach_in_plane(*given, np.array(plane), 0.01, 0.99, (passed, number, reached))
        return reached[:count].tolist(), np.flatnonzero(passed == number).tolist()

    # In a soup of triangles no neighbour fits: eight are looked at for each seed, not a thousand.
    assert looked_at([0.0, 0.0, 1.0, 7.0], 1) == ([5], list(range(5, 14)))
    assert looked_at([1.0, 0.0, 0.0, 0.0], 2) == ([5], list(range(5, 14)))  # in it, but turned
    members, _ = looked_at([0.0, 0.0, 1.0, 0.1], 3)
    assert sorted(members) == list(range(1, n, 2))


def test_the_shipped_scene_is_what_its_scan_becomes():
    room = clean_scan(SCENES / "scan.obj")
    scene = load_scene(SCENES / "scan.toml")
    # The file has whole millimetres.
    assert np.asarray(scene.room.corners) == pytest.approx(room.shape.corners, abs=0.0006)
    assert scene.room.walls == room.shape.walls
    assert [thing.centre for thing in scene.objects] == [
        pytest.approx(block.centre, abs=0.0006) for block in room.objects
    ]
    assert off_m(scene.room.corners, OUTLINE).max() < 0.012  # 10 mm of each of two surfaces, as promised


def test_suggested_speakers_stand_over_no_furniture_and_alike_from_their_walls(tmp_path):
    # Where they would stand with nothing there is a sofa, low enough to have air over it.
    sofa = ((0.3, 1.5, 0.0), (1.1, 3.4, 0.8))
    truth = plan_room([(0, 0), (5.0, 0), (5.0, 4.2), (0, 4.2)], 2.5, blocks=(sofa,))
    path = tmp_path / "sofa.toml"
    room = clean_scan(written(tmp_path, truth))
    assert room.objects
    path.write_text(draft_scene(room, path).text)
    left, right = (np.array(speaker.position) for speaker in load_scene(path).speakers)
    assert 4.2 - right[1] == pytest.approx(left[1], abs=0.26)  # what they may differ by, and the tape
    for x, y, _ in (left, right):
        assert not (0.1 < x < 1.3 and 1.3 < y < 3.6)  # 0.2 m round it


@pytest.mark.parametrize(("face", "what", "where"), [(1, "ceiling", "over"), (0, "floor", "under")])
def test_a_missing_ceiling_or_floor_is_told_with_its_size_and_what_to_do(tmp_path, face, what, where):
    truth = plan_room([(0, 0), (4.6, 0), (4.6, 3.5), (0, 3.5)], 2.5)
    del truth.faces[face]
    with pytest.raises(MeshError) as refused:
        clean_scan(written(tmp_path, truth, noise=0.002, turn_deg=20.0))
    said = str(refused.value)
    assert f"no {what} was found: what is missing lies {where} about 4.6" in said
    assert " by 3.5" in said
    assert "(16.1 m²)" in said  # 4.6 x 3.5
    assert "hitspot new" in said

"""What a section shows of itself, by the sizes that the scene gives."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from raytrace import Follower, load_scene
from tests.support.scenes import SCENES
from viewer.pictures import loops_of, set_stage
from viewer.window.scenery.scenery import sound, walls
from viewer.window.scenery.section import (
    CUT_FACES,
    WALL_M,
    cut_faces,
    nearer_half,
    plane_at,
    plane_of,
    without,
)
from viewer.window.scenery.spans import fill_spans
from viewer.window.state import Cut, Eye, OnScreen, named_view

SIZE = (1000, 620)
NAMES = sorted(path.stem for path in SCENES.glob("*.toml"))


def shown_of(name, cut=None, text=None):
    path = SCENES / f"{name}.toml"
    study = Follower().ears(load_scene(path) if text is None else load_scene(path, text))
    stage = set_stage(study)
    return OnScreen(study=study, stage=stage, eye=named_view(stage, "room", SIZE), cut=cut)


def area_m2(mesh):
    return sum(
        float(np.linalg.norm(np.cross(loop[i] - loop[0], loop[i + 1] - loop[0]))) / 2
        for loop in (loops_of(mesh) if mesh.n_cells else ())
        for i in range(1, len(loop) - 1)
    )


def length_m(mesh):
    return sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in loops_of(mesh))


def bare(shown):
    """The same without speakers and panels being cut: only furniture is left in the way of a plane."""
    return replace(shown, layers=shown.layers - {"panels"}, view="seat")


def test_a_cut_desk_shows_its_cross_section():
    shown = shown_of("garage")
    (session,) = shown.study.scene.objects
    low, high = shown.study.room.bounds[:, 1]
    # Beside both speakers and the sub, where the plane meets nothing but the desk.
    at = session.centre[1] - 0.25 * session.size[1]
    shown = bare(replace(shown, cut=Cut(1, (at - low) / (high - low))))
    layers = cut_faces(shown)
    assert area_m2(layers["cut faces"].mesh) == pytest.approx(session.size[0] * session.size[2], abs=1e-6)
    assert layers["cut hatching"].mesh.n_cells > 3
    off = cut_faces(replace(shown, layers=shown.layers - {"furniture"}))
    assert off["cut faces"].mesh.n_cells == 0


def test_what_stands_outside_the_room_is_not_filled():
    text = (SCENES / "beams.toml").read_text()
    # The beam reaches half its height through the ceiling.
    assert "centre = [3.20, 2.30, 2.475]" in text
    shown = shown_of(
        "beams", text=text.replace("centre = [3.20, 2.30, 2.475]", "centre = [3.20, 2.30, 2.60]")
    )
    shown = bare(replace(shown, cut=Cut(0, 3.2 / 6.4)))
    faces = cut_faces(shown)["cut faces"].mesh
    assert area_m2(faces) == pytest.approx(4.60 * 0.125, abs=1e-6)


def test_a_door_interrupts_the_wall_by_its_own_width():
    shown = shown_of("beams", Cut(2, 0.2))
    scene, layers = shown.study.scene, cut_faces(shown)
    around = 2 * (scene.room.length + scene.room.width)
    door = next(o for o in scene.openings if o.kind == "door")
    assert length_m(layers["cut wall lines"].mesh) == pytest.approx(around - door.size[0], abs=1e-5)
    assert length_m(layers["cut panes"].mesh) == pytest.approx(door.size[0], abs=1e-5)
    through_windows = cut_faces(replace(shown, cut=Cut(2, 1.5 / 2.6)))
    wide = sum(o.size[0] for o in scene.openings)
    assert length_m(through_windows["cut panes"].mesh) == pytest.approx(wide, abs=1e-5)


def test_an_opening_that_lets_the_sound_out_leaves_a_gap_and_a_rug_leaves_the_floor_whole():
    text = (SCENES / "garage.toml").read_text()
    shown = shown_of("garage", Cut(1, 0.5), text)
    room = shown.study.scene.room
    around = 2 * (room.length + room.height)
    door = next(o for o in shown.study.scene.openings if o.kind == "door")
    lines = cut_faces(shown)
    assert length_m(lines["cut wall lines"].mesh) == pytest.approx(around - door.size[1], abs=1e-5)
    gap = shown_of("garage", Cut(1, 0.5), text.replace('kind = "door"', 'kind = "opening"'))
    lines = cut_faces(gap)
    assert lines["cut panes"].mesh.n_cells == 0
    assert length_m(lines["cut wall lines"].mesh) == pytest.approx(around - door.size[1], abs=1e-5)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_the_cut_line_of_every_room_closes_round_the_air(name, axis):
    shown = shown_of(name)
    room, share = shown.study.room, (0.37, 0.55, 0.62)[axis]
    plane = plane_of(replace(shown, cut=Cut(axis, share)))
    layers = cut_faces(replace(shown, cut=Cut(axis, share)))
    ends = np.concatenate(
        [loops_of(layers[n].mesh) for n in ("cut wall lines", "cut panes") if layers[n].mesh.n_cells]
    )
    corners = ends.reshape(-1, 3)
    near = cKDTree(corners).query_ball_point(corners, 1e-4, return_length=True)  # drawn to a tenth of a mm
    assert (near % 2 == 0).all()  # every line goes on where another ends
    flat = plane.flat(ends)
    enclosed = sum(
        abs(float(p[1, 0] - p[0, 0] + p[2, 0] - p[3, 0]) / 2) * (p[2, 1] - p[0, 1])
        for p in fill_spans(flat, flat)
    )
    low, high = (plane.flat(bound) for bound in room.bounds)
    assert 0.3 * np.prod(high - low) < enclosed <= np.prod(high - low) + 1e-6


def test_walls_are_as_thick_as_is_said_and_lie_outside_the_air():
    shown = shown_of("box", Cut(2, 0.4))
    room, bands = shown.study.scene.room, cut_faces(shown)["cut walls"].mesh
    thick = WALL_M
    openings = [o for o in shown.study.scene.openings if o.at[1] < 0.4 * room.height < o.at[1] + o.size[1]]
    ring = (room.length + 2 * thick) * (room.width + 2 * thick) - room.length * room.width
    missing = thick * sum(o.size[0] for o in openings)
    assert area_m2(bands) == pytest.approx(ring - missing, abs=1e-6)
    points = np.concatenate(loops_of(bands))
    inside = (points[:, 0] > 1e-6) & (points[:, 0] < room.length - 1e-6)
    inside &= (points[:, 1] > 1e-6) & (points[:, 1] < room.width - 1e-6)
    assert not inside.any()


def test_without_a_section_there_is_nothing_cut():
    layers = cut_faces(shown_of("box"))
    assert tuple(layers) == CUT_FACES
    assert all(layer.mesh.n_cells == 0 for layer in layers.values())


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_both_sides_of_a_section_make_up_the_whole(axis):
    shown = shown_of("treated-box")
    room = shown.study.room
    for name, layer, size in (
        ("walls", walls(shown)["walls"], area_m2),
        ("paths", sound(shown)["paths"], length_m),
    ):
        parts = [without(layer, plane_at(room, Cut(axis, 0.43, far))) for far in (True, False)]
        whole = sum(size(part.mesh) for part in parts)
        assert whole == pytest.approx(size(layer.mesh), rel=1e-5), name  # meshes are in single precision
        for part, far in zip(parts, (True, False), strict=True):
            at = plane_at(room, Cut(axis, 0.43, far)).at_m
            reach = np.concatenate(loops_of(part.mesh))[:, axis]
            assert (reach.min() >= at - 1e-6) if far else (reach.max() <= at + 1e-6)
            assert len(part.colours) == part.mesh.n_cells


@pytest.mark.parametrize(
    ("azimuth", "elevation", "cut"),
    [
        (40.0, 30.0, Cut(1, 0.5, False)),
        (-40.0, 30.0, Cut(1, 0.5, True)),
        (0.0, 10.0, Cut(0, 0.5, False)),
        (0.0, 90.0, Cut(2, 0.5, False)),
    ],
)
def test_the_half_nearer_to_the_eye_is_taken_away(azimuth, elevation, cut):
    assert nearer_half(Eye((2.0, 1.5, 1.2), 8.0, azimuth, elevation, 0.2, False).camera(SIZE)) == cut

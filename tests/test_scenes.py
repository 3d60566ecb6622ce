"""The rooms of scenes/: examples that people copy, and regression tests of the whole run."""

import functools
import math

import numpy as np
import pytest

from raytrace import build_room, find_arrivals, find_battens, find_hooks, find_paths, load_scene
from tests.support.mirrored import mirrored_obj, mirrored_scene, swap_sides, toml_value
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study

NAMES = (
    *("box", "cupboard", "rented", "garage", "ridge", "half-slope"),
    *("lean-to", "elbow", "beams", "classroom", "hip", "treated-box", "scan"),
)
# The cupboard was taped to 1/32 in; the others are metric to the last digit.
INCH_TAPE_M = 0.0004


@functools.cache
def scene_and_room(name):
    scene = load_scene(SCENES / f"{name}.toml")
    return scene, build_room(scene)


def first_order(name, speaker, surface):
    """Row of the single bounce of a speaker off a surface, in the room's study."""
    study = shipped_study(name)
    arrivals = study.arrivals
    rows = np.flatnonzero(
        (arrivals.order == 1)
        & (arrivals.seat == 0)
        & (arrivals.speaker == arrivals.speaker_names.index(speaker))
        & (arrivals.path_surfaces[:, 0] == study.room.surface_index(surface))
    )
    assert len(rows) == 1, f"{name}: {len(rows)} bounces of {speaker} off {surface}"
    return int(rows[0])


def test_all_rooms_are_here_and_nothing_else():
    assert sorted(NAMES) == sorted(path.stem for path in SCENES.glob("*.toml"))


@pytest.mark.parametrize("name", NAMES)
def test_every_scene_opens_with_why_it_exists(name):
    lines = (SCENES / f"{name}.toml").read_text(encoding="utf-8").splitlines()
    opening = lines[: next(k for k, line in enumerate(lines) if not line.startswith("#"))]
    assert len(opening) >= 4
    assert any("Why it exists" in line for line in opening)


# Positions as the rooms were invented: speakers left, right (and subs), then seats. [m]
POSITIONS = {
    "box": ([(0.75, 0.90, 1.20), (0.75, 2.10, 1.20)], [(1.79, 1.50, 1.20)]),
    "cupboard": ([(0.55, 0.75, 1.15), (0.55, 1.75, 1.15)], [(1.42, 1.25, 1.15)]),
    "rented": ([(0.70, 1.05, 1.20), (0.70, 2.25, 1.20)], [(1.74, 1.65, 1.20)]),
    "garage": ([(0.80, 0.70, 1.20), (0.80, 2.00, 1.20), (0.45, 1.75, 0.25)], [(1.93, 1.35, 1.20)]),
    "ridge": ([(0.95, 1.60, 1.20), (0.95, 2.80, 1.20)], [(1.99, 2.20, 1.20)]),
    "half-slope": ([(0.80, 1.40, 1.20), (0.80, 2.60, 1.20)], [(1.84, 2.00, 1.20)]),
    "lean-to": ([(0.70, 0.85, 1.20), (0.70, 2.05, 1.20)], [(1.74, 1.45, 1.20)]),
    "elbow": ([(0.80, 1.00, 1.20), (0.80, 2.40, 1.20)], [(2.01, 1.70, 1.20)]),
    "beams": ([(0.85, 1.55, 1.20), (0.85, 3.05, 1.20)], [(2.15, 2.30, 1.20)]),
    "classroom": (
        [(1.30, 2.00, 1.35), (1.30, 4.00, 1.35), (1.0, 1.2, 0.3), (1.0, 4.8, 0.3)],
        [(3.03, 3.00, 1.25), (5.50, 3.00, 1.05)],
    ),
    "treated-box": ([(0.75, 0.90, 1.20), (0.75, 2.10, 1.20)], [(1.79, 1.50, 1.20)]),
    "scan": ([(0.65, 1.20, 1.20), (0.65, 2.45, 1.20)], [(1.73, 1.825, 1.20)]),
    "hip": ([(0.75, 1.95, 1.15), (0.75, 3.05, 1.15), (0.50, 3.60, 0.22)], [(1.70, 2.50, 1.15)]),
}


@pytest.mark.parametrize("name", NAMES)
def test_speakers_and_seats_stand_where_the_rooms_were_drawn(name):
    scene, _ = scene_and_room(name)
    speakers, seats = POSITIONS[name]
    tolerance_m = INCH_TAPE_M if name == "cupboard" else 1e-12  # decimals of the file itself
    np.testing.assert_allclose([s.position for s in scene.speakers], speakers, rtol=0, atol=tolerance_m)
    np.testing.assert_allclose([s.ears for s in scene.seats], seats, rtol=0, atol=tolerance_m)


def half_slope_volume_m3():
    """A box less the wedge above the slope, plus the dormer: a triangle over its run, 1.30 m wide."""
    run = 1.45 / math.tan(math.radians(40))
    dormer_run = 1.25 / math.tan(math.radians(40))
    return 4.80 * (3.60 * 2.40 - run * 1.45 / 2) + 1.30 * dormer_run * 1.25 / 2


def hip_volume_m3():
    """The plan times 2.30 less what the two roofs cut off, their overlap counted once.

    Left roof: at distance y it cuts 1.5 - y. End roof: rise t per metre, run b = 1.30 / t, it cuts
    t (b - d) at distance d. Where both cut, the smaller is in both sums: integral of min(1.5 - y, t w)
    over y in [0, 1.5] and w in [0, b - 0.8].
    """
    t = math.tan(math.radians(35))
    b = 1.30 / t
    w = b - 0.80
    plan = 4.70 * 4.10 + 0.80 * 1.90 - 0.21 * 4.10 / 2
    lean = 0.21 / 4.10  # the front wall's slant shortens the left roof with y
    left = 4.70 * 1.5**2 / 2 - lean * 1.5**3 / 6
    end = t * (b**2 / 2 * 1.90 + w**2 / 2 * 2.20)
    both = 1.5 * t * w**2 / 2 - t**2 * w**3 / 6
    return 2.30 * plan - (left + end - both)


def scan_volume_m3():
    """The shoelace of the corners as they stand in the file, in whole millimetres, times the height."""
    x = (0, 3920, 4310, 4299, 3881, 3859, 2298, 2293, 1048, 1061, 29)
    y = (0, 58, 738, 1885, 2544, 3708, 3742, 3378, 3400, 3770, 3799)
    twice_mm2 = sum(x[k - 1] * y[k] - x[k] * y[k - 1] for k in range(len(x)))
    return twice_mm2 / 2e6 * 2.44


VOLUMES_M3 = {
    "box": 4.20 * 3.00 * 2.40,
    "cupboard": 126.0 * 98.4375 * 92.5 * 0.0254**3,
    "rented": 3.90 * 3.30 * 2.50,
    "garage": 5.40 * 2.70 * 2.30,
    "ridge": 5.60 * 4.40 * (1.10 + 2.60) / 2,
    "half-slope": half_slope_volume_m3(),
    "lean-to": 4.50 * 2.90 * (2.05 + 2.75) / 2,
    "elbow": (6.00 * 3.40 + 2.60 * 1.80) * 2.45,
    "beams": 6.40 * 4.60 * 2.60,
    "classroom": 10.00 * 6.00 * 3.20,
    "treated-box": 4.20 * 3.00 * 2.40,
    "hip": hip_volume_m3(),
    "scan": scan_volume_m3(),
}


@pytest.mark.parametrize("name", NAMES)
def test_volume_is_the_one_worked_out_by_hand(name):
    _, room = scene_and_room(name)
    # The drawing of the half slope gives micrometres, hence 1e-6 there; the rest is rounding.
    assert room.volume_m3 == pytest.approx(VOLUMES_M3[name], rel=1e-6 if name == "half-slope" else 1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_whole_run_ends_with_a_verdict_for_every_speaker_and_seat(name):
    study = shipped_study(name)
    pairs = {(v.speaker, v.seat): v.status for v in study.verdicts}
    assert set(pairs) == {
        (i, j) for i in range(len(study.scene.speakers)) for j in range(len(study.scene.seats))
    }
    for (speaker, _), status in pairs.items():
        assert status == ("sub" if study.scene.speakers[speaker].use == "sub" else "judged")
    direct = study.arrivals.direct
    for speaker, visible in zip(direct.speaker, direct.visible, strict=True):
        # A desk may stand between a sub and the ears: what a sub sends goes round it.
        assert visible or study.scene.speakers[speaker].use == "sub"
    assert len(study.curves) == len(pairs)
    assert study.treatment_areas
    assert study.notes
    assert study.cautions


@pytest.mark.parametrize("name", NAMES)
def test_every_bounce_obeys_the_law_of_reflection(name):
    arrivals, room = shipped_study(name).arrivals, shipped_study(name).room
    for row, bounce in np.argwhere(arrivals.path_facets >= 0):
        before, spot, after = arrivals.path_points[row, bounce : bounce + 3]
        arriving = (spot - before) / np.linalg.norm(spot - before)
        leaving = (after - spot) / np.linalg.norm(after - spot)
        normal = room.facets[arrivals.path_facets[row, bounce]].normal
        mirrored = arriving - 2 * (arriving @ normal) * normal
        np.testing.assert_allclose(leaving, mirrored, rtol=0, atol=1e-9)  # rounding over a few metres
        assert arriving @ normal < 0


@pytest.mark.parametrize("name", NAMES)
def test_every_leg_runs_through_air(name):
    arrivals, room = shipped_study(name).arrivals, shipped_study(name).room
    legs = np.stack([arrivals.path_points[:, :-1], arrivals.path_points[:, 1:]], axis=2).reshape(-1, 2, 3)
    legs = legs[np.isfinite(legs).all(axis=(1, 2))]
    for share in (0.21, 0.5, 0.83):
        assert room.contains(legs[:, 0] + share * (legs[:, 1] - legs[:, 0])).all()


@pytest.mark.parametrize("name", NAMES)
def test_swapping_speaker_and_seat_keeps_every_path(name):
    scene, room = scene_and_room(name)
    for speaker in scene.speakers:
        there = find_paths(room, speaker.position, scene.seats[0].ears, up_to_order=2)
        back = find_paths(room, scene.seats[0].ears, speaker.position, up_to_order=2)
        assert len(there.order) == len(back.order) > 0
        for points, order, length_m in zip(there.points, there.order, there.length_m, strict=True):
            row = np.flatnonzero((back.order == order) & (np.abs(back.length_m - length_m) < 1e-9))
            distances = [np.abs(back.points[k, order + 1 :: -1] - points[: order + 2]).max() for k in row]
            assert min(distances) < 1e-9  # rounding over a few metres


# Box room, left speaker, spreading only, worked by hand from the mirror images: surface, distance from
# the front wall of the spot [m] where one was worked out, delay [ms], level [dB] where worked out.
BOX_BY_HAND = (
    ("left wall", 1.140, 4.12, -6.8),
    ("ceiling", 1.270, 4.32, -7.0),
    ("right wall", 1.357, 7.42, -9.9),
    ("front wall", 0.0, 4.11, None),
    ("back wall", 4.2, 13.67, -13.8),
)


@pytest.mark.parametrize(("surface", "x_m", "delay_ms", "level_db"), BOX_BY_HAND)
def test_box_room_agrees_with_pencil_and_paper(surface, x_m, delay_ms, level_db):
    arrivals, row = shipped_study("box").arrivals, first_order("box", "left", surface)
    # Half of the last printed digit everywhere.
    assert arrivals.path_points[row, 1, 0] == pytest.approx(x_m, abs=0.0005)
    assert arrivals.delay_s[row] * 1e3 == pytest.approx(delay_ms, abs=0.005)
    if level_db is not None:
        direct_m = (
            arrivals.length_m[row] - arrivals.delay_s[row] * shipped_study("box").room.speed_of_sound_m_s
        )
        spreading_db = 20 * math.log10(direct_m / arrivals.length_m[row])
        assert spreading_db == pytest.approx(level_db, abs=0.05)
        # Walls, air and the speaker's back only ever take away.
        assert arrivals.band_level_db[row] < spreading_db


def test_box_room_spots_are_set_out_from_the_right_corners():
    arrivals = shipped_study("box").arrivals
    # Facing the left wall the tape starts at the back corner: 4.200 - 1.140. The ceiling counts x, y.
    for surface, spot in (
        ("left wall", (3.060, 1.200)),
        ("ceiling", (1.270, 1.200)),
        ("right wall", (1.357, 1.200)),
    ):
        row = first_order("box", "left", surface)
        np.testing.assert_allclose(arrivals.spots[row, 0], spot, rtol=0, atol=0.0005)  # half a millimetre


def test_box_room_gives_the_ears_the_same_from_both_sides():
    left_right = shipped_study("box").left_right
    # All but the door (behind, off centre) is symmetrical, and wood is nearly as hard as plasterboard.
    assert abs(left_right.difference_db) < 0.2


# What the comments at the head of the scenes promise: speaker, surface and the opening on its mirror point.
MIRROR_POINTS = (
    ("cupboard", "left", "front wall", "window"),
    ("cupboard", "right", "front wall", "window"),
    ("rented", "right", "right wall", "window"),
    ("rented", "left", "left wall", None),
    ("garage", "left", "back wall", "steel door"),
    ("ridge", "right", "right slope", "roof window"),
    ("ridge", "left", "left slope", None),
    ("lean-to", "right", "right wall", "slider"),
    ("lean-to", "left", "left wall", None),
    ("beams", "right", "right wall", None),
    ("classroom", "left", "left wall", "window 1"),
    ("classroom", "right", "right wall", None),
    ("hip", "left", "left slope", None),
)


@pytest.mark.parametrize(("name", "speaker", "surface", "opening"), MIRROR_POINTS)
def test_mirror_points_lie_on_the_openings_the_scene_speaks_of(name, speaker, surface, opening):
    study, row = shipped_study(name), first_order(name, speaker, surface)
    index = study.arrivals.path_openings[row, 0]
    assert (study.scene.openings[index].name if index >= 0 else None) == opening


def test_middle_of_the_roof_window_is_the_mirror_point_of_the_ridge():
    study, row = shipped_study("ridge"), first_order("ridge", "right", "right slope")
    window = next(opening for opening in study.scene.openings if opening.name == "roof window")
    middle = np.add(window.at, np.divide(window.size, 2))
    np.testing.assert_allclose(study.arrivals.spots[row, 0], middle, rtol=0, atol=0.010)  # drawn to 10 mm


def test_chimney_breast_hides_the_wall_behind_it():
    study = shipped_study("ridge")
    surfaces = study.arrivals.path_surfaces[study.arrivals.order == 1, 0]
    names = {study.room.surfaces[k].name for k in surfaces}
    assert "front wall" not in names
    assert any(name.startswith("chimney breast") for name in names)


def test_desk_bounce_of_the_garage_comes_before_any_wall():
    study = shipped_study("garage")
    for speaker in (0, 1):
        first = study.arrivals.at(speaker, 0)[0]
        assert study.room.surfaces[study.arrivals.path_surfaces[first, 0]].name == "desk top"


def test_half_slope_has_no_counterparts_where_the_box_has_them_all():
    # The sums of energy may come out alike; the arrivals of a lopsided room still have no mirror image.
    box, lopsided = shipped_study("box").left_right, shipped_study("half-slope").left_right
    assert len(box.pairs) > 0
    assert len(box.unpaired) == 0
    assert len(lopsided.unpaired) > len(lopsided.pairs)


def test_nook_of_the_elbow_is_out_of_sight_of_a_mirror():
    study = shipped_study("elbow")
    single = study.arrivals.path_surfaces[study.arrivals.order == 1, 0]
    names = {study.room.surfaces[k].name for k in single}
    # From both speakers the end wall's mirror point lies behind the inner corner.
    assert "nook end wall" not in names
    assert {"left wall", "right wall", "front wall", "back wall", "ceiling", "desk top"} <= names


def test_beam_edge_spot_is_found_from_both_ends():
    scene, room = scene_and_room("beams")
    ends = scene.speakers[0].position, scene.seats[0].ears
    edge_spot = (1.50, 1.925, 2.35)  # halfway: equal heights, x = (0.85 + 2.15) / 2 on the beam's edge
    for source, listener in (ends, ends[::-1]):
        paths = find_paths(room, source, listener, up_to_order=1)
        distances = np.linalg.norm(paths.points[:, 1] - edge_spot, axis=1)
        row = np.flatnonzero(distances < 1e-9 * room.size_m)
        assert len(row) == 1
        assert room.surfaces[room.facets[paths.facets[row[0], 0]].surface].owner == "beam 1"
        # The ceiling above it is hidden: the first leg would pass through the beam.
        assert not np.isclose(paths.points[:, 1, 2], 2.60).any()


def test_classroom_is_judged_by_the_standard_it_names():
    scene, _ = scene_and_room("classroom")
    assert "BS.1116" in scene.limits.name


@pytest.mark.parametrize("name", NAMES)
def test_mirrored_room_gives_mirrored_arrivals(name, tmp_path):
    scene, room = scene_and_room(name)
    file = tmp_path / f"{name}.toml"
    tables = mirrored_scene(scene, room).items()
    file.write_text("".join(f"{key} = {toml_value(value)}\n" for key, value in tables), encoding="utf-8")
    if scene.room.shape == "mesh":
        drawing = scene.resolve(scene.room.file).read_text(encoding="utf-8")
        (tmp_path / scene.room.file).write_text(mirrored_obj(drawing, 3600.0), encoding="utf-8")
    mirror = load_scene(file)
    mirror_room = build_room(mirror)
    assert mirror_room.volume_m3 == pytest.approx(room.volume_m3, rel=1e-12)  # rounding
    here = shipped_study(name).arrivals
    there = find_arrivals(mirror, mirror_room)
    assert len(there.order) == len(here.order)
    flipped = there.path_points * (1, -1, 1) + (0, float(room.bounds[1, 1]), 0)
    for row, points in enumerate(here.path_points):
        apart_m = np.nan_to_num(np.abs(flipped - points)).max(axis=(1, 2))
        apart_m[there.order != here.order[row]] = np.inf
        twin = int(np.argmin(apart_m))
        assert apart_m[twin] < 1e-9  # rounding over a few metres
        assert there.delay_s[twin] == pytest.approx(here.delay_s[row], abs=1e-12)
        np.testing.assert_allclose(there.level_db[twin], here.level_db[row], rtol=0, atol=1e-6)  # rounding
        for bounce in range(here.order[row]):
            surface = room.surfaces[here.path_surfaces[row, bounce]]
            other = mirror_room.surfaces[there.path_surfaces[twin, bounce]]
            # Free-standing objects keep their names, and their own left and right.
            if surface.owner is None:
                assert other.name == swap_sides(surface.name)
            if surface.owner is None and abs(surface.frame.n[2]) < 0.999:
                u_m, v_m = here.spots[row, bounce]
                mirrored_spot = (surface.frame.width - u_m, v_m)
                np.testing.assert_allclose(there.spots[twin, bounce], mirrored_spot, rtol=0, atol=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_every_hook_holds_in_wood_where_joists_are_known(name):
    scene, room = scene_and_room(name)
    hooks = find_hooks(scene, room)
    carried = {hook.key for batten in find_battens(scene, room, hooks) for hook in batten.hooks}
    for hook in hooks:
        surface = room.surfaces[hook.surface]
        lines = [entry for entry in scene.joists if entry.surface == surface.name]
        if not lines:
            assert hook.joist is None
            continue
        assert hook.joist is not None or hook.key in carried
        u, v = hook.anchor_uv
        rects = [opening.rect for opening in surface.openings if opening.kind != "cover"]
        assert not any(u0 < u < u1 and v0 < v < v1 for u0, v0, u1, v1 in rects)

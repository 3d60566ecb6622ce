import io

import numpy as np
import pytest
from rich.console import Console

from raytrace import build_room, find_arrivals, run_study
from raytrace.reflections.nearmisses import find_near_misses, free_edges
from raytrace.reflections.paths import ListeningPoint
from raytrace.reflections.reflectors import find_reflectors
from tests.support.scenes import BOX
from viewer.tables import arrivals_csv, arrivals_json, arrivals_tables

# The desk bounce of the worked room lies at x = 2.1, y = 1.65.
DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [{centre}, 1.65, 0.7]
size = [0.7, 1.4, 0.03]
material = "hard"
"""


def with_desk(scene_of, beyond_m):
    """The worked room with a desk whose far edge stands `beyond_m` short of the spot."""
    return scene_of(BOX + DESK.format(centre=1.75 - beyond_m), f"desk {beyond_m}.toml")


def desk_bounce(room, table):
    """Row of the single bounce at the desk's top, None where there is none."""
    top = next(i for i, s in enumerate(room.surfaces) if s.name == "desk top")
    rows = np.flatnonzero((table.order == 1) & (table.path_surfaces[:, 0] == top))
    return int(rows[0]) if rows.size else None


def desk_energy(scene_of, beyond_m):
    """Energy of the desk bounce re direct per band, and whether it is a near miss."""
    scene = with_desk(scene_of, beyond_m)
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=2)
    hit, missed = (desk_bounce(room, t) for t in (arrivals, arrivals.near_misses))
    assert (hit is None) != (missed is None)  # the one or the other, never both
    return (arrivals.energy[hit], False) if missed is None else (arrivals.near_misses.energy[missed], True)


def test_the_level_goes_on_smoothly_as_the_desk_is_drawn_away_from_under_the_spot(scene_of):
    beyond = np.array([-0.06, -0.04, -0.02, -1e-4, 1e-4, 0.02, 0.04, 0.06])
    found = [desk_energy(scene_of, b) for b in beyond]
    assert [missed for _, missed in found] == [False] * 4 + [True] * 4
    level_db = 10 * np.log10(np.array([energy for energy, _ in found]))
    # 0.2 mm of desk: K changes by 25 per metre at most (8 kHz), so by 0.005 of 1/2.
    assert np.abs(level_db[4] - level_db[3]).max() < 0.1
    upper = level_db[:, 4:]  # 1 kHz and up, where the desk is large enough for its edge to rule
    assert np.all(np.diff(upper, axis=0) < 0.0)


def test_on_the_edge_half_the_pressure_is_left(scene_of):
    plain, _ = desk_energy(scene_of, -0.35)  # the spot in the middle
    edge, missed = desk_energy(scene_of, 1e-6)
    assert missed
    # -6 dB of an endless reflector; the desk's other edges and those of its middle leave a ripple: 2 dB.
    endless = (2.2**2 + 0.7**2) / (2.2**2 + 0.7**2 + 0.97**2)  # direct against by way of z = 0.715
    assert 10 * np.log10(edge[5:] / endless / 0.25) == pytest.approx(0.0, abs=2.0)
    assert np.all(edge[5:] < plain[5:])


def test_a_desk_farther_off_than_the_fresnel_zone_is_no_near_miss(scene_of):
    # Half way the first Fresnel zone at 1 kHz is sqrt(0.3432 x 2.504 / 4) = 0.4635 m wide, on the plane of
    # the desk measured straight across.
    for beyond_m, expected in ((0.46, 1), (0.47, 0)):
        scene = with_desk(scene_of, beyond_m)
        room = build_room(scene)
        near = find_arrivals(scene, room, up_to_order=1).near_misses
        assert (desk_bounce(room, near) is not None) == bool(expected)


def test_a_room_without_free_edges_has_no_near_misses(scene_of):
    scene = scene_of(BOX)
    room = build_room(scene)
    arrivals = find_arrivals(scene, room)
    assert len(arrivals.near_misses.order) == 0
    paths = arrivals.at_points[0].paths
    point = ListeningPoint(
        room, paths.listener, paths.source, free_edges=free_edges(room, find_reflectors(room))
    )
    assert len(find_near_misses(point, paths, arrivals.reach).order) == 0


def test_a_near_miss_shows_in_the_curve_and_is_a_peak(scene_of):
    study = run_study(with_desk(scene_of, 0.02), up_to_order=1)
    near, curve = study.arrivals.near_misses, study.curves[0]
    row = desk_bounce(study.room, near)
    at = np.argmin(np.abs(curve.time_s - near.delay_s[row]))
    # Its own level where it arrives; side lobes of the floor's bounce are 20 dB down.
    assert curve.level_db[at - 2 : at + 3].max() == pytest.approx(near.band_level_db[row], abs=1.5)
    (peak,) = (peak for peak in study.peaks if row in peak.near_misses)
    assert peak.verdict in ("over", "undecided", "below")
    assert peak.ears_db == pytest.approx(near.band_level_db[row], abs=1.5)  # the same side lobes


def test_every_output_says_so(scene_of):
    study = run_study(with_desk(scene_of, 0.02), up_to_order=1)
    table = arrivals_json(study)
    listed = [entry for entry in table["near_misses"] if entry["surfaces"] == ["desk top"]]
    assert len(listed) == 1
    assert list(listed[0]) == list(table["arrivals"][0])
    assert listed[0]["points_m"][0] == pytest.approx([2.1, 1.65, 0.715], abs=1e-9)  # rounding
    # Its length is 0.7 m, so from the desk's own corner the spot lies 20 mm beyond the end.
    assert listed[0]["spots"][0]["u_m"] == pytest.approx(0.72, abs=1e-9)
    assert "desk top" not in {s for entry in table["arrivals"] for s in entry["surfaces"]}
    assert "desk top" not in arrivals_csv(study)
    console = Console(file=io.StringIO(), width=110)
    console.print(
        arrivals_tables(study, np.arange(len(study.arrivals.order)), units="metric", everything=False)
    )
    words = console.file.getvalue()
    assert "Near misses" in words
    assert "desk top" in words

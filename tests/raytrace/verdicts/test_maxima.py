"""The level that is judged: converged in the number of places, and without a jump when things move."""

from functools import cache

import numpy as np
import pytest

from raytrace import build_room, find_arrivals, load_scene
from raytrace.reflections import N_PLACES, ZoneArrivals, zone_curves
from raytrace.study import moved
from raytrace.verdicts import find_peaks
from raytrace.verdicts.maxima import find_maxima, image_levels
from tests.support.scenes import SCENES

LOWEST_DB = -40.0


@cache
def heard(name):
    scene = load_scene(SCENES / f"{name}.toml")
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=2, within_s=0.017)
    both = (
        tuple(h for h in table.at_points if (h.speaker, h.seat) == (0, 0))
        for table in (arrivals, arrivals.near_misses)
    )
    return scene, ZoneArrivals(*both)


def levels_at(scene, points, n_places=N_PLACES):
    """Curves over the zone, and what each image amounts to."""
    curves = zone_curves(scene, points, until_s=0.015, n_places=n_places, lowest_db=LOWEST_DB)
    maxima = find_maxima(curves, from_s=0.0, until_s=0.015, lowest_db=LOWEST_DB)
    return curves, image_levels(curves, maxima, LOWEST_DB)


@pytest.mark.parametrize("name", ["box", "ridge", "elbow"])
def test_eight_times_the_places_give_the_same_peaks(name):
    (_, few), (_, many) = (levels_at(*heard(name), n_places=n) for n in (N_PLACES, 8 * N_PLACES))
    n_compared = 0
    for leader in np.unique(few.leader[few.leader >= 0]):
        own = few.leader == leader
        level_db = many.judged_db[own].max()
        if level_db > -14.0:
            n_compared += 1
            assert few.judged_db[own].max() == pytest.approx(level_db, abs=0.3)  # as the margins are told
    assert n_compared >= 3


def peaks_at(scene, x_m):
    """Delays and levels of the first speaker's peaks with the ears moved along the room."""
    x, y, z = scene.seats[0].ears
    place = moved(scene, "seats", 0, (x + x_m, y, z))
    one = place.model_copy(update={"speakers": place.speakers[:1]})
    peaks = find_peaks(one, find_arrivals(one, build_room(one), up_to_order=2, within_s=0.017))
    return [(p.delay_s, p.level_db) for p in peaks if p.verdict != "not judged"]


def lost_db(first, last):
    """How much of the strong peaks at one end is gone at the other, at about the same time."""
    lost = [
        level_db - max((other for t, other in last if abs(t - delay_s) < 0.001), default=-np.inf)
        for delay_s, level_db in first
        if level_db > -12.0
    ]
    return max(lost, default=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["box", "ridge", "elbow", "half-slope"])
def test_a_head_that_moves_by_a_millimetre_never_loses_or_gains_0_3_db(name):
    # 300 mm, halved wherever the ends of a step differ by more than 0.3 dB, down to 1 mm.
    scene = load_scene(SCENES / f"{name}.toml")
    known = {mm: peaks_at(scene, mm / 1000) for mm in range(0, 301, 50)}
    todo = [(mm, mm + 50) for mm in range(0, 300, 50)]
    while todo:
        first, last = todo.pop()
        change_db = max(lost_db(known[first], known[last]), lost_db(known[last], known[first]))
        if change_db <= 0.3:
            continue
        assert last - first > 1, f"{change_db:.2f} dB from {first} to {last} mm"
        middle = (first + last) // 2
        known[middle] = peaks_at(scene, middle / 1000)
        todo += [(first, middle), (middle, last)]

import numpy as np

from raytrace import build_room, find_arrivals, load_scene
from raytrace.proposing.panelspots import Sites, in_limit_bands, limit_bands, speaker_spots
from raytrace.reflections import find_reflectors
from tests.support.scenes import SCENES


def test_arrivals_are_the_product_of_their_factors():
    scene = load_scene(SCENES / "garage.toml")
    room = build_room(scene)
    at_point = find_arrivals(scene, room).at_points[0]
    every = set(range(len(room.surfaces)))
    (found,) = speaker_spots(scene, room, find_reflectors(room), [at_point], Sites(every, []), None)
    pressure = np.abs(found.rest)
    np.multiply.at(pressure, found.spot_arrival, np.abs(found.spots.base))
    engine = np.abs(in_limit_bands(scene, at_point.pressure[found.rows]))
    assert np.allclose(pressure, engine, rtol=1e-9, atol=1e-12)  # the same product in another order
    assert (np.diff(found.delay_s) >= 0.0).all()
    assert (np.diff(found.spot_arrival) >= 0).all()


def test_the_limit_reaches_into_four_octaves():
    assert limit_bands(load_scene(SCENES / "box.toml")).tolist() == [4, 5, 6, 7]

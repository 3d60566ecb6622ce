from raytrace import load_scene, run_study
from raytrace.proposing.candidates import find_candidates
from raytrace.proposing.choice import Supply, pose
from raytrace.proposing.obstacles import Search, find_obstacles
from raytrace.proposing.panelgrid import listening_axis, wanted_spots
from raytrace.proposing.surrogate import build_surrogate
from tests.support.scenes import SCENES


def reasons_of(name, surface, *, buyable=True):
    supply = Supply("wool 50", owned=0, buyable=buyable, price=None)
    scene = load_scene(SCENES / f"{name}.toml")
    study = run_study(scene, up_to_order=2)
    spots = wanted_spots(scene, study.room, study.arrivals)
    axis_m = listening_axis(scene)
    candidates, refusals = find_candidates(scene, study.room, spots, [supply.build], axis_m=axis_m)
    surrogate = build_surrogate(scene, study.room, study.arrivals, candidates)
    search = Search(
        study, pose(surrogate, candidates, (supply,), symmetric=False), refusals, (), study.arrivals
    )
    found = {}
    for peak in study.peaks:
        if peak.over_limit:
            for obstacle in find_obstacles(search, study, peak):
                found.setdefault(obstacle.surface, str(obstacle.reason))
    return found[surface]


def test_floors_objects_and_forbidden_surfaces_are_named_as_such():
    assert "panels do not lie on floors" in reasons_of("box", "floor")
    assert 'belongs to "desk"' in reasons_of("ridge", "desk top")
    assert '"roof window"' in reasons_of("ridge", "right slope")


def test_the_end_of_the_supply_is_a_reason():
    assert reasons_of("box", "left wall", buyable=False) == "the stock is used up"


def test_places_that_are_free_but_help_little_say_so():
    assert reasons_of("box", "right wall") == "panels there bring too little"

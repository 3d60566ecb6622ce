from raytrace import load_scene, run_study
from raytrace.facts import sentence
from raytrace.proposing.candidates import find_candidates
from raytrace.proposing.obstacles import find_obstacles
from raytrace.proposing.panelgrid import listening_axis, wanted_spots
from tests.support.scenes import SCENES


def reasons_of(name, surface, *, at_end=None, use=0):
    scene = load_scene(SCENES / f"{name}.toml")
    study = run_study(scene, up_to_order=2)
    spots = wanted_spots(scene, study.room, study.arrivals)
    axis_m = listening_axis(scene)
    candidates, refusals = find_candidates(scene, study.room, spots, ["wool 50"], axis_m=axis_m)
    found = {}
    for peak in study.peaks:
        if peak.over_limit:
            used = candidates[:use]
            for obstacle in find_obstacles(study, study, peak, candidates, refusals, used, at_end):
                found.setdefault(obstacle.surface, str(obstacle.reason))
    return found[surface]


def test_floors_objects_and_forbidden_surfaces_are_named_as_such():
    assert "panels do not lie on floors" in reasons_of("box", "floor")
    assert 'belongs to "desk"' in reasons_of("ridge", "desk top")
    assert '"roof window"' in reasons_of("ridge", "right slope")


def test_the_end_of_the_supply_is_a_reason():
    assert reasons_of("box", "left wall", at_end=sentence("the stock is used up")) == "the stock is used up"


def test_places_that_are_free_but_help_little_say_so():
    assert reasons_of("box", "right wall") == "panels there bring too little"

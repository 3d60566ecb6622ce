"""Rooms in which more sequences of facets may reflect than can be stored: less is searched, and said."""

import pytest

import raytrace.reflections.beamtree as beamtree
import raytrace.reflections.search_extent as search_extent
from raytrace import SceneError, build_room, load_scene
from raytrace.reflections.arrivalsearch import find_arrivals
from raytrace.reflections.paths import ListeningPoint
from tests.support.scenes import SCENES


@pytest.fixture
def few(monkeypatch):
    """Room for fewer beams than four bounces take in the box."""

    def allow(n):
        for module in (beamtree, search_extent):
            monkeypatch.setattr(module, "MOST_NODES", n)
        monkeypatch.setattr(
            beamtree,
            "empty_nodes",
            lambda capacity, n_sides, make=beamtree.empty_nodes: make(min(capacity, n), min(n_sides, 6 * n)),
        )

    return allow


def found(name="box", **options):
    scene = load_scene(SCENES / f"{name}.toml")
    return find_arrivals(scene, build_room(scene), **options)


def test_fewer_bounces_are_searched_where_four_are_too_many(few):
    whole = found(up_to_order=2)
    few(256)
    arrivals = found()
    assert arrivals.reach.up_to_order < 4
    same = arrivals.order <= 2
    assert arrivals.length_m[same].tolist() == whole.length_m[whole.order <= 2].tolist()
    assert 0.0 <= arrivals.reach.complete_to_s <= whole.reach.complete_to_s or arrivals.reach.up_to_order > 2


def test_bounces_that_were_asked_for_are_refused_where_they_are_too_many(few):
    few(64)
    with pytest.raises(SceneError, match="a smaller --order or --until") as refused:
        found(up_to_order=4)
    assert "box.toml:" in str(refused.value)


def test_what_was_too_many_for_one_source_is_not_tried_for_the_next(few, monkeypatch):
    scene = load_scene(SCENES / "box.toml")
    room, sources = build_room(scene), [speaker.position for speaker in scene.speakers]
    few(64)
    grown, grow = [], beamtree.BeamTree.grow
    monkeypatch.setattr(
        beamtree.BeamTree,
        "grow",
        lambda tree, *place, **asked: (grown.append(asked), grow(tree, *place, **asked)),
    )
    point = ListeningPoint(room, scene.seats[0].ears, sources)
    for source in sources:
        with pytest.raises(beamtree.TooManyBeams, match="more than 64 sequences"):
            point.paths(source, up_to_order=4, within_s=0.03)
    assert len(grown) == 1
    assert len(point.paths(sources[1], up_to_order=1, within_s=0.03).order)
    with pytest.raises(beamtree.TooManyBeams):
        point.another(point.position + 0.01).paths(sources[1], up_to_order=4, within_s=0.03)
    assert len(grown) == 3

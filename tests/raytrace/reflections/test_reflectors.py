"""Edges of what reflects: free where air goes round them, the same for both faces that meet there."""

import numpy as np
import pytest

from raytrace import build_room, load_scene
from raytrace.reflections import find_reflectors
from raytrace.room import Room
from tests.support.scenes import SCENES


def edges_of(facet):
    """Ends of the edges of a facet, the smaller end first, in the order of its corners."""
    loops = [facet.outline, *facet.holes]
    return [
        tuple(sorted((tuple(a), tuple(b))))
        for loop in loops
        for a, b in zip(loop.tolist(), np.roll(loop, -1, axis=0).tolist(), strict=True)
    ]


@pytest.mark.parametrize("name", ["box", "garage", "half-slope"])
def test_an_edge_is_looked_at_once_and_is_the_same_for_both_faces(name, monkeypatch):
    room = build_room(load_scene(SCENES / f"{name}.toml"))
    asked = []
    beside = Room.contains_beside

    def counted(self, middles, away):
        asked.append(len(middles))
        return beside(self, middles, away)

    monkeypatch.setattr(Room, "contains_beside", counted)
    found = find_reflectors(room)
    told = {}
    for facet, is_open in zip(room.facets, found.open_edges, strict=True):
        for edge, free in zip(edges_of(facet), is_open.tolist(), strict=True):
            told.setdefault(edge, set()).add(free)
    assert asked[0] == len(told)  # those of openings are asked for after that
    assert all(len(both) == 1 for both in told.values())

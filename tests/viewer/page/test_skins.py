"""Faces that the page draws."""

import numpy as np
import pytest

from raytrace import find_hooks
from tests.support.studies import shipped_study
from viewer.page.skins import skins
from viewer.pictures import set_stage


@pytest.fixture(scope="module")
def ridge():
    return (set_stage(shipped_study("ridge", up_to_order=1), 0),)


def test_faces_of_the_room_are_wound_towards_the_air(ridge):
    faces = [skin for skin in skins(ridge, (), "metric") if skin["kind"] == "face"]
    planes = np.array([[*facet.normal, facet.offset] for facet in ridge[0].study.room.facets])
    area = 0.0
    for skin in faces:
        a, b, c = np.reshape(skin["triangles"], (-1, 3, 3)).swapaxes(0, 1)
        normals = np.cross(b - a, c - a)
        lengths = np.linalg.norm(normals, axis=1)
        area += lengths.sum() / 2
        large = lengths > 1e-3  # slivers written in millimetres have no direction to speak of
        units = normals[large] / lengths[large, None]
        # Turned the same way as one of the room's planes that they lie in; a millimetre over 0.1 m is 0.01.
        fits = (units @ planes[:, :3].T > 0.99) & (np.abs(a[large] @ planes[:, :3].T - planes[:, 3]) < 0.002)
        assert fits.any(axis=1).all()
    assert area > 60  # m2: the floor alone is about 20


def test_an_area_on_a_desk_says_what_to_do_before_covering_it(ridge):
    texts = [skin["text"] for skin in skins(ridge, (), "metric") if skin["kind"] == "patch"]
    assert any("desk top" in text for text in texts)
    for text in texts:
        assert ("Before it is covered: move it, lower it" in text) == ("desk top" in text)


def test_every_panel_says_what_it_is_and_what_holds_it():
    study = shipped_study("treated-box", up_to_order=1)
    hooks = find_hooks(study.scene, study.room)
    drawn = skins((set_stage(study, 0),), hooks, "imperial")
    texts = [skin["text"] for skin in drawn if skin["kind"] == "panel"]
    assert len(texts) == len(study.room.panels)
    assert sum("hanging on 4 cords, " in text for text in texts) == 6
    assert sum(text.endswith("held at 2 points") for text in texts) == 4
    assert all(" mm" not in text for text in texts)

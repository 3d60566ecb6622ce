"""What is moved or put down is drawn to what is there, and written as the rest of its scene is."""

import numpy as np
import pytest

from raytrace import Follower, load_scene, sketch_scene
from tests.support.windows import SCENES
from viewer.window.adding import in_units_of
from viewer.window.session import Draft, snap
from viewer.window.state import catches, clear_words, place_of


@pytest.fixture(scope="module")
def rented():
    return Follower().ears(load_scene(SCENES / "rented.toml"))


def box_of(study, name):
    skin = study.room.skins[name]
    return skin.min(axis=(0, 1)), skin.max(axis=(0, 1))


def test_furniture_is_drawn_in_line_with_others_and_against_walls(rented):
    names = [own.name for own in rented.scene.objects]
    thing, other = ("objects", 1), names[0]
    low, high = box_of(rented, names[1])
    low_other, high_other = box_of(rented, other)
    at = np.array(place_of(rented, thing))
    lines = catches(rented, thing)
    in_line = {round(own.at, 6) for own in lines if own.axis == 0 and own.why == f'in line with "{other}"'}
    wanted = [
        low_other[0] - low[0],
        high_other[0] - high[0],
        0.5 * (low_other + high_other - low - high)[0],
    ]
    assert in_line == {round(float(at[0] + step), 6) for step in wanted}
    # 20 mm off the wall, and the wall has it.
    near = at - [low[0] - 0.020, 0.0, 0.0]
    place, why = snap(near.tolist(), others=lines)
    assert "against the wall" in why
    assert low[0] + place[0] - at[0] == pytest.approx(0.0, abs=1e-9)
    assert clear_words(rented, thing, place, "metric").startswith("0 mm clear at the front")


def test_a_speaker_is_drawn_onto_what_it_is_over(rented):
    scene = rented.scene
    top = next(own for own in scene.objects if own.name == "table")
    over = scene.speakers[0].model_copy(update={"position": (*top.centre[:2], 1.4)})
    study = Follower().ears(scene.model_copy(update={"speakers": (over, *scene.speakers[1:])}))
    on = [own for own in catches(study, ("speakers", 0)) if own.why == 'on "table"']
    assert len(on) == 1
    assert on[0].axis == 2
    assert on[0].at > box_of(study, "table")[1][2]


def test_what_is_added_to_a_scene_in_feet_is_written_in_feet():
    metric = load_scene(SCENES / "box.toml")
    entry = {"name": "new", "position": [0.3048, 0.6096, 1.2192], "yaw": 30}
    assert in_units_of(metric, entry) == entry
    text = sketch_scene("box", {"length": "14'", "width": "11'", "height": "8'"}, title="feet")
    feet = Draft(None, text, "").scene()
    assert in_units_of(feet, entry) == {"name": "new", "position": ["1' 0\"", "2' 0\"", "4' 0\""], "yaw": 30}

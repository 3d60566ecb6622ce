"""Whether treatment worked, in a client's words, of pulses that are known."""

import pytest

from raytrace import Take, find_measured, hold_against, load_scene
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav
from viewer.words import did_it_work


@pytest.fixture(scope="module")
def heard(tmp_path_factory):
    """The box with its floor at some level in dB, held against itself."""
    folder = tmp_path_factory.mktemp("box")
    (folder / "box.toml").write_text(BOX, encoding="utf-8")
    scene = load_scene(folder / "box.toml")

    def held(level_db):
        samples = pulses([0.0, 0.0029764], [1.0, 10.0 ** (level_db / 20.0)], lasts_s=0.1)
        path = write_wav(folder / f"{level_db:g}.wav", samples)
        return hold_against(scene, [Take(0, 0, path)], up_to_order=1, within_s=0.012)

    return held


def test_it_worked_where_nothing_is_left_above_the_limit(heard):
    found = find_measured([("before", heard(-3.0)), ("after", heard(-15.0))])
    answer, figures, change = did_it_work(found)
    assert answer == "It worked: as measured, no early reflection is above the limit any more."
    assert (
        "before, 1 reflection above the limit of −10 dB, the strongest −3.0 dB; now 0, the strongest −14.9"
        in figures
    )  # side lobes
    # The scene has no panels: nothing was predicted to change.
    assert change == "On average what was too strong fell by 11.9 dB; predicted was no change."


def test_it_did_not_where_as_much_is_left(heard):
    found = find_measured([("before", heard(-3.0)), ("after", heard(-4.0))])
    assert did_it_work(found)[0].startswith("It did not do what it should: 1 ")
    same = find_measured([("before", heard(-3.0)), ("after", heard(-3.0))])
    assert did_it_work(same)[2] == "On average what was too strong did not change; predicted was no change."


def test_one_measurement_is_held_against_the_drawing(heard):
    found = find_measured([("measured", heard(-3.0))])
    assert did_it_work(found)[1] == "The drawing explains 1 of the 1 reflections that were measured."

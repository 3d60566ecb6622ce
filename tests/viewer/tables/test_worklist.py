"""What a workshop and an installer need, in words."""

from raytrace import Treatment, build_room, load_scene
from tests.support.scenes import SCENES
from viewer.tables.worklist import bought, name_words, stick_rows
from viewer.words import mass_words, size_words


def test_equal_sticks_are_told_together_and_none_is_lost():
    scene = load_scene(SCENES / "treated-box.toml")
    for timber in Treatment(scene, build_room(scene)).bill_of_materials.timber:
        rows = stick_rows(timber, "metric")
        assert sum(count for count, *_ in rows) == len(timber.nesting.sticks) == sum(bought(timber).values())
        assert len({(stock, words) for _, stock, words, _ in rows}) == len(rows)


def test_masses_sizes_and_names_in_words():
    assert mass_words(10.0, "metric") == "10.0 kg"
    assert mass_words(4.5359237, "imperial") == "10.0 lb"
    assert size_words((1.2, 0.6), "metric") == "1200 x 600 mm"
    assert size_words((1.2192, 0.6096), "imperial") == "4' 0\" x 2' 0\""
    assert name_words(["cloud A1", "cloud A2", "left", "cloud A3"]) == "cloud A1, A2, left, cloud A3"

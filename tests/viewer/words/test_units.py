"""Amounts and timber in the units of the reader."""

import re

import pytest

from raytrace import Treatment, build_room, load_scene
from tests.support.scenes import SCENES
from viewer.report import making_pages
from viewer.words.units import force_words, in_units, mass_words, stock_m, timber_to_buy, timber_words


@pytest.fixture(scope="module")
def treatment():
    scene = load_scene(SCENES / "treated-box.toml")
    return Treatment(scene, build_room(scene))


def test_amounts_in_a_sentence_become_those_of_the_reader():
    text = "wood screws 4 x 40 mm; plywood 6 mm, 1240 x 640 mm; a roll 1.4 m wide; 650 kg/m3 and 0.3 kg/m2"
    assert in_units(text, "metric") == text
    # 1240 mm = 48.82 in = 4' 7/8" to the eighth; 1.4 m = 55.12 in; 1 lb/ft3 = 16.02 kg/m3.
    assert in_units(text, "imperial") == (
        'wood screws #8 x 1 1/2"; plywood 1/4", 4\' 7/8" x 2\' 1 1/4"; a roll 4\' 7 1/8" wide; '
        "40.6 lb/ft3 and 0.06 lb/ft2"
    )


def test_areas_volumes_and_ranges_become_those_of_the_reader():
    text = "rooms of 30 m² or more, volume up to 300 m3; wool 30 to 100 mm thick; 343.2 m/s, 18.8 ms"
    assert in_units(text, "imperial") == (
        'rooms of 323 ft² or more, volume up to 10594 ft3; wool 1 1/8" to 3 7/8" thick; 343.2 m/s, 18.8 ms'
    )


def test_masses_and_pushes_are_converted():
    assert mass_words(1.0, "imperial") == "2.2 lb"
    assert mass_words(1.0, "metric") == "1.0 kg"
    assert force_words(10.0, "imperial") == "2.2 lbf"  # the weight of a kilogram, near enough
    assert force_words(10.0, "metric") == "10.0 N"


def test_an_imperial_workshop_is_told_nominal_names_with_actual_inches(treatment):
    timbers = {cut.timber.name: cut.timber for cut in treatment.bill_of_materials.timber}
    named = {name: timber_words(timber, "imperial") for name, timber in timbers.items()}
    assert named == {
        "20x100": '1x5 ripped to 3 7/8"',
        "20x50": '1x3 ripped to 2"',
        "20x30": '1x2 ripped to 1 1/8"',
        "20x45": "1x2",
    }
    # A dressed 1x5 is 3/4 by 4 1/2 in (American Softwood Lumber Standard PS 20, from memory).
    assert timber_to_buy(timbers["20x100"], "imperial") == '1x5 (actual 3/4" x 4 1/2", to rip to 3 7/8")'
    assert timber_to_buy(timbers["20x45"], "imperial") == '1x2 (actual 3/4" x 1 1/2")'
    assert timber_to_buy(timbers["20x100"], "metric") == "20x100 (actual 20 x 100 mm)"


def test_a_length_of_the_shop_is_never_shorter():
    assert stock_m(4.8, "metric") == 4.8
    assert stock_m(4.8, "imperial") == pytest.approx(16 * 0.3048)


def test_no_metric_amount_is_left_on_an_imperial_clients_pages(treatment):
    def words(part):
        if isinstance(part, dict):
            return [text for value in part.values() for text in words(value)]
        if isinstance(part, list | tuple):
            return [text for value in part for text in words(value)]
        return [part] if isinstance(part, str) else []

    left = [text for text in words(making_pages(treatment, units="imperial")) if "DGUV" not in text]
    found = [text for text in left if re.search(r"\d ?(mm|kg/m.|m)\b", text)]
    assert [text for text in found if "trim level to 3 mm" not in text] == []  # trade practice as it stands

"""Amounts and timber in the units of the reader."""

import re

import pytest

from raytrace import Amount, Fixing, Hint, Treatment, Unit, build_room, load_scene
from raytrace.facts import metres, millimetres, sentence, whole_decibels
from tests.support.scenes import SCENES
from viewer.report import hanging_pages, shopping_page
from viewer.words.units import force_words, mass_words, stock_m, timber_to_buy, timber_words, told


@pytest.fixture(scope="module")
def treatment():
    scene = load_scene(SCENES / "treated-box.toml").model_copy(update={"stock": {}})  # all of it is made
    return Treatment(scene, build_room(scene))


def test_amounts_in_a_sentence_become_those_of_the_reader():
    made = sentence(
        "wood screws {screw}; bolts {bolt}; plywood {thick}, {size}; a roll {wide} wide; {wood} and {cloth}",
        screw=Fixing.SCREW_40,
        bolt=Fixing.BOLT,
        thick=millimetres(0.006),
        size=millimetres(1.24, 0.64),
        wide=metres(1.4, 1),
        wood=Amount((650.0,), Unit.KG_M3),
        cloth=Amount((0.3,), Unit.KG_M2),
    )
    assert str(made) == (
        "wood screws 4 x 40 mm; bolts M6; plywood 6 mm, 1240 x 640 mm; a roll 1.4 m wide; 650 kg/m³ and "
        "0.3 kg/m²"
    )
    assert told(made, "metric") == str(made)
    # 1240 mm = 48.82 in = 4' 7/8" to the eighth; 1.4 m = 55.12 in; 1 lb/ft3 = 16.02 kg/m3.
    assert told(made, "imperial") == (
        'wood screws #8 x 1 1/2"; bolts 1/4"; plywood 1/4", 4\' 7/8" x 2\' 1 1/4"; a roll 4\' 7 1/8" wide; '
        "40.6 lb/ft³ and 0.06 lb/ft²"
    )


def test_levels_are_the_same_everywhere_with_a_true_minus():
    made = sentence("nothing weaker than {limit}", limit=whole_decibels(-14.3))
    assert told(made, "imperial") == told(made, "metric") == "nothing weaker than −14 dB"
    assert str(whole_decibels(-0.2)) == "0 dB"


def test_areas_volumes_and_ranges_become_those_of_the_reader():
    made = sentence(
        "rooms of {area} or more, up to {volume}; wool {deep} thick; slabs of {flow}",
        area=Amount((30.0,), Unit.M2, 0),
        volume=Amount((300.0,), Unit.M3, 0),
        deep=millimetres(0.030, 0.100, between=" to "),
        flow=Amount((12000.0,), Unit.PA_S_M2),
    )
    assert told(made, "metric") == (
        "rooms of 30 m² or more, up to 300 m³; wool 30 to 100 mm thick; slabs of 12000 Pa s/m²"
    )
    assert told(made, "imperial") == (
        'rooms of 323 ft² or more, up to 10594 ft³; wool 1 1/8" to 3 7/8" thick; slabs of 12000 Pa s/m²'
    )


def test_names_with_amounts_in_them_stay_as_they_were_given():
    name = "shelf 600 mm, 4 x 40 mm {deep}, 30 m², 3 kg/m³"
    made = sentence("{name} is {deep} deep", name=name, deep=millimetres(0.05))
    assert told(made, "imperial") == f'{name} is 2" deep'


def test_what_only_the_writer_of_the_scene_file_can_use_is_left_out_for_others():
    inner = sentence(
        'stands before "{window}"{allowed}', window="bay (a = b)", allowed=Hint(" (stands = true)")
    )
    made = sentence("a panel there {reason}.", reason=inner)
    assert told(made, "metric") == 'a panel there stands before "bay (a = b)" (stands = true).'
    assert told(made, "metric", hints=False) == 'a panel there stands before "bay (a = b)".'


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
        "45x70": "2x4",
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

    pages = [shopping_page(treatment, units="imperial"), *hanging_pages(treatment, units="imperial")]
    assert [text for text in words(pages) if re.search(r"\d ?(mm|kg|kg/m.|m|N)\b", text)] == []

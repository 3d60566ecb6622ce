"""Lists of a workshop say what is owned and what panels cost, for any scene that knows the builds."""

import pytest

from raytrace import SceneError, load_scene, with_prices, with_stock
from tests.support.panelled import cloud, panel, scene_text
from tests.support.scenes import SCENES

BOX = load_scene(SCENES / "box.toml")
OLD = '[builds."old slab"]\nsize = ["1000 mm", 0.5]\nthickness = 0.06\nflow_resistivity = 9000\n'
ONE_LIST = '[stock]\n"wool 100" = 4\n"old slab" = 2\n[prices]\n"wool 50" = 61.5\n"old slab" = 40\n' + OLD


@pytest.fixture
def listed(tmp_path):
    def write(text):
        path = tmp_path / "workshop.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_each_option_takes_its_own_table_of_one_list_and_the_builds(listed):
    path = listed(ONE_LIST)
    owned, priced = with_stock(BOX, path), with_prices(BOX, path)
    assert (owned.stock, owned.prices) == ({"wool 100": 4, "old slab": 2}, {})
    assert (priced.stock, priced.prices) == ({}, {"wool 50": 61.5, "old slab": 40.0})
    assert owned.build("old slab").size == priced.build("old slab").size == (1.0, 0.5)
    assert [priced.build(name).price for name in ("wool 50", "old slab", "wool 30")] == [61.5, 40.0, None]


def test_a_list_goes_before_the_scene_build_by_build(scene_of, listed):
    scene = scene_of(
        scene_text('[stock]\n"wool 50" = 3\n"wool 100" = 1\n[prices]\n"wool 30" = 30\n"wool 50" = 50\n')
    )
    path = listed(ONE_LIST)
    assert with_stock(scene, path).stock == {"wool 50": 3, "wool 100": 4, "old slab": 2}
    assert with_prices(scene, path).prices == {"wool 30": 30.0, "wool 50": 61.5, "old slab": 40.0}


def test_a_build_of_a_list_may_be_like_one_of_the_scene(scene_of, listed):
    scene = scene_of(scene_text('[builds.mine]\nlike = "wool 100"\nthickness = "80 mm"\n'))
    path = listed('[stock]\n"mine, old" = 2\n[builds."mine, old"]\nlike = "mine"\ndensity = 30\n')
    made = with_stock(scene, path).build("mine, old")
    assert (made.thickness, made.density, made.size) == (0.08, 30.0, (1.2, 0.6))


def test_what_the_list_describes_again_must_be_the_same(scene_of, listed):
    scene = scene_of(scene_text(OLD + panel(build="old slab")))
    assert with_stock(scene, listed(ONE_LIST)).build("old slab") == scene.build("old slab")
    other = listed(ONE_LIST.replace("9000", "12000"))
    with pytest.raises(SceneError, match='"old slab" is made otherwise in the scene or the library'):
        with_stock(scene, other)
    library = listed('[stock]\n"wool 50" = 1\n[builds."wool 50"]\nlike = "wool 50"\nsize = [0.6, 0.6]\n')
    with pytest.raises(SceneError, match='"wool 50" is made otherwise'):
        with_stock(BOX, library)


def test_what_has_a_place_in_the_scene_is_not_left_over(scene_of):
    two = '[[clouds]]\nname = "two"\nsurface = "ceiling"\nbuild = "wool 75"\ndrop = 0.3\n'
    two += "panels = [{ centre = [1, 1] }, { centre = [2.5, 1] }]\n"
    treated = panel(build="wool 100") + cloud(rows=2, columns=3, spacing=0.06) + two
    owned = '[stock]\n"wool 100" = 3\n"wool 50" = 6\n"wool 75" = 3\n"wool 30" = 0\n'
    scene = scene_of(scene_text(owned + treated))
    assert scene.left_over == {"wool 100": 2, "wool 75": 1}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[stock]\n"wool 10" = 4\n', 'workshop.toml:2:1: stock."wool 10": unknown build "wool 10", did you'),
        ('[stock]\n"wool 100" = -1\n', "a whole number from 0 to 1000"),
        ('[stock]\n"wool 100" = true\n', "a whole number from 0 to 1000"),
        ("[shelf]\n", 'unknown key "shelf"; a list takes "stock", "prices", "builds"'),
        ("title = 1\n", "unknown key"),
        ('[stock]\n"a" = 1\n[builds.a]\nsize = [1, 1]\n', "workshop.toml:3:1: builds.a.thickness: missing"),
        ('[stock]\n"a" = 1\n[builds.a]\nlike = "wol 50"\n', "workshop.toml:4:8: builds.a.like: no build is"),
        ("[builds]\n", "needs a table [stock]"),
        ('[prices]\n"wool 100" = 95\n', "needs a table [stock]"),
        ("stock = 3\n", "expected a table"),
    ],
)
def test_a_wrong_list_is_answered_in_one_message(listed, text, message):
    with pytest.raises(SceneError) as caught:
        with_stock(BOX, listed(text))
    assert message in str(caught.value)
    assert "workshop.toml:" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            '[prices]\n"wool 99" = 4\n',
            'workshop.toml:2:1: prices."wool 99": unknown build "wool 99", did you',
        ),
        ('[prices]\n"wool 100" = "95"\n', "expected a number, for example 48"),
        ('[prices]\n"wool 100" = -1\n', "accepted: 0 to 1e+06"),
        ('[prices]\n"old slab" = 4\n' + OLD + "price = 3\n", 'builds."old slab" states a price already'),
    ],
)
def test_a_wrong_price_is_answered_in_one_message(listed, text, message):
    with pytest.raises(SceneError) as caught:
        with_prices(BOX, listed(text))
    assert message in str(caught.value)


def test_slabs_of_a_raft_take_no_owned_panel(scene_of):
    owned = '[stock]\n"wool 50" = 4\n'
    hung = cloud(rows=2, columns=2) + "raft = true\n"
    assert scene_of(scene_text(owned + hung + panel(build="wool 50"))).left_over == {"wool 50": 3}

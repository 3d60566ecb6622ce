import pytest

from raytrace import SceneError, load_scene, read_stock
from tests.support.scenes import SCENES

BOX = load_scene(SCENES / "box.toml")


def written(tmp_path, text):
    path = tmp_path / "stock.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_counts_and_own_builds_are_read(tmp_path):
    text = (
        '[stock]\n"wool 100" = 4\n"old slab" = 2\n[builds."old slab"]\nsize = ["1000 mm", 0.5]\n'
        "thickness = 0.06\nflow_resistivity = 9000\n"
    )
    stock = read_stock(written(tmp_path, text), BOX)
    assert stock.owned == {"wool 100": 4, "old slab": 2}
    assert stock.builds["old slab"].size == (1.0, 0.5)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[stock]\n"wool 10" = 4\n', 'stock.toml:2:1: stock."wool 10": no build is called "wool 10"'),
        ('[stock]\n"wool 100" = -1\n', "a whole number from 0 to 1000"),
        ('[stock]\n"wool 100" = true\n', "a whole number from 0 to 1000"),
        ("[shelf]\n", 'unknown key "shelf"'),
        ("title = 1\n", "unknown key"),
        ('[stock]\n"a" = 1\n[builds.a]\nsize = [1, 1]\n', "thickness"),
        ("[builds]\n", "a table [stock]"),
    ],
)
def test_a_wrong_list_is_answered_in_one_message(tmp_path, text, message):
    with pytest.raises(SceneError) as caught:
        read_stock(written(tmp_path, text), BOX)
    assert message in str(caught.value)
    assert "stock.toml:" in str(caught.value)

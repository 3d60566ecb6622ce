import pytest

from raytrace import PanelWish, Treatment, build_room, load_scene, propose, run_study
from raytrace.scene import load_covers
from tests.support.shelves import HARD_FLOOR, HARD_RUN, WINDOW

MAT = '\n[covers."door mat"]\non = "floor"\nmaterial = "rug"\nsize = [0.4, 0.3]\nprice = 20\n'


def proposed(tmp_path, text, wish=None):
    scene = load_scene(tmp_path / "room.toml", text)
    return propose(scene, wish or PanelWish(), out=tmp_path / "new.toml", **HARD_RUN)


def over(study):
    return [peak for peak in study.peaks if peak.may_be_over]


def test_a_rug_mends_a_floor_as_a_run_of_the_written_scene_confirms(tmp_path):
    found = proposed(tmp_path, HARD_FLOOR)
    assert over(found.before)
    (rug,) = found.covers
    assert rug.is_proposed
    assert found.text.startswith(HARD_FLOOR)
    again = run_study(load_scene(tmp_path / "new.toml", found.text), **HARD_RUN)
    assert not over(again)
    floor = [k for k, opening in enumerate(again.room.openings) if opening.kind == "cover"]
    assert len(floor) == 1
    # What it takes off is what the full run on the written scene shows, to the last bit.
    margins = [
        p.margin_db for p in again.peaks if p.delay_s < 0.01 and p.facets and p.verdict != "not judged"
    ]
    assert rug.margin_db[1] in margins


def test_a_rug_lies_the_same_for_left_and_right(tmp_path):
    (rug,) = proposed(tmp_path, HARD_FLOOR).covers
    assert 0.5 * (rug.rect[1] + rug.rect[3]) == pytest.approx(2.0, abs=0.006)  # set out to 10 mm


def test_a_small_mat_is_not_proposed_and_told_with_the_most_that_it_brings(tmp_path):
    text = HARD_FLOOR.replace("below_db = 10", "below_db = 12") + MAT
    found = proposed(tmp_path, text)
    (mat,) = found.covers
    assert not mat.is_proposed
    assert mat.gain_db < 1.5
    assert str(mat.reason) == f"it brings at most {mat.gain_db:.1f} dB"
    assert found.text == text
    assert over(found.after)


def test_a_curtain_is_a_key_of_its_window_and_every_other_byte_stays(tmp_path):
    found = proposed(tmp_path, WINDOW)
    (curtain,) = found.covers
    assert curtain.is_proposed
    assert curtain.opening == "window"
    old, new = WINDOW.splitlines(), found.text.splitlines()
    assert [line for line in new if line not in old] == ['cover = "heavy curtain"']
    assert len(new) == len(old) + 1
    (opening,) = found.after.room.openings
    assert opening.material.name == "heavy curtain"


def test_what_is_proposed_is_bought_and_what_lies_there_already_is_not(tmp_path):
    found = proposed(tmp_path, HARD_FLOOR + '\n[covers."thick rug"]\nprice = 180\n')
    scene = found.after.scene
    making = Treatment(scene, build_room(scene)).bill_of_materials
    assert [(own.cover, own.place, own.price) for own in making.covers] == [("thick rug", "floor", 180.0)]
    there = load_scene("garage.toml", _with_old_rug())
    assert not Treatment(there, build_room(there)).bill_of_materials.covers


def _with_old_rug():
    rug = '\n[[openings]]\nname = "rug"\nsurface = "floor"\nkind = "cover"\nat = [1, 1]\nsize = [1, 1]\n'
    return HARD_FLOOR + rug + 'material = "rug"\n'


def test_nothing_is_bought_beyond_the_budget(tmp_path):
    priced = HARD_FLOOR + '\n[prices]\n"wool 50" = 70\n\n[covers."thick rug"]\nprice = 180\n'
    (rug,) = proposed(tmp_path, priced, PanelWish(budget=100.0)).covers
    assert "budget" in str(rug.reason)
    (rug,) = proposed(tmp_path, priced, PanelWish(budget=200.0)).covers
    assert rug.is_proposed


def test_every_cover_of_the_library_is_of_a_material_with_a_source():
    scene = load_scene("room.toml", HARD_FLOOR)
    for cover in load_covers().values():
        assert scene.material(cover.material).source


HARD_WALL = HARD_FLOOR.replace('floor = "laminate floor"', '"left wall" = "plaster"').replace(
    'title = "Shelf"', 'title = "Wall"\n[job]\ndrilling = false\n'
)


def test_a_bookshelf_before_a_wall_where_nothing_may_be_drilled_is_furniture_and_proven(tmp_path):
    text = HARD_WALL.replace("below_db = 10", "below_db = 18")
    # Panels as large as this wall and larger than its neighbours find no place.
    text += '\n[builds."huge"]\nsize = [4.9, 2.55]\nthickness = 0.05\nflow_resistivity = 10000\n'
    found = proposed(tmp_path, text, PanelWish(builds=("huge",)))
    (tried,) = found.covers
    assert (tried.on, tried.is_proposed) == ("wall", True)
    proven = run_study(load_scene(tmp_path / "new.toml", found.text), **HARD_RUN)
    (shelf,) = proven.scene.objects
    assert shelf.cover == "full bookshelf"
    # Its back stands against the wall, its foot on the floor.
    assert shelf.centre[1:] == pytest.approx((0.15, 0.90))
    # What its own face sends back is told, not only that the wall behind it is quiet.
    own = proven.room.surface_names.index("full bookshelf 1 back")
    margins = [p.margin_db for p in proven.peaks if proven.room.facets[p.facets[0]].surface == own]
    assert tried.margin_db[1] == pytest.approx(min(margins))
    assert Treatment(proven.scene, proven.room).bill_of_materials.covers[0].cover == "full bookshelf"

"""What is bought and cut is what the panels are made of."""

from collections import Counter

import pytest

from raytrace import build_room
from raytrace.making.battens import find_battens
from raytrace.making.bill_of_materials import ROLL_M, list_bill_of_materials
from raytrace.making.framing import take_apart
from raytrace.making.hanging import find_hooks
from tests.support.panelled import JOISTS, cloud, panel, scene_text

TREATED = panel("left", build="wool 100", gap=0.05) + cloud(rows=2, columns=3, spacing=0.06) + JOISTS


def making_of(scene_of, more):
    scene = scene_of(scene_text(more))
    room = build_room(scene)
    hooks = find_hooks(scene, room)
    return scene, room, hooks, list_bill_of_materials(scene, room, hooks)


def test_every_part_of_every_panel_is_cut_and_nothing_else(scene_of):
    scene, room, hooks, making = making_of(scene_of, TREATED)
    wanted = Counter()
    for placed in room.panels:
        for part in take_apart(placed.build, hung=placed.kind == "cloud").parts:
            wanted[part.timber.name, round(part.length_m, 6)] += part.count
    for batten in find_battens(scene, room, hooks):
        wanted["45x70", round(batten.length_m, 4)] += 1
    cut = Counter()
    for timber in making.timber:
        lengths = timber.lengths
        for stick in timber.nesting.sticks:
            cut.update((timber.timber.name, round(lengths[k][1], 6)) for k in stick.parts)
    assert cut == wanted


def test_masses_add_up_over_wool_timber_cloth_and_panels(scene_of):
    _, room, _, making = making_of(scene_of, TREATED)
    assert making.mass_kg == pytest.approx(
        sum(take_apart(p.build, hung=p.kind == "cloud").mass_kg for p in room.panels)
    )
    for batch in making.batches:
        w, h, t = batch.piece.slab_m
        assert batch.piece.wool_kg == pytest.approx(w * h * t * batch.build.density)


def test_slabs_come_in_whole_packs(scene_of):
    _, _, _, making = making_of(scene_of, TREATED)
    thick, thin = making.slabs
    # 400 mm of pack hold four slabs of 100 mm, eight of 50 mm (common practice, no source).
    assert (thick.needed, thick.per_pack, thick.packs) == (1, 4, 1)
    assert (thin.needed, thin.per_pack, thin.packs) == (6, 8, 1)


def test_a_stated_pack_goes_before_the_usual_one(scene_of):
    build = "[builds.own]\nsize = [1.2, 0.6]\nthickness = 0.05\nflow_resistivity = 12000\npack = 5\n"
    _, _, _, making = making_of(scene_of, build + cloud(build="own", rows=2, columns=3, spacing=0.06))
    assert (making.slabs[0].needed, making.slabs[0].per_pack, making.slabs[0].packs) == (6, 5, 2)


def test_a_panel_of_several_usual_slabs_buys_those(scene_of):
    build = "[builds.big]\nsize = [2.4, 1.2]\nthickness = 0.1\nflow_resistivity = 12000\n"
    _, _, _, making = making_of(scene_of, build + cloud(build="big"))
    assert making.slabs[0].needed == 4
    assert making.slabs[0].size_m == pytest.approx((1.2, 0.6, 0.1))


def test_the_roll_holds_every_piece_of_cloth(scene_of):
    _, _, _, making = making_of(scene_of, TREATED)
    for cloth in making.cloth:
        area = cloth.count * cloth.size_m[0] * cloth.size_m[1]
        assert cloth.roll_m * ROLL_M >= area - 1e-9  # rounding
    # By hand: six fronts of 1240 + 2 x 100 by 640 + 2 x 100 mm: one across the roll, 840 mm of it each.
    front = next(c for c in making.cloth if c.label == "front, wool 50")
    assert front.size_m == pytest.approx((1.44, 0.84))
    assert front.roll_m == pytest.approx(6 * 1.44)


def test_hooks_and_eyes_are_counted_and_cords_measured(scene_of):
    _, _, hooks, making = making_of(scene_of, TREATED)
    fixings = {str(what): str(much) for what, much in making.fixings}
    assert next(v for k, v in fixings.items() if k.startswith("eye bolts")) == "24"
    # 24 cords of 300 mm, less the 45 mm of a batten under 12 of them, with 300 mm each for their ends:
    # 13.86 m, bought by the metre.
    assert sum(hook.batten for hook in hooks if hook.kind == "cord") == 12
    assert next(v for k, v in fixings.items() if k.startswith("cord or wire")) == "14 m"
    assert next(v for k, v in fixings.items() if k.startswith("hanging plates")) == "2"


def test_prices_are_summed_where_given_and_missed_where_not(scene_of):
    build = (
        "[builds.own]\nsize = [1.2, 0.6]\nthickness = 0.05\nflow_resistivity = 12000\nprice = 48\n"
        + cloud(build="own", rows=2, columns=3, spacing=0.06)
    )
    _, _, _, making = making_of(scene_of, build + panel(build="wool 100"))
    assert making.price == 6 * 48
    assert making.unpriced == ("wool 100",)
    assert making_of(scene_of, TREATED)[3].price is None


@pytest.mark.parametrize(("access", "fits"), [("[0.7, 1.9]", True), ("[0.6, 0.6]", False), (None, None)])
def test_the_largest_piece_is_held_against_the_way_in(scene_of, access, fits):
    # The largest panel is 1240 x 640 x 100 mm outside; lengthways it needs 640 x 100 mm.
    job = f"[job]\naccess = {access}\n" if access else ""
    making = making_of(scene_of, job + TREATED)[3]
    assert making.largest.build_name == "wool 100"
    assert making.fits_access is fits


def test_a_part_longer_than_any_timber_is_ordered_not_lost(scene_of):
    build = "[builds.huge]\nsize = [4.9, 0.6]\nthickness = 0.05\nflow_resistivity = 12000\n"
    _, _, _, making = making_of(scene_of, build + panel(build="huge", surface="floor", centre=[2.5, 3.0]))
    assert any("4940 mm is longer than any stock length" in str(note) for note in making.notes)


def test_a_scene_without_panels_needs_nothing(scene_of):
    making = making_of(scene_of, "")[3]
    assert making.batches == making.timber == making.slabs == making.cloth == making.fixings == ()
    assert (making.mass_kg, making.largest, making.fits_access) == (0, None, None)


def test_legs_and_feet_of_stands_are_in_the_lists(scene_of):
    stand = '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, 2.0]\nyaw = 0\nlift = 0.71\n'
    goods = making_of(scene_of, stand)[3]
    lengths = {part.label: part.length_m for cut in goods.timber for part in cut.parts}
    # A frame of 640 mm whose lower edge is 710 mm up.
    assert lengths["leg, stands of wool 50"] == pytest.approx(1.35)
    assert any(str(note).startswith("Stands: a leg outside") for note in goods.notes)
    without = making_of(scene_of, TREATED)[3]
    assert not any("cross foot" in str(note) for note in without.notes)


def test_what_is_owned_is_hung_but_not_bought(scene_of):
    owned = '[stock]\n"wool 100" = 1\n"wool 50" = 6\n'
    _, room, _, bought = making_of(scene_of, TREATED)
    _, _, _, making = making_of(scene_of, owned + TREATED)
    assert making.owned == tuple(panel.name for panel in room.panels)
    assert making.slabs == making.cloth == making.boards == ()
    # What is left of the timber are battens across joists.
    assert {part.label for timber in making.timber for part in timber.parts} <= {"batten across joists"}
    assert (making.price, making.unpriced, making.mass_kg) == (None, (), pytest.approx(bought.mass_kg))
    fixings, all_fixings = ({str(k): str(v) for k, v in m.fixings} for m in (making, bought))
    gone = all_fixings.keys() - fixings.keys()
    assert {name.split()[0] for name in gone} == {"wood", "staples"}
    assert len(gone) == 4  # screws at corners and rails, glue, staples
    assert all(fixings[name] == all_fixings[name] for name in fixings)  # hooks, eyes, cords, labels
    assert any("does not go overhead" in str(note) for note in making.notes)
    assert not any("Cloth from a roll" in str(note) for note in making.notes)
    spared = {str(tool).split()[0] for tool in bought.tools} - {str(tool).split()[0] for tool in making.tools}
    assert spared >= {"clamps", "stapler,"}


def test_some_of_a_build_may_be_owned_and_the_rest_is_made(scene_of):
    priced = '[stock]\n"wool 50" = 4\n"wool 75" = 2\n[prices]\n"wool 50" = 60\n'
    _, _, _, making = making_of(scene_of, priced + cloud(rows=2, columns=3, spacing=0.06) + panel("wall"))
    # The one on the wall first: what goes on cords hangs overhead.
    assert [(batch.owned, batch.names) for batch in making.batches] == [
        (True, ("wall",)),
        (True, ("cloud A1", "cloud A2", "cloud A3")),
        (False, ("cloud B1", "cloud B2", "cloud B3")),
    ]
    assert making.left_over == {"wool 75": 2}
    assert (making.price, making.slabs[0].needed) == (3 * 60, 3)


@pytest.mark.parametrize("n_owned", [1, 2, 3])
def test_each_panel_of_a_stack_is_owned_or_made_by_itself(scene_of, n_owned):
    stand = '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, 2.0]\nyaw = 0\nstacked = 2\n'
    text = f'[stock]\n"wool 50" = {n_owned}\n[prices]\n"wool 50" = 60\n{stand}'
    scene, _, _, making = making_of(scene_of, text)
    n_made = max(2 - n_owned, 0)
    assert making.owned == ("S a", "S b")[: 2 - n_made]
    assert sum(slabs.needed for slabs in making.slabs) == n_made
    assert making.price == (60.0 * n_made or None)
    assert making.left_over == scene.left_over == ({"wool 50": 1} if n_owned == 3 else {})
    lengths = {part.label: part.count for cut in making.timber for part in cut.parts}
    assert lengths["leg, stands of wool 50"] == 2  # no stand is owned
    assert any("weigh and measure" in str(note) for note in making.notes)


def test_a_raft_is_made_though_panels_of_its_build_are_owned(scene_of):
    owned = '[stock]\n"wool 50" = 8\n'
    raft = cloud(rows=2, columns=3) + "raft = true\n"
    scene = scene_of(scene_text(owned + raft + panel("P") + cloud("single", centre=[0.6, 3.2])))
    room = build_room(scene)
    making = list_bill_of_materials(scene, room, find_hooks(scene, room))
    assert making.owned == ("P", "single A1")
    assert making.left_over == scene.left_over == {"wool 50": 6}
    assert any("takes bare slabs" in str(note) for note in making.notes)
    (made,) = (batch for batch in making.batches if not batch.owned)
    assert (made.raft is not None, made.n_made, len(made.names)) == (True, 1, 6)
    assert {part.label for cut in making.timber for part in cut.parts} == {
        "raft rail, wool 50", "raft end, wool 50", "raft bar, wool 50",
    }  # fmt: skip

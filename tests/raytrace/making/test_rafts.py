"""A raft is one frame that carries its slabs, hangs on few hooks and keeps to its drop."""

import itertools

import numpy as np
import pytest

from raytrace import Treatment, build_room, find_arrivals
from raytrace.making import frame_notes
from raytrace.making.framing import WRAP_M
from raytrace.making.hanging import find_hooks, rail_span_m
from raytrace.making.loads import find_loads
from raytrace.making.rafts import CREEP, SAG_SHARE, SOFTWOOD_PA, find_rafts, longest_span_m
from raytrace.making.timber import ACROSS_JOISTS, SOFTWOOD_KG_M3
from raytrace.room import CLOTH_KG_M2, overlap_m, panel_solid, prism
from raytrace.scene import SceneError
from tests.support.panelled import BOX_ROOM, GABLE_ROOM, JOISTS, cloud, scene_text

ROUNDING_M = 1e-9  # of coordinates of a few metres


def raft(**keys):
    return cloud(**{"rows": 2, "columns": 3, "drop": 0.3, **keys}) + "raft = true\n"


def treated(scene_of, more, room=BOX_ROOM):
    scene = scene_of(scene_text(more, room))
    return Treatment(scene, build_room(scene))


ALONG_U = JOISTS.replace('along = "v"', 'along = "u"').replace("spacing = 0.4", "spacing = 0.5")


@pytest.mark.parametrize("joists", ["", JOISTS, ALONG_U])
def test_six_slabs_hang_on_four_hooks_in_the_middle_of_two_rails(scene_of, joists):
    made = treated(scene_of, joists + raft())
    (one,) = made.rafts
    assert len(one.panels) == 6
    assert [hook.name for hook in made.hooks] == [f"cloud {letter}" for letter in "abcd"]
    across = (np.array([h.eyelet for h in made.hooks]) - one.whole.back[0]) @ one.sides[1 - one.axis]
    beside = 0.5 * one.rail.thickness_m
    expected = [-beside, -beside, one.slabs_m[1 - one.axis] + beside, one.slabs_m[1 - one.axis] + beside]
    assert sorted(across) == pytest.approx(expected, abs=ROUNDING_M)


def test_rails_run_across_the_joists_so_that_every_hook_meets_one(scene_of):
    # Slabs 2.4 m along x and 1.8 m along y: with joists along x, rails of 1.8 m run across them.
    along_x = treated(scene_of, ALONG_U + raft(build="wool 30"))
    along_y = treated(scene_of, JOISTS + raft(build="wool 30"))
    for made, way in ((along_y, 0), (along_x, 1)):
        (one,) = made.rafts
        assert np.argmax(np.abs(one.sides[one.axis])) == way
        assert all(hook.joist is not None for hook in made.hooks)


def test_opposite_hooks_are_half_a_ring_apart(scene_of):
    for more in (raft(), raft(rows=1), raft(rows=4, columns=2, build="wool 30")):
        made = treated(scene_of, more)
        half, spots = len(made.hooks) // 2, np.array([hook.eyelet[:2] for hook in made.hooks])
        middle = made.rafts[0].whole.centre[:2]
        assert 0.5 * (spots[:half] + spots[half:]) == pytest.approx(
            np.tile(middle, (half, 1)), abs=ROUNDING_M
        )


def test_the_loads_of_all_hooks_are_the_mass_with_the_rafts_own_timber(scene_of):
    made = treated(scene_of, JOISTS + raft())
    (one,), (load,) = made.rafts, made.loads.values()
    slabs_kg = 6 * 1.2 * 0.6 * 0.05 * 60.0
    timber_kg = sum(
        SOFTWOOD_KG_M3 * part.timber.thickness_m * part.timber.depth_m * part.length_m * part.count
        for part in one.piece.parts
    )
    width, height, depth = one.piece.outer_m
    wrap = 2 * (depth + WRAP_M)
    cloth_kg = CLOTH_KG_M2 * ((width + wrap) * (height + wrap) + width * height)  # below and round, above
    assert timber_kg > 3.0
    assert load.even_kg.sum() == pytest.approx(slabs_kg + timber_kg + cloth_kg, rel=1e-9)
    assert made.bill_of_materials.mass_kg == pytest.approx(load.even_kg.sum(), rel=1e-9)
    # Moments about the middle of the slabs, which is that of all of it here.
    arms = np.array([hook.eyelet - one.whole.centre for hook in load.hooks])[:, :2]
    assert load.even_kg @ arms == pytest.approx([0.0, 0.0], abs=1e-9)
    assert max(load.even_kg) <= load.worst_kg <= load.even_kg.sum()


def test_a_raft_with_most_of_its_slabs_on_one_side_leans_on_those_hooks(scene_of):
    spots = "[{ centre = [1.6, 2.0] }, { centre = [1.6, 2.6] }, { centre = [3.6, 2.0] }]"
    text = f'\n[[clouds]]\nname = "c"\nsurface = "ceiling"\nbuild = "wool 100"\npanels = {spots}\n'
    made = treated(scene_of, text + "drop = 0.3\nraft = true\n")
    (load,) = made.loads.values()
    near = [k for k, hook in enumerate(load.hooks) if hook.eyelet[0] < 2.6]
    assert load.even_kg[near].sum() > 0.55 * load.even_kg.sum()


CORDS = {
    "on joists": (JOISTS + raft(), BOX_ROOM),
    "on battens": (JOISTS.replace("spacing = 0.4", "spacing = 3.0") + raft(), BOX_ROOM),
    "frame shallower than its slab": (JOISTS + raft(build="low"), BOX_ROOM),
    "inches": (JOISTS + raft(build="wool 2 in"), BOX_ROOM),
    "no raft on battens": (JOISTS + cloud(), BOX_ROOM),
}
LOW = '[builds.low]\nsize = [1.2, 0.6]\nthickness = "80 mm"\nflow_resistivity = 12000\nframe = "20x45"\n'


@pytest.mark.parametrize("case", CORDS)
def test_cord_batten_and_rail_add_up_to_the_drop(scene_of, case):
    more, room = CORDS[case]
    made = treated(scene_of, LOW + more, room)
    assert any(hook.batten for hook in made.hooks) is ("battens" in case)
    for hook in made.hooks:
        slab = made.room.panels[hook.panel]
        behind = slab.depths.behind_m  # a frame deeper than its slab ends at the drop, not the slab
        rise = hook.raft.rise_m if hook.raft else behind
        battens = ACROSS_JOISTS.thickness_m if hook.batten else 0.0
        assert hook.cord_m + battens + rise == pytest.approx(0.3 + behind, abs=ROUNDING_M)
        assert hook.eyelet[2] - rise == pytest.approx(slab.back[0, 2], abs=ROUNDING_M)


def test_under_a_slope_a_batten_takes_more_of_a_plumb_cord(scene_of):
    rafters = (
        '[[joists]]\nsurface = "left slope"\nalong = "v"\nfirst = 0.1\nspacing = 1.9\nknown = "surveyed"\n'
    )
    hung = raft(surface="left slope", centre=[2.0, 1.5], rows=1, columns=2, level="along", build="wool 30")
    made = treated(scene_of, rafters + hung, GABLE_ROOM)
    steep = np.hypot(2.2, 4.2 - 2.1) / 2.2  # of the slope: one over the cosine of its pitch
    thick = ACROSS_JOISTS.thickness_m * steep
    assert any(hook.batten for hook in made.hooks)
    for hook in made.hooks:
        plumb = float(hook.anchor[2] - hook.eyelet[2])
        assert hook.cord_m == pytest.approx(plumb - thick * hook.batten, abs=ROUNDING_M)
        assert plumb == pytest.approx(0.3 * steep, abs=ROUNDING_M)  # rails level with slabs of wool 30


def test_the_longest_span_sags_by_the_stated_share_of_itself():
    # The sag of a beam on two supports, its bending moment over E I summed up twice.
    thick, deep, kg_m = 0.020, 0.045, 3.0
    span = longest_span_m(thick, deep, kg_m)
    x = np.linspace(0.0, span, 20001)
    bend = kg_m * 9.81 * x * (span - x) / 2.0 / (SOFTWOOD_PA * thick * deep**3 / 12.0)
    turn = np.cumsum(bend) * x[1]
    sag = np.cumsum(turn - turn.mean()) * x[1]
    # Sums of 20 000 steps are off by less than one part in a thousand.
    assert CREEP * np.ptp(sag) == pytest.approx(SAG_SHARE * span, rel=1e-3)


def test_long_rafts_hang_on_six_and_longer_ones_ask_for_one_more_hook_pair(scene_of):
    wide = 'shape = "box"\nlength = 9.0\nwidth = 4.0\nheight = 3.2'
    few, more, most = (
        treated(scene_of, raft(rows=rows, columns=2, build="wool 30", centre=[4.5, 2.0]), wide)
        for rows in (1, 3, 7)
    )
    assert [len(made.hooks) for made in (few, more, most)] == [4, 6, 6]
    for made in (few, more, most):
        (one,) = made.rafts
        asked = any("one more hook pair" in str(note) for note in made.notes)
        assert asked is (rail_span_m(one, made.hooks) > one.most_rail_m) is (made is most)


def test_every_slab_lies_on_two_bars_or_more_and_bars_on_both_rails(scene_of):
    spots = "[{ centre = [1.6, 2.0] }, { centre = [2.9, 1.7], turned = 90 }, { centre = [1.5, 2.7] }]"
    text = f'\n[[clouds]]\nname = "c"\nsurface = "ceiling"\nbuild = "wool 50"\npanels = {spots}\n'
    for more in (raft(), raft(spacing=0.1), text + "drop = 0.3\nraft = true\n"):
        made = treated(scene_of, more)
        (one,) = made.rafts
        blocks = one.blocks()
        bars = [outline for name, outline, _ in blocks if name == "raft bar"]
        for k in one.panels:
            slab = made.room.panels[k]
            low, high = np.sort((slab.corners - one.whole.corners[0]) @ one.sides[one.axis])[[0, -1]]
            under = [a for a in one.bars.along_m if low < a < high]
            assert len(under) >= 2
            # No slab bends over more than a bar's step, and ends stand out by half of it or less.
            assert max(np.diff([low - 0.3, *under, high + 0.3])) <= 0.6 + 0.05 + ROUNDING_M
        for bar in bars:
            across = (bar - one.whole.corners[0]) @ one.sides[1 - one.axis]
            reach = one.slabs_m[1 - one.axis] + 2 * one.rail.thickness_m
            assert np.ptp(across) == pytest.approx(reach, abs=ROUNDING_M)


@pytest.mark.parametrize("turn", ["", ALONG_U])
def test_timbers_are_as_long_as_they_are_cut_and_touch_without_sharing_wood(scene_of, turn):
    made = treated(scene_of, turn + raft(spacing=0.05, build="wool 30"))
    (one,) = made.rafts
    solids = []
    for name, outline, (low, high) in one.blocks():
        sides = np.linalg.norm(outline[1:3] - outline[:2], axis=1)
        part = next(part for part in one.piece.parts if part.name == name)
        assert max(sides) == pytest.approx(part.length_m, abs=ROUNDING_M)
        section = sorted((min(sides), high - low))
        assert section == pytest.approx(sorted((part.timber.thickness_m, part.timber.depth_m)))
        solids.append(prism(outline - low * one.whole.normal, -(high - low) * one.whole.normal))
    assert len(solids) == sum(part.count for part in one.piece.parts)
    solids += [panel_solid(made.room.panels[k]) for k in one.panels]
    assert max(overlap_m(a, b) for a, b in itertools.combinations(solids, 2)) <= ROUNDING_M


def test_the_lowest_point_of_a_raft_is_told_where_it_takes_head_room(scene_of):
    # Ceiling at 3.2 m, slabs' undersides at 3.2 - drop - 0.05, bars on edge below them.
    for drop, warned in ((0.3, False), (1.12, True)):
        made = treated(scene_of, raft(drop=drop))
        low = 3.2 - drop - 0.05 - made.rafts[0].bars.deep_m
        (note,) = (str(note) for note in made.notes if "underside" in str(note))
        assert f"{1000 * low:.0f} mm above the floor" in note
        assert ("head room" in note) is warned


def test_slabs_that_touch_fit_in_one_frame_but_not_in_six(scene_of):
    alone = treated(scene_of, cloud(rows=2, columns=3))
    assert any("leave no room for both frames" in str(note) for note in frame_notes(alone.room))
    assert not frame_notes(treated(scene_of, raft()).room)


def test_what_lies_between_the_slabs_of_a_raft_is_in_the_way_of_its_bars(scene_of):
    lamp = '[[keep_outs]]\nname = "lamp"\nsurface = "ceiling"\ncentre = [2.5, 2.0]\nradius = 0.05\n'
    spread = {"rows": 2, "columns": 2, "spacing": 0.3}
    treated(scene_of, lamp + cloud(**spread))
    with pytest.raises(SceneError, match=r'clouds\[1\].raft: the frame of "cloud" reaches .* "lamp"'):
        treated(scene_of, lamp + raft(**spread))


def test_to_sound_a_raft_is_its_slabs(scene_of):
    room_and = (scene_text(cloud(rows=2, columns=2, spacing=0.05) + more) for more in ("", "raft = true\n"))
    alone, one = (find_arrivals(scene, build_room(scene), up_to_order=2) for scene in map(scene_of, room_and))
    assert np.array_equal(alone.level_db, one.level_db)


def test_without_the_key_or_with_false_everything_is_as_it_was(scene_of):
    for more in ("", "raft = false\n"):
        made = treated(scene_of, JOISTS + cloud(rows=2, columns=3, spacing=0.05) + more)
        assert made.rafts == find_rafts(made.scene, made.room) == ()
        assert len(made.hooks) == 24
        assert len(find_loads(made.room, find_hooks(made.scene, made.room))) == 6
        assert not any("raft" in str(what) for what, _ in made.bill_of_materials.fixings)


def test_the_list_holds_one_frame_six_slabs_and_as_many_turnbuckles_as_cords(scene_of):
    goods = treated(scene_of, raft()).bill_of_materials
    (batch,) = goods.batches
    assert (batch.n_made, len(batch.names), batch.mass_kg) == (1, 6, batch.piece.mass_kg)
    assert [slabs.needed for slabs in goods.slabs] == [6]
    counts = {part.label: part.count for cut in goods.timber for part in cut.parts}
    assert counts == {"raft rail, wool 50": 2, "raft end, wool 50": 2, "raft bar, wool 50": 4}
    fixings = {str(what): str(much) for what, much in goods.fixings}
    assert next(much for what, much in fixings.items() if what.startswith("turnbuckles")) == "4"
    assert next(much for what, much in fixings.items() if what.startswith("eye bolts")) == "4"
    assert next(much for what, much in fixings.items() if "end of a rail or bar" in what) == str(4 * 4)

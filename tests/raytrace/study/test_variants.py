import pytest

from raytrace import Target, find_variants, load_scene, run_study
from raytrace.study import Freedom, QuickLook, Setting, with_settings
from raytrace.study.freedoms import find_ranges, settings_of
from tests.support.shelves import SHELF, SHELF_RUN

SHELF_TOP = Target(0, (0, 1), ("shelf top",))


@pytest.fixture(scope="module")
def study():
    return run_study(load_scene("shelf.toml", SHELF), **SHELF_RUN)


@pytest.fixture(scope="module")
def found(study):
    return find_variants(study, SHELF_TOP, **SHELF_RUN)


def of(found, freedom):
    (variant,) = [v for v in found.mending if [c.range.freedom for c in v.changes] == [freedom]]
    return variant


def test_lowering_the_shelf_brings_its_peak_below_as_a_run_of_the_edited_scene_confirms(study, found):
    assert [peak.verdict for peak in study.peaks if peak.delay_s < 0.001] == ["over", "over"]
    variant = of(found, Freedom.HEIGHT)
    again = run_study(with_settings(study.scene, variant.settings), **SHELF_RUN)
    assert not any(peak.may_be_over for peak in again.peaks)
    assert again.scene.objects[0].centre[2] < study.scene.objects[0].centre[2]
    assert variant.n_over == (2, 0)


def test_a_change_is_no_larger_than_its_step_asks_for(study, found):
    # Two steps less, 20 mm, leaves the peak with its uncertainty, or the reflection alone at the ears, less
    # below the limit than the slack of the quick look.
    variant = of(found, Freedom.HEIGHT)
    own = variant.changes[0].range
    less = own.rounded(variant.changes[0].value + 2 * own.step)
    again = run_study(with_settings(study.scene, settings_of(study.scene, 0, own, less)), **SHELF_RUN)
    margins = [p.margin_db - p.uncertainty_db for p in again.peaks if p.delay_s < 0.001]
    tops = [k for k, surface in enumerate(again.room.surfaces) if surface.name == "shelf top"]
    alone = [
        float(again.scene.limits.margin_db(table.band_level_db[row]))
        for table in (again.arrivals, again.arrivals.near_misses)
        for row in range(len(table.order))
        if list(table.path_surfaces[row, : table.order[row]]) == tops
    ]
    assert alone
    assert min(margins + alone) < 0.3  # the slack by which the quick look stands off


def test_both_speakers_are_raised_by_the_same(found):
    variant = of(found, Freedom.SPEAKERS)
    heights = [setting.value[2] for setting in variant.settings]
    assert len(heights) == 2
    assert heights[0] == heights[1] != 0.95


def test_a_reflection_that_runs_into_the_direct_sound_is_not_mended(found, study):
    # A little higher the shelf sends its sound so soon that the curve shows no maximum of it.
    for variant in found.mending:
        scene = with_settings(study.scene, variant.settings)
        table = run_study(scene, **SHELF_RUN).arrivals
        names = study.room.surface_names
        level_db = [
            table.band_level_db[row]
            for row in table.at(0, 0)
            if [names[k] for k in table.path_surfaces[row] if k >= 0] == ["shelf top"]
        ]
        assert all(level <= scene.limits.level_db for level in level_db)


def test_ranges_hold_what_stands_beyond_a_bound_already():
    low = load_scene("shelf.toml", SHELF.replace("0.80]", "0.50]"))
    height = next(own for own in find_ranges(low, 0, tops=["shelf"]) if own.freedom is Freedom.HEIGHT)
    assert height.low == height.now == pytest.approx(0.515)


def test_nothing_is_moved_into_a_wall_or_other_furniture(found):
    # Up to 20 mm below the height that mends it.
    lowest_m = of(found, Freedom.HEIGHT).changes[0].value - 0.030 - 0.010
    block = (
        f'\n[[objects]]\nname = "chest"\nshape = "box"\ncentre = [1.15, 2.0, {0.5 * lowest_m + 0.01:.4f}]\n'
    )
    block += f'size = [0.3, 1.6, {lowest_m + 0.02:.4f}]\nmaterial = "wood"\n'
    crowded = run_study(load_scene("shelf.toml", SHELF + block), **SHELF_RUN)
    again = find_variants(crowded, SHELF_TOP, moves=("desk",), **SHELF_RUN)
    assert all(v.changes[0].range.freedom is not Freedom.HEIGHT for v in again.mending)


def test_no_table_means_no_freedom_of_one(study):
    kinds = {own.freedom for own in find_ranges(study.scene, 0, tops=[])}
    assert kinds == {Freedom.SPEAKERS, Freedom.SEAT}


def test_the_zone_has_no_peak_farther_below_than_the_ears(study):
    # So the ears alone may rule an arrangement out.
    for height_m in (0.80, 0.70):
        lowered = with_settings(study.scene, [Setting(("objects", 0, "centre"), (1.15, 2.0, height_m))])
        look = QuickLook(lowered, SHELF_TOP)
        assert look.zone_db <= look.ears_db + 1e-9  # rounding

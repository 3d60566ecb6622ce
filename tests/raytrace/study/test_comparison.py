from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from raytrace import compare, headline, load_scene, run_study, surface_names
from tests.support.scenes import BOX

RIGHT = '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'
SUB = '[[speakers]]\nname = "sub"\nposition = [0.4, 3.0, 0.3]\nuse = "sub"\n'
SOFT = """
[materials.soft]
absorption = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
scattering = 0
"""
STEREO = BOX + RIGHT


def softened(*surfaces: str, text: str = STEREO) -> str:
    """The scene with some of its surfaces made soft: everything they return loses 10 dB."""
    lines = "".join(f'"{surface}" = "soft"\n' for surface in surfaces)
    return text.replace('default = "hard"\n', f'default = "hard"\n{lines}') + SOFT


@pytest.fixture(scope="module")
def study_of(tmp_path_factory):
    """Studies of texts by what is in them, each run once."""
    path = tmp_path_factory.mktemp("scenes") / "scene.toml"
    found = {}

    def run(text: str):
        if text not in found:
            found[text] = run_study(load_scene(path, text), up_to_order=2)
        return found[text]

    return run


def test_a_study_against_itself_changes_nothing(study_of):
    one = study_of(STEREO)
    result = compare(one, one)
    assert all(pair.before == pair.after for pair in result.arrivals)
    assert len(result.arrivals) == len(one.arrivals.order)
    assert all(pair.before is pair.after for pair in result.peaks)
    assert len(result.peaks) == len(one.peaks)
    assert all(pair.n_cleared == pair.n_new == 0 for pair in result.verdicts)
    assert result.not_compared == ()
    assert "still" in headline(result)


def test_every_reflection_stands_on_each_side_once_and_meets_the_same_surfaces(study_of):
    before = study_of(STEREO)
    after = study_of(softened("left wall").replace("ears = [3.2, 2.0, 1.2]", "ears = [3.3, 1.9, 1.25]"))
    result = compare(before, after)
    for study, rows in (
        (before, [p.before for p in result.arrivals]),
        (after, [p.after for p in result.arrivals]),
    ):
        assert sorted(row for row in rows if row is not None) == list(range(len(study.arrivals.order)))
    for pair in result.arrivals:
        for study, row in ((before, pair.before), (after, pair.after)):
            if row is not None:
                assert surface_names(study, row) == pair.surfaces
                assert study.arrivals.speaker_names[study.arrivals.speaker[row]] == pair.speaker
                assert study.arrivals.seat_names[study.arrivals.seat[row]] == pair.seat


def test_what_meets_a_softened_surface_loses_what_that_absorbs(study_of):
    before, after = study_of(STEREO), study_of(softened("left wall"))
    for pair in compare(before, after).arrivals:
        change_db = after.arrivals.level_db[pair.after] - before.arrivals.level_db[pair.before]
        # Each bounce keeps a tenth of its energy instead of all; the rest is rounding.
        assert change_db == pytest.approx(-10.0 * pair.surfaces.count("left wall"), abs=1e-9)


def test_a_change_is_after_less_before_and_no_number_without_a_counterpart(study_of):
    before, after = study_of(STEREO), study_of(softened("left wall"))
    result = compare(before, after)
    left = [p for p in result.arrivals if p.surfaces == ("left wall",)]
    for pair in left:
        assert result.change_db(pair) == pytest.approx(-10.0, abs=1e-9)  # all bands lose what is absorbed
        gone = replace(pair, after=None)
        assert np.isnan(result.change_db(gone)).all()
        assert result.change_db(gone).shape == result.change_db(pair).shape
    assert left
    for pair in result.peaks:
        for one, other, sign in ((pair.before, pair.after, 1.0), (pair.after, pair.before, -1.0)):
            turned = replace(pair, before=one, after=other)
            assert turned.change_db == pytest.approx(sign * pair.change_db, nan_ok=True)
            assert turned.worst_margin_db == pair.worst_margin_db
        assert np.isnan(replace(pair, after=None).change_db)
    assert any(pair.change_db < -1.0 for pair in result.peaks)


def test_the_worst_margin_of_a_pair_is_the_lower_of_those_that_are_judged(study_of):
    pair = next(
        p for p in compare(study_of(STEREO), study_of(softened("left wall"))).peaks if p.change_db < 0
    )
    assert pair.worst_margin_db == pair.before.margin_db < pair.after.margin_db
    unjudged = replace(pair.before, margin_db=np.nan)
    assert replace(pair, before=unjudged).worst_margin_db == pair.after.margin_db
    assert replace(pair, before=unjudged, after=None).worst_margin_db == np.inf


def test_what_only_one_side_has_stands_beside_none(study_of):
    # A wall of another name: nothing that meets it has a counterpart.
    desk = (
        '[[objects]]\nname = "desk"\nshape = "box"\ncentre = [1.5, 2.0, 0.7]\nsize = [0.7, 1.6, 0.03]\n'
        'material = "hard"\n'
    )
    before, after = study_of(STEREO), study_of(STEREO + desk)
    result = compare(before, after)
    new = [pair for pair in result.arrivals if pair.before is None]
    assert new
    assert all(any("desk" in surface for surface in pair.surfaces) for pair in new)
    gone = [pair for pair in result.arrivals if pair.after is None]
    assert [pair.surfaces for pair in gone].count(("floor",)) == 2  # the desk top is in the way
    swapped = compare(after, before)
    assert Counter((p.speaker, p.surfaces, p.after, p.before) for p in swapped.arrivals) == Counter(
        (p.speaker, p.surfaces, p.before, p.after) for p in result.arrivals
    )


def test_counts_before_and_after_add_up(study_of):
    texts = [STEREO, softened("left wall"), softened("left wall", "right wall", "floor"), softened("ceiling")]
    for a in texts:
        for b in texts:
            result = compare(study_of(a), study_of(b))
            for pair in result.verdicts:
                assert pair.before.n_over - pair.n_cleared + pair.n_new == pair.after.n_over
            for side in ("before", "after"):
                peaks = [getattr(pair, side) for pair in result.peaks if getattr(pair, side) is not None]
                assert sorted(map(id, peaks)) == sorted(map(id, getattr(result, side).peaks))


def test_a_peak_that_falls_apart_is_followed_by_its_loudest_part(study_of):
    # Floor and ceiling arrive together; lower the ceiling by 0.2 m and they arrive apart.
    together = STEREO.replace("height = 2.6", "height = 2.4")
    before, after = study_of(together), study_of(STEREO.replace("height = 2.6", "height = 2.2"))
    result = compare(before, after)
    double = next(p for p in result.peaks if p.before and len(p.before.arrivals) == 2 and p.speaker == "left")
    ways = {surface_names(before, row) for row in double.before.arrivals}
    assert ways == {("floor",), ("ceiling",)}
    parts = [
        p.after
        for p in result.peaks
        if p.speaker == "left" and p.after and {surface_names(after, row) for row in p.after.arrivals} & ways
    ]
    assert len(parts) == 2
    assert double.after is max(parts, key=lambda peak: peak.level_db)


def test_left_and_right_stand_side_by_side(study_of):
    before, after = study_of(STEREO), study_of(softened("left wall"))
    result = compare(before, after)
    assert result.left_right == (before.left_right, after.left_right)
    difference = abs(after.left_right.difference_db)
    assert difference > 0.5
    assert headline(result).endswith(f"left and right differ by {difference:.1f} dB instead of 0.0.")


def test_one_speaker_has_no_left_and_right_and_the_comparison_says_so(study_of):
    result = compare(study_of(BOX), study_of(softened("left wall", text=BOX)))
    assert "left and right" not in headline(result)
    assert result.not_compared == ("There is no left and right pair of speakers to compare.",)


def test_a_pair_on_one_side_only_is_not_compared(study_of):
    result = compare(study_of(BOX), study_of(STEREO))
    assert headline(result).endswith("; left and right cannot be compared.")
    assert result.left_right == (None, None)
    assert result.not_compared[0] == "Only after there is the speaker right."
    assert {pair.speaker for pair in result.peaks} == {"left"}


def test_other_names_or_subs_alone_leave_nothing_to_compare(study_of):
    renamed = STEREO.replace('"left"', '"L"').replace('"right"', '"R"')
    for before, after in ((STEREO, renamed), (STEREO + SUB, renamed + SUB)):
        result = compare(study_of(before), study_of(after))
        assert result.verdicts == ()
        assert headline(result) == (
            "No speaker is judged at the same seat in both, so nothing over the limit can be compared; "
            "left and right cannot be compared."
        )
        assert "Only before there is the speaker left and right." in result.not_compared
    assert {pair.speaker for pair in result.arrivals} == {"sub"}


def test_other_seats_are_named_and_the_shared_one_is_compared(study_of):
    second = '[[seats]]\nname = "sofa"\nears = [4.2, 2.0, 1.1]\n'
    result = compare(study_of(STEREO), study_of(STEREO + second))
    assert result.not_compared == ("Only after there is the seat sofa.",)
    assert {pair.seat for pair in result.verdicts} == {"mix"}
    both = compare(study_of(STEREO + second), study_of(STEREO + second))
    first, second = headline(both).split(" At the seat sofa: ")
    assert first.startswith("At the seat mix: ")
    assert first.endswith("left and right match.")
    assert "left and right" not in second


def test_hidden_direct_sound_is_no_verdict(study_of):
    wall = (
        '[[objects]]\nname = "board"\nshape = "box"\ncentre = [2.0, 1.6, 1.2]\nsize = [0.05, 0.8, 1.6]\n'
        'material = "hard"\n'
    )
    result = compare(study_of(STEREO), study_of(STEREO + wall))
    assert "left at mix: the direct sound is hidden after: no verdict." in result.not_compared
    assert {pair.speaker for pair in result.verdicts} == {"right"}


def test_other_limits_are_not_counted_against_each_other(study_of):
    own = "[limits]\nbelow_db = 20\nwithin_ms = 15\nfrom_hz = 1000\nto_hz = 8000\n"
    result = compare(study_of(STEREO), study_of(STEREO + own))
    assert result.verdicts == ()
    assert headline(result).startswith("The limits differ")
    assert any("different limits" in why for why in result.not_compared)


def test_silence_has_no_sides(study_of):
    dead = study_of(STEREO.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[1, 1, 1, 1, 1, 1, 1, 1]"))
    assert not np.isfinite(dead.left_right.difference_db)
    words = headline(compare(study_of(STEREO), dead))
    assert words.endswith("left and right cannot be compared, as one sends no early reflection.")


TREATED = """
[builds.slab]
size = [0.6, 1.2]
thickness = 0.05
flow_resistivity = 12000
[[panels]]
name = "one"
surface = "left wall"
build = "slab"
centre = [3.4, 1.3]
[[stands]]
name = "two"
build = "slab"
at = [4.0, 0.8]
yaw = 90
[[clouds]]
name = "three"
surface = "ceiling"
build = "slab"
centre = [2.0, 2.0]
rows = 2
columns = 1
spacing = 0.1
drop = 0.1
"""


def test_the_area_treated_is_that_of_all_panels_and_none_in_the_bare_room(tmp_path):
    scene = load_scene(tmp_path / "scene.toml", STEREO + TREATED)
    bare = scene.without_panels()
    result = compare(run_study(bare, up_to_order=1), run_study(scene, up_to_order=1))
    assert result.treated_m2 == pytest.approx((0.0, 4 * 0.6 * 1.2), abs=1e-12)  # rounding
    assert (bare.panels, bare.stands, bare.clouds) == ((), (), ())
    assert bare.error(("panels", 0, "name"), "x").line == scene.where(("panels", 0, "name"))[0]

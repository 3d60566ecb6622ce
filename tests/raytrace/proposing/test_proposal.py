import numpy as np
import pytest

from raytrace import (
    PanelWish,
    Treatment,
    feet_notes,
    find_hooks,
    load_scene,
    propose,
    run_study,
    with_prices,
    with_stock,
)
from raytrace.making import frame_notes, why_not_held
from raytrace.proposing.panelgrid import HOLDS_M, wanted_spots
from raytrace.proposing.proposal import find_seats, find_supplies
from raytrace.scene import load_builds
from tests.support.proposals import PANELS_ONLY, proposal, soon
from tests.support.scenes import SCENES


@pytest.mark.slow
@pytest.mark.parametrize("name", ["box", "rented", "ridge"])
def test_prediction_and_proof_agree(name):
    found = proposal(name)
    one, more = found.agreement_db
    assert one <= 0.5  # the aim for one bounce
    assert more <= 2.0  # and for the rest
    for margin in found.margins:
        if margin.predicted_db < 3.0 and not np.isnan(margin.proven_db):
            assert margin.proven_db == pytest.approx(margin.predicted_db, abs=2.0)


@pytest.mark.slow
def test_the_box_gets_pairs_and_loses_all_that_the_floor_leaves():
    found = proposal("box")
    assert found.is_symmetric
    middles = np.array([panel.centre for panel in found.after.room.panels])
    mirrored = middles * [1, -1, 1] + [0, 3.0, 0]
    gap = np.abs(middles[:, None] - mirrored[None]).max(axis=2).min(axis=1)
    assert gap.max() < 1e-3  # set out to the millimetre
    assert sum(v.n_over for v in found.before.verdicts) == 2
    left = [peak for peak in found.after.peaks if peak.may_be_over]
    assert len(left) == len(found.unreached) == 2
    assert max(peak.level_db for peak in left) < max(p.level_db for p in found.before.peaks) - 2.0
    assert all(peak.way == ("floor",) for peak in found.unreached)
    assert all("walked on" in str(peak.obstacles[0].reason) for peak in found.unreached)
    assert 2 <= len(found.panels) <= 6


@pytest.mark.slow
def test_a_surface_that_gets_panels_has_its_mirror_points_on_them():
    # The spots of two bounces once drew the front wall's panel to 10 mm above both of them.
    found = proposal("box")
    room, after = found.before.room, found.after.room
    panels = [(room.surface_index(own.surface), after.panels[own.panel]) for own in found.panels]
    points = [s for s in wanted_spots(found.before.scene, room, found.before.arrivals) if s.is_mirror_point]
    points = [point for point in points if point.surface in {surface for surface, _ in panels}]
    assert len(points) == 6  # of both speakers on three surfaces
    for point in points:
        rects = [panel.rect for surface, panel in panels if surface == point.surface]
        inside = [min((point.uv - rect[:2]).min(), (rect[2:] - point.uv).min()) for rect in rects]
        assert max(inside) >= HOLDS_M - 1e-4  # set out to a tenth of a millimetre


@pytest.mark.slow
def test_where_nothing_may_be_drilled_only_stands_are_proposed():
    found = proposal("rented")
    assert found.panels
    assert {panel.kind for panel in found.panels} == {"stand"}
    assert len(found.stability) == len(found.panels)
    assert all(s.body.push_n >= (1.0 - 1e-9) * s.body.least_push_n for s in found.stability)  # rounding
    assert not found.after.scene.panels
    assert not found.after.scene.clouds
    side = [p for p in found.after.peaks if p.over_limit and len(p.facets) == 1]
    names = {found.after.room.surfaces[found.after.room.facets[p.facets[0]].surface].name for p in side}
    assert names == {"table top"}  # both walls, the window included, are answered


@pytest.mark.slow
def test_a_window_in_the_way_is_named():
    found = proposal("ridge")
    reasons = [
        str(o.reason) for peak in found.unreached for o in peak.obstacles if o.surface == "right slope"
    ]
    assert any('"roof window"' in reason for reason in reasons)
    desk = [str(o.reason) for peak in found.unreached for o in peak.obstacles if o.surface == "desk top"]
    assert desk
    assert all('"desk"' in reason for reason in desk)


@pytest.mark.slow
def test_comments_stay_and_the_old_file_too():
    before = (SCENES / "box.toml").read_bytes()
    found = proposal("box")
    assert found.text.startswith(before.decode())
    assert (SCENES / "box.toml").read_bytes() == before
    assert not (SCENES / "box-proposed.toml").exists()


@pytest.mark.slow
def test_at_most_so_many_panels_and_why_no_more():
    found = soon(wish=PanelWish(most_panels=2, panels_only=True))
    assert len(found.panels) == 2
    assert found.ladder[-1].n_panels == 2
    reasons = {str(o.reason) for peak in found.unreached for o in peak.obstacles}
    assert "no more than 2 panels were asked for" in reasons


def test_nothing_is_bought_beside_a_stock_unless_it_is_named():
    scene = load_scene(SCENES / "box.toml")
    owned = scene.model_copy(update={"stock": {"wool 100": 3}})
    alone = find_supplies(owned, PanelWish())
    assert [(s.build, s.owned, s.buyable) for s in alone] == [("wool 100", 3, False)]
    more = find_supplies(owned, PanelWish(builds=("wool 50",)))
    assert [(s.build, s.owned, s.buyable) for s in more] == [("wool 100", 3, False), ("wool 50", 0, True)]
    assert find_supplies(scene, PanelWish())[0].build == "wool 50"
    own = scene.model_copy(update={"builds": {"mine": load_builds()["wool 100"]}})
    assert find_supplies(own, PanelWish())[0].build == "mine"


def test_all_that_is_priced_may_be_bought_and_what_has_a_place_is_not_had_again():
    # The treated box holds one wool 50 and six wool 30.
    priced = {"prices": {"wool 100": 95.0, "wool 50": 60.0}, "stock": {"wool 50": 3, "wool 30": 1}}
    scene = load_scene(SCENES / "treated-box.toml").model_copy(update=priced)
    found = find_supplies(scene, PanelWish())
    assert [(s.build, s.owned, s.buyable, s.price) for s in found] == [
        ("wool 50", 2, True, 60.0),
        ("wool 30", 0, False, None),
        ("wool 100", 0, True, 95.0),
    ]
    some = find_supplies(scene, PanelWish(builds=("wool 100", "wool 75")))
    assert [(s.build, s.buyable, s.price) for s in some] == [
        ("wool 50", False, None),
        ("wool 30", False, None),
        ("wool 100", True, None),  # beside one without a price it must not look dear
        ("wool 75", True, None),
    ]


def test_an_unknown_build_and_a_missing_price_are_said():
    scene = load_scene(SCENES / "box.toml")
    with pytest.raises(ValueError, match='"wool 5O", did you mean "wool '):
        find_supplies(scene, PanelWish(builds=("wool 5O",)))
    with pytest.raises(ValueError, match="has no price"):
        find_supplies(scene, PanelWish(builds=("wool 50",), budget=500.0))


def test_a_quiet_room_needs_nothing():
    text = (
        SCENES / "box.toml"
    ).read_text() + "\n[limits]\nbelow_db = 1\nwithin_ms = 15\nfrom_hz = 1000\nto_hz = 8000\n"
    found = propose(
        load_scene(SCENES / "box.toml", text), PANELS_ONLY, out=SCENES / "box-proposed.toml", up_to_order=2
    )
    assert found.panels == ()
    assert found.text == text
    assert found.stop is None
    assert "nothing needs to be put up" in str(found.notes[0])


def test_where_the_direct_sound_is_hidden_nothing_is_proposed():
    screen = (
        '\n[[objects]]\nname = "screen"\nshape = "box"\ncentre = [1.3, 1.5, 1.2]\n'
        'size = [0.05, 2.8, 2.0]\nmaterial = "wood"\n'
    )
    scene = load_scene(SCENES / "box.toml", (SCENES / "box.toml").read_text() + screen)
    found = propose(scene, PANELS_ONLY, out=SCENES / "box-proposed.toml", up_to_order=2)
    assert found.panels == ()
    assert "direct sound of each is hidden" in str(found.notes[0])


@pytest.mark.slow
def test_a_cloud_between_beams_stays_in_its_bay_and_clear_of_the_detector():
    limits = "\n[limits]\nbelow_db = 13\nwithin_ms = 15\nfrom_hz = 1000\nto_hz = 8000\n"
    scene = load_scene(SCENES / "beams.toml", (SCENES / "beams.toml").read_text() + limits)
    found = propose(scene, PANELS_ONLY, out=SCENES / "beams-proposed.toml", up_to_order=2, within_s=0.018)
    clouds = [panel for panel in found.after.room.panels if panel.kind == "cloud"]
    assert clouds
    for cloud in clouds:
        x = cloud.corners[:, 0]
        # Beams 0.2 m wide about x = 1.4, 3.2 and 5.0; to the micrometre, as written.
        bays = [(0.0, 1.3), (1.5, 3.1), (3.3, 4.9), (5.1, 6.4)]
        assert any(low - 1e-6 <= x.min() and x.max() <= high + 1e-6 for low, high in bays)
        away = np.maximum(
            np.abs(cloud.centre[:2] - [2.3, 3.6]) - 0.5 * np.ptp(cloud.corners[:, :2], axis=0), 0.0
        )
        assert (
            np.linalg.norm(away) >= 0.5 - 0.001
        )  # the detector's half a metre; half a millimetre is let pass


SOFA = '\n[[seats]]\nname = "sofa"\nears = [3.2, 1.1, 1.0]\n'


@pytest.mark.slow
def test_the_first_seat_counts_and_the_sofa_only_where_it_is_named():
    alone, found = soon(bounces=1), soon(SOFA, bounces=1)
    assert found.seats == ("mix",)
    assert [seat.name for seat in found.others] == ["sofa"]
    assert found.is_symmetric  # the sofa stands off the axis
    assert len(found.panels) == len(alone.panels)
    assert all(peak.seat == "mix" for peak in found.unreached)
    assert any('Planned for the seat "mix" alone; "sofa" had no say' in str(note) for note in found.notes)
    sofa = soon(SOFA, PanelWish(seats=("sofa",), most_panels=3, panels_only=True), bounces=1)
    assert sofa.seats == ("sofa",)
    assert sofa.others[0].name == "mix"
    over = [sum(p.over_limit and p.seat == 1 for p in study.peaks) for study in (found.after, sofa.after)]
    assert over[1] < over[0]


@pytest.mark.slow
def test_what_the_first_seat_leaves_over_goes_to_the_others():
    bare, more = soon(SOFA, bounces=1), soon(SOFA, PanelWish(most_panels=8, panels_only=True), bounces=1)
    assert len(more.panels) > len(bare.panels)
    assert more.others[0].excess_db[1] < bare.others[0].excess_db[1]
    worst = [min(v.worst_margin_db for v in s.after.verdicts if v.seat == 0) for s in (bare, more)]
    assert worst[1] >= worst[0] - 0.05  # the seat that counts has lost nothing
    assert any("left over" in str(note) for note in more.notes)


def test_an_unknown_seat_is_said():
    scene = load_scene(SCENES / "box.toml", (SCENES / "box.toml").read_text() + SOFA)
    assert find_seats(scene, ()) == (0,)
    assert find_seats(scene, ("sofa", "mix")) == (1, 0)
    with pytest.raises(ValueError, match='no seat is called "soffa", did you mean "sofa"'):
        find_seats(scene, ("soffa",))


@pytest.mark.slow
def test_a_proposal_looks_as_far_ahead_as_it_is_told():
    for study in (soon().before, soon().after):
        assert study.arrivals.reach.within_s == 0.018


@pytest.mark.slow
@pytest.mark.parametrize("name", ["box", "rented", "ridge"])
def test_nothing_proposed_wants_for_room_for_its_frame_or_feet_or_for_something_to_hold_it(name):
    found = proposal(name)
    room, scene = found.after.room, found.after.scene
    assert frame_notes(room) == ()
    assert feet_notes(scene, room) == ()
    assert why_not_held(scene, room, find_hooks(scene, room)) is None


@pytest.mark.slow
def test_owned_panels_go_first_and_the_cost_is_that_of_the_cut_list(tmp_path):
    workshop = tmp_path / "workshop.toml"
    workshop.write_text(
        '[stock]\n"wool 50" = 1\n[prices]\n"wool 50" = 60\n"wool 30" = 45\n', encoding="utf-8"
    )
    scene = with_prices(with_stock(load_scene(SCENES / "box.toml"), workshop), workshop)
    wish = PanelWish(budget=150.0, panels_only=True)
    found = propose(scene, wish, out=tmp_path / "new.toml", up_to_order=1, within_s=0.018)
    assert [panel.build for panel in found.panels if panel.is_owned] == ["wool 50"]
    bill = Treatment(found.after.scene, found.after.room).bill_of_materials
    assert found.cost == bill.price <= 150.0
    assert bill.owned == tuple(panel.name for panel in found.panels if panel.is_owned)
    assert 'Chosen place by place among "wool 50" and "wool 30"' in " ".join(map(str, found.notes))


def without(scene, panels):
    """The scene without some placed panels, whatever entries they are of."""
    gone = {(panel.group, panel.member) for panel in panels}

    def kept(entries):
        return tuple(entry for entry in entries if (entry.name, 0) not in gone)

    clouds = [
        cloud.model_copy(
            update={
                "panels": tuple(slab for k, slab in enumerate(cloud.panels) if (cloud.name, k) not in gone)
            }
        )
        for cloud in scene.clouds
    ]
    return scene.model_copy(
        update={
            "panels": kept(scene.panels),
            "stands": kept(scene.stands),
            "clouds": tuple(cloud for cloud in clouds if cloud.panels),
        }
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", ["box", "ridge"])
def test_without_any_panel_or_pair_of_it_the_plan_is_worse(name):
    found = proposal(name)
    seats = [k for k, seat in enumerate(found.after.scene.seats) if seat.name in found.seats]

    def short_db(study):
        own = (p for p in study.peaks if p.seat in seats and p.verdict != "not judged")
        return [p.uncertainty_db - p.margin_db for p in own if p.margin_db < p.uncertainty_db]

    now, axis_m = short_db(found.after), found.after.scene.seats[0].ears[1]
    for panel in found.after.room.panels:
        mirrored = panel.centre * [1, -1, 1] + [0, 2.0 * axis_m, 0]
        other = [p for p in found.after.room.panels if np.abs(p.centre - mirrored).max() < 1e-3]  # set-out
        then = short_db(run_study(without(found.after.scene, [panel, *other])))
        # What nobody would notice: a twentieth of a decibel for each panel, all peaks together.
        assert len(then) > len(now) or sum(then) >= sum(now) + 0.05

"""What holds a panel is worked out once, and feet are where a panel touches the floor."""

from raytrace import Treatment, build_room, find_hooks
from tests.support.panelled import JOISTS, cloud, scene_text
from tests.support.treatedrooms import treated_text
from viewer.sheets.treatment import foot, footprint, plan


def test_it_holds_the_hooks_battens_and_loads_of_its_scene(scene_of):
    scene = scene_of(scene_text(JOISTS + cloud()))
    treatment = Treatment(scene, build_room(scene))
    wanted = find_hooks(scene, treatment.room)
    assert [hook.name for hook in treatment.hooks] == [hook.name for hook in wanted]
    assert treatment.hooks is treatment.hooks
    carried = sorted(hook.name for batten in treatment.battens for hook in batten.hooks)
    assert carried == sorted(hook.name for hook in wanted if hook.batten)
    assert list(treatment.loads) == [0]
    assert treatment.stability == {}


def test_a_footprint_holds_its_foot_and_the_whole_panel(scene_of):
    scene = scene_of(treated_text("rented"))
    treatment = Treatment(scene, build_room(scene))
    for k, panel in enumerate(treatment.room.panels):
        outline = footprint(treatment, k)
        low, high = outline.min(axis=0), outline.max(axis=0)
        for points in (foot(treatment, k), panel.corners, panel.back):
            inside = plan(points)
            assert (inside >= low - 1e-9).all()  # rounding of coordinates of a few metres
            assert (inside <= high + 1e-9).all()
    assert plan([[1.0, 2.0, 3.0]]).tolist() == [[2.0, 1.0]]

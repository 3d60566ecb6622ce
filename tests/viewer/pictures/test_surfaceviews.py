import numpy as np
import pytest

from raytrace import find_hooks, run_study
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures import meshes
from viewer.pictures.faces import loops_of
from viewer.pictures.layers import choose_camera, layers
from viewer.pictures.stage import on_surface, set_stage
from viewer.pictures.surfaceviews import surface_pages, views_of

BOX = (SCENES / "box.toml").read_text()
WALL = (
    '[[panels]]\nname = "side"\nsurface = "left wall"\nbuild = "wool 50"\nturned = 90\ncentre = [3.06, 1.2]\n'
)
CLOUD = (
    '[[clouds]]\nname = "cloud"\nsurface = "ceiling"\nbuild = "wool 50"\ncentre = [1.2, 1.5]\nrows = 1\n'
    "columns = 2\ndrop = 0.1\n"
)


@pytest.fixture
def treated(scene_of):
    return run_study(scene_of(BOX + WALL + CLOUD), up_to_order=1)


def test_a_bare_room_gets_the_three_usual_pictures(scene_of):
    assert views_of(run_study(scene_of(BOX), up_to_order=1)) == look.VIEWS


def test_each_treated_surface_gets_its_own_the_fullest_first(treated):
    names = [view.name for view in views_of(treated)[3:]]
    assert names == ["surface-ceiling", "surface-left-wall"]


def test_a_wall_is_seen_with_its_left_edge_on_the_left(treated):
    stage, view = set_stage(treated), views_of(treated)[4]
    camera = choose_camera(stage, view, (900, 600))
    frame = treated.room.surfaces[view.surface].frame
    np.testing.assert_allclose(camera.right, frame.u, atol=1e-12)
    np.testing.assert_allclose(camera.up, frame.v, atol=1e-12)


def test_a_ceiling_is_drawn_as_a_plan_with_left_on_the_left(treated):
    camera = choose_camera(set_stage(treated), views_of(treated)[3], (900, 600))
    np.testing.assert_allclose(camera.right, [0, 1, 0], atol=1e-12)
    np.testing.assert_allclose(camera.up, [-1, 0, 0], atol=1e-12)


def test_the_picture_of_a_surface_holds_its_own_spots_only(treated):
    stage = set_stage(treated)
    left = treated.room.surface_index("left wall")
    only = on_surface(stage, left)
    assert set(only.spots.surface.tolist()) == {left}
    assert len(only.spots.row) == np.count_nonzero(stage.spots.surface == left) > 0
    assert only.shown.main.size == only.shown.faint.size == 0


def test_every_cord_is_drawn_from_its_eyelet_to_its_anchor(treated):
    hooks = [hook for hook in find_hooks(treated.scene, treated.room) if hook.kind == "cord"]
    lines = loops_of(meshes.cords(treated))
    assert len(lines) == len(hooks) == 8
    for hook, line in zip(hooks, lines, strict=True):
        assert np.linalg.norm(line[1] - line[0]) == pytest.approx(hook.cord_m, abs=1e-6)  # float32 points


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("box", "From the side"),
        ("lean-to", "From the side"),
        ("ridge", "From behind"),
        ("half-slope", "From behind"),
    ],
)
def test_the_section_shows_the_slope_of_the_roof_and_not_a_flat_line(name, title):
    study = shipped_study(name, up_to_order=1)
    (section,) = (view for view in views_of(study) if view.name == "section")
    assert section.title == title
    assert title.split()[-1] in section.caption
    # Along the line of sight a sloping facet is a line: its normal has no part along it.
    towards = np.array(section.towards_viewer[0])
    slopes = [s.frame.n for s in study.room.surfaces if s.owner is None and 0.1 < abs(s.frame.n[2]) < 0.99]
    assert all(abs(towards @ normal) < 1e-6 for normal in slopes)


def test_the_report_shows_two_treated_surfaces_a_page(treated):
    names = ["room", "plan", "surface-ceiling", "surface-left-wall", "surface-right-wall"]
    pictures = {name: (f"stills/{name}.png", f"of {name}") for name in names}
    pages = surface_pages(treated, pictures, units="metric")
    shown = [[block["path"] for block in page["blocks"] if "path" in block] for page in pages]
    assert shown == [
        ["stills/surface-ceiling.png", "stills/surface-left-wall.png"],
        ["stills/surface-right-wall.png", "stills/plan.png"],
    ]
    assert pages[0]["blocks"][1]["text"] == "of surface-ceiling"
    assert surface_pages(treated, {"room": ("stills/room.png", "")}, units="metric") == []
    # What a lone picture leaves of its page shows them from above and lists them, equal ones together.
    assert not any(block["kind"] == "table" for block in pages[0]["blocks"])
    table = pages[1]["blocks"][-1]
    assert table["rows"] == [
        ("side panel", "1", "left wall", "wool 50", "600 x 1200 x 50", "–"),
        ("cloud", "2", "ceiling", "wool 50", "600 x 1200 x 50", "100 mm"),
    ]


def test_of_a_slope_its_own_sizes_are_given_and_what_stands_before_it_lets_it_show():
    study = shipped_study("ridge", up_to_order=1)
    slope, wall = study.room.surface_index("left slope"), study.room.surface_index("left wall")
    on_slope = on_surface(set_stage(study), slope)
    frame = study.room.surfaces[slope].frame
    up_the_slope = (on_slope.sized - frame.origin) @ frame.v
    assert np.ptp(up_the_slope) == pytest.approx(frame.height)
    assert len(on_surface(set_stage(study), wall).sized) == len(on_slope.corners)
    view = next(view for view in look.VIEWS if view.parallel)
    camera = choose_camera(set_stage(study), view, (900, 600))
    least = []
    for stage in (set_stage(study), on_slope):
        solid = [layer for layer in layers(stage, camera) if layer.light == "solid" and layer.mesh.n_cells]
        least.append(min(layer.opacity for layer in solid))
    assert least == [1.0, look.BETWEEN_OPACITY]

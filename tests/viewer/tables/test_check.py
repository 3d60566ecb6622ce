from rich.console import Console

from raytrace import build_room, load_scene
from tests.support.scenes import BOX, SCENES
from viewer.tables.check import scene_summary

STAND = '[[stands]]\nname = "stand"\nbuild = "wool 100"\nat = [3.0, 1.5]\nyaw = 180\n'
PANEL = (
    '[[panels]]\nname = "side"\nsurface = "left wall"\nbuild = "wool 50"\ncentre = [3.06, 1.2]\ngap = 0.05\n'
)


def lines_of(scene, units="metric", width=160):
    console = Console(width=width, record=True, file=None, quiet=True)
    with console.capture() as capture:
        console.quiet = False
        console.print(scene_summary(scene, build_room(scene), units=units))
    return [" ".join(line.split()) for line in capture.get().splitlines()]


def test_the_summary_names_what_lies_on_the_surfaces_with_sizes_and_places(scene_of):
    lines = lines_of(scene_of((SCENES / "box.toml").read_text() + PANEL + STAND))
    assert "door door back wall 0.80 x 2.00 m 1.90 / 0.00 m wood door" in lines
    assert any(line.startswith("ceiling light keep free ceiling radius 0.20 m") for line in lines)
    assert any(line.startswith("left wall 4.20 m 2.40 m") and line.endswith("1 panel") for line in lines)
    assert "side wool 50 left wall 1.20 x 0.60 m 50 mm 50 mm 2.46 / 0.90 m" in lines
    assert any(line.startswith("stand wool 100") and " free " in line for line in lines)


def test_an_object_takes_one_line_and_no_face_of_a_panel_is_a_surface(scene_of):
    lines = lines_of(load_scene(SCENES / "garage.toml"))
    assert sum(line.startswith("desk") for line in lines) == 1
    lines = lines_of(scene_of((SCENES / "box.toml").read_text() + STAND))
    assert not any(line.startswith(("stand front", "stand back")) for line in lines)


def test_a_bare_room_has_no_empty_tables():
    lines = lines_of(load_scene(SCENES / "box.toml"))
    assert "Panels" not in lines
    assert "In the room" not in lines


def test_a_ceiling_beside_a_slope_is_listed_with_its_own_width(scene_of):
    slope = '[room]\nslopes = [{ wall = "left wall", eaves = 2.0, pitch = 45 }]\n'
    scene = scene_of((SCENES / "box.toml").read_text().replace("[room]\n", slope))
    # 2.40 m high: the slope rises 0.40 m and takes 0.40 of the room's 3.00 m.
    assert any(line.startswith("ceiling 4.20 m 2.60 m 10.9 m²") for line in lines_of(scene))


def test_no_figure_is_cut_short_or_parted_on_80_columns(scene_of):
    scene = scene_of((SCENES / "box.toml").read_text() + PANEL + STAND)
    for units, figure in (("imperial", "6' 2 3/4\" /"), ("metric", "0.80 x 2.00 m")):
        lines = lines_of(scene, units, width=80)
        assert not any("…" in line for line in lines)
        assert any(figure in line for line in lines), lines


def test_what_is_odd_about_places_is_said_before_anything_is_computed(scene_of):
    screen = (
        '[[objects]]\nname = "screen"\nshape = "box"\ncentre = [2.1, 1.65, 0.9]\nsize = [0.05, 1.2, 1.8]\n'
        'material = "hard"\n'
    )
    near = BOX.replace("position = [1.0, 1.3, 1.2]", "position = [1.0, 0.05, 1.2]")
    told = " ".join(lines_of(scene_of(near)))
    assert "left: its acoustic centre is 50 mm from left wall" in told
    assert "hidden" not in told
    assert "screen stands between left and the ears at mix" in " ".join(lines_of(scene_of(BOX + screen)))
    assert "Note" not in " ".join(lines_of(scene_of(BOX)))


def test_what_free_means_is_told_where_there_are_panels(scene_of):
    assert not any("Free:" in line for line in lines_of(load_scene(SCENES / "box.toml")))
    assert any("Free:" in line for line in lines_of(scene_of((SCENES / "box.toml").read_text() + STAND)))


def test_frames_that_run_into_each_other_are_told_before_anything_is_made(scene_of):
    cloud = (
        '[[clouds]]\nname = "cloud"\nsurface = "ceiling"\nbuild = "wool 30"\ncentre = [1.1, 1.5]\nrows = 1\n'
        'columns = 2\nspacing = "{} mm"\ndrop = 0.1\n'
    )
    text = (SCENES / "box.toml").read_text()
    # Two frames of 20 mm boards stand between neighbouring slabs.
    told = [" ".join(lines_of(scene_of(text + cloud.format(mm)))) for mm in (39, 40)]
    assert "cloud: slabs 39 mm apart leave no room for both frames; leave 40 mm." in told[0]
    assert "no room for both frames" not in told[1]

import dataclasses
import os
import pickle
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from raytrace import SceneError, build_room
from raytrace.acoustics import DEFAULT_SCATTERING, load_library
from raytrace.scene.limits import STANDARDS, USUAL_LIMITS
from raytrace.scene.marks import find_marks
from raytrace.scene.scene import Scene, load_scene
from tests.support.broken_scenes import BROKEN_SCENES, FILES, SECTIONS, BrokenScene
from tests.support.rooms import room_text
from tests.support.scenes import BOX, HARD_WALLS, SCENES


def write_scene(folder: Path, text: str) -> Path:
    for name, content in FILES.items():
        (folder / name).write_text(content, encoding="utf-8")
    path = folder / "room.toml"
    path.write_text(text, encoding="utf-8")
    return path


def load_text(folder: Path, **changed: str) -> Scene:
    return load_scene(write_scene(folder, "\n\n".join({**SECTIONS, **changed}.values())))


@pytest.mark.parametrize("broken", [pytest.param(scene, id=scene.name) for scene in BROKEN_SCENES])
def test_each_rule_broken_is_answered_with_its_place_and_what_is_accepted(tmp_path, broken: BrokenScene):
    path = write_scene(tmp_path, broken.text)
    if broken.needs_room:
        scene = load_scene(path)
        with pytest.raises(SceneError) as caught:
            build_room(scene)
    else:
        with pytest.raises(SceneError) as caught:
            load_scene(path)
    line, column, wrong = broken.place
    headline, excerpt, carets = str(caught.value).split("\n")
    key = f"{broken.key}: " if broken.key else ""
    assert headline.startswith(f"{path}:{line}:{column}: {key}")
    assert excerpt == f"{line:>5} | {broken.text.splitlines()[line - 1]}"
    assert carets == "      | " + " " * (column - 1) + "^" * len(wrong)
    for word in broken.words:
        assert word in headline
    assert (caught.value.line, caught.value.column, caught.value.key) == (line, column, broken.key)


ODD_VALUES = (
    "true", "0", "-1", "1e300", "-inf", "nan", "99999999999999999999", '""', '" "', '"\\u0000"', '"7 m"',
    "[]", "[[]]", "[[1]]", "[1, 2, 3]", '["a"]', "{}", "{ a = 1 }", "[{}]", "1979-05-27", "07:32:00",
)  # fmt: skip


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_value_in_any_place_is_read_or_refused_at_its_place(tmp_path, data):
    whole = "\n\n".join(SECTIONS.values())
    marks = find_marks(whole)
    start, end = marks[data.draw(st.sampled_from(list(marks)))].value
    odd = data.draw(st.sampled_from(ODD_VALUES))
    path = write_scene(tmp_path, whole[:start] + odd + whole[end:])
    refused = refusal(path)
    assert refused is None or re.fullmatch(r".*:\d+:\d+: .*\n *\d+ \| .*\n +\| \s*\^+", refused)


def refusal(path: Path) -> str | None:
    """What a scene is refused with, if it is."""
    try:
        build_room(load_scene(path))
    except SceneError as error:
        return str(error)
    return None


def test_every_rule_of_the_list_has_a_name_of_its_own():
    names = [scene.name for scene in BROKEN_SCENES]
    assert len(set(names)) == len(names)


def test_the_scene_that_the_broken_ones_start_from_is_whole(tmp_path):
    scene = load_text(tmp_path)
    room = build_room(scene)
    assert room.volume_m3 == pytest.approx(4.2 * 3.0 * scene.room.height, rel=1e-12)  # rounding only
    assert scene.room.height == pytest.approx(7 * 0.3048 + 10.5 * 0.0254, abs=1e-12)  # the inch is 25.4 mm


@pytest.mark.parametrize("path", sorted(SCENES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_scene_is_accepted(path):
    assert load_scene(path).path == path


def test_the_earliest_of_several_mistakes_is_shown(tmp_path):
    air, room = "[air]\nhumidity = 300", SECTIONS["room"].replace("width", "widht")
    with pytest.raises(SceneError, match=r"air\.humidity"):
        load_text(tmp_path, air=air, room=room)
    with pytest.raises(SceneError, match=r"room\.widht"):
        load_text(tmp_path, air=room, room=air)


def test_defaults_are_those_of_the_design(tmp_path):
    nothing = (
        "job",
        "air",
        "openings",
        "objects",
        "keep_outs",
        "joists",
        "panels",
        "stands",
        "clouds",
        "limits",
        "method",
    )
    scene = load_text(tmp_path, top="", **dict.fromkeys(nothing, ""))
    assert scene.title == "room"  # the name of the file
    assert load_text(tmp_path, top='title = ""').title == "room"
    assert (scene.air.temperature, scene.air.humidity, scene.air.pressure) == (20.0, 50.0, 101.325)
    assert scene.seats[0].zone == (0.15, 0.20, 0.05)
    left = scene.speakers[0]
    assert (left.aim, left.use, left.directivity) == ("seat", "main", "two-way")
    assert scene.limits == USUAL_LIMITS
    assert scene.method.plain_surfaces == "random incidence"
    assert scene.job.drilling is None


def test_standards_hold_the_published_numbers():
    # EBU Tech 3276 (1998) section 2.2 and ITU-R BS.1116-3 section 8, both from memory.
    for name in ("EBU Tech 3276", "ITU-R BS.1116-3"):
        limits = STANDARDS[name]
        assert (limits.below_db, limits.within_ms, limits.from_hz, limits.to_hz) == (
            10.0,
            15.0,
            1000.0,
            8000.0,
        )
        assert limits.name == name
        assert name in limits.source


@pytest.mark.parametrize(
    "limits",
    [
        "[limits]\nbelow_db = 15\nwithin_ms = 20\nfrom_hz = 500\nto_hz = 4000",
        "[limits]\nstandard = { below_db = 15, within_ms = 20, from_hz = 500, to_hz = 4000 }",
    ],
)
def test_own_limits_stand_in_the_table_or_in_place_of_the_standard(tmp_path, limits):
    own = load_text(tmp_path, limits=limits).limits
    assert dataclasses.astuple(own)[:5] == ("own numbers", 15.0, 20.0, 500.0, 4000.0)


def test_method_says_how_every_plain_surface_reflects_at_an_angle(tmp_path):
    own = "[materials.felt]\nabsorption = [0.1, 0.1, 0.2, 0.3, 0.4, 0.5, 0.5, 0.5]"
    for method, model in (("", "random incidence"), ('[method]\nplain_surfaces = "local"', "local")):
        scene = load_text(tmp_path, materials=own, method=method)
        assert {scene.material(name).at_an_angle for name in ("felt", "brick")} == {model}
        np.testing.assert_array_equal(scene.material("brick").absorption, load_library()["brick"].absorption)


def test_own_materials_come_before_the_library(tmp_path):
    own = '[materials.brick]\nabsorption = [0, 0, 0, 0, 0, 0, 0, 0.5]\nsource = "measured here"'
    scene = load_text(tmp_path, materials=own, surfaces='[surfaces]\ndefault = "brick"')
    brick = scene.material("brick")
    assert brick.absorption.tolist() == [0, 0, 0, 0, 0, 0, 0, 0.5]
    np.testing.assert_array_equal(brick.scattering, DEFAULT_SCATTERING)
    assert brick.source == "measured here"
    assert scene.material("plasterboard") is load_library()["plasterboard"]


def test_one_number_of_scattering_holds_for_every_band(tmp_path):
    assert load_text(tmp_path).material("old curtain").scattering.tolist() == [0.2] * 8


def test_an_open_hole_returns_nothing(tmp_path):
    hole = '[[openings]]\nname = "hatch"\nsurface = "back wall"\nkind = "opening"\nat = [1, 1]\nsize = [1, 1]'
    scene = load_text(tmp_path, openings=hole)
    assert scene.material(scene.openings[0].material).absorption.tolist() == [1.0] * 8


def test_every_form_of_aim_and_directivity_is_read(tmp_path):
    forms = [
        ('aim = "seat"', "seat"),
        ('aim = ["1500 mm", 1.5, 1.2]', (1.5, 1.5, 1.2)),
        ("aim = { yaw = 30 }", (30.0, 0.0)),
    ]
    for line, expected in forms:
        aim = (
            load_text(tmp_path, speakers=f'[[speakers]]\nname = "a"\nposition = [0.7, 0.9, 1.2]\n{line}')
            .speakers[0]
            .aim
        )
        assert (aim if isinstance(aim, str | tuple) else (aim.yaw, aim.pitch)) == expected
    line = 'directivity = { radius = "80 mm", box_radius = 0.2 }'
    two_way = (
        load_text(tmp_path, speakers=f'[[speakers]]\nname = "a"\nposition = [0.7, 0.9, 1.2]\n{line}')
        .speakers[0]
        .directivity
    )
    assert (two_way.radius, two_way.tweeter_radius, two_way.crossover, two_way.box_radius) == (
        0.08,
        0.0125,
        2500.0,
        0.2,
    )


def test_one_eaves_height_stands_for_both_sides(tmp_path):
    room = '[room]\nshape = "gable"\nlength = 4.2\nwidth = 3\nridge = 2.6\neaves = '
    assert load_text(tmp_path, room=f"{room}1.4").room.eaves == (1.4, 1.4)
    assert load_text(tmp_path, room=f'{room}[1.4, "1600 mm"]').room.eaves == (1.4, 1.6)


def test_a_bare_toml_date_reads_like_a_quoted_one(tmp_path):
    bare = load_text(tmp_path, job="[job]\ndate = 2024-05-17")
    quoted = load_text(tmp_path, job='[job]\ndate = "2024-05-17"')
    assert bare.job.date == quoted.job.date == "2024-05-17"


def test_files_are_looked_for_beside_the_scene(tmp_path, monkeypatch):
    path = write_scene(tmp_path, "\n\n".join(SECTIONS.values()))
    monkeypatch.chdir(tmp_path.parent)
    assert load_scene(path).resolve("flat.obj") == tmp_path / "flat.obj"


def test_a_scene_cannot_be_changed_and_survives_pickling(tmp_path):
    scene = load_text(tmp_path)
    with pytest.raises(ValueError, match="frozen"):
        scene.title = "other"
    again = pickle.loads(pickle.dumps(scene))
    assert again == scene
    assert str(again.error(("seats", 0, "ears"), "here")) == str(scene.error(("seats", 0, "ears"), "here"))


def test_a_changed_copy_keeps_the_text_it_came_from(tmp_path):
    scene = load_text(tmp_path)
    copy = scene.model_copy(update={"title": "other"})
    assert copy.where(("seats", 0)) == scene.where(("seats", 0))


def test_later_stages_point_at_the_value_or_its_key(tmp_path):
    scene = load_text(tmp_path)
    line, column = scene.where(("speakers", 1, "position", 2))
    assert scene.text.splitlines()[line - 1][column - 1 :] == "1.2]"
    at_key = str(scene.error(("surfaces", "floor"), "odd", at="key")).split("\n")[2]
    assert re.sub(r".*\|", "", at_key) == " ^^^^^"


def test_reading_scenes_needs_no_heavy_package():
    script = (
        "import sys; import raytrace.scene; "
        "heavy = {'numba', 'scipy', 'trimesh', 'pyvista', 'matplotlib', 'mapbox_earcut'} & set(sys.modules); "
        "assert not heavy, heavy"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr


@pytest.mark.parametrize("length", ["4.2 cm", "4.2 mm"])
def test_a_length_in_the_wrong_unit_is_offered_with_the_same_digits(scene_of, length):
    with pytest.raises(SceneError, match=r'did you mean "4\.2 m"'):
        scene_of(BOX.replace("length = 5.0", f'length = "{length}"'))


def test_a_material_that_nothing_is_like_points_to_the_list(scene_of):
    with pytest.raises(SceneError, match='"wood panel" and more \\(hitspot materials lists all'):
        scene_of(BOX.replace('default = "hard"', 'default = "unobtainium"'))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes in folders are a thing of POSIX")
def test_a_pipe_for_a_mesh_is_named_as_what_it_is(scene_of, tmp_path):
    os.mkfifo(tmp_path / "room.obj")
    with pytest.raises(SceneError, match=r"room\.obj is a pipe or a device") as caught:
        scene_of(room_text('shape = "mesh"\nfile = "room.obj"\nunit = "m"'))
    assert "did you mean" not in str(caught.value)


def test_text_is_one_line_that_shows_whatever_stands_in_it(scene_of):
    scene = scene_of(HARD_WALLS.replace("title = ", 'title = "a\\u001b[31m\\u202eb\\nc\\u200dd\\u0000" # '))
    assert scene.title == "a�[31m�b c\u200dd�"


@pytest.mark.parametrize("table", ["materials", "builds"])
def test_names_of_own_tables_are_names(scene_of, table):
    inside = {
        "materials": f"absorption = {[0.1] * 8}",
        "builds": "size = [0.6, 1.2]\nthickness = 0.05\nflow_resistivity = 9e3",
    }[table]
    with pytest.raises(SceneError, match="a name is one line"):
        scene_of(HARD_WALLS + f'\n[{table}."a\\u202eb"]\n{inside}\n')

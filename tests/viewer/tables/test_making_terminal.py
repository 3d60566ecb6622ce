"""The cut list at the terminal."""

import io

import pytest
from rich.console import Console

from raytrace import Treatment, build_room
from tests.support.panelled import BOX_ROOM, cloud, panel, scene_text
from tests.support.scenes import SCENES
from viewer.cli import run
from viewer.tables.making_terminal import making_tables


@pytest.mark.parametrize("form", [[], ["--json"], ["--csv"]])
def test_a_scene_without_panels_is_refused_as_drawings_refuse_it(capsys, tmp_path, form):
    scene = str(SCENES / "box.toml")
    assert run(["cutlist", scene, *form]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert run(["drawings", scene, "--out", str(tmp_path / "out")]) == 2
    assert told.err == capsys.readouterr().err.replace("nothing to draw", "nothing to make")
    assert "hitspot propose" in told.err


def test_the_way_in_is_answered_in_words(scene_of):
    job = "[job]\naccess = [0.5, 0.5]\n"
    scene = scene_of(scene_text(job + panel(build="wool 100", gap=0.05) + cloud(), BOX_ROOM))
    console = Console(width=200, record=True, file=io.StringIO())
    console.print(making_tables(Treatment(scene, build_room(scene)), units="imperial"))
    text = console.export_text()
    assert "does not go through the stated way in" in text
    # 1240 x 640 x 100 mm in eighths of an inch.
    assert '4\' 7/8" x 2\' 1 1/4" x 3 7/8"' in text
    assert " lb" in text
    assert " kg " not in text.partition("Note:")[0]

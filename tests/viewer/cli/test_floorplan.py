"""`clean` makes a scene of a floor plan."""

import io
import json

import ezdxf
import pytest

from raytrace import build_room, load_scene
from viewer.cli.main import run


@pytest.fixture
def plan(tmp_path):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    document.modelspace().add_lwpolyline([(0, 0), (4200, 0), (4200, 3000), (0, 3000)], close=True)
    stream = io.StringIO()
    document.write(stream)
    path = tmp_path / "plan.dxf"
    path.write_text(stream.getvalue())
    return path


def test_an_outline_and_a_height_become_a_scene(plan, tmp_path, capsys):
    out = tmp_path / "room.toml"
    assert run(["clean", str(plan), "--out", str(out), "--height", "2400 mm", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["unit"], told["shape"]) == ("mm", "box")
    assert told == json.loads((tmp_path / "room-import.json").read_text())
    assert build_room(load_scene(out)).volume_m3 == pytest.approx(4.2 * 3.0 * 2.4)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ([], "--height"),
        (["--height", "2400"], "has no unit"),
        (["--height", "24 mm"], "--height must lie between"),
        (["--height", "2.4 m", "--layer", "WALLS"], 'no closed outline on a layer "WALLS"'),
        (["--height", "2.4 m", "--unit", "ft", "--picture", "{}/plan.png"], "--picture"),
    ],
)
def test_what_cannot_be_done_is_one_message_and_writes_nothing(plan, tmp_path, capsys, options, words):
    out = ["--out", str(tmp_path / "room.toml")]
    assert run(["clean", str(plan), *out, *(option.format(tmp_path) for option in options)]) == 2
    assert words in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["plan.dxf"]

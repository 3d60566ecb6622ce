"""The same scene gives the same bytes, whatever the process, the folder, the place and the day."""

import json

from tests.support.samebytes import SMALL_SCENE, write_outputs

COMMANDS = [
    ["drawings", "SCENE", "--out", "drawings"],
    ["page", "SCENE", "--order", "1", "--out", "page.html"],
    ["decay", "SCENE", "--rays", "640", "--json"],
]


def test_threads_folder_locale_time_zone_day_and_hash_seed_leave_no_trace(tmp_path):
    scene = tmp_path / "small.toml"
    scene.write_text(SMALL_SCENE, encoding="utf-8")
    one, two = (write_outputs(scene, tmp_path, kind, COMMANDS) for kind in (0, 1))
    drawn = {f"drawings/{name}" for name in ("drawings.pdf", "01-left-wall.dxf", ".hitspot")}
    assert drawn | {"page.html"} <= set(one)
    assert json.loads(one["decay SCENE --rays 640 --json"].removeprefix(b"0\n"))["decays"]
    assert sorted(one) == sorted(two)
    assert [name for name in one if one[name] != two[name]] == []

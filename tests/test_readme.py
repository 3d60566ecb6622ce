"""What the README shows runs."""

import re

import pytest

from raytrace import SceneError, load_scene, run_study
from tests.support.scenes import SCENES

README = (SCENES.parent / "README.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def packages(command):
    """What the apt-get lines of a shell command install."""
    lines = re.findall(r"apt-get install -y ([^;&\n]+)", command)
    return {name for line in lines for name in line.split()}


def test_the_test_command_brings_what_window_report_and_page_are_tested_with():
    first, second, *others = blocks("sh")
    window = next(packages(text) for text in others if "apt-get" in text)
    assert packages(first) | window <= packages(second)
    assert {"xvfb", "xauth", "poppler-utils", "chromium"} <= packages(second)


def test_continuous_integration_runs_the_commands_shown():
    script = (SCENES.parent / ".ci" / "run").read_text(encoding="utf-8")
    asked = re.findall(r'^run_from_readme (\d) "(.+)"$', script, re.MULTILINE)
    assert [number for number, _ in asked] == ["1", "2"]
    for number, words in asked:
        assert words in blocks("sh")[int(number) - 1]


def test_the_scene_file_it_explains_runs(scene_of):
    study = run_study(scene_of(blocks("toml")[0]), up_to_order=1)
    assert study.scene.title == "Box room"
    assert study.verdicts


def test_the_python_it_shows_runs(monkeypatch, capsys):
    monkeypatch.chdir(SCENES.parent)
    exec(compile(blocks("python")[0], "README.md", "exec"), {})
    assert len(capsys.readouterr().out.splitlines()) > 5


def test_the_mistake_it_shows_is_what_is_printed(scene_of):
    shown = re.search(r"```\nloft.toml(.*?)\n```", README, re.DOTALL)[1]
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    room = '[room]\nshape = "box"\nlength = 4.2\nheight = 2.4\n'
    rest = text[text.index("[surfaces]") :]
    with pytest.raises(SceneError) as problem:
        scene_of("\n" * 7 + room + 'widht = "3700 mm"\n' + rest, "loft.toml")
    assert str(problem.value).partition("loft.toml")[2] == shown


def test_every_scene_shape_is_in_the_table_and_every_picture_exists():
    for scene in SCENES.glob("*.toml"):
        assert f"| {load_scene(scene).room.shape} |" in README
    for picture in re.findall(r"!\[.*?\]\((.*?)\)", README):
        assert (SCENES.parent / picture).is_file(), picture

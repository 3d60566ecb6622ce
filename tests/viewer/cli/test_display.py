"""Whether a window can be opened is said in words before Qt starts."""

import os
import re
import subprocess
import sys
from pathlib import Path

from viewer.cli.display import NO_DISPLAY, NO_GL, begin_probe

ROOT = Path(__file__).parents[3]


def test_without_a_display_nothing_is_tried():
    probe = begin_probe({"PATH": os.environ["PATH"]}, "linux")
    assert probe.child is None
    assert probe.answer() == NO_DISPLAY


def test_view_without_a_display_says_so_and_ends_with_2():
    clean = {
        k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    }
    done = subprocess.run(
        [sys.executable, "-m", "viewer.cli", "view", "scenes/box.toml"],
        cwd=ROOT,
        env=clean,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    assert "there is no display" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_display_that_does_not_answer_names_the_packages():
    environment = {**os.environ, "DISPLAY": ":4095", "QT_QPA_PLATFORM": "xcb"}
    environment.pop("WAYLAND_DISPLAY", None)
    answer = begin_probe(environment, "linux").answer()
    assert "libxcb-cursor0" in answer


def test_the_packages_named_are_those_of_the_readme():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    told = re.search(r"It needs a display.*?```sh\nsudo apt-get install -y (.*?)\n```", readme, re.DOTALL)[1]
    named = re.findall(r"\blib[\w.-]*\w", NO_GL)
    assert len(named) > 5
    assert set(named) <= set(told.split())

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.support.scenes import SCENES
from viewer.cli.ending import INTERRUPTED
from viewer.cli.main import USER_MISTAKE, app, run

BOX = str(SCENES / "box.toml")


@pytest.mark.parametrize(
    ("tokens", "words"),
    [
        (["arrivls", BOX], "arrivls"),
        (["arrivals"], "scene"),
        (["arrivals", "no-such.toml"], "no-such.toml"),
        (["arrivals", BOX, "--order", "many"], "order"),
        (["arrivals", BOX, "--order", "0"], "--order must be 1 or more"),
        (["arrivals", BOX, "--until", "-3"], "--until"),
        (["arrivals", BOX, "--order", "1000000"], "--order must be 100 or less, not 1000000"),
        (["arrivals", BOX, "--order", "1.5"], '"1.5" is not a whole number'),
        (
            ["arrivals", BOX, "--until", "500", "--order", "30"],
            "about 75762 reflections; accepted: up to 20000",
        ),
        (["report", BOX, "--until", "500", "--order", "30"], "the most that fits: --order 19 or --until 104"),
        (["propose", BOX, "--until", "500", "--order", "30"], "the most that fits"),
        (["propose", BOX, "--panels", "1.5"], '"1.5" is not a whole number'),
        (["propose", BOX, "--panels", "9" * 5000], "a number of 5000 digits; accepted: up to 18"),
        (["propose", BOX, "--panels", "9" * 20], "a number of 20 digits; accepted: up to 18"),
        (["propose", BOX, "--budget", "inf"], "--budget must be 0 or more, and a number"),
        (["decay", BOX, "--rays", "1e5"], '"1e5" is not a whole number'),
        (["builds", "--gap", "9" * 400], "is not a length: 400 characters"),
        (["builds", "--gap", "9" * 5000 + " mm"], "is not a length: 5003 characters"),
        (["stills", BOX, "--size", "8000x8000"], "64.0 million pixels; accepted: up to 24 million"),
        (["report", BOX, "--size", "8000x4000"], "the most that fits: 6928x3464"),
        (["stills", BOX, "--size", "9" * 5000 + "x300"], "2400x1600"),
        (["arrivals", BOX, "--seat", "sofa"], '"mix"'),
        (["arrivals", BOX, "--speaker", "centre"], '"left", "right"'),
        (["arrivals", BOX, "--json", "--csv"], "exclude"),
        (["arrivals", BOX, "--units", "cubits"], "metric"),
        (["stills", BOX, "--size", "big"], "2400x1600"),
        (["report", BOX, "--propose", "--order", "0"], "--order must be 1 or more"),
        (["page", BOX, "--against", "bare"], "holds no panels"),
        (["page", BOX, "--out", "no-such-folder/page.html"], "not a folder"),
        (["stills", BOX, "--size", "20x20"], "300"),
        (["stills", BOX, "--size", "8000x300"], "three times"),
        (["report", BOX, "--size", "300x901"], "three times"),
        (["new", "room.txt"], ".toml"),
        (["clean", str(SCENES / "scan.obj"), "--out", "/"], ".toml"),
        (["new", f"{'n' * 300}.toml", "--shape", "box"], f"{'n' * 300}.toml: "),
        (["sweep", "--out", f"{'n' * 300}.wav"], f"{'n' * 300}.wav: "),
        (["export", BOX, "--to", f"{'n' * 300}.glb"], f"{'n' * 300}.glb: "),
        (["new", BOX], "exists already"),
        (["new", "no-such-folder/room.toml", "--shape", "box"], "not a folder"),
        (["new", "room.toml", "--shape", "dome"], "dome"),
        (["new", "room.toml", "--shape", "box", "--lenght", "4"], "--length"),
        (["new", "room.toml", "--shape", "box", "--length", "4,2"], "--length"),
        (["new", "room.toml", "--shape", "box", "--length", "9" * 400], "--length"),
        (["new", "room.toml", "--shape", "box", "--length", "9" * 5000 + " mm"], "--length"),
    ],
    ids=lambda value: " ".join(value)[:40] if isinstance(value, list) else None,
)
def test_a_users_mistake_is_one_message_and_exit_code_2(tmp_path, monkeypatch, capsys, tokens, words):
    monkeypatch.chdir(tmp_path)
    assert run(tokens) == USER_MISTAKE
    streams = capsys.readouterr()
    assert streams.out == ""
    assert words in streams.err
    assert "Traceback" not in streams.err
    assert list(tmp_path.iterdir()) == []


def test_help_offers_no_option_that_no_command_means(capsys):
    assert run(["propose", "--help"]) == 0
    text = capsys.readouterr().out
    assert "--seat" in text
    assert "--empty" not in text
    assert "--no-" not in text


def test_help_names_every_command(capsys):
    assert run(["--help"]) == 0
    out = capsys.readouterr().out
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    commands = [name for name in app if not name.startswith("-")]
    assert len(commands) > 10
    for command in commands:
        assert f" {command} " in out
        assert f"hitspot {command} " in readme


def test_an_interrupt_is_said_in_one_line(monkeypatch, capsys):
    def interrupted(*_args, **_kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr("raytrace.run_study", interrupted)
    assert run(["arrivals", BOX]) == INTERRUPTED
    assert capsys.readouterr().err.strip().endswith("what was not complete was not written.")


# Rounds without Python's lock, as in our kernels, and other threads that are waited for on the way out.
COMPILED = "hashlib.pbkdf2_hmac('sha256', b'', b'', 2_000_000_000)"
WAITING = "futures.ThreadPoolExecutor().__enter__().submit(time.sleep, 60).result()"

# A library calls back and loses what is raised in there.
LOST = f"ctypes.CFUNCTYPE(None)(lambda: time.sleep(60))(); {COMPILED}"


@pytest.mark.parametrize("work", [COMPILED, WAITING, LOST])
def test_an_interrupt_need_not_wait_for_what_takes_a_minute(work):
    program = (
        "import ctypes, hashlib, signal, sys, time\n"
        "from concurrent import futures\n"
        "import raytrace, viewer.cli\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # what runs in the background ignores it
        "def run_study(*_args, **_options):\n"
        "    print('began', flush=True)\n"
        f"    {work}\n"
        "raytrace.run_study = run_study\n"
        f"sys.argv[1:] = ['arrivals', {BOX!r}]\n"
        "viewer.cli.main()\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", program],
        cwd=SCENES.parent,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert child.stdout.readline() == "began\n"
        time.sleep(0.2)  # until it is in there: nothing tells
        child.send_signal(signal.SIGINT)
        _, said = child.communicate(timeout=30)
    finally:
        child.kill()
    assert child.returncode == INTERRUPTED
    assert said.strip() == "Interrupted; what was not complete was not written."


def test_a_pipe_closed_early_is_no_error():
    command = f"{sys.executable} -m viewer.cli arrivals {BOX} --json | head -c 10"
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {command}"],
        capture_output=True,
        text=True,
        check=False,
        cwd=SCENES.parent,
    )
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr


def test_the_installed_command_is_on_the_path():
    command = Path(sys.executable).parent / "hitspot"
    done = subprocess.run([command, "--version"], capture_output=True, text=True, check=True)
    from importlib.metadata import version

    assert done.stdout.strip() == version("hitspot")

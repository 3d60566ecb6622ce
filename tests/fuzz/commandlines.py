"""Commands with options, values and files that mostly do not fit."""

import contextlib
import shutil

import numpy as np

from tests.fuzz.scenetexts import HOSTILE, NUMBERS, called
from tests.support.scenes import SCENES
from tests.support.soundfiles import pulses, write_wav
from viewer.cli.main import app

_WORDS = """
    metric imperial mix left bare json client A4 Letter mm m z y plasterboard box desk 1 2 100 0.5 8_panels
    left= =x left@mix=none.wav left=none.wav:2 left@nobody=none.wav tcp://0.0.0.0:1 front_wall
"""
# What each command takes, as it says itself: a new option is tried without a word here.
OPTIONS = {
    command: sorted(
        name
        for argument in app[command].assemble_argument_collection()
        for name in argument.names
        if name.startswith("--")
    )
    for command in app
    if not command.startswith("-")
}
EVERY = sorted({option for own in OPTIONS.values() for option in own} | {"--help", "--format"})
WORDS = [word.replace("_", " ") for word in _WORDS.split()]
# A whole run is what the other tests are for: here it must be refused before it begins, or be short.
SHORT = ("check", "materials", "builds", "cutlist", "sweep", "clean", "export", "compare")
LONG = tuple(sorted(OPTIONS.keys() - {*SHORT, "view"}))


def given_files(folder):
    """Files to name: a response, silence, and what is none of what its name says."""
    if not (folder / "left.wav").exists():
        write_wav(folder / "left.wav", pulses([0.0, 0.004], [1.0, 0.4]))
        write_wav(folder / "quiet.wav", np.full(4800, 1e-9))
        for name in ("junk.wav", "junk.obj", "junk.glb", "junk.toml", "junk.jsonl"):
            (folder / name).write_bytes(b"\x00\xffjunk = [")
        shutil.copy(SCENES / "half-slope.obj", folder)  # a command may replace what it finds there
    own = [str(path) for path in sorted(folder.iterdir())]
    made = [
        str(folder / name) for name in ("new.toml", "x.wav", "x.glb", "x.csv", "x.png", "x.svg", "none.toml")
    ]
    return [*own, *made, str(folder), str(folder / "no" / "x.toml")]


def command_lines(random, folder):
    """One command line."""
    files = given_files(folder)
    command = random.choice((*SHORT, *LONG))
    words = []
    for _ in range(random.randrange(5)):
        words.append(random.choice(OPTIONS[command] if random.random() < 0.7 else EVERY))
        if random.random() < 0.7:
            value = random.choice((*NUMBERS, *HOSTILE[:20], *WORDS, *files, *files))
            if words[-1] in ("--measured", "--after") and random.random() < 0.7:
                value = f"left={value}"
            words.append(value)
    if command == "sweep" and random.random() < 0.7:
        words += ["--out", random.choice(files)]
    if command == "export" and random.random() < 0.7:
        words += ["--to", random.choice(files)]
    if command == "compare" and random.random() < 0.7:
        words += [
            "--order",
            "1",
            "--measured",
            f"left={folder / random.choice(('left', 'quiet', 'junk'))}.wav",
        ]
    if command == "new":
        words.insert(0, str(folder / "sketch.toml"))
        (folder / "sketch.toml").unlink(missing_ok=True)
    elif random.random() < 0.6:
        scene = str(SCENES / "box.toml") if command in SHORT else str(folder / "none.toml")
        if command == "clean":
            scene = random.choice(files)
        words.insert(
            0, random.choice((scene, scene, str(folder), "", "no\x1b[1m.toml", random.choice(files)))
        )
    with contextlib.chdir(folder):  # where what is not named goes
        return called([command, *(word.replace(chr(0), "") for word in words)])

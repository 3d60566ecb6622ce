"""All outputs of every shipped scene twice, in processes that differ in all that must not matter.

`python -m tests.bench.same_bytes [SCENE ...] [--only COMMAND ...]`; a line for each scene, exit code 1 if any
file differs. All commands of one scene take some minutes.
"""

import sys
import tempfile
from pathlib import Path

from raytrace import load_scene
from tests.support.samebytes import write_outputs
from tests.support.scans import Rough, gable_room, obj_text, scan_of
from tests.support.scenes import SCENES
from tests.support.soundfiles import pulses, write_wav

COMMANDS = [
    ["report", "SCENE", "--out", "report", "--size", "600x400", "--bass"],
    ["drawings", "SCENE", "--out", "drawings"],
    ["arrivals", "SCENE", "--json"],
    ["arrivals", "SCENE", "--csv"],
    ["check", "SCENE"],
    ["decay", "SCENE", "--json"],
    ["bass", "SCENE", "--json", "--picture", "bass.svg"],
    ["aim", "SCENE", "--json", "--plan", "plan.pdf", "--skip-desk"],
    ["cutlist", "SCENE", "--json"],
    ["film", "SCENE", "--order", "1", "--until", "5", "--out", "film.webp"],
    ["survey", "SCENE", "--json"],
    *(["export", "SCENE", "--to", f"room{suffix}"] for suffix in (".glb", ".obj", ".ply", ".csv")),
    ["compare", "SCENE", "--measured", "SPEAKER=GIVEN/left.wav", "--order", "1", "--out", "tables"],
    ["seats", "SCENE", "--step", "2 m", "--best", "1", "--write", "seat.toml", "--picture", "seats.svg"],
    ["propose", "SCENE", "--panels", "1", "--order", "1", "--panels-only", "--out", "proposed.toml"],
]
# What has nothing to do with a scene is written once, beside the first one.
ALONE = [
    ["sweep", "--seconds", "2", "--out", "sweep.wav"],
    ["clean", "GIVEN/scan.obj", "--out", "scan.toml", "--picture", "scan.png"],
    ["new", "sketch.toml", "--shape", "gable"],
    ["materials", "--json"],
    ["builds", "--json"],
]


def give(ground: Path) -> Path:
    """What the commands read beside the scene."""
    write_wav(ground / "left.wav", pulses([0.0, 0.004, 0.007], [1.0, 0.4, 0.3]))
    scan = scan_of(gable_room(4.2, 3.0, eaves=2.0, ridge=2.9), Rough(edge=0.3))
    (ground / "scan.obj").write_text(obj_text(*scan), encoding="utf-8")
    return ground


def parted(words: list[str]) -> tuple[list[str], list[str]]:
    """Scenes and commands that are asked for."""
    at = words.index("--only") if "--only" in words else len(words)
    return words[:at], words[at + 1 :]


def main() -> int:
    """Print what differs."""
    names, only = parted(sys.argv[1:])
    names = names or sorted(path.stem for path in SCENES.glob("*.toml"))
    is_same = True
    for name in names:
        scene = SCENES / f"{name}.toml"
        speaker = load_scene(scene).speakers[0].name
        commands = [[word.replace("SPEAKER", speaker) for word in command] for command in COMMANDS]
        commands += ALONE if name == names[0] else []
        commands = [command for command in commands if not only or command[0] in only]
        with tempfile.TemporaryDirectory() as place:
            ground = give(Path(place))
            one, two = (write_outputs(scene, ground, kind, commands) for kind in (0, 1))
        differing = sorted(file for file in one.keys() | two.keys() if one.get(file) != two.get(file))
        print(f"{name:<14} {len(one)} outputs, {len(differing)} differ", *differing, flush=True)
        is_same &= not differing
    return 0 if is_same else 1


if __name__ == "__main__":
    sys.exit(main())

"""Whether two checkouts of the program write the same bytes for every scene that is shipped.

    python -m tests.bench.compare_outputs OTHER_CHECKOUT [KEPT_FOLDER]

runs each command that writes tables or drawings in both checkouts, each in processes of its own, and lists
the files that differ. A refactoring lists none. With a folder named, what the other checkout wrote is kept
there and not written anew at the next run.
"""

import filecmp
import os
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parents[2]
RUN = "import sys; from viewer.cli import main; sys.argv[0] = 'hitspot'; main()"

#: What each scene is asked: the name of the file its output goes to, or a folder with --out.
QUESTIONS = {
    "check.txt": ["check"],
    "arrivals.json": ["arrivals", "--json"],
    "arrivals.csv": ["arrivals", "--csv"],
    "arrivals.txt": ["arrivals"],
    "arrivals-imperial.txt": ["arrivals", "--units", "imperial"],
    "decay.json": ["decay", "--json"],
    "decay.txt": ["decay"],
    "bass.json": ["bass", "--json"],
    "bass.txt": ["bass"],
    "cutlist.json": ["cutlist", "--json"],
    "cutlist.csv": ["cutlist", "--csv"],
    "cutlist.txt": ["cutlist"],
    "cutlist-imperial.txt": ["cutlist", "--units", "imperial"],
    "drawings": ["drawings", "--out"],
    "page": ["page", "--out"],
}
#: Outputs of scenes with panels only.
WITH_PANELS = ("cutlist", "drawings")
PROPOSED = ("box", "garage", "ridge", "beams")


def ask(checkout: Path, scene: Path, target: Path, words: list[str]) -> None:
    """One command in a process of its own; what it prints, and its exit code, goes into `target`."""
    command = [words[0], str(scene), *words[1:]]
    if words[-1] == "--out":
        command.append(str(target) + ".html" if words[0] == "page" else str(target))
    done = subprocess.run(
        [sys.executable, "-c", RUN, *command],
        cwd=target.parent,
        env={**os.environ, "PYTHONPATH": str(checkout), "COLUMNS": "120"},
        capture_output=True,
        text=True,
        check=False,
    )
    if words[-1] != "--out":
        target.write_text(f"{done.stdout}{done.stderr}exit {done.returncode}\n", encoding="utf-8")
    elif done.returncode:
        target.with_name(target.name + ".failed").write_text(done.stdout + done.stderr, encoding="utf-8")


def write_all(checkout: Path, folder: Path) -> None:
    """Everything asked of every scene; proposals first, so that scenes with panels are among them."""
    for scene in sorted((HERE / "scenes").glob("*.toml")):
        place = folder / scene.stem
        place.mkdir(parents=True, exist_ok=True)
        text = scene.read_text(encoding="utf-8")
        scenes = {"": scene}
        if scene.stem in PROPOSED:
            proposed = place / f"{scene.stem}-proposed.toml"
            ask(checkout, scene, place / "propose.txt", ["propose", "--out", str(proposed)])
            scenes["proposed-"] = proposed
        for prefix, asked in scenes.items():
            panels = prefix or "[[panels]]" in text or "[[clouds]]" in text
            for name, words in QUESTIONS.items():
                if panels or not name.startswith(WITH_PANELS):
                    ask(checkout, asked, place / (prefix + name), words)
        print(place, flush=True)


def differences(old: Path, new: Path) -> list[str]:
    """Names of files that are in one folder only or differ."""
    names = {p.relative_to(root) for root in (old, new) for p in root.rglob("*") if p.is_file()}
    return sorted(
        str(name)
        for name in names
        if not ((old / name).exists() and (new / name).exists())
        or not filecmp.cmp(old / name, new / name, shallow=False)
    )


def main() -> None:
    """Write, compare, list."""
    other = Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as scratch:
        old = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(scratch) / "run"
        if not old.exists():
            write_all(other, old)
        # The same folder name for both: outputs name the files they were asked to write.
        kept = old.rename(Path(scratch) / "old")
        try:
            write_all(HERE, old)
            changed = differences(kept, old)
            old.rename(Path(scratch) / "new")
        finally:
            kept.rename(old) if len(sys.argv) > 2 else None
    print("the same bytes" if not changed else "\n".join(changed))
    sys.exit(bool(changed))


if __name__ == "__main__":
    main()

"""What is thrown at hitspot: each campaign makes one case from a random generator and tries it.

A case that ends as it may (a result, or a refusal in words) returns its kind; anything else raises.
"""

import contextlib
import io
import re
import tomllib
from pathlib import Path

import numpy as np
import soundfile

from raytrace import QUESTIONS, AnswerError, SceneError, Tape, build_room, load_scene, sketch_scene
from raytrace.measured import RecordingError, read_recording
from raytrace.scene.edits import move_in_text, place_of, set_in_text
from tests.bench.bench_growth import drum, loose
from tests.support.scenes import SCENES
from tests.support.soundfiles import pulses
from viewer.cli import run

TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in sorted(SCENES.glob("*.toml"))}
MESH = (SCENES / "half-slope.obj").read_text(encoding="utf-8")
HOSTILE = (
    *(
        "",
        " ",
        "\t",
        "a\nb",
        "\x1b[31m",
        "\u202eabc",
        "[/]",
        "[b]x",
        "%%d",
        r"\U+0041",
        "<b>&amp;",
        "]]>",
        "-->",
    ),
    *(
        "=1+1",
        "@x",
        "../../up",
        "/etc/x",
        "CON",
        "a" * 300,
        "壁",
        "é",
        "e\u0301",
        "\ud7ff",
        "\U0001f600",
        "\\",
        '"',
    ),
)
NUMBERS = (
    *(
        "0",
        "-0.0",
        "-1",
        "1e308",
        "1e-308",
        "inf",
        "-inf",
        "nan",
        "1e400",
        "9" * 400,
        "0x10",
        "0.5",
        "2.4",
        "3",
    ),
    *(
        '"1200 mm"',
        '"8\' 6 1/2\\""',
        '"1/0 in"',
        '"1e5 m"',
        '"-3 m"',
        '"12,5 cm"',
        "true",
        "[]",
        "{}",
        "[1, 2, 3]",
    ),
)
LINES = re.compile(r"(?m)^.*$")


def text_line(random, text):
    """A line of a text, as its start and end."""
    return random.choice([found.span() for found in LINES.finditer(text)])


def mutated(random, text):
    """A text changed in one of the ways in which files go wrong."""
    start, end = text_line(random, text)
    line, other = text[start:end], text[slice(*text_line(random, text))]
    name, _, value = line.partition("=")
    at = random.randrange(len(text) + 1)
    number, word = random.choice(NUMBERS), random.choice(HOSTILE)
    ways = [
        lambda: text[:start] + text[end + 1 :],
        lambda: text[:start] + line + "\n" + text[start:],
        lambda: text[:start] + other + text[end:],
        lambda: text[:at] + random.choice("\x00\r\"'[]{}=,.#\\ -9e\u2028é") + text[at:],
        lambda: text[:at] + text[at + random.randrange(1, 9) :],
        lambda: text[:at],
        lambda: text[:start] + re.sub(r"-?\d+(\.\d+)?", number, line, count=1) + text[end:],
        lambda: text[:start] + re.sub(r'"[^"]*"', number, line, count=1) + text[end:],
        lambda: text[:start] + f'{name}= "{word}"' + text[end:],
        lambda: text[:start] + f"{name}= {number}" + text[end:],
        lambda: text[:start] + line.replace(name.strip(), word or "x", 1) + text[end:] if value else text,
        lambda: text[:start] + re.sub(r"\d", lambda _: str(random.randrange(10)), line) + text[end:],
    ]
    return random.choice(ways)()


def tried(path, text=None):
    """Read and build a scene."""
    try:
        build_room(load_scene(path, text))
    except SceneError as problem:
        return "refused" if str(problem).strip() else problem
    return "built"


def scene_texts(random, folder):
    """Shipped scenes with one to six changes; one of twenty that builds is checked and cut as well."""
    name = random.choice(list(TEXTS))
    text = TEXTS[name]
    for _ in range(random.randint(1, 6)):
        text = mutated(random, text) or "x"
    found = tried(SCENES / f"{name}.toml", text)
    if found == "built" and random.random() < 0.05:
        path = folder / f"{name}.toml"
        path.write_text(text.replace("half-slope.obj", str(SCENES / "half-slope.obj")), encoding="utf-8")
        for command in ("check", "cutlist"):
            called([command, str(path)])
    return found


def value(random, depth=0):
    """A random TOML value."""
    kind = random.randrange(9 if depth < 3 else 6)
    if kind < 3:
        return random.choice(NUMBERS)
    if kind < 4:
        return f"{random.uniform(-1.0, 9.0):.3f}"
    if kind < 6:
        return '"' + re.sub(r'[\x00-\x1f"\\]', "", random.choice(HOSTILE)) + '"'
    inner = [value(random, depth + 1) for _ in range(random.randrange(4))]
    return (
        "[" + ", ".join(inner) + "]"
        if kind < 8
        else "{" + ", ".join(f"k{i} = {v}" for i, v in enumerate(inner)) + "}"
    )


KEYS = sorted({found for text in TEXTS.values() for found in re.findall(r"(?m)^([a-z_]+) =", text)})
TABLES = sorted({found for text in TEXTS.values() for found in re.findall(r"(?m)^\[+[^\]]+\]+$", text)})


def scene_grammar(random, folder):
    """Scenes put together from the keys and tables there are, any values, in a sound room."""
    lines = ['title = "x"'] if random.random() < 0.5 else []
    base = TEXTS["box"] if random.random() < 0.7 else ""
    for _ in range(random.randrange(1, 5)):
        lines.append(random.choice(TABLES))
        lines += [f"{random.choice(KEYS)} = {value(random)}" for _ in range(random.randrange(5))]
    return tried(folder / "grammar.toml", base + "\n" + "\n".join(lines) + "\n")


def meshes(random, folder):
    """OBJ files with corners moved, lines lost, doubled or changed, in a room and in an object."""
    made = random.randrange(4)
    text = MESH if made < 2 else drum(random.randrange(5, 40)) if made < 3 else loose(random.randrange(6, 30))
    lines = text.splitlines()
    for _ in range(random.randrange(1, 9)):
        k = random.randrange(len(lines))
        words = lines[k].split()
        way = random.randrange(6)
        if way == 0:
            del lines[k]
            lines = lines or ["v 0 0 0"]
        elif way == 1:
            lines.insert(random.randrange(len(lines)), lines[k])
        elif way == 2 and words and words[0] == "f":
            random.shuffle(words)
            lines[k] = "f " + " ".join(word for word in words if word != "f")
        elif way == 3 and words:
            words[random.randrange(len(words))] = random.choice(
                ("0", "-1", "1e9", "nan", "x", "1//1", "9" * 30)
            )
            lines[k] = " ".join(words)
        elif words and words[0] == "v" and len(words) == 4:
            step = random.choice((1e-5, 1e-3, 0.01, 0.3, 3.0))
            with contextlib.suppress(ValueError):
                lines[k] = "v " + " ".join(
                    f"{float(word) + random.gauss(0.0, step):.6f}" for word in words[1:]
                )
    (folder / "mesh.obj").write_text("\n".join(lines) + "\n", encoding="utf-8")
    if random.random() < 0.5:
        room = re.sub(r"(?s)\[room\].*?\n\n", "", TEXTS["box"].replace("floor = ", "# "), count=1)
        room = re.sub(r"(?s)\[\[openings\]\].*?(?=\[\[speakers)", "", room)
        room = re.sub(r"(?s)\[\[joists\]\].*", "", room)
        text = room + '\n[room]\nshape = "mesh"\nfile = "mesh.obj"\nunit = "m"\nup = "z"\n'
    else:
        text = TEXTS["box"] + (
            '\n[[objects]]\nname = "thing"\nshape = "mesh"\nfile = "mesh.obj"\nunit = "cm"\nup = "z"\n'
            'material = "plasterboard"\nmove = [2.5, 0.5, 0.0]\n'
        )
    return tried(folder / "mesh.toml", text)


def called(tokens):
    """Run a command line in this process, its output kept from the terminal; the exit code."""
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()) as said:
        code = run(tokens)
    assert code in (0, 2), f"exit code {code}: {said.getvalue()[-500:]}"
    assert "Traceback" not in said.getvalue()
    return "done" if code == 0 else "refused"


OPTIONS = (
    *(
        "--order",
        "--until",
        "--seat",
        "--speaker",
        "--json",
        "--csv",
        "--units",
        "--against",
        "--all",
        "--out",
    ),
    *(
        "--size",
        "--panels",
        "--rays",
        "--gap",
        "--help",
        "--build",
        "--format",
        "--scene",
        "--replace",
        "--stock",
    ),
)
QUICK = (
    "check",
    "arrivals",
    "materials",
    "builds",
    "cutlist",
    "new",
    "drawings",
    "stills",
    "report",
    "page",
    "decay",
)


def command_lines(random, folder):
    """Commands with options, values and files that mostly do not fit."""
    box, words = str(SCENES / "box.toml"), [random.choice(QUICK)]
    for _ in range(random.randrange(5)):
        words.append(random.choice(OPTIONS))
        if random.random() < 0.7:
            words.append(
                random.choice((*NUMBERS, *HOSTILE[:20], "metric", "imperial", "mix", "left", "bare", "json"))
            )
    if random.random() < 0.6:
        # A whole run is what the other tests are for: here it must be refused before it begins.
        place = box if words[0] in ("check", "materials", "builds", "cutlist") else str(folder / "none.toml")
        words.insert(1, random.choice((place, str(folder), "", "no\x1b[1m.toml")))
    if words[0] == "new":
        words[1:2] = [str(folder / "new.toml")]
        (folder / "new.toml").unlink(missing_ok=True)
    return called([word.replace("\x00", "") for word in words])


def sketch_answers(random, folder):
    """Answers of a tape sketch: suggestions, lengths that do not fit, and what is no answer."""
    shape = random.choice(list(QUESTIONS))
    answers = {}
    for question in QUESTIONS[shape]:
        way = random.randrange(60)
        if way == 0:
            answers[question.key] = random.choice((*HOSTILE, *NUMBERS))
        elif way < 20:
            answers[question.key] = question.example
        elif way == 20:
            answers[question.key] = f"{random.uniform(-1.0, 12.0):.2f}"
        elif way == 21:
            answers[question.key] = re.sub(r"\d", lambda _: str(random.randrange(10)), str(question.example))
    try:
        text = sketch_scene(shape, answers, title=random.choice(HOSTILE), tape=random.choice(list(Tape)))
    except AnswerError:
        return "refused"
    assert tried(folder / "sketch.toml", text) == "built", "a sketch was written that is no room"
    return "built"


def restyled(random, text):
    """The same scene written by another hand: spaces, quotes, lists over lines, comments, line ends."""
    lines = text.splitlines()
    for k, line in enumerate(lines):
        way = random.randrange(8)
        if way == 0 and " = " in line:
            lines[k] = line.replace(" = ", random.choice(("=", "  =\t", " =   ")), 1)
        elif way == 1 and line and not line.startswith("#"):
            lines[k] = line + random.choice(("  # a note", "\t#x = 1", " "))
        elif way == 2 and re.fullmatch(r'\w+ = "[^"\\\']*"', line):
            lines[k] = line.replace('"', "'")
        elif way == 3 and re.fullmatch(r"\w+ = \[[^\[\]#]*\]", line):
            lines[k] = line.replace("[", "[\n  ").replace(",", ", # here\n ").replace("]", ",\n]")
        elif way == 4 and (key := re.match(r"(\w+) =", line)):
            lines[k] = line.replace(key[1], f'"{key[1]}"', 1)
        elif way == 5:
            lines[k] = line + "\n"
    end = random.choice(("\n", "\r\n"))
    return random.choice(("", "\ufeff")) + end.join("\n".join(lines).split("\n")) + random.choice(("", end))


def parsed(text):
    return tomllib.loads(text.removeprefix("\ufeff"))


def at_key(document, key):
    for part in key:
        document = document[part]
    return document


def edits(random, _):
    """Places moved and values set in scenes of any style: only they change, whatever else is there."""
    text = restyled(random, random.choice(list(TEXTS.values())))
    document = parsed(text)
    kind = random.choice(
        [k for k in ("speakers", "seats", "objects", "panels", "stands", "clouds") if k in document]
    )
    index = random.randrange(len(document[kind]))
    if random.random() < 0.6:
        before = place_of(text, kind, index)
        wanted = [round(x + random.choice((0.0, 0.123, -0.05, 1.0)), 3) for x in before]
        after = move_in_text(text, kind, index, wanted)
        found = place_of(after, kind, index)
        # A hand writes to the millimetre, in feet and inches to 1/32 inch.
        assert all(abs(a - b) <= 1e-3 for a, b in zip(found, wanted, strict=True)), (before, wanted, found)
        changed = {kind}
    else:
        key, new = random.choice(
            [
                (("title",), random.choice(HOSTILE)),
                ((kind, index, "name"), "other"),
                (("air", "temperature"), 25.0),
            ]
        )
        if "\ud7ff" in str(new):
            return "skipped"
        after = set_in_text(text, key, new)
        assert at_key(parsed(after), key) == new
        changed = {key[0]}
    rest = parsed(after)
    assert {k: v for k, v in rest.items() if k not in changed} == {
        k: v for k, v in document.items() if k not in changed
    }
    assert after.count("#") == text.count("#") or "#" in str(rest.get("title"))
    return "edited"


def hostile_names(random, folder):
    """A scene with hostile names in every field, through every quick output."""
    text = TEXTS["treated-box"]

    def named(found):
        word = random.choice(HOSTILE).replace("\ud7ff", "").replace("\n", " ").replace("\t", " ")
        word = re.sub(r"[\x00-\x1f]", "", word).replace("\\", "\\\\").replace('"', '\\"')
        return f'{found[1]} = "{word}{random.randrange(99)}"' if random.random() < 0.6 else found[0]

    text = re.sub(r'(?m)^(title|name|client|place|purpose|author|surveyed_by|reason) = "[^"]*"', named, text)
    path = folder / "names.toml"
    path.write_text(text, encoding="utf-8")
    kinds = [called([*words, str(path)]) for words in (["check"], ["cutlist"], ["cutlist", "--csv"])]
    if random.random() < 0.1:
        kinds.append(called(["drawings", str(path), "--out", str(folder / "drawn")]))
        kinds.append(called(["page", str(path), "--order", "1", "--out", str(folder / "page.html")]))
    return max(kinds)


SOUNDS: dict[str, bytes] = {}


def sounds():
    """Short sound files of several forms, made once."""
    if not SOUNDS:
        for name, form in (
            ("pcm16.wav", {"format": "WAV", "subtype": "PCM_16"}),
            ("float.wav", {"format": "WAV", "subtype": "FLOAT"}),
            ("wide.wav", {"format": "WAVEX", "subtype": "PCM_24"}),
            ("a.flac", {"format": "FLAC", "subtype": "PCM_16"}),
            ("a.aiff", {"format": "AIFF", "subtype": "PCM_16"}),
        ):
            file = io.BytesIO()
            soundfile.write(file, pulses([0.0, 0.004], [1.0, 0.4], lasts_s=0.1), 48_000, **form)
            SOUNDS[name] = file.getvalue()
    return SOUNDS


def sound_file(random, folder):
    """A sound file whose head, or whatever else of it, is not as it was written."""
    name = random.choice(list(sounds()))
    content = bytearray(sounds()[name])
    for _ in range(random.randrange(1, 6)):
        at = random.randrange(min(len(content), random.choice((44, 64, 200, len(content)))))
        way = random.randrange(4)
        if way == 0:
            content[at] = random.randrange(256)
        elif way == 1:
            content[at : at + 4] = random.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 0x80000000)).to_bytes(
                4, "little"
            )
        elif way == 2:
            del content[at : at + random.randrange(1, 40)]
        else:
            content[at:at] = random.randbytes(random.randrange(1, 40))
        if not content:
            break
    path = folder / name
    path.write_bytes(content)
    try:
        read = read_recording(path, channel=random.choice((None, 1)), whole=random.random() < 0.3)
    except RecordingError as problem:
        return "refused" if "\n" not in str(problem) else problem
    assert np.isfinite(read.samples).all()
    return "read"


CAMPAIGNS = {
    "scene texts": scene_texts,
    "scene grammar": scene_grammar,
    "meshes": meshes,
    "command lines": command_lines,
    "sketch answers": sketch_answers,
    "edits": edits,
    "hostile names": hostile_names,
    "sound files": sound_file,
}


def written_elsewhere(before, ground: Path, folder: Path) -> list[Path]:
    """Files below `ground`, but not in `folder`, that were not there before."""
    return sorted(path for path in set(ground.rglob("*")) - before if folder not in (path, *path.parents))

"""Scene texts gone wrong: shipped ones with changes, and what other campaigns throw in."""

import contextlib
import io
import re

from raytrace import SceneError, build_room, load_scene
from tests.support.scenes import SCENES
from viewer.cli import run

TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in sorted(SCENES.glob("*.toml"))}
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


def called(tokens):
    """Run a command line in this process, its output kept from the terminal; the exit code."""
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()) as said:
        code = run(tokens)
    assert code in (0, 2), f"exit code {code}: {said.getvalue()[-500:]}"
    assert "Traceback" not in said.getvalue()
    return "done" if code == 0 else "refused"


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

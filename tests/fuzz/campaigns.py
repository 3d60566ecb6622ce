"""What is thrown at hitspot: each campaign makes one case from a random generator and tries it.

A case that ends as it may (a result, or a refusal in words) returns its kind; anything else raises.
"""

import io
import re
import tomllib
from pathlib import Path

import numpy as np
import soundfile

from raytrace import QUESTIONS, AnswerError, Tape, sketch_scene
from raytrace.measured import RecordingError, read_recording
from raytrace.scene.edits import move_in_text, place_of, set_in_text
from tests.fuzz.commandlines import command_lines
from tests.fuzz.grammar import scene_grammar
from tests.fuzz.meshfiles import meshes, scans
from tests.fuzz.scenetexts import HOSTILE, NUMBERS, TEXTS, called, scene_texts, tried
from tests.support.soundfiles import pulses


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
    "scans": scans,
    "command lines": command_lines,
    "sketch answers": sketch_answers,
    "edits": edits,
    "hostile names": hostile_names,
    "sound files": sound_file,
}


def written_elsewhere(before, ground: Path, folder: Path) -> list[Path]:
    """Files below `ground`, but not in `folder`, that were not there before."""
    return sorted(path for path in set(ground.rglob("*")) - before if folder not in (path, *path.parents))

"""Words that were riddles to practitioners and clients are gone, whatever output they stood in."""

import re
from functools import cache
from pathlib import Path

import pytest

import raytrace
import viewer

GONE = (
    "no limit is set for it",
    "dB against the direct sound, over the time after it",
    '"any bounces"',
    '"as peaks"',
    '"facing …"',
    "top cut off",
    "Strongest against the limit",
    "Play the sound through the room",
    "What these figures rest on",
    "Take them up",
    "Forget it",
    '"Stay"',
    "together with ceiling",
    "stay alike",
    "is a report of its own",
    "Counted with what is to be hung or stood up",
    "comes by way of",
    "a hand clap rattles",
    "the room rings for",
    "Predicted and proven",
    "answers the reflection of",
    "taken together only, since",
    "all sound still to come",
    "across them will do",
    "the sound itself",
    'stands off"',
    "Move them freely",
)


@cache
def joined(source):
    """A source with its texts whole that stand on several lines."""
    return re.sub(r'"\n\s*f?"', "", source)


@pytest.mark.parametrize("words", GONE)
def test_old_words_are_gone(words):
    sources = [
        path
        for package in (raytrace, viewer)
        for path in Path(package.__file__).parent.rglob("*")
        if path.suffix in {".py", ".js", ".html", ".typ", ".toml"}
    ]
    assert len(sources) > 100  # the packages are there
    assert [path.name for path in sources if words in joined(path.read_text(encoding="utf-8"))] == []

"""Names of files: safe on every system, distinct, whatever people call their walls."""

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer.files import file_stem, file_stems


@pytest.mark.parametrize(
    ("words", "stem"),
    [
        ("Left wall, upper part", "left-wall-upper-part"),
        ("kitchen/living wall", "kitchen-living-wall"),
        ("Décke (links) & Co.: 'x'", "decke-links-co-x"),
        ("..", "unnamed"),
        ("a\\b\0c", "a-b-c"),
        ("壁", "壁"),
    ],
)
def test_a_stem_reads_like_its_name(words, stem):
    assert file_stem(words) == stem


def test_names_that_read_alike_get_stems_of_their_own():
    names = ["Wand A", "Wand-A", "wand a 2", "é", "e\u0301", "è", "..", "--"]
    stems = file_stems(names)
    assert stems == ("wand-a", "wand-a-2", "wand-a-2-2", "e", "e-2", "e-3", "unnamed", "unnamed-2")


@given(st.lists(st.text(max_size=300), max_size=8))
def test_any_names_give_distinct_stems_that_every_file_system_takes(names):
    stems = file_stems(names)
    assert len(set(stems)) == len(names)
    assert len({stem.casefold() for stem in stems}) == len(names)  # some systems do not tell a from A
    for stem in stems:
        assert re.fullmatch(r"[^\W_]+(-[^\W_]+)*", stem)
        assert len(stem.encode()) <= 100  # 255 are taken, and a number and an ending come to it
        assert unicodedata.normalize("NFC", stem) == stem

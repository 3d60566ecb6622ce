"""Letters that the typeface lacks are told by number, each once and not without end."""

from viewer.words import boxes_words


def test_letters_that_the_typeface_lacks_are_told_by_number():
    assert boxes_words("wall é Ж ☐ −") == ""
    assert boxes_words("壁 A 壁") == "A box stands for a letter that this typeface lacks: U+58C1"
    assert boxes_words("".join(map(chr, range(0x4E00, 0x4E00 + 9)))).endswith("U+4E07 and others")

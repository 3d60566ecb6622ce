import pytest

from viewer.words import panels_words


@pytest.mark.parametrize(
    ("stacked", "words"),
    [
        ([], "0 panels"),
        ([1], "1 panel"),
        ([1, 1, 1], "3 panels"),
        ([3], "3 panels in 1 place"),
        ([3, 2, 1], "6 panels in 3 places"),
    ],
)
def test_panels_are_counted_one_by_one_however_they_stand(stacked, words):
    assert panels_words(stacked) == words

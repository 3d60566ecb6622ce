"""A folder of output appears whole or not at all, and never replaces what is not ours."""

import re

import pytest

from viewer.files.outfolder import Kind, OutputRefused, file_stem, moved_into_place

LISTS = Kind("list", "list.txt", ("list.txt", "parts/#-*.txt"))


def write_list(folder, text="hitspot"):
    with moved_into_place(folder, LISTS) as staging:
        (staging / "list.txt").write_text(text)


def test_a_new_folder_and_an_earlier_one_are_written(tmp_path):
    write_list(tmp_path / "a" / "out", "hitspot 1")
    write_list(tmp_path / "a" / "out", "hitspot 2")
    assert (tmp_path / "a" / "out" / "list.txt").read_text() == "hitspot 2"
    assert [p.name for p in (tmp_path / "a").iterdir()] == ["out"]


def test_a_failure_half_way_leaves_what_was_there(tmp_path):
    write_list(tmp_path / "out", "hitspot 1")

    def fail_half_way():
        with moved_into_place(tmp_path / "out", LISTS) as staging:
            (staging / "list.txt").write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert (tmp_path / "out" / "list.txt").read_text() == "hitspot 1"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    "name", ["other.txt", "parts/a.txt", "parts/1-a.txt", "parts/01-a b.txt", "parts/01-a.txt/01-b.txt"]
)
def test_a_folder_with_a_foreign_file_is_left_alone(tmp_path, name):
    write_list(tmp_path / "out")
    (tmp_path / "out" / name).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / "out" / name).write_text("mine")
    with pytest.raises(OutputRefused, match=re.escape(f'"{name}", which no list of ours does')):
        write_list(tmp_path / "out")
    assert (tmp_path / "out" / name).read_text() == "mine"


def test_a_folder_whose_proof_does_not_name_us_is_left_alone(tmp_path):
    (tmp_path / "list.txt").write_text("somebody else's")
    with pytest.raises(OutputRefused, match=r"holds no list\.txt of ours"):
        write_list(tmp_path)
    assert (tmp_path / "list.txt").read_text() == "somebody else's"


def test_a_folder_that_the_next_run_would_refuse_is_never_left(tmp_path):
    def write_a_stranger():
        with moved_into_place(tmp_path / "out", LISTS) as staging:
            (staging / "list.txt").write_text("hitspot")
            (staging / "letter.txt").write_text("not among the files of a list")

    with pytest.raises(AssertionError, match=r"letter\.txt is no file of a list"):
        write_a_stranger()
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("words", ["Left wall", "Décke (links)", "a/b_c", "..", "--", "壁"])
def test_any_words_name_a_file_of_the_folder_they_are_in(tmp_path, words):
    for _ in range(2):
        with moved_into_place(tmp_path / "out", LISTS) as staging:
            (staging / "list.txt").write_text("hitspot")
            (staging / "parts").mkdir()
            (staging / "parts" / f"01-{file_stem(words)}.txt").write_text("a part")
    assert (tmp_path / "out" / "parts" / f"01-{file_stem(words)}.txt").is_file()

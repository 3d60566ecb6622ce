"""A folder of output appears whole or not at all, and never replaces what is not ours."""

import re

import pytest

from viewer.files.outfolder import Kind, OutputRefused, moved_into_place

LISTS = Kind("list", "list.txt", re.compile(r"list\.txt|parts/\d\.txt"))


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


@pytest.mark.parametrize("name", ["other.txt", "parts/a.txt"])
def test_a_folder_with_a_foreign_file_is_left_alone(tmp_path, name):
    write_list(tmp_path / "out")
    (tmp_path / "out" / name).parent.mkdir(exist_ok=True)
    (tmp_path / "out" / name).write_text("mine")
    with pytest.raises(OutputRefused, match=re.escape(f'"{name}", which no list of ours does')):
        write_list(tmp_path / "out")
    assert (tmp_path / "out" / name).read_text() == "mine"


def test_a_folder_whose_proof_does_not_name_us_is_left_alone(tmp_path):
    (tmp_path / "list.txt").write_text("somebody else's")
    with pytest.raises(OutputRefused, match=r"holds no list\.txt of ours"):
        write_list(tmp_path)
    assert (tmp_path / "list.txt").read_text() == "somebody else's"

"""A folder of output appears whole or not at all, and never replaces what is not ours."""

import errno
import json
import re

import pytest

from viewer.files import Origin, OutputRefused, Place, check_folder, moved_into_place
from viewer.files.outfolder import RECORD

LOFT = Origin("list", "loft.toml", "Loft", "", "")


def write_list(where, text="1", origin=LOFT):
    with moved_into_place(where, origin) as staging:
        (staging / "list.txt").write_text(text)
        (staging / "parts").mkdir()
        (staging / "parts" / "01-(a) & 'b'.txt").write_text("a part")


def names_in(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_new_folder_and_an_earlier_one_are_written(tmp_path):
    write_list(tmp_path / "a" / "out", "1")
    write_list(tmp_path / "a" / "out", "2")
    assert (tmp_path / "a" / "out" / "list.txt").read_text() == "2"
    assert names_in(tmp_path / "a") == ["out"]


def test_a_failure_half_way_leaves_what_was_there(tmp_path):
    write_list(tmp_path / "out", "1")

    def fail_half_way():
        with moved_into_place(tmp_path / "out", LOFT) as staging:
            (staging / "list.txt").write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert (tmp_path / "out" / "list.txt").read_text() == "1"
    assert names_in(tmp_path) == ["out"]


def test_a_full_disk_is_one_message_and_leaves_what_was_there(tmp_path):
    write_list(tmp_path / "out", "1")

    def fill_the_disk():
        with moved_into_place(tmp_path / "out", LOFT):
            raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(OutputRefused, match="out: cannot be written: No space left on device"):
        fill_the_disk()
    assert (tmp_path / "out" / "list.txt").read_text() == "1"
    assert names_in(tmp_path) == ["out"]


def test_a_mistake_of_ours_is_no_refusal(tmp_path):
    def misspell():
        with moved_into_place(tmp_path / "out", LOFT) as staging:
            (staging / "no" / "such.txt").write_text("")

    with pytest.raises(FileNotFoundError):
        misspell()
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("name", ["other.txt", "parts/a.txt", "new/01-a.txt", "list.txt.bak"])
def test_a_folder_with_a_foreign_file_is_left_alone(tmp_path, name):
    write_list(tmp_path / "out")
    (tmp_path / "out" / name).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / "out" / name).write_text("mine")
    for replace in (False, True):
        with pytest.raises(OutputRefused, match=re.escape(f'"{name}", which was not written by us')):
            write_list(Place(tmp_path / "out", replace))
    assert (tmp_path / "out" / name).read_text() == "mine"


def test_a_file_of_ours_that_somebody_has_changed_is_left_alone(tmp_path):
    write_list(tmp_path / "out")
    (tmp_path / "out" / "list.txt").write_text("with my own notes")
    for replace in (False, True):
        with pytest.raises(OutputRefused, match=r'"list\.txt", which was changed since we wrote it'):
            write_list(Place(tmp_path / "out", replace))
    assert (tmp_path / "out" / "list.txt").read_text() == "with my own notes"


def test_what_was_removed_or_left_by_the_system_does_not_matter(tmp_path):
    write_list(tmp_path / "out")
    (tmp_path / "out" / "list.txt").unlink()
    (tmp_path / "out" / ".DS_Store").write_bytes(b"\0")
    write_list(tmp_path / "out", "2")
    assert (tmp_path / "out" / "list.txt").read_text() == "2"


@pytest.mark.parametrize("record", ["", "{}", "[]", '{"files": 1}', "\0"])
def test_a_record_that_is_not_ours_protects_the_folder(tmp_path, record):
    write_list(tmp_path / "out")
    (tmp_path / "out" / RECORD).write_text(record)
    with pytest.raises(OutputRefused, match=r"left alone|not written by us"):
        write_list(Place(tmp_path / "out", replace=True))
    assert (tmp_path / "out" / "list.txt").read_text() == "1"


@pytest.mark.parametrize(
    "other",
    [
        Origin("list", "attic.toml", "Loft", "", ""),
        Origin("list", "loft.toml", "Attic", "", ""),
        Origin("list", "loft.toml", "Loft", "another client", ""),
        Origin("list", "loft.toml", "Loft", "", "another town"),
    ],
)
def test_the_output_of_another_scene_is_replaced_only_where_that_is_asked_for(tmp_path, other):
    write_list(tmp_path / "out", "1")
    with pytest.raises(OutputRefused, match=r'of another scene, "Loft" \(loft\.toml\), not of .*--replace'):
        write_list(tmp_path / "out", "2", other)
    assert (tmp_path / "out" / "list.txt").read_text() == "1"
    write_list(Place(tmp_path / "out", replace=True), "2", other)
    assert (tmp_path / "out" / "list.txt").read_text() == "2"


def test_output_of_another_kind_is_left_alone(tmp_path):
    write_list(tmp_path / "out")
    with pytest.raises(OutputRefused, match="holds no report of ours"):
        write_list(
            Place(tmp_path / "out", replace=True), "2", Origin("report", *list(vars(LOFT).values())[1:])
        )


def test_the_record_holds_no_path(tmp_path):
    write_list(tmp_path / "out")
    record = (tmp_path / "out" / RECORD).read_text()
    assert str(tmp_path) not in record
    assert sorted(json.loads(record)["files"]) == ["list.txt", "parts/01-(a) & 'b'.txt"]


def test_the_folder_one_stands_in_is_left_alone(tmp_path, monkeypatch):
    (tmp_path / "out" / "below").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "out" / "below")
    for place in (".", "..", str(tmp_path / "out")):
        with pytest.raises(OutputRefused, match="is the current folder or holds it"):
            write_list(place)


def test_the_root_of_the_disk_is_refused_without_a_search(tmp_path, monkeypatch):
    looked_at = []
    real = __import__("os").scandir

    def scandir(path):
        looked_at.append(str(path))
        return real(path)

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("viewer.files.outfolder.os.scandir", scandir)
    with pytest.raises(OutputRefused):
        write_list("/")
    assert set(looked_at) <= {"/"}


def test_a_name_that_is_too_long_is_refused(tmp_path):
    with pytest.raises(OutputRefused, match="File name too long"):
        check_folder(Place(tmp_path / ("long" * 80)), LOFT)  # before anything is computed for it
    with pytest.raises(OutputRefused, match="File name too long"):
        write_list(tmp_path / ("ö" * 130))
    write_list(tmp_path / ("l" * 250))  # file systems take 255 bytes
    assert names_in(tmp_path) == ["l" * 250]

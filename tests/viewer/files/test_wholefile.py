"""Files that belong together change together; a drawing that is broken off leaves nothing anywhere."""

import tempfile

import pytest

from viewer.files import OutputRefused, write_together, write_whole


def names_in(folder):
    return sorted(path.name for path in folder.iterdir())


def test_text_bytes_and_drawings_are_written_as_they_are(tmp_path):
    def draw(path):
        assert path.suffix == ".svg"  # what libraries that draw go by
        path.write_text("<svg/>", encoding="utf-8")

    write_together({tmp_path / "a.txt": "é\r\n", tmp_path / "b.bin": b"\x00", tmp_path / "c.SVG": draw})
    assert names_in(tmp_path) == ["a.txt", "b.bin", "c.SVG"]
    assert (tmp_path / "a.txt").read_bytes() == b"\xc3\xa9\r\n"
    assert (tmp_path / "b.bin").read_bytes() == b"\x00"
    assert (tmp_path / "c.SVG").read_text(encoding="utf-8") == "<svg/>"


def test_a_drawing_that_fails_leaves_every_file_as_it_was(tmp_path):
    for name in ("scene.toml", "map.png"):
        (tmp_path / name).write_text("old", encoding="utf-8")

    def broken_off(path):
        path.write_text("half", encoding="utf-8")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_together({tmp_path / "scene.toml": "new", tmp_path / "map.png": broken_off})
    assert names_in(tmp_path) == ["map.png", "scene.toml"]
    assert {path.read_text(encoding="utf-8") for path in tmp_path.iterdir()} == {"old"}


def test_the_second_of_two_files_that_cannot_be_written_keeps_the_first_from_changing(tmp_path):
    (tmp_path / "scene.toml").write_text("old", encoding="utf-8")
    (tmp_path / "file").touch()
    with pytest.raises(OutputRefused, match=r"map\.png"):
        write_together({tmp_path / "scene.toml": "new", tmp_path / "file" / "map.png": b""})
    assert (tmp_path / "scene.toml").read_text(encoding="utf-8") == "old"
    assert names_in(tmp_path) == ["file", "scene.toml"]


def test_drawings_are_made_where_the_next_run_sweeps(tmp_path, monkeypatch):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(elsewhere))
    (tmp_path / "out").mkdir()

    def draw(path):
        assert path.parent.parent == tmp_path / "out"
        assert names_in(elsewhere) == []  # where nobody would look for what a killed run left
        path.touch()

    write_whole(tmp_path / "out" / "map.png", draw)

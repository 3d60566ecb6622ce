"""`film` refuses what it cannot write before it computes anything."""

from tests.support.scenes import SCENES
from viewer.cli.main import run

BOX = str(SCENES / "box.toml")


def test_what_cannot_be_written_is_one_message(tmp_path, capsys):
    (tmp_path / "there.webp").write_bytes(b"mine")
    for name, said in (
        ("room.avi", "accepted are .webp, .gif"),
        ("there.webp", "overwrite it: --replace"),
        ("no/room.webp", "is not a folder"),
    ):
        assert run(["film", BOX, "--out", str(tmp_path / name)]) == 2
        assert said in " ".join(capsys.readouterr().err.split())
    assert [path.name for path in tmp_path.iterdir()] == ["there.webp"]
    assert (tmp_path / "there.webp").read_bytes() == b"mine"

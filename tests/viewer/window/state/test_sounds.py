"""Whose a sound file is, as far as its name says."""

from pathlib import Path

import pytest

from raytrace import load_scene
from tests.support.scenes import SCENES
from viewer.window.state import SoundFile, Sounds, sounds_told


@pytest.fixture(scope="module")
def scene():
    return load_scene(SCENES / "box.toml")


@pytest.mark.parametrize(
    ("name", "speaker", "is_before"),
    [
        ("left.wav", "left", False),
        ("2031-05 LEFT_before.flac", "left", True),
        ("right-after-3.wav", "right", False),
        ("leftover.wav", None, False),  # a word, not a part of one
        ("left and right.wav", None, False),
    ],
)
def test_a_name_is_read_word_by_word(scene, name, speaker, is_before):
    (file,) = sounds_told([Path(name)], scene).files
    assert (file.speaker, file.is_before) == (speaker, is_before)
    assert file.seat == scene.seats[0].name  # the only one
    assert file.is_told == (speaker is not None)


def test_the_sweep_is_told_from_what_was_recorded_of_it(scene):
    told = sounds_told([Path("sweep.wav"), Path("left sweep.wav")], scene)
    assert told.sweep == Path("sweep.wav")
    assert [file.path.name for file in told.files] == ["left sweep.wav"]


def test_a_later_file_takes_the_place_of_an_earlier_one(scene):
    first = sounds_told([Path("left.wav"), Path("right.wav")], scene)
    both = first.with_more(sounds_told([Path("new/left.wav"), Path("left before.wav")], scene))
    assert sorted(map(str, (file.path for file in both.files))) == sorted(
        ["right.wav", str(Path("new/left.wav")), "left before.wav"]
    )
    assert [take.speaker for take in both.takes(scene, before=True)] == [0]
    gone = Sounds((SoundFile(Path("a.wav"), "centre", "mix"),))
    assert gone.takes(scene, before=False) == []  # the room has no such speaker any more

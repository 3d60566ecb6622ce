"""The form that asks whose sound files are."""

from pathlib import Path

from raytrace import load_scene
from tests.support.scenes import SCENES
from viewer.window.controls import SoundForm
from viewer.window.state import SoundFile, Sounds


def test_what_is_known_is_filled_in_and_what_is_answered_is_told(qtbot):
    sounds = Sounds((SoundFile(Path("a.wav"), None, "mix"), SoundFile(Path("b.wav"), "right", "mix", True)))
    form = SoundForm(load_scene(SCENES / "box.toml"), sounds, lambda *_: "played.wav")
    qtbot.addWidget(form)
    one, other = form.lines
    one.speaker.setCurrentText("right")
    one.channel.setValue(2)
    form.sweep.click()
    assert form.asked() == Sounds(
        (SoundFile(Path("a.wav"), "right", "mix", False, 2), SoundFile(Path("b.wav"), "right", "mix", True)),
        Path("played.wav"),
    )
    assert other.when.currentText() == "before the work"

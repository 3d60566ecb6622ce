"""Where an unexplained reflection can have come over, drawn: words apart, the shell within the room."""

import itertools

import numpy as np
from PIL import Image

from raytrace import Take, hold_against, load_scene
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav
from viewer import look
from viewer.pictures import set_stage, shells_of, unjudged_study
from viewer.pictures.faces import loops_of
from viewer.pictures.shells import make_shell_picture


def test_the_shell_stays_in_the_air_and_its_surfaces_are_named(tmp_path):
    (tmp_path / "box.toml").write_text(BOX, encoding="utf-8")
    scene = load_scene(tmp_path / "box.toml")
    file = write_wav(tmp_path / "left.wav", pulses([0.0, 0.0029764, 0.007], [1.0, 0.7, 0.3]))
    held = hold_against(scene, [Take(0, 0, file)], up_to_order=1, within_s=0.012)
    (shell,) = shells_of(held, held.heard[0], "measured", units="imperial")
    assert "extra path 7' 10" in shell.facts  # 7 ms of 343.2 m/s
    drawn = []

    def raster(layers, camera):
        drawn.extend(layers)
        size = camera.width * look.OVERSAMPLING, camera.height * look.OVERSAMPLING
        return Image.new("RGB", size, look.WHITE)

    picture = make_shell_picture(set_stage(unjudged_study(held)), shell, (1200, 800), raster=raster)
    names = {box.text for box in picture.boxes}
    assert {"floor", "ceiling", "left wall", "left speaker", "mix seat"} <= names
    assert not any(a.overlaps(b) for a, b in itertools.combinations(picture.boxes, 2))
    low, high = held.room.bounds
    for layer in drawn[-4:]:
        points = np.concatenate(loops_of(layer.mesh)) if layer.mesh.n_cells else np.zeros((0, 3))
        assert (points >= low - 0.01).all()  # curves are raised off their face, never behind it
        assert (points <= high + 0.01).all()

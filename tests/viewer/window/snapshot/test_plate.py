"""The window's view on paper: the same eye, the same things, and words for what was chosen."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from raytrace import BassFollower
from tests.support.jargon import jargon_in
from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures import loops_of, set_stage
from viewer.window.snapshot.plate import SEQUENCE, layers_of, make_view, signs_of, words_of
from viewer.window.state import LAYERS, LAYERS_AT_FIRST, Cut, Filter, OnScreen, named_view, path_key

SIZE = (1000, 560)
PLAIN = {"is_before": False}


@pytest.fixture(scope="module")
def shown():
    study = shipped_study("treated-box", up_to_order=2)
    stage = set_stage(study)
    return OnScreen(study=study, stage=stage, eye=named_view(stage, "room", SIZE), filter=Filter(seat=0))


def at(shown, view, size=SIZE):
    return replace(shown, view=view, eye=named_view(shown.stage, view, size))


class Raster:
    """Stands in for the slow part: keeps what it was asked to draw."""

    def __call__(self, layers, camera):
        self.layers, self.camera = dict(zip(SEQUENCE, layers, strict=True)), camera
        size = (camera.width * look.OVERSAMPLING, camera.height * look.OVERSAMPLING)
        return Image.new("RGB", size, look.WHITE)


def drawn(shown, size=SIZE, *, is_before=False):
    raster = Raster()
    return make_view(shown, size, is_before=is_before, raster=raster), raster


@pytest.mark.parametrize("view", ["room", "plan", "section", "seat", "left wall"])
@pytest.mark.parametrize("size", [(1000, 560), (700, 700), (600, 900)])
def test_every_point_lies_where_it_lies_in_the_window(shown, view, size):
    here = at(shown, view, size)
    _, raster = drawn(here, size)
    window = here.eye.camera(size)
    points = shown.stage.corners
    points = points[window.depth(points) > 0.1]
    share = window.project(points) / size
    paper = raster.camera.project(points) / (raster.camera.width, raster.camera.height)
    reach = 1.0 + np.abs(share).max()
    assert np.abs(paper - share).max() < 2e-3 * reach  # whole pixels of the drawing's sides


def test_what_is_switched_off_in_the_window_is_not_drawn(shown):
    for layer, names in {
        "panels": ("panels", "faint panels", "panel edges", "cords"),
        "paths": ("paths", "later paths"),
        "weaker": ("weaker",),
        "spots": ("spots", "spot rings"),
        "areas": ("areas", "area edges"),
    }.items():
        _, on = drawn(shown)
        _, off = drawn(replace(shown, layers=shown.layers - {layer}))
        assert any(on.layers[name].mesh.n_cells for name in names), layer
        assert not any(off.layers[name].mesh.n_cells for name in names), layer


def test_the_filter_of_the_list_holds_on_paper(shown):
    _, everything = drawn(shown)
    _, few = drawn(replace(shown, filter=Filter(seat=0, speaker=0, order=1)))
    assert 0 < few.layers["paths"].mesh.n_cells < everything.layers["paths"].mesh.n_cells
    picture, _ = drawn(replace(shown, filter=Filter(seat=0, speaker=0, order=1, over_only=True)))
    assert (
        "Only reflections from the left speaker, with 1 bounce, over the limit or too close to it to say."
        in picture.caption
    )


def test_the_section_holds_on_paper_and_is_told_in_millimetres(shown):
    picture, raster = drawn(replace(shown, cut=Cut(1, 0.5, keeps_far=False)))
    for name, layer in raster.layers.items():
        if layer.mesh.n_cells and not name.startswith("cut "):
            points = np.concatenate(loops_of(layer.mesh))
            assert points[:, 1].max() <= 1.5 + 1e-6, name
    assert raster.layers["cut walls"].mesh.n_cells >= 4
    assert "Cut 1500 mm from the left wall; the right part is taken away." in picture.caption
    assert "50 mm thick" in picture.caption


def test_what_is_selected_is_red_and_told(shown):
    row = int(np.flatnonzero(shown.study.arrivals.order == 1)[0])
    picture, raster = drawn(replace(shown, chosen=path_key(shown.study, row), time_s=0.004))
    assert raster.layers["chosen"].mesh.n_cells == 2  # legs of one bounce
    assert raster.layers["chosen"].is_over
    assert raster.layers["balls"].mesh.n_cells > 0
    assert "In red: " in picture.caption
    assert "where the sound is 4.0 ms after" in picture.caption


def test_before_is_said_to_be_before(shown):
    picture, _ = drawn(shown, is_before=True)
    assert "as it was when its file was opened" in picture.caption


def test_paper_is_white_whatever_the_theme_of_the_window(shown):
    dark, bright = (drawn(replace(shown, theme=theme))[1] for theme in ("dark", "light"))
    for name in SEQUENCE:
        assert np.array_equal(dark.layers[name].colours, bright.layers[name].colours), name


def test_only_faces_turned_to_the_eye_are_drawn_of_walls(shown):
    camera = shown.eye.camera(SIZE)
    walls = dict(zip(SEQUENCE, layers_of(shown, camera), strict=True))["walls"]
    loops = loops_of(walls.mesh)
    middles = np.array([loop.mean(axis=0) for loop in loops])
    normals = np.array([np.cross(loop[1] - loop[0], loop[2] - loop[0]) for loop in loops])
    assert 0 < len(loops) < shown.stage.faces.n_cells
    assert camera.sees(middles, normals).all()


@pytest.mark.parametrize("view", ["room", "plan", "section", "seat", "left wall", "ceiling"])
@pytest.mark.parametrize("layers", [LAYERS_AT_FIRST, frozenset(LAYERS), frozenset({"paths"})])
def test_words_stand_apart_and_inside_the_sheet(shown, view, layers):
    picture, _ = drawn(replace(at(shown, view), layers=layers, cut=Cut(2, 0.6, keeps_far=False)))
    width, height = picture.image.size
    assert width == 2400
    for box in picture.boxes:
        assert min(box.left, box.top) > 40, box
        assert box.right < width - 40, box
        assert box.bottom < height - 40, box
    for one, other in itertools.combinations(picture.boxes, 2):
        assert not one.overlaps(other), (one, other)


def test_without_names_the_drawing_has_the_whole_width(shown):
    picture, _ = drawn(replace(shown, layers=shown.layers - {"names"}))
    assert picture.drawing.right - picture.drawing.left > 2200


def test_the_key_shows_signs_for_what_is_drawn_and_no_others(shown):
    signs = signs_of(shown)
    assert {"direct", "one", "spot", "panel"} <= set(signs)
    assert not {"cut", "chosen", "sound"} & set(signs)
    assert "cut" in signs_of(replace(shown, cut=Cut(0, 0.5)))
    assert "panel" not in signs_of(replace(shown, layers=shown.layers - {"panels"}))


def test_captions_are_in_words_a_client_reads(shown):
    full = replace(shown, cut=Cut(0, 0.5), filter=Filter(seat=0, surface="ceiling"), time_s=-0.001)
    caption = words_of(full, is_before=True).caption
    assert not jargon_in(caption)


def test_an_imperial_window_gives_an_imperial_picture(shown):
    picture, _ = drawn(
        replace(at(shown, "plan"), units="imperial", layers=frozenset(LAYERS), cut=Cut(1, 0.5))
    )
    assert "'" in picture.caption
    assert any(box.text.endswith(" ft") for box in picture.boxes)


def test_a_view_with_the_bass_says_what_the_colours_of_the_floor_mean(shown):
    study = shown.study
    found = BassFollower().rest(study.scene, study.room)
    layers = frozenset({"bass", "names"})
    floor = replace(at(shown, "plan"), bass=found, bass_now=found.now, layers=layers)
    camera = floor.eye.camera((400, 300))
    for view in (floor, replace(floor, mode=2)):
        drawn = layers_of(view, camera)
        assert all(len(layer.colours) == layer.mesh.n_cells for layer in drawn)
    assert "how uneven the bass is" in words_of(floor, is_before=False).caption
    assert f"{found.modes_hz[2]:.1f} Hz" in words_of(replace(floor, mode=2), is_before=False).caption

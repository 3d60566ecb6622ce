"""The canvas shows layers where the camera has them, in their colours, up to the section."""

import numpy as np
import pytest

from tests.support.windows import driver  # (its module skips where there is no display)
from viewer.pictures import Camera, Layer, polygons, polylines
from viewer.window.room.canvas import Canvas
from viewer.window.scenery import PlacedName
from viewer.window.state import THEMES

__all__ = ["driver"]

SIZE = (80, 60)
SQUARE = np.array([[0.0, -1.0, -1.0], [0.0, 1.0, -1.0], [0.0, 1.0, 1.0], [0.0, -1.0, 1.0]])
RED, BLUE = [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]


@pytest.fixture
def canvas(qtbot):
    made = Canvas()
    qtbot.addWidget(made)
    made.resize(*SIZE)
    made.set_theme(THEMES["light"])
    made.set_quality(fine=False)
    # From +x, y to the right, 4 m wide.
    axes = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [-1.0, 0.0, 0.0]])
    made.aim(Camera(np.array([5.0, 0.0, 0.0]), *axes, 1.5, True, *SIZE), SQUARE)
    yield made
    made.end()


def square(shift=(0.0, 0.0, 0.0), colour=RED):
    mesh = polygons([SQUARE + np.array(shift)])
    return Layer(mesh, np.array([colour]))


def shown(canvas):
    """The picture of what was put there last."""
    canvas.refresh()
    return canvas.picture()


def test_a_face_lies_where_the_camera_has_it(canvas):
    canvas.put("face", square())
    seen = (shown(canvas) == [255, 0, 0]).all(axis=-1)
    rows, columns = np.nonzero(seen)
    # 20 pixels to the metre, the middle at 40, 30; a pixel belongs to whoever covers its middle.
    assert (columns.min(), columns.max()) == (20, 59)
    assert (rows.min(), rows.max()) == (10, 49)


def test_a_layer_takes_the_place_of_the_one_before_and_an_empty_one_takes_it_away(canvas):
    canvas.put("face", square())
    canvas.put("face", square(colour=BLUE))
    assert shown(canvas)[30, 40].tolist() == [0, 0, 255]
    canvas.put("face", Layer(polygons([]), np.empty((0, 3))))
    assert not (shown(canvas)[30, 40] == [0, 0, 255]).all()


def test_what_lies_behind_the_section_is_taken_away(canvas):
    canvas.put("face", square())
    canvas.cut([(np.zeros(3), np.array([0.0, 1.0, 0.0]))])
    picture = shown(canvas)
    assert picture[30, 50].tolist() == [255, 0, 0]
    assert picture[30, 30].tolist() != [255, 0, 0]
    canvas.cut([])
    assert shown(canvas)[30, 30].tolist() == [255, 0, 0]


def test_a_face_has_the_light_that_lies_on_it(canvas):
    canvas.shine(np.array([[102, 204], [102, 204]], np.uint8))
    # Its left half in the middle of the left pixel, its right half in that of the right one.
    texels = np.array([[-0.25, 0.25], [1.25, 0.25], [1.25, 0.75], [-0.25, 0.75]])
    canvas.put("face", square(), (np.array([1.0, 1.0, 1.0, 1.0]), texels))
    row = shown(canvas)[30, :, 0].astype(int)
    assert row[21:29].tolist() == [102] * 8  # before the middle of the first pixel light is even
    assert row[51:59].tolist() == [204] * 8
    assert abs(row[39] - 153) <= 4  # a pixel of the face is 1/26 of the way from one to the other
    canvas.put("face", square(), (np.full(4, 0.5), texels))
    assert abs(int(shown(canvas)[30, 25, 0]) - 51) <= 1  # rounding, twice


def test_lines_are_drawn_as_thick_as_they_are(canvas):
    mesh = polylines([np.array([[0.0, -1.0, 0.0], [0.0, 1.0, 0.0]])])
    canvas.put("paths", Layer(mesh, np.array([RED]), radius_m=0.2))
    thick = (shown(canvas)[:, 40] == [255, 0, 0]).all(axis=-1).sum()
    assert abs(thick - 8) <= 1  # 0.4 m at 20 pixels to the metre; the tube has twelve sides


def test_translucent_layers_let_show_through_at_rest_and_while_things_move(canvas):
    canvas.put("face", square())
    canvas.put("glass", Layer(square((1.0, 0.0, 0.0), BLUE).mesh, np.array([BLUE]), opacity=0.5))
    for fine in (False, True):
        canvas.set_quality(fine=fine)
        red, green, blue = shown(canvas)[30, 40].tolist()
        # Half of each; one step of 255 for the rounding of either.
        assert max(abs(red - 128), green, abs(blue - 128)) <= 1


def test_what_is_to_be_drawn_is_asked_for_once_per_picture(canvas):
    asked = []
    canvas.wanted.connect(lambda: asked.append(1))
    for n in (1, 2):
        for _ in range(3):
            canvas.refresh()
        canvas.picture()
        canvas.picture()
        assert len(asked) == n


def test_a_name_stands_on_a_ground_of_its_own(canvas):
    canvas.put("face", square())
    before = shown(canvas)
    canvas.write([PlacedName("A", 34.0, 40.0, 13.0, 3.25, False)])
    after = shown(canvas)
    changed = (before != after).any(axis=-1)
    rows, columns = np.nonzero(changed)
    assert set(columns) <= set(range(28, 51))
    assert set(rows) <= set(range(20, 43))


def test_a_thin_line_is_drawn_whole_however_far_off_it_is(canvas):
    mesh = polylines([np.array([[0.0, -1.5, -0.7], [0.0, 1.5, 0.9]])])
    canvas.put("dimensions", Layer(mesh, np.array([RED]), radius_m=1e-4))
    picture = shown(canvas)
    inked = (picture[:, 12:68] != picture[0, 0]).any(axis=-1)
    assert inked.any(axis=0).all()  # a tube of a fifth of a millimetre would tear


def test_an_edge_that_lies_in_a_face_wins_over_it(canvas):
    canvas.put("face", square(colour=BLUE))
    mesh = polylines([np.array([[0.0, -0.9, 0.0], [0.0, 0.9, 0.0]])])
    canvas.put("edges", Layer(mesh, np.array([RED]), radius_m=0.01))
    row = shown(canvas)[28:32, 24:56].astype(int)
    assert (row[..., 0] > row[..., 2]).any(axis=0).all()


def test_what_is_selected_is_drawn_over_what_stands_before_it(canvas):
    canvas.put("face", square((1.0, 0.0, 0.0), BLUE))
    canvas.put("behind", square((0.0, 0.0, 0.0), RED))
    assert shown(canvas)[30, 40].tolist() == [0, 0, 255]
    over = Layer(square().mesh, np.array([RED]), is_over=True)
    canvas.put("chosen spots", over)
    assert shown(canvas)[30, 40].tolist() == [255, 0, 0]

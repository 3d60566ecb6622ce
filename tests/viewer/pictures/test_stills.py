"""Finished pictures: words apart and inside, empty border, words a client reads."""

import functools
import itertools

import numpy as np
import pytest
from PIL import Image

from raytrace import run_study
from tests.support.jargon import jargon_in
from tests.support.scenes import BOX, SCENES
from tests.support.studies import shipped_study
from viewer import look
from viewer.pictures import faces, stills
from viewer.pictures.labels import Box, Label, Placed
from viewer.pictures.layers import choose_camera, layers
from viewer.pictures.pictures import make_picture, spot_words
from viewer.pictures.plate import free_place, lay_out
from viewer.pictures.stage import seen_edges, seen_facets, set_stage

NAMES = sorted(path.stem for path in SCENES.glob("*.toml"))
SMALL = (720, 480)


study_of = functools.partial(shipped_study, up_to_order=2)


@functools.cache
def stage_of(name):
    return set_stage(study_of(name))


def white(_layers, camera):
    """Stands in for the slow part where a test is about the words alone."""
    return Image.new("RGB", (camera.width * look.OVERSAMPLING, camera.height * look.OVERSAMPLING), look.WHITE)


def assert_words_apart_and_inside(boxes, size):
    for box in boxes:
        assert box.left >= 0.02 * size[0], box
        assert box.right <= 0.98 * size[0], box
        assert box.top >= 0.02 * size[1], box
        assert box.bottom <= 0.98 * size[1], box
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other), (one, other)


def assert_border_is_empty(path):
    """The outer 2 % of each side is plain background."""
    pixels = np.asarray(Image.open(path).convert("RGB"))
    height, width = pixels.shape[:2]
    inner = np.zeros((height, width), bool)
    down, across = int(np.ceil(0.02 * height)), int(np.ceil(0.02 * width))
    inner[down:-down, across:-across] = True
    assert (pixels[~inner] == 255).all()
    assert (pixels[inner] < 128).any()


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """The pictures of the ridge loft as `stills` and `report` get them."""
    folder = tmp_path_factory.mktemp("stills")
    told = []
    result = stills.draw_stills(study_of("ridge"), folder, SMALL, progress=lambda *said: told.append(said))
    return result, told


@pytest.mark.slow
def test_three_pictures_come_out_at_the_size_and_resolution_asked_for(drawn):
    assert [still.name for still in drawn[0]] == ["room", "plan", "section"]
    for still in drawn[0]:
        with Image.open(still.path) as image:
            assert image.size == SMALL
            assert image.info["dpi"] == pytest.approx((300, 300), abs=0.05)  # PNG stores whole dots per metre
        assert_border_is_empty(still.path)
        assert_words_apart_and_inside(still.boxes, SMALL)


@pytest.mark.slow
def test_every_picture_is_announced_before_it_is_drawn(drawn):
    assert [text for text, _ in drawn[1]] == [
        "picture: the whole room",
        "picture: from above",
        "picture: from behind",
        "pictures done",
    ]
    assert [share for _, share in drawn[1]] == pytest.approx([0, 1 / 3, 2 / 3, 1])


@pytest.mark.parametrize("view", look.VIEWS, ids=lambda view: view.name)
@pytest.mark.parametrize("name", NAMES)
def test_names_dimensions_and_key_are_apart_and_inside(name, view):
    picture = make_picture(stage_of(name), view, SMALL, units="metric", raster=white)
    assert_words_apart_and_inside(picture.boxes, SMALL)
    words = " ".join(box.text for box in picture.boxes)
    for speaker in study_of(name).scene.speakers:
        assert speaker.name in words
    # The key explains what is in the picture, and that alone.
    explained = {box.text for box in picture.boxes}
    stage = stage_of(name)
    assert ("area to treat" in explained) == (stage.patches.n_cells > 0)
    assert ("two bounces, below the limit" in explained) == (len(stage.shown.faint) > 0)
    assert ("panel" in explained) == bool(stage.study.room.panels)


@pytest.mark.parametrize("size", [(600, 400), (500, 900), (1600, 500)], ids=str)
def test_other_shapes_of_picture_hold_too(size):
    for view in look.VIEWS:
        picture = make_picture(stage_of("ridge"), view, size, units="imperial", raster=white)
        assert_words_apart_and_inside(picture.boxes, size)


def test_a_long_title_is_shortened_not_cut_off(scene_of):
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    title = text[text.index("title = ") : text.index("\n", text.index("title = "))]
    scene = scene_of(text.replace(title, 'title = "' + "A very long name of a room " * 6 + '"'))
    stage = set_stage(run_study(scene, up_to_order=1))
    picture = make_picture(stage, look.VIEWS[0], SMALL, units="metric", raster=white)
    assert_words_apart_and_inside(picture.boxes, SMALL)
    assert any(box.text.startswith("A very long") and box.text.endswith("…") for box in picture.boxes)


def test_names_stand_beside_the_room_and_not_on_it():
    layout = lay_out(look.REFERENCE_SIZE)
    for column in layout.columns:
        assert not column.overlaps(layout.drawing)
        assert not column.overlaps(layout.key)
    assert layout.drawing.bottom <= layout.key.top


@pytest.mark.parametrize(
    ("units", "wanted"), [("metric", {"5.60 m", "4.40 m"}), ("imperial", {"18' 4 1/2\"", "14' 5 1/4\""})]
)
def test_the_plan_carries_length_and_width(units, wanted):
    # 5.60 m = 220.47 in, 4.40 m = 173.23 in; printed to the nearest 1/8 in.
    picture = make_picture(stage_of("ridge"), look.VIEWS[1], SMALL, units=units, raster=white)
    assert wanted <= {box.text for box in picture.boxes}
    assert "front" in {box.text for box in picture.boxes}


def test_a_sub_is_not_sent_to_a_chapter_that_may_not_be_there():
    picture = make_picture(stage_of("hip"), look.VIEWS[0], SMALL, units="metric", raster=white)
    words = [box.text for box in picture.boxes]
    assert "not judged here" in words
    assert not any("see Bass" in text for text in words)


def test_the_scale_bar_is_as_long_as_it_says():
    stage = stage_of("box")
    drawn = make_picture(stage, look.VIEWS[1], (1200, 800), units="metric", raster=white)
    pixels = np.asarray(drawn.image.convert("L"))
    label = next(box for box in drawn.boxes if box.text in ("1 m", "2 m"))
    row = pixels[int(label.top) - 8]
    ink = np.flatnonzero(row[900:] < 160) + 900
    frame = drawn.drawing
    camera = choose_camera(
        stage, look.VIEWS[1], (int(frame.right - frame.left), int(frame.bottom - frame.top))
    )
    metres = (ink.max() - ink.min()) / camera.pixels_per_metre(stage.corners[0])
    assert metres == pytest.approx(float(label.text[0]), rel=0.02)  # a line of one pixel at each end


def test_what_is_over_the_limit_is_said_in_the_accent_and_named_in_the_caption():
    study, stage = study_of("ridge"), stage_of("ridge")
    picture = make_picture(stage, look.VIEWS[0], SMALL, units="metric", raster=white)
    worst = min(study.peaks, key=lambda p: p.margin_db if p.over_limit else np.inf)
    name = study.room.surfaces[study.room.facets[worst.facets[0]].surface].name
    assert name in picture.caption
    assert f"{-worst.margin_db:.1f} dB over the limit" in {box.text for box in picture.boxes}
    assert spot_words(study, worst.arrivals[:1])[1] == look.ACCENT


def test_a_caption_on_one_of_two_seats_names_it(scene_of):
    soft = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[1, 1, 1, 1, 1, 1, 1, 1]")
    sofa = '[[seats]]\nname = "sofa"\nears = [4.2, 2.0, 1.0]\n'
    said = {}
    for scene in (BOX, BOX + sofa, soft, soft + sofa):
        stage = set_stage(run_study(scene_of(scene), up_to_order=1))
        said[scene] = make_picture(stage, look.VIEWS[0], SMALL, units="metric", raster=white).caption
    assert "too close to the limit to say, the worst first: " in said[BOX]
    assert "too close to the limit to say at the mix seat, the worst first: " in said[BOX + sofa]
    assert "is over the limit here." in said[soft]
    assert "is over the limit here at the mix seat." in said[soft + sofa]


def test_where_speakers_are_hidden_no_picture_says_that_all_is_well(scene_of):
    screen = (
        '[[objects]]\nname = "screen"\nshape = "box"\nmaterial = "hard"\n'
        "centre = [2.0, 1.6, 1.2]\nsize = [0.1, 1.0, 1.0]\n"
    )
    stage = set_stage(run_study(scene_of(BOX + screen), up_to_order=1))
    caption = make_picture(stage, look.VIEWS[0], SMALL, units="metric", raster=white).caption
    assert caption.endswith("Where the screen hides a speaker, nothing is judged or drawn.")
    assert "over the limit" not in caption


@pytest.mark.parametrize("name", ["ridge", "classroom"])
def test_captions_and_words_in_the_picture_hold_no_jargon(name):
    for view in look.VIEWS:
        picture = make_picture(stage_of(name), view, SMALL, units="metric", raster=white)
        assert not jargon_in("\n".join([picture.caption, *(box.text for box in picture.boxes)]))


def test_figures_of_dimensions_move_out_of_the_way_of_leaders():
    ends = ((0.0, 0.0), (0.0, 100.0))
    label = Label("seat", "", look.INK, (50.0, 50.0), 0.0, 0)
    leader = Placed(label, Box("seat", -60.0, 45.0, -40.0, 55.0), ((-40.0, 50.0), (50.0, 50.0)))
    assert free_place(ends, (8.0, 10.0), []) == ((0.0, 50.0), True)
    (x, y), is_free = free_place(ends, (8.0, 10.0), [leader])
    assert x == 0.0
    assert abs(y - 50.0) >= 5.0
    assert is_free
    fence = [
        Placed(label, leader.box, ((-40.0, height), (50.0, height))) for height in np.arange(0.0, 100.0, 4.0)
    ]
    assert free_place(ends, (8.0, 10.0), fence) == ((0.0, 50.0), False)


def test_the_camera_takes_away_ceiling_and_near_walls():
    stage = stage_of("box")
    room = stage.study.room
    seen = seen_facets(stage, choose_camera(stage, look.VIEWS[0], (600, 400)))
    shown = {
        room.surfaces[facet.surface].name for facet, is_seen in zip(room.facets, seen, strict=True) if is_seen
    }
    assert {"floor", "front wall"} < shown
    assert not {"ceiling", "back wall"} & shown
    assert len({"left wall", "right wall"} & shown) == 1


def test_edges_between_two_removed_faces_are_not_drawn():
    stage = stage_of("box")
    camera = choose_camera(stage, look.VIEWS[0], (600, 400))
    edge_layer = next(layer for layer in layers(stage, camera) if layer.radius_m == look.EDGE_M * stage.scale)
    # Three faces of a box are seen: nine of its twelve edges touch one of them.
    assert edge_layer.mesh.n_cells == 9


def test_what_stands_against_a_wall_that_is_taken_away_keeps_its_edges():
    stage = stage_of("cupboard")
    room = stage.study.room
    none_seen = np.zeros(len(room.facets), bool)
    kept = faces.column(stage.edges, "facets", 4).astype(int)[seen_edges(stage, none_seen)]
    owners = {room.surfaces[room.facets[facet].surface].owner for facet in kept[kept >= 0]}
    # The wardrobe fills a back corner; the desk stands clear of every wall.
    assert owners == {"wardrobe"}
    # Top, front and side are left of it: nine edges; none in the corner of the room.
    assert len(kept) == 9


def test_first_bounces_are_twice_as_thick_as_later_ones():
    assert pytest.approx(2 * look.TUBE_HIGHER_M) == look.TUBE_M
    stage = stage_of("elbow")
    camera = choose_camera(stage, look.VIEWS[0], (600, 400))
    counts = {
        layer.radius_m / stage.scale: layer.mesh.n_cells for layer in layers(stage, camera) if layer.radius_m
    }
    order = stage.study.arrivals.order[stage.shown.main]
    assert counts[look.TUBE_M] == 2 * (order == 1).sum()  # two legs each


def test_pictures_are_the_same_bytes_every_time(tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        stills.draw_stills(study_of("box"), tmp_path / name, SMALL)
    for name in ("room", "plan", "section"):
        assert (tmp_path / "one" / f"{name}.png").read_bytes() == (
            tmp_path / "two" / f"{name}.png"
        ).read_bytes()

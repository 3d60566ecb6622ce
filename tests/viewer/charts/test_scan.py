"""The picture of a scan: words stand apart, every surface has its colour in the key."""

from dataclasses import replace

from raytrace import clean_scan
from tests.support.chartchecks import assert_clean
from tests.support.scans import Rough, obj_text, plan_room, scan_of
from viewer.charts.scan import SIZE, draw_scan

DESK = ((0.5, 0.8, 0.0), (1.1, 2.2, 0.72))


def test_words_stand_apart_and_name_every_surface(tmp_path):
    path = tmp_path / "den.obj"
    truth = plan_room(
        [(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4, blocks=(DESK,), hole=((2.0, 0.3), (2.5, 2.5))
    )
    path.write_text(obj_text(*scan_of(truth, Rough(edge=0.22, repeated=0, degenerate=0))))
    room = clean_scan(path)
    chart = draw_scan(room, tmp_path / "scan.png")
    assert_clean(chart, SIZE)
    words = [box.text for box in chart.boxes]
    numbered = {f"{k} {name}" for k, name in enumerate(room.shape.walls, 1)}
    assert numbered | {"floor", "ceiling"} <= set(words)
    # Main sizes, the hole where it is and in the key, the desk by its name.
    assert {"3.60 m", "2.80 m", "hole 1", "hole 1, ceiling", room.objects[0].name} <= set(words)
    assert any(word.startswith("2.40 m high") for word in words)
    assert words.count("hole 1") == 2  # in the view and in the ceiling


def test_a_scan_in_feet_is_told_in_feet(tmp_path):
    path = tmp_path / "den.obj"
    truth = plan_room([(0, 0), (3.6576, 0), (3.6576, 3.048), (0, 3.048)], 2.4384)
    points, triangles = scan_of(truth, Rough(noise=0.0, edge=5.0, repeated=0, degenerate=0))
    path.write_text(obj_text(points, triangles))
    room = clean_scan(path)
    in_feet = replace(room, reading=replace(room.reading, unit="ft"))
    words = [box.text for box in draw_scan(in_feet, tmp_path / "scan.png").boxes]
    assert {"12' 0\"", "10' 0\""} <= set(words)
    assert any("8' 0\" high" in word for word in words)


DOORWAY_ROOM = [(0, 0), (4.2, 0), (4.2, 3.0), (2.0, 3.0), (2.0, 2.0), (0, 2.0)]


def test_the_key_sets_long_names_clear_of_figures_and_holes_are_named_before_their_walls(tmp_path):
    truth = plan_room(DOORWAY_ROOM, 2.4)
    del truth.faces[2]  # the left wall, with a doorway in it instead
    for low, high, foot in ((0.0, 1.0, 0.0), (1.0, 1.9, 2.0), (1.9, 4.2, 0.0)):
        truth.add([(high, 0, foot), (low, 0, foot), (low, 0, 2.4), (high, 0, 2.4)])
    path = tmp_path / "den.obj"
    path.write_text(obj_text(*scan_of(truth, Rough(edge=0.2, noise=0.002, repeated=0, degenerate=0))))
    room = clean_scan(path)
    assert any(len(name) > len("right wall front") for name in room.shape.walls)
    chart = draw_scan(room, tmp_path / "scan.png")
    assert_clean(chart, SIZE)
    (head,) = [box for box in chart.boxes if box.text.startswith("floor from above")]
    names = [box for box in chart.boxes if box.text == "hole 1"]
    (number,) = [box for box in chart.boxes if box.text == "1" and box.left > head.left]
    # In the plan it stands in the room, to the right of the number outside the left wall.
    assert any(name.left > number.right for name in names)
    assert "seen from above, over the right and front walls; dashed: the roof" in {
        b.text for b in chart.boxes
    }

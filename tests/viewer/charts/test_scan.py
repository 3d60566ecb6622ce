"""The picture of a scan: words stand apart, every surface has its colour in the key."""

from raytrace import clean_scan
from tests.support.chartchecks import assert_clean
from tests.support.scans import Rough, obj_text, plan_room, scan_of
from viewer.charts.scan import SIZE, draw_scan

DESK = ((0.5, 0.8, 0.0), (1.1, 2.2, 0.72))


def test_words_stand_apart_and_name_every_surface(tmp_path):
    path = tmp_path / "den.obj"
    truth = plan_room([(0, 0), (3.6, 0), (3.6, 2.8), (0, 2.8)], 2.4, blocks=(DESK,))
    path.write_text(obj_text(*scan_of(truth, Rough(edge=0.22, repeated=0, degenerate=0))))
    room = clean_scan(path)
    chart = draw_scan(room, tmp_path / "scan.png")
    assert_clean(chart, SIZE)
    assert {surface.name for surface in room.surfaces} <= {box.text for box in chart.boxes}

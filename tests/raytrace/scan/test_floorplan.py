"""Floor plans drawn with known truth come back as scenes, whatever units, layers and blocks they have."""

import io
import logging
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import ezdxf
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from raytrace.room import MeshError, build_room
from raytrace.scan import PlanSettings, draft_floorplan, read_floorplan
from raytrace.scan.planfaces import rings_of
from raytrace.scene import load_scene

ELBOW = np.array([(0, 0), (6, 0), (6, 5.2), (3.4, 5.2), (3.4, 3.4), (0, 3.4)], float)
AWAY = np.array([1234.5, -87.0])  # where drawings stand, m


def drawn(path, corners, *, scale=1000.0, insunits=4, turn_deg=0.0, layer="ROOM", fill=None):
    """A DXF file with one closed outline; `fill(document, place)` draws more, `place` from metres on."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = insunits
    space = document.modelspace()
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))

    def place(points):
        turned = np.asarray(points, float) @ np.array([[cosine, sine], [-sine, cosine]])
        return [tuple(point) for point in (turned + AWAY) * scale]

    if corners is not None:
        space.add_lwpolyline(place(corners), close=True, dxfattribs={"layer": layer})
    if fill is not None:
        fill(document, place)
    stream = io.StringIO()
    document.write(stream)
    path.write_text(stream.getvalue(), encoding="utf-8")
    return path


def plan_of(path, **settings):
    return read_floorplan(path, PlanSettings(**{"height_m": 2.45, **settings}))


def door_block(document, place, *, at, size):
    """A block called after a door: its leaf stands open into the room."""
    (x, y), (w, d) = at, size
    block = document.blocks.new("DOOR-90")
    block.add_lwpolyline(place([(x, y), (x + w, y), (x + w, y + d), (x, y + d)]), close=True)
    document.modelspace().add_blockref("DOOR-90", (0, 0))


@pytest.mark.parametrize(
    ("unit", "scale", "code"), [("mm", 1000.0, 4), ("m", 1.0, 6), ("in", 1 / 0.0254, 1), ("cm", 100.0, 5)]
)
@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
def test_an_elbow_comes_back_to_the_millimetre(tmp_path, unit, scale, code, turn_deg):
    path = drawn(tmp_path / "plan.dxf", ELBOW[::-1], scale=scale, insunits=code, turn_deg=turn_deg)
    plan = plan_of(path)
    assert plan.unit == unit
    assert plan.shape.kind == "plan"
    away = np.linalg.norm(plan.shape.corners[:, None] - ELBOW[None], axis=2).min(axis=0)
    assert away.max() < 1e-6  # rounding of numbers a kilometre away
    assert any("clockwise" in line for line in plan.report)
    scene = tmp_path / "plan.toml"
    scene.write_text(draft_floorplan(plan, scene).text, encoding="utf-8")
    read = load_scene(scene)
    room = build_room(read)
    assert read.job.survey_error == 0.02  # nobody has measured it yet
    assert room.volume_m3 == pytest.approx((6 * 3.4 + 2.6 * 1.8) * 2.45, rel=1e-9)


def test_a_rectangle_is_a_box(tmp_path):
    plan = plan_of(drawn(tmp_path / "box.dxf", [(0, 0), (4.2, 0), (4.2, 3), (0, 3)]))
    assert plan.shape.kind == "box"
    assert dict(plan.shape.numbers) == pytest.approx({"length": 4.2, "width": 3.0, "height": 2.45})


def outlines(*more):
    """More closed outlines on the layer of the first."""

    def fill(document, place):
        for own in more:
            document.modelspace().add_lwpolyline(place(own), close=True, dxfattribs={"layer": "ROOM"})

    return fill


def lines(*chains):
    """Single lines end to end, (n, 2) each."""

    def fill(document, place):
        for chain in chains:
            stops = place(chain)
            for start, end in pairwise(stops):
                document.modelspace().add_line(start, end, dxfattribs={"layer": "WALLS"})

    return fill


def test_of_walls_drawn_with_both_faces_the_inner_outline_is_the_room(tmp_path):
    inner = [(0.1, 0.1), (4.1, 0.1), (4.1, 2.9), (0.1, 2.9)]
    cupboard = [(0.1, 0.1), (1.1, 0.1), (1.1, 0.9), (0.1, 0.9)]
    outer = [(0, 0), (4.2, 0), (4.2, 3), (0, 3)]
    path = drawn(tmp_path / "faces.dxf", outer, fill=outlines(inner))
    plan = plan_of(path)
    assert plan.shape.area_m2("floor") == pytest.approx(4.0 * 2.8)
    assert [line for line in plan.report if "what is larger runs round rooms" in line]
    assert plan_of(path, outline=1).shape.area_m2("floor") == pytest.approx(4.2 * 3.0)
    plan = plan_of(drawn(tmp_path / "cupboard.dxf", outer, fill=outlines(cupboard)))
    assert plan.shape.area_m2("floor") == pytest.approx(4.2 * 3.0)


def test_the_outline_of_a_house_is_no_room_and_the_other_rooms_are_named(tmp_path):
    house = [(0, 0), (8, 0), (8, 4), (0, 4)]
    rooms = [(0.1, 0.1), (4.9, 0.1), (4.9, 3.9), (0.1, 3.9)], [(5, 0.1), (7.9, 0.1), (7.9, 3.9), (5, 3.9)]
    plan = plan_of(drawn(tmp_path / "house.dxf", house, fill=outlines(*rooms)))
    assert plan.shape.area_m2("floor") == pytest.approx(4.8 * 3.8)
    (said,) = [line for line in plan.report if "3 closed outlines" in line]
    assert "number 2 is taken" in said
    assert "2.90 by 3.80 m (11.0 m²), --outline 3" in said


def test_lines_of_two_rooms_with_a_wall_between_are_two_rooms(tmp_path):
    around = [(0, 0), (7, 0), (7, 4), (0, 4), (0, 0)]
    # The wall between has a door, from 1.0 to 1.9 m.
    path = drawn(
        tmp_path / "two.dxf", None, fill=lines(around, [(4.2, 0), (4.2, 1.0)], [(4.2, 1.9), (4.2, 4)])
    )
    plan = plan_of(path)
    assert plan.shape.area_m2("floor") == pytest.approx(4.2 * 4.0)
    assert [line for line in plan.report if "2.80 by 4.00 m (11.2 m²), --outline 2" in line]
    (door,) = plan.openings
    assert door.end_m - door.start_m == pytest.approx(0.9, abs=1e-6)
    assert plan_of(path, outline=2).shape.area_m2("floor") == pytest.approx(2.8 * 4.0)


DOUBLE = [
    (1.0, 0), (0, 0), (0, 4), (3, 4), (3, 2.5), (5, 2.5), (5, 0), (1.8, 0), (1.8, -0.1), (5.1, -0.1),
    (5.1, 2.6), (3.1, 2.6), (3.1, 4.1), (-0.1, 4.1), (-0.1, -0.1), (1.0, -0.1),
]  # fmt: skip


@pytest.mark.parametrize("as_lines", [True, False])
def test_a_wall_drawn_as_one_chain_of_both_faces_runs_round_a_room(tmp_path, as_lines):
    path = tmp_path / "double.dxf"
    plan = plan_of(
        drawn(path, None if as_lines else DOUBLE, fill=lines([*DOUBLE, DOUBLE[0]]) if as_lines else None)
    )
    assert plan.shape.area_m2("floor") == pytest.approx(5 * 2.5 + 3 * 1.5)
    assert [line for line in plan.report if "the room is what their inner faces enclose" in line]
    (door,) = plan.openings
    assert (door.kind, plan.shape.walls[door.wall]) == ("door", "left wall")
    assert door.end_m - door.start_m == pytest.approx(0.8, abs=1e-6)


def flat_with_two_rooms():
    """Walls with both their faces as lines; a doorway between the rooms closed by its jambs; an entrance."""
    outer = [(6.4, 0), (8, 0), (8, 5), (0, 5), (0, 0), (5.5, 0), (5.5, 0.3)]
    second = [(6.4, 0), (6.4, 0.3), (7.7, 0.3), (7.7, 4.7), (4.6, 4.7), (4.6, 1.9), (4.5, 1.9)]
    first = [(4.5, 1.9), (4.5, 4.7), (0.3, 4.7), (0.3, 0.3), (4.5, 0.3), (4.5, 1.0), (4.6, 1.0)]
    walls = lines(outer, second, first, [(4.6, 1.0), (4.6, 0.3), (5.5, 0.3)])

    def fill(document, place):
        walls(document, place)
        block = document.blocks.new("DOOR_90")
        block.add_line((0, 0), (0, 900))
        block.add_arc((0, 0), 900, 0, 90)
        for at in ((5.5, 0.3), (4.5, 1.0)):
            document.modelspace().add_blockref("DOOR_90", place([at])[0])

    return fill


def test_of_walls_that_enclose_two_rooms_the_other_is_named_with_its_size(tmp_path):
    path = drawn(tmp_path / "flat.dxf", None, fill=flat_with_two_rooms())
    plan = plan_of(path)
    assert plan.shape.area_m2("floor") == pytest.approx(4.2 * 4.4)
    (said,) = [line for line in plan.report if "Set aside" in line]
    assert "walls drawn with both their faces" in said
    assert "4.20 by 4.40 m (18.5 m²). Set aside: 3.10 by 4.40 m (13.6 m²), --room 2" in said
    assert plan_of(path, room=2).shape.area_m2("floor") == pytest.approx(3.1 * 4.4)
    for number in (0, 3):
        with pytest.raises(MeshError, match=f"holds 2 rooms; --room {number}"):
            plan_of(path, room=number)


def test_a_door_stands_at_the_numbers_of_the_drawing_and_one_in_no_wall_is_told_where(tmp_path):
    plan = plan_of(drawn(tmp_path / "flat.dxf", None, fill=flat_with_two_rooms()))
    # The entrance is the other room's; in the drawing's own frame, as above.
    (said,) = [line for line in plan.report if "left out" in line]
    assert said.startswith(
        'door "DOOR_90" at (1240450, -86250), in the numbers of the drawing, lies in no wall'
    )
    assert len(plan.openings) == 1
    text = draft_floorplan(plan, tmp_path / "flat.toml").text
    # 700 mm from one end of its wall of 4400 mm and 2800 mm from the other.
    assert 'at = ["2800 mm", "0 mm"]' in text
    assert 'size = ["900 mm", "2000 mm"]' in text


def test_a_band_that_encloses_no_room_is_refused_with_what_to_do(tmp_path):
    band = [(0, 0), (5, 0), (5, 4), (4.9, 4), (4.9, 0.1), (0, 0.1)]
    with pytest.raises(MeshError, match=r"is a band about 99 wide .* inner outline as one closed polyline"):
        plan_of(drawn(tmp_path / "band.dxf", band))


@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
@pytest.mark.parametrize("last", [(0, 0), (0, -0.1)])  # up to the corner, or to a wall that runs on
def test_a_door_at_a_corner_is_a_door(tmp_path, turn_deg, last):
    chain = [(0.8, 0), (5, 0), (5, 2.5), (3, 2.5), (3, 4), (0, 4), last]
    plan = plan_of(drawn(tmp_path / "corner.dxf", None, turn_deg=turn_deg, fill=lines(chain)))
    assert plan.shape.area_m2("floor") == pytest.approx(5 * 2.5 + 3 * 1.5)
    (door,) = plan.openings
    assert door.kind == "door"
    assert door.end_m - door.start_m == pytest.approx(0.8, abs=1e-6)


def test_an_outline_that_stays_open_is_told_where_and_how_wide(tmp_path):
    chain = [(3.5, 0), (5, 0), (5, 2.5), (3, 2.5), (3, 4), (0, 4), (0, 0), (0.3, 0)]
    path = drawn(tmp_path / "open.dxf", None, fill=lines(chain))
    # In the drawing's own frame: millimetres, 1234.5 and -87 m away.
    where = r'layer "WALLS" it is open between \(1238000, -87000\) and \(1234800, -87000\), 3200 apart.*'
    with pytest.raises(MeshError, match=where + "Draw a line there"):
        plan_of(path)


def test_a_unit_that_makes_no_room_is_not_believed_and_said(tmp_path):
    path = drawn(tmp_path / "plan.dxf", ELBOW, insunits=1)  # says inches, counts millimetres
    plan = plan_of(path)
    assert plan.unit == "mm"
    assert any("the file says in, which makes no room" in line for line in plan.report)


def test_a_unit_that_is_asked_for_and_makes_no_room_is_doubted_first(tmp_path):
    def fill(document, place):
        door_block(document, place, at=(1.0, -0.1), size=(0.86, 0.9))

    plan = plan_of(drawn(tmp_path / "plan.dxf", ELBOW, fill=fill), unit="in")
    assert plan.unit == "in"
    first = plan.report[0]
    assert "read as in as asked it is a room of 16181 m² with doors and gaps 22.9 m wide" in first
    assert "--unit mm makes a usual one" in first
    with pytest.raises(
        MeshError, match=r"plan\.dxf: as in its outline makes no room: read as 152\.4 m; accepted"
    ):
        draft_floorplan(plan, tmp_path / "plan.toml")


def test_the_width_of_a_door_decides_between_units_that_both_make_a_room(tmp_path):
    # 4.9 m2 in inches, 700 m2 in feet; as drawn in inches the door would be 34 mm.
    def fill(document, place):
        door_block(document, place, at=(1.0, -0.1), size=(0.86, 0.9))

    path = drawn(tmp_path / "plan.dxf", ELBOW, insunits=0, fill=fill)
    plan = plan_of(path)
    assert plan.unit == "mm"
    (door,) = plan.openings
    assert (door.kind, plan.shape.walls[door.wall]) == ("door", "left wall")
    assert (door.start_m, door.end_m) == pytest.approx((1.0, 1.86), abs=1e-6)


def test_a_door_stands_in_the_scene_where_it_was_drawn(tmp_path):
    def fill(document, place):
        door_block(document, place, at=(1.0, -0.1), size=(0.86, 0.9))

    plan = plan_of(drawn(tmp_path / "plan.dxf", ELBOW, fill=fill))
    scene = tmp_path / "plan.toml"
    draft = draft_floorplan(plan, scene)
    assert not draft.notes
    scene.write_text(draft.text, encoding="utf-8")
    room = build_room(load_scene(scene))
    (opening,) = room.openings
    frame = room.surfaces[opening.surface].frame
    corners = frame.to_room(np.reshape(opening.rect, (2, 2)))
    # From 1.00 to 1.86 m along the wall y = 0, to the millimetre of the file.
    assert sorted(corners[:, 0]) == pytest.approx([1.0, 1.86], abs=0.0011)
    assert corners[:, 1] == pytest.approx([0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize("lap", [0.0, 0.1])
def test_walls_that_are_thin_rectangles_of_their_own_are_a_room(tmp_path, lap):
    thick = 0.1
    rectangles = [
        ((-lap, -thick), (1.5, 0.0)), ((2.4, -thick), (4.2 + lap, 0.0)),  # a doorway of 0.9 m between
        ((4.2, -lap), (4.2 + thick, 3.0 + lap)), ((-lap, 3.0), (4.2 + lap, 3.0 + thick)),
        ((-thick, -lap), (0.0, 3.0 + lap)),
    ]  # fmt: skip

    def fill(document, place):
        for (x0, y0), (x1, y1) in rectangles:
            outline = place([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
            document.modelspace().add_lwpolyline(outline, close=True, dxfattribs={"layer": "WALLS"})

    plan = plan_of(drawn(tmp_path / "plan.dxf", None, fill=fill))
    assert dict(plan.shape.numbers) == pytest.approx({"length": 4.2, "width": 3.0, "height": 2.45})
    (gap,) = plan.openings
    assert (gap.kind, gap.end_m - gap.start_m) == ("door", pytest.approx(0.9, abs=1e-6))
    assert any("walls drawn with both their faces" in line for line in plan.report)


def test_lines_with_a_gap_are_a_wall_with_a_door(tmp_path):
    def fill(document, place):
        stops = [(0, 0), (1.5, 0)], [(2.4, 0), (4, 0)], [(4, 0), (4, 3)], [(0, 3), (4, 3)], [(0, 3), (0, 0)]
        for a, b in stops:
            start, end = place([a, b])
            document.modelspace().add_line(start, end, dxfattribs={"layer": "WALLS"})

    plan = plan_of(drawn(tmp_path / "plan.dxf", None, fill=fill))
    assert plan.shape.kind == "box"
    (gap,) = plan.openings
    assert (gap.kind, gap.told_by) == ("door", "a gap in the wall")
    assert gap.end_m - gap.start_m == pytest.approx(0.9, abs=1e-6)


def test_an_arc_becomes_flat_strips(tmp_path):
    path = tmp_path / "round.dxf"
    document = ezdxf.new("R2010")
    # Half a circle of 2 m radius at one end.
    points = [(0, 0, 0), (4, 0, 1.0), (4, 4, 0), (0, 4, 0)]
    document.modelspace().add_lwpolyline(points, format="xyb", close=True)
    document.header["$INSUNITS"] = 6
    stream = io.StringIO()
    document.write(stream)
    path.write_text(stream.getvalue())
    plan = plan_of(path)
    x, y = plan.shape.corners.T
    area = abs(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    # Strips inside an arc: at most 0.2 % of its size off.
    assert area == pytest.approx(16 + np.pi * 2, rel=0.01)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"layer": "WALS"}, 'there are "ROOM" (1), "OUTER" (1)'),
        ({}, "say which layer is meant"),
        ({"layer": "ROOM", "outline": 2}, "holds 1 closed outline;"),
    ],
)
def test_layers_are_listed_where_none_or_a_wrong_one_is_named(tmp_path, settings, words):
    def fill(document, place):
        outer = np.array([(-1, -1), (9, -1), (9, 9), (-1, 9)], float)
        document.modelspace().add_lwpolyline(place(outer), close=True, dxfattribs={"layer": "OUTER"})

    path = drawn(tmp_path / "plan.dxf", ELBOW, fill=fill)
    with pytest.raises(MeshError) as refused:
        plan_of(path, **settings)
    assert words in str(refused.value)


@pytest.mark.parametrize("text", ["", "0\nSECTION\n", "no drawing", "0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n"])
def test_what_is_no_plan_is_refused_in_words(tmp_path, text):
    path = tmp_path / "plan.dxf"
    path.write_text(text)
    with pytest.raises(MeshError):
        plan_of(path)


WRONG = ("", "1e400", "nan", "-1", "0", "999999999999", "INSERT", "ENDSEC", "EOF", "70", "42", "inf", "\x00")


@settings(max_examples=40, deadline=None)
@given(st.randoms(use_true_random=False))
def test_a_spoilt_drawing_is_a_room_or_refused_in_words(random):
    with TemporaryDirectory() as folder:
        path = drawn(Path(folder) / "plan.dxf", ELBOW)
        lines = path.read_text(encoding="utf-8").split("\n")
        first = lines.index("ENTITIES")
        for _ in range(random.choice((1, 2, 5))):
            row = random.randrange(first, len(lines))
            lines[row : row + 1] = random.choice(([], [random.choice(WRONG)], [lines[row]] * 2))
        path.write_text("\n".join(lines), encoding="utf-8")
        with suppress(MeshError):
            assert len(plan_of(path).shape.corners) >= 3


def test_a_layout_without_a_name_is_no_drawing(tmp_path):
    path = drawn(tmp_path / "plan.dxf", ELBOW)
    lines = path.read_text(encoding="utf-8").split("\n")
    row = next(k for k, line in enumerate(lines) if line == "AcDbLayout" and lines[k + 2] == "Layout1")
    path.write_text("\n".join([*lines[: row + 1], *lines[row + 3 :]]), encoding="utf-8")
    with pytest.raises(MeshError, match=r"plan\.dxf does not read as DXF"):
        plan_of(path)


def test_what_the_reader_logs_of_broken_numbers_does_not_reach_the_terminal(tmp_path, monkeypatch, capsys):
    path = drawn(tmp_path / "plan.dxf", ELBOW)
    path.write_text(path.read_text(encoding="utf-8").replace("1240500", "nan"), encoding="utf-8")
    monkeypatch.setattr(logging.root, "handlers", [])  # as in a program that has none
    with suppress(MeshError):
        plan_of(path)
    assert capsys.readouterr().err == ""


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(*[st.integers(0, 8)] * 4), min_size=3, max_size=12), st.sampled_from([1.0, 1e6]))
def test_any_lines_make_outlines_with_an_area_or_none(ends, scale):
    drawn_lines = [scale * np.array([(a, b), (c, d)], float) for a, b, c, d in ends]
    if np.ptp(np.array(drawn_lines).reshape(-1, 2), axis=0).max() == 0.0:
        return
    rings, gaps = rings_of(drawn_lines)
    assert all(ring.area > 0.0 and len(ring.corners) >= 3 for ring in rings)
    assert all(np.isfinite(gap).all() for gap in gaps)

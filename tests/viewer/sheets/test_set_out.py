"""Set-out sheets: what an installer measures is what was computed, and every figure can be read."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace import find_targets, format_length
from tests.support.colours import contrast
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study
from viewer.look import WHITE
from viewer.paper import boxes_overlap, crossings, hatch, spread, text_size_mm
from viewer.sheets.elevation import find_obstacles
from viewer.sheets.faceview import LEFT, LOWER, RIGHT, UPPER, FaceView
from viewer.sheets.set_out import draw_sheets, page_room_mm
from viewer.words import length_figure, will_change

ROOMS = sorted(path.stem for path in SCENES.glob("*.toml"))


@cache
def sheets_of(name, units="metric"):
    return draw_sheets(shipped_study(name), units=units)


def view_of(name, surface):
    study = shipped_study(name)
    return FaceView(study.room, [s.name for s in study.room.surfaces].index(surface))


@pytest.mark.parametrize("name", ROOMS)
def test_dimensions_are_the_spots_of_the_arrivals(name):
    study = shipped_study(name)
    assert sheets_of(name)
    for sheet in sheets_of(name):
        frame = study.room.surfaces[sheet.surface].frame
        is_plan = abs(frame.n[2]) > 0.9987  # within 3 degrees of level
        for spot, card in zip(sheet.spots, sheet.cards, strict=True):
            row = spot.patch.rows[0]
            bounces = np.flatnonzero(study.arrivals.path_surfaces[row] == sheet.surface)
            places = study.arrivals.spots[row, bounces]
            assert np.abs(places - spot.uv).sum(axis=1).min() < 1e-9  # metres: the same numbers
            u, v = spot.uv
            width, height = frame.width, frame.height
            wanted = (v, height - v, u, width - u) if is_plan else (u, width - u, height - v, v)
            assert spot.sides_m == pytest.approx(wanted, abs=1e-9)
            figures = [text for _, text, is_big in card.lines if is_big]
            assert figures == [format_length(x).removesuffix(" mm") for x in wanted]
            drawn = {mark.text for mark in sheet.marks if mark.kind == "text" and mark.bold}
            assert {f for f, x in zip(figures, wanted, strict=True) if x > 0.0005} <= drawn


@pytest.mark.parametrize("name", ROOMS)
def test_area_figures_are_the_sides_of_the_patch(name):
    for sheet in sheets_of(name):
        view = FaceView(shipped_study(name).room, sheet.surface)
        for spot in sheet.spots:
            left, right, upper, lower = spot.area_sides_m
            corners = view.from_frame(spot.patch.outline)
            assert corners[:, 0].min() == pytest.approx(left, abs=1e-9)
            assert corners[:, 0].max() == pytest.approx(view.width_m - right, abs=1e-9)
            assert corners[:, 1].min() == pytest.approx(upper, abs=1e-9)
            assert corners[:, 1].max() == pytest.approx(view.height_m - lower, abs=1e-9)


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", ROOMS)
def test_no_words_touch_and_all_stand_inside_the_drawing(name, units):
    for sheet in sheets_of(name, units):
        boxes = [(mark.text, mark.box) for mark in sheet.marks if mark.kind == "text"]
        wide, high = page_room_mm("A4", landscape=sheet.landscape)
        assert sheet.size_mm[0] <= wide
        assert sheet.size_mm[1] <= high
        for i, (text, box) in enumerate(boxes):
            spare = (wide - sheet.size_mm[0]) / 2.0  # an upright page centres its drawing
            assert box[0] >= -spare, (sheet.title, text)
            assert box[2] <= sheet.size_mm[0] + spare, (sheet.title, text)
            assert box[1] >= 0.0, (sheet.title, text)
            assert box[3] <= sheet.size_mm[1], (sheet.title, text)
            for other, other_box in boxes[i + 1 :]:
                assert not boxes_overlap(box, other_box), (sheet.title, text, other)


@pytest.mark.parametrize("name", ROOMS)
def test_every_word_has_contrast(name):
    for sheet in sheets_of(name):
        for mark in sheet.marks:
            if mark.kind == "text":
                # Letters are white on a disc of the accent, everything else is dark on white.
                ground = "#B8331A" if mark.ink == WHITE else WHITE
                assert contrast(mark.ink, ground) >= 4.5, mark.text


@pytest.mark.parametrize("name", ROOMS)
def test_the_drawing_has_the_scale_it_states(name):
    for sheet in sheets_of(name):
        view = FaceView(shipped_study(name).room, sheet.surface)
        outlines = [m for m in sheet.marks if m.kind == "area" and m.width_pt == 1.4]
        for outline, mark in zip(view.outlines, outlines, strict=False):
            drawn = np.array(mark.points)
            real = 1000.0 * (outline.max(axis=0) - outline.min(axis=0))
            # Points are rounded to a thousandth of a millimetre on paper.
            assert (drawn.max(axis=0) - drawn.min(axis=0)) * sheet.scale == pytest.approx(
                real, abs=0.002 * sheet.scale
            )


@pytest.mark.parametrize("name", ROOMS)
def test_every_area_over_the_limit_is_set_out_or_treated_with_another(name):
    study = shipped_study(name)
    targets = [entry for entries in find_targets(study).values() for entry in entries]
    answered = {row for patch, caught in targets for row in (*patch.rows, *caught)}
    lifted = {row for peak in study.peaks if peak.may_be_over for row in peak.arrivals}
    strong = {row for patch in study.treatment_areas if patch.over_limit for row in patch.rows}
    assert strong & lifted <= answered
    drawn = [spot.patch for sheet in sheets_of(name) for spot in sheet.spots]
    assert {id(patch) for patch in drawn} == {id(patch) for patch, _ in targets}
    # What is set out stands for a peak that is over the limit or may be.
    assert all(set(patch.rows) & lifted for patch in drawn)


def test_walls_are_seen_from_inside_and_ceilings_with_the_front_at_the_top():
    assert view_of("box", "left wall").neighbours == ("back wall", "front wall", "ceiling", "floor")
    assert view_of("box", "right wall").neighbours == ("front wall", "back wall", "ceiling", "floor")
    assert view_of("box", "back wall").neighbours == ("right wall", "left wall", "ceiling", "floor")
    for surface in ("ceiling", "floor"):
        assert view_of("box", surface).neighbours == ("left wall", "right wall", "front wall", "back wall")


def test_a_gable_wall_gives_the_distance_to_its_slopes():
    # Ridge loft: 4.40 wide, eaves 1.10, ridge 2.60. At 1.85 each slope is half way up, 1.10 in.
    view = view_of("ridge", "back wall")
    left, right, upper, lower = view.outline_sides((2.0, 1.85))
    assert left == pytest.approx(2.0 - 1.1, abs=1e-6)  # the crossing is taken a nanometre off the height
    assert right == pytest.approx(4.4 - 1.1 - 2.0, abs=1e-6)
    assert upper == pytest.approx(1.1 + 1.5 * 2.0 / 2.2 - 1.85, abs=1e-6)
    assert lower is None
    assert view.outline_sides((2.0, 0.5))[:2] == (None, None)


def test_an_elbow_ceiling_gives_the_distance_to_the_wall_that_is_there():
    # The room's first arm is 3.40 wide up to x = 3.40, the whole rectangle 5.20.
    view = view_of("elbow", "ceiling")
    sides = view.outline_sides((1.0, 1.0))
    assert sides[RIGHT] == pytest.approx(2.4, abs=1e-6)
    assert sides[LEFT] is None
    assert sides[UPPER] is None
    assert sides[LOWER] is None


def test_a_spot_on_the_edge_of_a_beam_has_the_whole_beam_on_its_other_side():
    view = view_of("beams", "beam 1 bottom")
    for u in (0.0, view.frame.width):
        for v in (0.0, view.frame.height / 2):
            assert view.outline_sides((u, v)) == (None, None, None, None)


@pytest.mark.parametrize("name", ROOMS)
def test_what_is_in_the_way_is_hatched_and_named_with_its_reason(name):
    study, n_obstacles = shipped_study(name), 0
    for sheet in sheets_of(name):
        view = FaceView(study.room, sheet.surface)
        shown = " ".join([*(mark.text.replace("\n", " ") for mark in sheet.marks), *sheet.notes])
        for obstacle in find_obstacles(study.scene, view.surface):
            n_obstacles += 1
            assert obstacle.text in shown
            corners = view.from_frame(obstacle.outline)
            outline = np.array(next(m for m in sheet.marks if m.kind == "area" and m.width_pt == 1.4).points)
            per_metre = 1000.0 / sheet.scale
            origin = outline.min(axis=0) - per_metre * view.outlines[0].min(axis=0)
            low, high = origin + per_metre * corners.min(axis=0), origin + per_metre * corners.max(axis=0)
            lines = [np.array(m.points) for m in sheet.marks if m.kind == "line" and m.width_pt == 0.4]
            # Points are rounded to a thousandth of a millimetre.
            inside = [p for p in lines if np.all(p >= low - 0.01) and np.all(p <= high + 0.01)]
            assert len(inside) >= 2, obstacle.text
    if name in ("ridge", "classroom", "rented"):
        assert n_obstacles


def test_an_area_that_meets_a_window_says_so():
    notes = [note for sheet in sheets_of("classroom") for note in sheet.notes]
    assert any(note.startswith("window") and " Area" in note and note.endswith("it.") for note in notes)


def test_overhead_sheets_carry_the_caution_and_rented_rooms_forbid_the_drill():
    ceiling = next(s for s in sheets_of("elbow") if s.title.startswith("Ceiling"))
    assert "Overhead loads" in ceiling.notes[-1]
    for sheet in sheets_of("rented"):
        surface = shipped_study("rented").room.surfaces[sheet.surface]
        if surface.owner is None and surface.name != "floor":
            assert any("Nothing may be drilled" in note for note in sheet.notes)


def test_nothing_lies_on_an_upright_face():
    of_title = {sheet.title: sheet.notes[-1] for sheet in sheets_of("classroom")}
    assert "strapped round it" in of_title["Column left"]
    assert "lies loose" in next(note for title, note in of_title.items() if title.startswith("Floor"))


def test_imperial_sheets_hold_no_millimetres():
    for sheet in sheets_of("box", "imperial"):
        for card in sheet.cards:
            assert all(text.endswith('"') or text.endswith("'") for _, text, _ in card.lines)
    assert length_figure(4.2, "imperial") == "13' 9 3/8\""  # 4200 / 25.4 = 165.35 in, to the eighth


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(1, 12)), min_size=1, max_size=6),
)
def test_spread_labels_stand_clear_inside_their_ends_and_in_order(labels):
    wanted, sizes = zip(*labels, strict=True)
    places = spread(wanted, sizes, low=0.0, high=100.0, gap=2.0)  # at most 6 x 14 mm: they always fit
    spans = sorted((p - s / 2, p + s / 2) for p, s in zip(places, sizes, strict=True))
    tolerance = 1e-9  # millimetres, rounding of sums
    assert all(a[1] + 2.0 <= b[0] + tolerance for a, b in pairwise(spans))
    assert spans[0][0] >= -tolerance
    assert spans[-1][1] <= 100.0 + tolerance
    order = np.argsort(wanted, kind="stable")
    assert np.all(np.diff(np.array(places)[order]) > 0.0)


def test_labels_with_room_stay_where_they_want_to_be():
    assert spread([50.0, 10.0], [8.0, 8.0], low=0.0, high=100.0, gap=2.0) == pytest.approx([50.0, 10.0])


def test_text_is_as_wide_as_the_face_says():
    # DejaVu Sans sets every figure 1303 units of 2048 wide (its own table of advance widths).
    width, _ = text_size_mm("1270", 72.0)
    assert width == pytest.approx(4 * 1303 / 2048 * 25.4, rel=0.02)  # ink width: side bearings are left out
    assert text_size_mm("1270\n1", 10.0)[0] == text_size_mm("1270", 10.0)[0]
    assert text_size_mm("1270\n1", 10.0)[1] > text_size_mm("1270", 10.0)[1]


def test_hatching_stays_inside_a_concave_outline():
    outline = np.array([(0, 0), (40, 0), (40, 40), (30, 40), (30, 10), (0, 10)], float)
    marks = hatch(outline, spacing=2.0)
    assert len(marks) > 20
    for mark in marks:
        (x0, y0), (x1, y1) = mark.points
        assert x0 + y0 == pytest.approx(x1 + y1, abs=0.01)  # 45 degrees, points rounded to 0.001 mm
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        assert y <= 10 + 1e-6 or x >= 30 - 1e-6


def test_crossings_lie_on_the_line_and_on_the_outline():
    square = np.array([(0, 0), (2, 0), (2, 2), (0, 2)], float)
    points = crossings(square, np.array([0.0, 1.0]), 0.5)
    assert sorted(p[0] for p in points) == [0.0, 2.0]
    assert all(p[1] == 0.5 for p in points)


def test_a_desk_is_changed_before_it_is_covered_and_a_wall_is_not():
    study = shipped_study("garage")
    for sheet in sheets_of("garage"):
        advised = [note for note in sheet.notes if note.startswith("Before it is covered: move it, lower it")]
        assert len(advised) == (study.room.surfaces[sheet.surface].name == "desk top")
        assert all("common practice, no source" in note for note in advised)
    surfaces = [study.room.surfaces[sheet.surface].name for sheet in sheets_of("garage")]
    assert "desk top" in surfaces
    told = [line for line in will_change(study, len(surfaces), surfaces) if "desk top" in line]
    assert any("put speakers that stand on it on stands" in line for line in told)


def test_nobody_is_told_to_lower_a_column():
    study = shipped_study("classroom")
    surfaces = [study.room.surfaces[sheet.surface].name for sheet in sheets_of("classroom")]
    assert "column left" in surfaces
    told = [line for line in will_change(study, len(surfaces), surfaces) if "column left" in line]
    assert any("often better moved than covered, where that can be done" in line for line in told)
    assert not any("lower it" in line for line in told)
    assert not any("lower it" in note for sheet in sheets_of("classroom") for note in sheet.notes)


def test_a_window_on_a_sheet_is_told_with_its_size_and_place():
    (sheet,) = (s for s in sheets_of("ridge") if s.title == "Right slope")
    # As ridge.toml has it: 780 x 980 mm, its lower left corner at 990 mm, 1090 mm.
    told = "roof window: 780 x 980, 990 from left, 1090 from bottom. Areas A and B meet it."
    assert told in sheet.notes


def test_each_card_tells_how_far_its_spot_may_be_off():
    told = [line for sheet in sheets_of("box") for card in sheet.cards for line in card.lines]
    figures = {figure for label, figure, _ in told if label == "spot may be off"}
    # Taped to 5 mm: 3.5 mm halfway between speaker and ears, a little more off the middle, and from the far
    # side the room's own 5 mm with it.
    assert figures == {"±6 ±6"}

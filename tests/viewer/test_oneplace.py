"""One spot has one place: the same millimetres in the window, on sheets, in tables and on the page."""

import json
import re
from functools import cache

import numpy as np
import pytest
from rich.console import Console

from raytrace import Treatment, build_room, load_scene, orientation, run_study
from tests.support.rooms import room_text
from tests.support.tilted import TILTED, TILTS_DEG, tilted_ceilings
from viewer.page import write_page
from viewer.report import hanging_pages, shopping_page
from viewer.sheets import draw_panels, draw_sheets
from viewer.tables import arrivals_json, arrivals_tables
from viewer.window.state import clear_words, place_of, place_words, point_of, spot_lines

PANEL = """
[[panels]]
name = "tried"
surface = "{}"
centre = [1.1, 0.9]
build = "wool 50"
"""

every_room = pytest.mark.parametrize(
    ("shape", "tilt_deg"), [(shape, tilt) for shape in TILTED for tilt in TILTS_DEG]
)


@pytest.fixture(scope="module")
def study_of(tmp_path_factory):
    """The first reflections of a room, the tilted face that sends one of them, and its row."""

    @cache
    def run(shape, tilt_deg):
        path = tmp_path_factory.mktemp("rooms") / "room.toml"
        path.write_text(room_text(TILTED[shape](tilt_deg)), encoding="utf-8")
        study = run_study(load_scene(path), up_to_order=1)
        faces = study.arrivals.path_surfaces[:, 0]
        row = int(np.flatnonzero(np.isin(faces, tilted_ceilings(study.room)))[0])
        return study, int(faces[row]), row

    return run


def mm(*lengths_m):
    return [f"{1e3 * length_m:.0f}" for length_m in lengths_m]


def place_on(study, face, row):
    """The frame of a face, whether it is level, and where on it a reflection lands, from its point alone."""
    frame = study.room.surfaces[face].frame
    return frame, orientation(frame.n).is_level, frame.to_plane(study.arrivals.path_points[row, 1])


@every_room
def test_the_window_gives_the_place_of_the_set_out_frame(study_of, shape, tilt_deg):
    study, face, row = study_of(shape, tilt_deg)
    frame, level, (u, v) = place_on(study, face, row)
    (line,) = spot_lines(study, row, "metric")
    far_sides = (frame.width - u, frame.height - v) if level else (frame.width - u,)
    assert re.findall(r"(\d+) mm", line) == mm(u, v, *far_sides)
    # Plan distances are told from walls, others from the edges of the face.
    assert ("from the front" in line) == level
    assert ("from its left edge" in line) != level


@every_room
def test_sheets_give_the_same_place(study_of, shape, tilt_deg):
    study, face, row = study_of(shape, tilt_deg)
    frame, level, (u, v) = place_on(study, face, row)
    (sheet,) = (sheet for sheet in draw_sheets(study) if sheet.surface == face)
    card = sheet.cards[[spot.patch.rows[0] for spot in sheet.spots].index(row)]
    wanted = (v, frame.height - v, u, frame.width - u) if level else (u, frame.width - u, frame.height - v, v)
    assert [text for _, text, is_big in card.lines if is_big] == mm(*wanted)


@every_room
def test_tables_and_page_give_the_same_place(study_of, shape, tilt_deg, tmp_path):
    study, face, row = study_of(shape, tilt_deg)
    frame, _, (u, v) = place_on(study, face, row)
    console = Console(width=200)
    with console.capture() as printed:
        console.print(arrivals_tables(study, np.array([row]), units="metric", everything=True))
    assert " / ".join(mm(u, v)) in printed.get()
    (spot,) = arrivals_json(study)["arrivals"][row]["spots"]
    assert (spot["u_m"], spot["v_m"]) == pytest.approx((u, v), abs=1e-9)
    text = write_page(study, tmp_path / "page.html").read_text(encoding="utf-8")
    room = json.loads(re.search(r'id="room">(.*?)</script>', text, re.DOTALL)[1])
    drawn = [frame.to_plane(path["points"][1]) for path in room["states"][0]["paths"]]
    assert np.abs(np.subtract(drawn, (u, v))).max(axis=1).min() < 0.001  # written in millimetres


@every_room
def test_a_panel_is_said_and_drawn_where_the_scene_puts_it(shape, tilt_deg, scene_of):
    bare = build_room(scene_of(room_text(TILTED[shape](tilt_deg))))
    face = tilted_ceilings(bare)[0]
    name, level = bare.surfaces[face].name, orientation(bare.surfaces[face].frame.n).is_level
    study = run_study(scene_of(room_text(TILTED[shape](tilt_deg), PANEL.format(name))), up_to_order=1)
    frame = study.room.surfaces[face].frame
    assert frame.to_plane(point_of(study, ("panels", 0))) == pytest.approx((1.1, 0.9), abs=1e-9)
    assert place_of(study, ("panels", 0)) == (1.1, 0.9)
    along = ("middle from the front", "from the left") if level else (f"middle along the {name}", "up it")
    assert place_words(study, ("panels", 0)) == along
    assert ("edge" in clear_words(study, ("panels", 0), (1.1, 0.9), "metric")) != level
    # The installer gets a plan of the whole ceiling, or the true shape of one slope, and hooks to match.
    (page,) = draw_panels(study.scene, study.room)
    assert page.title.startswith("Reflected ceiling plan" if level else f"{name.capitalize()}, true shape")
    treatment = Treatment(study.scene, study.room)
    blocks = [
        block
        for page in [shopping_page(treatment, units="metric"), *hanging_pages(treatment, units="metric")]
        for block in page["blocks"]
    ]
    titles = {block["text"] for block in blocks if block["kind"] == "sub"}
    wanted = f"Hooks on the {name}" if level else "Hooks on walls and slopes, facing each"
    assert {title for title in titles if title.startswith("Hooks on")} == {wanted}

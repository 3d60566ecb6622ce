"""Cautions stand beside the work that can hurt someone, on every sheet and list of it."""

import io

import pytest
from rich.console import Console

from raytrace import Caution, Treatment, build_room
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study
from viewer.sheets import draw_panels, draw_sheets
from viewer.tables import making_csv, making_tables
from viewer.words import Work, cautions_beside, is_high, works_of


@pytest.fixture(scope="module")
def treatment():
    study = shipped_study("treated-box", up_to_order=1)
    return Treatment(study.scene, study.room)


@pytest.mark.parametrize("work", Work)
def test_local_codes_come_first_whatever_is_done(work):
    assert cautions_beside([work])[0] is Caution.CODES
    assert len(cautions_beside([work])) > 1


def test_what_hangs_overhead_asks_for_ladders_structure_and_coatings():
    assert {Caution.OVERHEAD, Caution.LADDERS, Caution.COATINGS, Caution.CABLES} <= set(
        cautions_beside([Work.HANG])
    )


def test_a_top_above_two_metres_asks_for_two_persons(treatment):
    names = [panel.name for panel in treatment.room.panels]
    cloud, left = (next(k for k, name in enumerate(names) if name.startswith(n)) for n in ("cloud", "left"))
    tops = [float(treatment.room.panels[k].corners[:, 2].max()) for k in (cloud, left)]
    assert (
        [is_high(treatment.room, [k]) for k in (cloud, left)] == [top > 2.0 for top in tops] == [True, False]
    )
    assert Work.HIGH in works_of(treatment)


def test_lists_of_the_terminal_and_csv_carry_all_that_is_done(treatment):
    out = io.StringIO()
    Console(file=out, width=200, color_system=None).print(making_tables(treatment, units="metric"))
    told = " ".join(out.getvalue().split())
    rows = making_csv(treatment)
    for caution in (Caution.CODES, Caution.OVERHEAD, Caution.LADDERS, Caution.STANDS, Caution.FIBRES):
        assert caution in told
        assert caution in rows.replace('""', '"')


def test_every_drawing_and_every_set_out_sheet_carries_some(treatment):
    pages = draw_panels(treatment.scene, treatment.room)
    of_view = {}
    for page in pages:
        of_view.setdefault(page.subject, []).extend(mark.text for mark in page.marks if mark.kind == "text")
    assert all("Cautions" in texts for texts in of_view.values())


def test_every_set_out_sheet_carries_some_and_nothing_is_drilled_into_floors_and_desks():
    study = shipped_study("garage", up_to_order=2)
    sheets = draw_sheets(study)
    assert sheets
    for sheet in sheets:
        assert "Cautions. " in sheet.notes[-1]
        assert "Local codes" in sheet.notes[-1]
        surface = study.room.surfaces[sheet.surface]
        loose = surface.owner is not None or surface.name == "floor"
        assert ("Nothing is drilled here" in sheet.notes[-1]) == loose
        assert ("before drilling" in sheet.notes[-1]) != loose


def test_a_panel_on_a_slope_is_overhead_on_lists_as_on_its_sheet(scene_of):
    slope = (
        '\n[[panels]]\nname = "high"\nsurface = "left slope"\nbuild = "wool 50"\ncentre = [2.0, 1.5]\n'
        'gap = "50 mm"\n'
    )
    scene = scene_of((SCENES / "ridge.toml").read_text(encoding="utf-8") + slope)
    works = works_of(Treatment(scene, build_room(scene)))
    assert Work.HANG in works
    assert Work.MOUNT not in works

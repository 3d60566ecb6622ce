"""Single sheets as pictures show what the installer's set of them does."""

from tests.support.studies import shipped_study
from viewer.report import spot_pictures
from viewer.sheets import draw_panels, draw_sheets, panel_picture

PNG = b"\x89PNG"


def test_a_surface_has_the_sheets_of_the_set_and_none_where_nothing_is_over():
    study = shipped_study("box")
    first = draw_sheets(study)[0]
    ((title, picture),) = spot_pictures(study, first.surface, units="metric")
    assert title == first.title
    assert picture.startswith(PNG)
    shown = {sheet.surface for sheet in draw_sheets(study)}
    bare = next(k for k in range(len(study.room.surfaces)) if k not in shown)
    assert spot_pictures(study, bare, units="metric") == []


def test_a_panel_is_on_a_sheet_of_the_set():
    study = shipped_study("treated-box")
    titles = {page.title for page in draw_panels(study.scene, study.room)}
    sheets = panel_picture(study.scene, study.room, len(study.room.panels) - 1)
    assert {title for title, _ in sheets} <= titles
    assert all(picture.startswith(PNG) for _, picture in sheets)

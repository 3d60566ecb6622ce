"""The DXF reads back to the room's own millimetres, each thing on the layer that bears its name."""

import io
import os
import subprocess
import sys
from collections import Counter
from functools import cache

import ezdxf
import numpy as np
import pytest

from raytrace import Treatment, build_room, find_hooks
from tests.support.scenes import ROOT
from tests.support.treatedrooms import TREATED, treated_pages, treated_text
from viewer.sheets.drawings import draw_panels
from viewer.sheets.dxffile import dxf_text, literal_text
from viewer.tables import making_json

ROUNDING_MM = 1e-3  # four digits of a millimetre, on each of two ends


@cache
def drawn(name):
    """A treated scene, its room, and its drawings as a program for drawing reads them."""
    scene, room, every = treated_pages(name)
    pages = [page for page in every if page.scale is not None]
    return scene, room, {page.title: ezdxf.read(io.StringIO(dxf_text(page))) for page in pages}


def rectangles(document, layer):
    """Closed outlines of a layer as (x0, y0, x1, y1). [mm]"""
    found = []
    for entity in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'):
        if entity.closed:
            corners = np.array(entity.get_points("xy"))
            found.append([*corners.min(axis=0), *corners.max(axis=0)])
    return found


@pytest.mark.parametrize("name", TREATED)
def test_it_passes_the_audit_and_counts_in_millimetres(name):
    for document in drawn(name)[2].values():
        assert document.audit().errors == []
        assert document.units == 4  # millimetres
        assert document.header["$MEASUREMENT"] == 1


def test_clouds_stand_at_their_own_millimetres_from_the_front_left_corner():
    _, room, documents = drawn("box")
    document = documents["Reflected ceiling plan"]
    wanted = []
    for panel in room.panels:
        if panel.kind == "cloud":
            low, high = panel.corners.min(axis=0), panel.corners.max(axis=0)
            # x of the drawing runs along the front wall, y from it downwards.
            wanted.append([1000 * low[1], -1000 * high[0], 1000 * high[1], -1000 * low[0]])
    found = rectangles(document, "panels")
    assert sorted(map(tuple, found)) == [
        pytest.approx(w, abs=ROUNDING_MM) for w in sorted(map(tuple, wanted))
    ]
    assert rectangles(document, "walls")[0] == pytest.approx([0, -4200, 3000, 0], abs=ROUNDING_MM)


def test_panels_of_a_wall_stand_at_their_set_out_coordinates():
    _, room, documents = drawn("box")
    (panel,) = [p for p in room.panels if p.name == "left 1"]
    (found,) = rectangles(documents["Left wall"], "panels")
    assert found == pytest.approx(1000 * panel.rect, abs=ROUNDING_MM)


def test_hooks_are_circles_at_their_places_on_the_slope():
    scene, room, documents = drawn("lean-to")
    circles = documents["Ceiling, true shape"].modelspace().query('CIRCLE[layer=="hooks"]')
    found = sorted((c.dxf.center.x, c.dxf.center.y) for c in circles)
    names = room.surface_names
    wanted = [1000 * h.anchor_uv for h in find_hooks(scene, room) if names[h.surface] == "ceiling"]
    assert len(found) == 16
    for one, other in zip(found, sorted(map(tuple, wanted)), strict=True):
        assert one == pytest.approx(other, abs=ROUNDING_MM)


def test_layers_bear_plain_names_and_joists_are_on_theirs():
    _, _, documents = drawn("box")
    document = documents["Reflected ceiling plan"]
    assert {"walls", "panels", "hooks", "joists", "keep-outs", "dimensions"} <= {
        layer.dxf.name for layer in document.layers
    }
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert {"walls", "panels", "hooks", "joists", "keep-outs", "dimensions", "battens", "sheet"} <= used


def test_the_same_sheet_gives_the_same_bytes(scene_of):
    texts = []
    for _ in range(2):
        scene = scene_of(treated_text("box"))
        page = draw_panels(scene, build_room(scene))[0]
        texts.append(dxf_text(page))
    assert texts[0] == texts[1]


BLANK = """
import hashlib
from viewer.sheets.dxffile import dxf_text
from viewer.sheets.panelsheet import Page
page = Page("01-blank", "blank", "Blank", "", "A4", (210.0, 297.0), 20, (0.0, 0.0), ())
print(hashlib.sha256(dxf_text(page).encode()).hexdigest())
"""


def test_every_process_gives_the_same_bytes():
    def digest(seed):
        environment = os.environ | {"PYTHONHASHSEED": seed}
        command = [sys.executable, "-c", BLANK]
        return subprocess.run(command, env=environment, cwd=ROOT, capture_output=True, check=True).stdout

    # Hashes of 0 and 5 put the names of a drawing's classes into different orders.
    assert digest("0") == digest("5") != b""


def test_a_page_of_lists_is_no_drawing(scene_of):
    scene = scene_of(treated_text("box"))
    pages = draw_panels(scene, build_room(scene), paper="A4")
    (lists,) = [page for page in pages[:2] if page.scale is None]
    with pytest.raises(ValueError, match="holds no drawing"):
        dxf_text(lists)


STOCK = '\n[stock]\n"wool 100" = 1\n"wool 50" = 2\n"wool 30" = 4\n'


@pytest.mark.parametrize(("name", "owned"), [("box", 6), ("rented", 1), ("lean-to", 0), ("ridge", 2)])
def test_panels_of_drawings_and_cut_list_add_up_owned_ones_apart(scene_of, name, owned):
    scene = scene_of(treated_text(name) + (STOCK if owned else ""))
    treatment = Treatment(scene, build_room(scene))
    drawn, named = Counter(), 0
    for page in draw_panels(scene, treatment.room):
        if page.scale is None:
            continue
        document = ezdxf.read(io.StringIO(dxf_text(page)))
        for layer in ("panels", "panels owned"):
            # What another sheet sets out is dashed on this one.
            outlines = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
            drawn[layer] += sum(e.closed and e.dxf.linetype != "dashed" for e in outlines)
        named += sum(entity.dxf.text.endswith(", owned") for entity in document.modelspace().query("TEXT"))
    listed = Counter()
    for panels in making_json(treatment)["panels"]:
        listed["panels owned" if panels["owned"] else "panels"] += len(panels["names"])
    assert drawn == listed
    assert named == (0 if name == "rented" else owned)  # a stand from above has no room for the word
    assert (listed["panels owned"], listed.total()) == (owned, len(treatment.room.panels))


@pytest.mark.parametrize("name", ["50%%d %%u", "a^Ib", "5 % %", "50%", "%%%"])
def test_names_hold_no_codes_of_the_format(name):
    from ezdxf.tools.text import plain_text

    assert plain_text(literal_text(name)) == name


@pytest.mark.parametrize("name", [r"\U+0041", r"a\U+00e9b", r"\M+n3131", r"\u+0041", r"C:\U\+"])
def test_names_hold_no_letter_codes_of_the_format(name):
    from ezdxf.lldxf.encoding import decode_dxf_unicode

    assert decode_dxf_unicode(literal_text(name)) == name

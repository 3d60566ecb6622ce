"""The folder of drawings: complete, the same bytes twice, readable as text, refused without panels."""

import io

import numpy as np
import pytest
from pypdf import PdfReader

from raytrace import build_room, find_hooks, format_length
from tests.support.panelled import cloud, scene_text
from tests.support.samebytes import SMALL_SCENE
from tests.support.scenes import SCENES
from tests.support.treatedrooms import treated_text
from viewer.cli import run
from viewer.sheets import drawings
from viewer.sheets.drawings import write_drawings


def test_the_folder_holds_a_pdf_and_every_sheet_and_is_the_same_twice(scene_of, tmp_path):
    scene = scene_of(treated_text("lean-to"))
    room = build_room(scene)
    for name in ("one", "two"):
        pages = write_drawings(scene, room, tmp_path / name)
    held = {p.name: p.read_bytes() for p in (tmp_path / "one").iterdir()}
    assert held == {p.name: p.read_bytes() for p in (tmp_path / "two").iterdir()}
    drawn = {f"{page.name}.dxf" for page in pages if page.scale is not None}
    assert set(held) == {".hitspot", "drawings.pdf", *drawn, *(f"{page.name}.svg" for page in pages)}
    # Written over an earlier set, never over anything else.
    write_drawings(scene, room, tmp_path / "one")


def test_the_pdf_holds_names_and_cords_as_text_on_paper_of_the_named_size(scene_of, tmp_path):
    scene = scene_of(treated_text("box"))
    room = build_room(scene)
    pages = write_drawings(scene, room, tmp_path / "out")
    pdf = PdfReader(io.BytesIO((tmp_path / "out" / "drawings.pdf").read_bytes()))
    assert len(pdf.pages) == len(pages)
    for page, sheet in zip(pages, pdf.pages, strict=True):
        points = np.array([float(sheet.mediabox.width), float(sheet.mediabox.height)])
        assert points * 25.4 / 72.0 == pytest.approx(page.size_mm, abs=0.01)  # rounded in the file
    text = pdf.pages[0].extract_text()
    for hook in find_hooks(scene, room):
        if hook.kind == "cord":
            assert hook.name in text
            assert format_length(hook.cord_m).removesuffix(" mm") in text


def test_the_pdf_measured_at_its_scale_gives_the_slabs_own_size(scene_of, tmp_path):
    scene = scene_of(scene_text(cloud(centre=[2.5, 2.0])))
    (page,) = write_drawings(scene, build_room(scene), tmp_path / "out")
    pdf = PdfReader(io.BytesIO((tmp_path / "out" / "drawings.pdf").read_bytes()))
    points = []
    matrix = np.eye(3)
    stack = []
    for operands, operator in (
        __import__("pypdf").generic.ContentStream(pdf.pages[0].get_contents(), pdf).operations
    ):
        numbers = [float(x) for x in operands] if operator in (b"cm", b"m", b"l") else []
        if operator == b"q":
            stack.append(matrix)
        elif operator == b"Q":
            matrix = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = numbers
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif operator in (b"m", b"l"):
            points.append((np.array([*numbers, 1.0]) @ matrix)[:2])
        if operator == b"m":
            points[-1] = np.array(points[-1])
    true_mm = np.array(points) * 25.4 / 72.0 * page.scale
    low, high = true_mm.min(axis=0), true_mm.max(axis=0)
    assert (high - low > 0).all()
    # Somewhere in the file four corners in a row span 600 by 1200 mm.
    spans = [np.ptp(true_mm[i : i + 4], axis=0) for i in range(len(true_mm) - 3)]
    assert any(span == pytest.approx([600.0, 1200.0], abs=0.2) for span in spans)  # three digits at 1:25


def test_without_panels_it_says_so_names_the_way_out_and_writes_nothing(tmp_path, capsys):
    assert run(["drawings", str(SCENES / "box.toml"), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr().err
    assert "nothing to draw" in told
    assert "hitspot propose" in told
    assert not (tmp_path / "out").exists()


def test_the_command_writes_the_folder_and_names_its_sheets(scene_of, tmp_path, capsys):
    path = scene_of(treated_text("rented")).path
    assert run(["drawings", str(path), "--out", str(tmp_path / "out"), "--paper", "A4"]) == 0
    assert "01-floor-plan-of-what-stands: Floor plan of what stands, A4, 1 : 30" in capsys.readouterr().out
    assert (tmp_path / "out" / "01-floor-plan-of-what-stands.dxf").is_file()


@pytest.mark.filterwarnings("ignore:Glyph")
def test_letters_that_are_boxes_are_told_at_the_foot_of_the_page(scene_of, tmp_path):
    for name, is_told in (("壁", True), ("wall", False)):
        scene = scene_of(SMALL_SCENE.replace("test room", name))
        drawings.write_drawings(scene, build_room(scene), tmp_path / name)
        (page,) = PdfReader(tmp_path / name / "drawings.pdf").pages
        assert ("a letter that this typeface lacks: U+58C1" in page.extract_text()) is is_told


def test_a_folder_with_something_else_in_it_is_left_alone(scene_of, tmp_path, capsys):
    path = scene_of(treated_text("rented")).path
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine")
    assert run(["drawings", str(path), "--out", str(tmp_path / "out")]) == 2
    assert 'holds "mine.txt"' in capsys.readouterr().err
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["mine.txt"]


def test_one_more_format_is_written_and_the_folder_stays_ours(scene_of, tmp_path, monkeypatch):
    scene = scene_of(scene_text(cloud(centre=[2.5, 2.0])))
    room = build_room(scene)
    formats = (*drawings.FORMATS, drawings.SheetFormat("LST", lambda page: page.title, holds_lists=True))
    monkeypatch.setattr(drawings, "FORMATS", formats)
    for _ in range(2):  # the second run replaces what the first one left
        pages = drawings.write_drawings(scene, room, tmp_path / "out")
    assert [(tmp_path / "out" / f"{page.name}.lst").read_text() for page in pages] == [p.title for p in pages]

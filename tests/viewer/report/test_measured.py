"""The chapter on what was measured: an answer, one picture, tables."""

from raytrace import Take, find_measured, hold_against, load_scene
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav
from viewer.report.measured import measured_page, measured_tables_pages


def heard(folder, level_db):
    """The box with its floor at some level, held against itself."""
    (folder / "box.toml").write_text(BOX, encoding="utf-8")
    samples = pulses([0.0, 0.0029764], [1.0, 10.0 ** (level_db / 20.0)], lasts_s=0.1)
    path = write_wav(folder / f"{level_db:g}.wav", samples)
    return hold_against(load_scene(folder / "box.toml"), [Take(0, 0, path)], up_to_order=1, within_s=0.012)


def test_the_chapter_has_its_picture_and_its_peaks(tmp_path):
    found = find_measured([("before", heard(tmp_path, -3.0)), ("after", heard(tmp_path, -15.0))])
    charts = [(0, 0, "curves/measured.png", "what to see")]
    (page,) = measured_page(found, charts)
    assert page["title"] == "Did it work?"
    assert [block["kind"] for block in page["blocks"]] == ["sub", "list", "picture", "small"]
    one, rest = measured_tables_pages(found, charts, "metric")
    table = next(block for block in one["blocks"] if block["kind"] == "table")
    assert [row[2] for row in table["rows"]] == ["floor"]
    assert next(block for block in rest["blocks"] if block["kind"] == "table")["rows"][0][2] == "floor"
    assert measured_page(None, []) == measured_tables_pages(None, [], "metric") == []

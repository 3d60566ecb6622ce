"""Before and after in the report: the numbers of the comparison, in words a client knows."""

import json
import re
from io import BytesIO

import pypdf
import pytest
from conftest import BOX
from PIL import Image

from raytrace import compare, headline, load_scene, run_study
from viewer.changechapter import change_pages, changed_client
from viewer.report import _refuse_what_is_not_ours, write_report
from viewer.stills import Still
from viewer.wording import JARGON, decibels

STEREO = BOX + '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'
PANELS = """
[[panels]]
name = "side panel"
surface = "left wall"
build = "wool 100"
centre = [3.4, 1.2]
[[clouds]]
name = "cloud"
surface = "ceiling"
build = "wool 50"
centre = [2.0, 2.0]
rows = 2
columns = 2
drop = "100 mm"
"""


@pytest.fixture(scope="module")
def comparison(tmp_path_factory):
    scene = load_scene(tmp_path_factory.mktemp("scenes") / "scene.toml", STEREO + PANELS)
    return compare(*(run_study(own, up_to_order=2) for own in (scene.without_panels(), scene)))


def test_rows_are_what_was_or_is_over_the_limit_the_worst_first(comparison):
    (page,) = change_pages(comparison, [])
    over = [p for p in comparison.peaks if any(q is not None and q.over_limit for q in (p.before, p.after))]
    assert len(page["rows"]) == min(len(over), 14)
    if len(over) > 14:
        assert f"{len(over) - 14} weaker ones are left out" in page["after"]
    worst = max(-q.margin_db for p in over for q in (p.before, p.after) if q is not None)
    assert decibels(worst) in page["rows"][0]["cells"][-1]
    assert sum(row["over"] for row in page["rows"]) <= sum(v.after.n_over for v in comparison.verdicts)
    for row in page["rows"]:
        excess_after = row["cells"][-1].split(" → ")[1]
        assert row["over"] == (excess_after != "0") or excess_after == "0.0"


def test_changes_carry_their_sign(comparison):
    (page,) = change_pages(comparison, [])
    for row in page["rows"]:
        *_, before, after, change, _ = row["cells"]
        if change not in ("new", "gone"):
            assert change[0] in "+−" or float(change) == 0.0
            numbers = [float(text.replace("−", "-")) for text in (before, after, change)]
            assert numbers[1] - numbers[0] == pytest.approx(numbers[2], abs=0.151)  # each rounded to 0.1


def test_page_one_tells_before_from_after(comparison):
    client = changed_client(comparison, ["floor"], units="metric")
    left, right, sides, covered = client["headline"]
    for figure, verdict in zip((left, right), comparison.verdicts, strict=True):
        assert figure["figure"] == str(verdict.after.n_over)
        was = f"{verdict.before.n_over} of {verdict.before.n_in_window}"
        assert figure["text"].endswith(f"instead of {was}") or figure["text"].endswith("as before")
    assert sides["figure"] == decibels(abs(comparison.after.left_right.difference_db))
    assert (covered["figure"], covered["unit"], covered["text"]) == ("3.6", "m²", "with 5 panels")
    assert client["lead"] == headline(comparison)
    assert "side panel and cloud (4 panels)" in client["will"][0]
    assert "by way of floor" in client["will"][-1]
    feet = changed_client(comparison, [], units="imperial")["headline"][-1]
    assert (feet["figure"], feet["unit"]) == ("39", "ft²")  # 3.6 m2 / 0.09290304


@pytest.fixture
def blank_stills(monkeypatch):
    """Blank pictures in place of the drawn ones."""

    def draw(_study, folder, size, *, progress, **_options):
        Image.new("RGB", size, "white").save(folder / "room.png")
        progress("pictures done", 1.0)
        return (Still("room", folder / "room.png", "A caption.", (), None),)

    monkeypatch.setattr("viewer.stills.draw_stills", draw)


def pages_of(folder):
    reader = pypdf.PdfReader(BytesIO((folder / "report.pdf").read_bytes()))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


@pytest.mark.usefixtures("blank_stills")
def test_the_report_of_a_treated_room_has_the_chapter_and_its_tables(comparison, tmp_path):
    folder = write_report(comparison.after, tmp_path / "out", bare=comparison.before, size=(300, 200))
    pages = pages_of(folder)
    assert headline(comparison) in pages[0]
    assert "With the panels of this report" in pages[0]
    chapter = [text for text in pages if "Before and after" in text]
    assert len(chapter) == 1
    for words in (pages[0], *chapter):
        assert not [j for j in JARGON if re.search(rf"\b{re.escape(j)}\b", words, re.IGNORECASE)]
        assert "safe" not in words.lower()
    found = json.loads((folder / "comparison.json").read_text(encoding="utf-8"))
    assert found["headline"] == headline(comparison)
    assert len((folder / "comparison.csv").read_text().splitlines()) == 1 + len(comparison.arrivals)
    assert len(list((folder / "curves").glob("before-after-*.png"))) == 2
    _refuse_what_is_not_ours(folder)  # an earlier report, free to be replaced by the next

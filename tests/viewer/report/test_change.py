"""Before and after in the report: the numbers of the comparison, in words a client knows."""

import json
import re
from io import BytesIO

import pypdf
import pytest

from raytrace import BAND_NAMES, Sampling, compare, find_decay, headline, load_scene, run_study
from tests.support.jargon import jargon_in
from tests.support.reports import blank_stills, small_charts
from tests.support.scenes import BOX
from viewer.report.change import change_pages, changed_client
from viewer.report.decay import decay_chapter
from viewer.report.findings import Besides, Change
from viewer.report.report import PrintStyle, write_report
from viewer.words import count_figure, decibels

__all__ = ["blank_stills", "small_charts"]

PLAIN = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]")
STEREO = PLAIN + '[[speakers]]\nname = "right"\nposition = [1.0, 2.7, 1.2]\ndirectivity = "omni"\n'
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


@pytest.fixture(scope="module")
def change(comparison):
    # Few rays: these tests ask where the numbers stand, not how good they are.
    decays = [
        find_decay(study.scene, study.room, study.arrivals, sampling=Sampling(3200))
        for study in (comparison.before, comparison.after)
    ]
    return Change(comparison, *decays)


def test_rows_are_what_was_or_is_over_the_limit_the_worst_first(comparison, change):
    (page,) = change_pages(change, [])
    over = [p for p in comparison.peaks if any(q is not None and q.may_be_over for q in (p.before, p.after))]
    assert len(page["rows"]) == min(len(over), 10)
    if len(over) > 10:
        assert f"{len(over) - 10} weaker ones are left out" in page["after"]
    worst = max(-q.margin_db for p in over for q in (p.before, p.after) if q is not None)
    assert decibels(worst) in page["rows"][0]["cells"][-1]
    assert sum(row["over"] for row in page["rows"]) <= sum(v.after.n_over for v in comparison.verdicts)
    for row in page["rows"]:
        assert row["over"] == row["cells"][-1].split(" → ")[1].endswith(" over")


@pytest.mark.parametrize("sign", ["−", "+"])
def test_changes_carry_their_sign_once(comparison, sign):
    taken_down = compare(comparison.after, comparison.before)  # what panels weaken is louder without them
    (page,) = change_pages(Change(taken_down if sign == "+" else comparison, (), ()), [])
    assert any(row["cells"][-2].startswith(sign) for row in page["rows"])
    for row in page["rows"]:
        *_, before, after, change, _ = row["cells"]
        if change not in ("new", "gone"):
            assert re.fullmatch(r"[+−]\d+\.\d|0\.0", change)
            numbers = [float(text.replace("−", "-")) for text in (before, after, change)]
            assert numbers[1] - numbers[0] == pytest.approx(numbers[2], abs=0.151)  # each rounded to 0.1


def test_decay_stands_before_beside_after_and_what_is_aimed_at(comparison, change):
    chapter = decay_chapter(comparison.after, change.decays_after, [], before=change, units="metric")
    (before,) = [row for row in chapter["rows"] if row["who"] == "before, speakers at mix"]
    t20_s = sum(d.parameters.t20_s for d in change.decays_before) / len(change.decays_before)
    known = [i for i in range(len(BAND_NAMES)) if t20_s[i] == t20_s[i]]
    assert known
    for i in known:
        assert float(before["cells"][i]) == pytest.approx(t20_s[i], abs=0.0051)  # printed to 0.01 s


def test_a_speaker_that_is_not_followed_has_no_decay(comparison, change):
    unknown = Change(comparison, (), ())
    chapter = decay_chapter(comparison.after, change.decays_after, [], before=unknown, units="metric")
    assert not [row for row in chapter["rows"] if "before" in row["who"]]
    client = changed_client(unknown, [], units="metric")
    assert not [line for line in client["will"] if "rings" in line]


def test_page_one_tells_before_from_after(comparison, change):
    client = changed_client(change, ["floor"], units="metric")
    left, right, sides, covered = client["headline"]
    for figure, verdict in zip((left, right), comparison.verdicts, strict=True):
        assert figure["figure"] == count_figure(verdict.after)
        now, was = (f"{count_figure(own)} of {own.n_in_window}" for own in (verdict.after, verdict.before))
        assert figure["text"].endswith("as before" if now == was else f"instead of {was}")
    assert sides["figure"] == decibels(abs(comparison.after.left_right.difference_db))
    assert (covered["figure"], covered["unit"], covered["text"]) == ("3.6", "m²", "with 5 panels")
    assert client["lead"] == headline(comparison)
    assert "side panel and cloud (4 panels)" in client["will"][0]
    assert "comes off floor; see the sheets" in client["will"][-2]
    ends = r"dies away in \d\.\d\d s, (instead of \d\.\d\d s|as before); about 0\.2 s is aimed at\.$"
    assert re.search(ends, client["will"][-1])
    assert not [line for line in client["today"] if "dies away" in line]  # told once, before beside after
    feet = changed_client(change, [], units="imperial")["headline"][-1]
    assert (feet["figure"], feet["unit"]) == ("39", "ft²")  # 3.6 m2 / 0.09290304


def pages_of(folder):
    reader = pypdf.PdfReader(BytesIO((folder / "client.pdf").read_bytes()))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


@pytest.mark.usefixtures("blank_stills", "small_charts")
def test_the_report_of_a_treated_room_has_the_chapter_and_its_tables(comparison, tmp_path):
    style = PrintStyle(size=(300, 200))
    folder = write_report(comparison.after, tmp_path / "out", besides=Besides(comparison.before), style=style)
    pages = pages_of(folder)
    assert headline(comparison) in pages[0]
    assert "With the panels of this report" in pages[0]
    chapter = [text for text in pages if "Before and after" in text]
    assert len(chapter) == 1
    for words in (pages[0], *chapter):
        assert not jargon_in(words)
        assert "safe" not in words.lower()
    found = json.loads((folder / "comparison.json").read_text(encoding="utf-8"))
    assert found["headline"] == headline(comparison)
    assert len((folder / "comparison.csv").read_text().splitlines()) == 1 + len(comparison.arrivals)
    assert len(list((folder / "curves").glob("before-after-*.png"))) == 2
    write_report(comparison.before, folder, style=style)  # an earlier report is free to be replaced
    assert not (folder / "comparison.json").exists()


def test_a_room_with_nothing_but_a_rug_is_told_by_the_rug(tmp_path):
    rug = (
        '[[openings]]\nname = "rug"\nsurface = "floor"\nkind = "cover"\ncover = "thick rug"\n'
        "at = [1.0, 1.0]\nsize = [2.3, 1.6]\n"
    )
    scenes = [load_scene(tmp_path / "scene.toml", text) for text in (STEREO, STEREO + rug)]
    bought = compare(*(run_study(scene, up_to_order=1) for scene in scenes))
    page = changed_client(Change(bought, (), ()), (), units="metric")
    assert page["headline"][-1]["text"] == "thick rug"
    assert "Including what is proposed: thick rug." in page["will"]
    assert "panels" not in page["will_title"]

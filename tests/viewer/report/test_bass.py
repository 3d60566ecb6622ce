"""The report's page on the bass: there when asked for, with the figures that were found."""

import functools
import json
import re
from dataclasses import replace
from io import BytesIO

import pypdf
import pytest

from raytrace import Sampling, build_room, find_bass, find_decay, format_length, load_scene
from tests.support.jargon import jargon_in
from tests.support.reports import blank_stills, small_charts
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study
from viewer.cli import run
from viewer.paper import typeset
from viewer.pictures import views_of
from viewer.report.bass import BASS_TITLE, bass_notes_pages, bass_pages
from viewer.report.contents import DOCUMENTS, document_contents
from viewer.report.findings import Drawn, Findings
from viewer.sheets import draw_sheets
from viewer.tables import bass_json, cause_words
from viewer.words import decibels, told

__all__ = ["blank_stills", "small_charts"]

CHARTS = [(-1, 0, "blank.png", "A caption of the map and the curve. " * 6)]  # as long as the real one


@functools.cache
def bass_of(name):
    scene = load_scene(SCENES / f"{name}.toml")
    return find_bass(scene, build_room(scene))


def blocks_of(name, units="metric"):
    (page,) = bass_pages(bass_of(name), CHARTS, units=units)
    return page["blocks"]


def tables_of(name, units="metric"):
    return [block["rows"] for block in blocks_of(name, units) if block["kind"] == "table"]


def words_of(blocks):
    return " ".join(
        part
        for block in blocks
        for part in (
            block.get("text", ""),
            *block.get("items", ()),
            *(cell for row in block.get("rows", ()) for cell in row),
        )
    )


@pytest.mark.parametrize("name", ["garage", "box"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_the_best_places_are_those_that_are_better_than_now(name, units):
    rows = tables_of(name, units)[0]
    places = bass_of(name).places[:3]
    assert len(rows) == (3 if name == "garage" else 1)  # none of the box is better than now
    for k, (row, place) in enumerate(zip(rows, places, strict=True), 1):
        x, y, _ = (format_length(float(side), units=units) for side in place.position_m)
        dip = f"{decibels(place.dip_db)} at {place.dip_hz:.0f} Hz"
        assert row == [f"{k}", x, y, decibels(place.evenness_db), decibels(place.gain_db), dip]


def test_one_sentence_says_what_moving_the_sub_brings():
    bass = bass_of("garage")
    assert bass.has_sub
    first = blocks_of("garage")[0]["text"]
    assert first.startswith("Moving the subwoofer to place 1 makes the bass more even")
    assert f"uneven by {bass.places[0].evenness_db:.1f} dB instead of {bass.now_db:.1f} dB" in first


def test_without_a_sub_one_is_added_and_it_is_said_where_that_brings_nothing():
    bass = bass_of("box")
    assert not bass.has_sub
    assert bass.places[0].gain_db < 0.0
    first = blocks_of("box")[0]["text"]
    assert first.startswith("Adding a subwoofer at place 1")
    assert "brings nothing" in first
    assert f"by {bass.places[0].evenness_db:.1f} dB then, by {bass.now_db:.1f} dB now" in first


def test_several_subs_are_named_and_a_full_floor_is_said_to_be_full():
    bass = bass_of("classroom")
    assert len(bass.sources) == 2
    first = blocks_of("classroom")[0]["text"]
    assert first.startswith(
        "One subwoofer at place 1 instead of sub left and sub right makes the bass more even"
    )
    assert bass.pair.tuned_db <= bass.pair.evenness_db  # by the same measure
    (page,) = bass_pages(replace(bass, places=()), CHARTS, units="metric")
    assert page["blocks"][0]["text"].startswith("No place on the floor is free")
    assert not any("Best" in block.get("text", "") for block in page["blocks"])


@pytest.mark.parametrize(("name", "top_hz"), [("garage", 120.0), ("box", 200.0)])
def test_the_deepest_dips_stand_there_with_their_cause(name, top_hz):
    bass = bass_of(name)
    found = {}
    for response in bass.responses:
        if len(response.sources) == 1 and response.sources[0] in bass.sources:
            for dip in response.extremes:
                if dip.is_dip and dip.hz <= top_hz:
                    key = f"{dip.hz:.0f}", cause_words(dip).lower()
                    found[key] = min(dip.level_db, found.get(key, dip.level_db))
    rows = tables_of(name)[1]
    shown = [(hz, why.lower()) for hz, _, _, why in rows]
    assert 0 < len(rows) <= 5
    assert [int(hz) for hz, _ in shown] == sorted(int(hz) for hz, _ in shown)
    assert [level for _, level, _, _ in rows] == [decibels(found[key]) for key in shown]
    left_out = set(found) - set(shown)
    assert all(found[dip] >= max(found[key] for key in shown) for dip in left_out)
    assert (f"Left out: {len(left_out)} less deep" in words_of(blocks_of(name))) == bool(left_out)
    assert {who for _, _, who, _ in rows} <= {*bass.sources, " and ".join(bass.sources)}


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", ["garage", "box", "treated-box"])
def test_details_have_every_note_and_a_client_knows_every_word(name, units):
    (notes,) = bass_notes_pages(bass_of(name), units=units)
    assert words_of(notes["blocks"]).split() == " ".join(told(n, units) for n in bass_of(name).notes).split()
    words = words_of(blocks_of(name, units))
    assert "Check the best place by a measurement at the seat before anything is fixed" in words
    assert not jargon_in(words)
    if units == "imperial":
        assert not re.search(r"\d m?m\b(?!²)", words.replace("1 m away", ""))


def laid_out(name, bass, folder):
    """The client's document of a shipped scene with blank pictures, page by page."""
    from PIL import Image

    Image.new("RGB", (300, 200), "white").save(folder / "blank.png")
    study = shipped_study(name, up_to_order=1)
    scene = study.scene
    decays = find_decay(scene, study.room, study.arrivals, sampling=Sampling(640))
    pictures = {view.name: ("blank.png", "A caption.") for view in views_of(study)}
    drawn = Drawn(draw_sheets(study, units="metric"), pictures, bass=CHARTS if bass else ())
    found = Findings(study, decays, bass=bass)
    pdf = typeset(document_contents(DOCUMENTS[0], found, drawn, units="metric"), folder)
    return [page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages]


@pytest.mark.parametrize("name", ["garage", "treated-box", "classroom"])
def test_it_is_the_last_page_of_the_client_to_which_page_one_points(name, tmp_path):
    pages = laid_out(name, bass_of(name), tmp_path)
    (own,) = (k for k, text in enumerate(pages) if text.startswith("Low notes"))
    assert "microphone along the floor" in " ".join(pages[own].split())  # the last note is on it too
    assert own + 1 == len(pages) <= 5
    assert f"the chapter “{BASS_TITLE}” says how even it is" in " ".join(pages[0].split())


def test_nothing_speaks_of_it_where_nobody_asked(tmp_path):
    pages = laid_out("garage", None, tmp_path)
    assert not any(text.startswith("Low notes") for text in pages)
    assert BASS_TITLE not in " ".join(pages)
    assert "Settle that first." in " ".join(pages[0].split())


@pytest.mark.usefixtures("blank_stills", "small_charts")
def test_the_flag_brings_the_page_and_its_figures_as_a_file(tmp_path, capsys):
    scene = str(SCENES / "box.toml")
    common = ["--order", "1", "--size", "300x300"]
    for folder, flags in (("with", ["--bass"]), ("without", [])):
        assert run(["report", scene, "--out", str(tmp_path / folder), *common, *flags]) == 0
    capsys.readouterr()
    written = {p.relative_to(tmp_path / "with") for p in (tmp_path / "with").rglob("*")}
    plain = {p.relative_to(tmp_path / "without") for p in (tmp_path / "without").rglob("*")}
    assert {str(path) for path in written - plain} == {"bass.json", "curves/bass.png"}
    expected = json.loads(json.dumps(bass_json(bass_of("box"))))
    found = json.loads((tmp_path / "with" / "bass.json").read_text())
    assert found["notes"] == expected["notes"]
    gains = [[place["gain_db"] for place in side["places"]] for side in (found, expected)]
    assert gains[0] == pytest.approx(gains[1], abs=1e-6)  # dB: the same solve on other threads
    texts = [page.extract_text() for page in pypdf.PdfReader(tmp_path / "with" / "client.pdf").pages]
    assert sum(text.startswith("Low notes") for text in texts) == 1


def test_a_room_too_large_for_it_is_refused_before_anything_is_run(tmp_path, capsys):
    hall = (SCENES / "box.toml").read_text(encoding="utf-8")
    hall = hall.replace('"4200 mm"', "40").replace('"3000 mm"', "25").replace('"2400 mm"', "8")
    (tmp_path / "hall.toml").write_text(hall, encoding="utf-8")
    assert run(["report", str(tmp_path / "hall.toml"), "--bass", "--out", str(tmp_path / "out")]) == 2
    assert "holds too many modes" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()

"""The report: one folder, the same bytes twice, pages that fit, words a client knows."""

import hashlib
import re
import shutil
import subprocess
from functools import cache, partial
from importlib.metadata import version
from io import BytesIO

import numpy as np
import pypdf
import pytest

from raytrace import Sampling, Treatment, compare, find_decay, run_study
from tests.support.colours import contrast
from tests.support.jargon import jargon_in
from tests.support.reports import blank_stills, small_charts
from tests.support.scenes import BOX, SCENES
from tests.support.studies import shipped_study
from viewer import look
from viewer.files import OutputRefused
from viewer.paper import typeset, usual_paper
from viewer.pictures import views_of
from viewer.report.contents import DOCUMENTS, document_contents
from viewer.report.findings import Drawn, Findings
from viewer.report.report import READERS, TEXTS, PrintStyle, write_report
from viewer.report.workshop import shopping_page
from viewer.sheets import draw_sheets
from viewer.words import decibels, headline

__all__ = ["blank_stills", "small_charts"]

ROOMS = sorted(path.stem for path in SCENES.glob("*.toml"))
STYLE = PrintStyle(size=(600, 400))
CAPTION = "A caption as long as the longest ones are, so that it takes two lines of the page. " * 2


study_of = partial(shipped_study, up_to_order=3)


def traced(study):
    """Decays of a study; then of a treated room its study without panels, and the decays of that."""
    bare = None if study.scene.is_bare else run_study(study.scene.without_panels(), up_to_order=3)
    decays, before = (
        () if one is None else find_decay(one.scene, one.room, one.arrivals, sampling=Sampling(3200))
        for one in (study, bare)
    )
    return decays, bare, before


@cache
def traced_of(name):
    return traced(study_of(name))


@cache
def sheets_of(name, units):
    return draw_sheets(study_of(name), units=units, paper=usual_paper(units))


def laid_out(study, folder, *, rays=None, sheets=None, units="metric"):
    """The documents of a study with blank pictures, as PDF by their readers."""
    from PIL import Image

    Image.new("RGB", (300, 200), "white").save(folder / "blank.png")
    mains = [i for i, s in enumerate(study.scene.speakers) if s.use == "main"]
    charts = [(i, t, "blank.png", "A caption.") for i in mains for t in range(len(study.scene.seats))]
    decays, bare, before = rays or traced(study)
    found = Findings(
        study,
        decays,
        bare=bare,
        decays_before=before,
        comparison=None if bare is None else compare(bare, study),
        treatment=None if bare is None else Treatment(study.scene, study.room),
    )
    drawn = Drawn(
        sheets or draw_sheets(study, units=units, paper=usual_paper(units)),
        {view.name: ("blank.png", CAPTION) for view in views_of(study)},
        curves=charts,
        tones=charts,
        decays=charts,
        changes=charts,
        making=[] if bare is None else [shopping_page(found.treatment, units=units)],
    )
    paper = usual_paper(units)
    contents = {d.reader: document_contents(d, found, drawn, units=units, paper=paper) for d in DOCUMENTS}
    return {reader: typeset(own, folder) for reader, own in contents.items() if own is not None}


@pytest.fixture(scope="module")
def pdf_of(tmp_path_factory):
    """Turns the name of a shipped scene into its documents."""

    @cache
    def make(name, units="metric"):
        folder, sheets = tmp_path_factory.mktemp(name), sheets_of(name, units)
        return laid_out(study_of(name), folder, rays=traced_of(name), sheets=sheets, units=units)

    return make


@cache
def pages_of(pdf):
    """The text of each page; a blank is a blank, also where no line may break."""
    return [page.extract_text().replace("\xa0", " ") for page in pypdf.PdfReader(BytesIO(pdf)).pages]


def picture_heights_mm(page):
    """How high pictures are drawn on a page of a PDF."""
    heights = []

    def note(operator, _operands, matrix, _text_matrix):
        if operator == b"Do":
            heights.append(abs(matrix[3]) / 72.0 * 25.4)

    page.extract_text(visitor_operand_before=note)
    return heights


@pytest.mark.parametrize(("units", "least_mm"), [("metric", 85.0), ("imperial", 72.0)])
@pytest.mark.parametrize("name", ROOMS)
def test_page_one_is_one_page_with_a_picture_to_see(name, units, least_mm, pdf_of):
    pdf = pdf_of(name, units)["client"]
    (height_mm,) = picture_heights_mm(pypdf.PdfReader(BytesIO(pdf)).pages[0])
    assert height_mm > least_mm  # what words of shipped rooms leave; below 65 mm it could not be read
    first, second = pages_of(pdf)[:2]
    assert "What it will not change" in first
    assert "details.pdf has tables" in " ".join(first.split())
    assert "details.pdf has tables" not in " ".join(second.split())


@pytest.mark.parametrize("name", ROOMS)
def test_the_client_part_holds_no_jargon(name, pdf_of):
    pages = pages_of(pdf_of(name)["client"])
    assert len(pages) <= 5
    words = " ".join(" ".join(pages).split())
    assert not jargon_in(words)


def test_the_jargon_list_would_catch_the_appendix(pdf_of):
    words = " ".join(" ".join(pages_of(pdf_of("ridge")["details"])).split())
    assert {"ISO 9613-1", "Fresnel", "octave"} <= set(jargon_in(words))


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", ROOMS)
def test_every_reader_has_what_is_theirs_and_pages_are_numbered(name, units, pdf_of):
    documents = {reader: pages_of(pdf) for reader, pdf in pdf_of(name, units).items()}
    study = study_of(name)
    assert set(documents) == set(READERS) - ({"workshop"} if study.scene.is_bare else set())
    # Of each seat level over time, then tone; the panels of treated surfaces stand two on a page before them.
    surfaces = -(-(len(views_of(study)) - 3) // 2)
    seats = [text for text in documents["details"] if "What the seat hears" in text or "to the tone" in text]
    assert len(seats) == 2 * len(study.scene.seats)
    assert sum("The panels, " in text for text in documents["details"]) == surfaces
    sheets = [i for i, text in enumerate(documents["installer"]) if text.startswith("Set-out sheet")]
    assert len(sheets) == len(sheets_of(name, units))  # no sheet runs on to a second page
    assert np.all(np.diff(sheets) == 1)
    for pages in documents.values():
        for number, text in enumerate(pages, start=1):
            assert text.rstrip().endswith(f"{number} / {len(pages)}")
        assert "safe" not in " ".join(pages).lower()
        assert not re.search(r"(?:^|[ (])-\d", "\n".join(pages), re.MULTILINE)  # a true minus everywhere


@pytest.mark.parametrize("name", ["box", "treated-box"])
def test_every_page_is_bookmarked_and_tagged(name, pdf_of):
    for pdf in pdf_of(name).values():
        reader = pypdf.PdfReader(BytesIO(pdf))
        assert reader.metadata.title.startswith(study_of(name).scene.title)
        assert reader.root_object["/MarkInfo"] == {"/Marked": True}
        titles = [entry.title for entry in reader.outline if not isinstance(entry, list)]
        starts = [reader.get_destination_page_number(e) for e in reader.outline if not isinstance(e, list)]
        assert titles
        assert starts == sorted(starts)
        assert starts[0] == 0


def test_every_page_names_scene_hash_and_version(pdf_of):
    digest = hashlib.sha256((SCENES / "ridge.toml").read_bytes()).hexdigest()
    for pdf in pdf_of("ridge").values():
        for text in pages_of(pdf):
            assert f"ridge.toml, SHA-256 {digest[:12]}" in text
            assert f"hitspot {version('hitspot')}" in text


def test_notes_cautions_and_sources_are_there(pdf_of):
    study = study_of("ridge")
    both = [*pages_of(pdf_of("ridge")["details"]), *pages_of(pdf_of("ridge")["installer"])]
    words = " ".join(" ".join(both).split()).replace("- ", "-")
    for sentence in (*map(str, study.notes), *study.cautions, study.scene.limits.source):
        assert sentence.replace("- ", "-") in words
    for surface in study.room.surfaces:
        assert surface.material.name in words


def test_only_what_the_job_says_is_printed(scene_of, tmp_path):
    first = pages_of(laid_out(run_study(scene_of(BOX), up_to_order=1), tmp_path)["client"])[0]
    for label in ("For", "Place", "Purpose", "By", "Date", "Measured by", "Accuracy"):
        assert not re.search(rf"^{label}$", first, re.MULTILINE)
    job = '[job]\nclient = "A. Client"\ndate = "2031-05-06"\nsurvey_error = "8 mm"\n'
    text = BOX.replace("[room]", job + "[room]")
    first = pages_of(laid_out(run_study(scene_of(text), up_to_order=1), tmp_path)["client"])[0]
    for words in ("For", "A. Client", "Date", "2031-05-06", "within 8 mm, two lengths in three"):
        assert words in first
    assert "Measured by" not in first


def test_the_client_page_counts_what_the_verdicts_count(pdf_of):
    study = study_of("garage")
    first = " ".join(pages_of(pdf_of("garage")["client"])[0].split())
    for verdict in study.verdicts:
        if verdict.status == "judged":
            assert f"{verdict.n_over} early reflections are too strong" in first
            assert f"{decibels(-verdict.worst_margin_db)} dB over the limit" in first
    assert headline(study)[-1]["figure"] == decibels(abs(study.left_right.difference_db))
    assert "will not stop noise" in first
    assert "will not fix the bass" in first
    assert "Not covered here: sound insulation, structure, electrics, ventilation" in first


def test_a_room_with_nothing_too_strong_gets_a_report_without_an_installer(scene_of, tmp_path):
    dead = BOX.replace("[0, 0, 0, 0, 0, 0, 0, 0]", "[1, 1, 1, 1, 1, 1, 1, 1]")
    documents = laid_out(run_study(scene_of(dead), up_to_order=2), tmp_path)
    assert set(documents) == {"client", "details"}
    assert "No early reflection is too strong here" in pages_of(documents["client"])[1]


def test_a_hidden_speaker_is_said_to_be_hidden(scene_of, tmp_path):
    wall = '[[objects]]\nname = "screen"\nshape = "box"\nmaterial = "hard"\n'
    wall += "centre = [2.0, 1.6, 1.2]\nsize = [0.1, 1.0, 1.0]\n"
    study = run_study(scene_of(BOX + wall), up_to_order=1)
    pages = pages_of(laid_out(study, tmp_path)["client"])
    assert "Not judged: left speaker. The screen stands in the way to the mix seat" in " ".join(
        pages[0].split()
    )
    assert "Nothing needs treating" not in pages[0]


def test_every_colour_of_type_has_contrast():
    for colour in (look.INK, look.MUTED, look.ACCENT):
        assert contrast(colour, look.WHITE) >= 4.5


def boxes_of(pdf, folder):
    """The words of each page with their boxes, as poppler finds them."""
    path = folder / "document.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-bbox", path, "-"], capture_output=True, text=True, check=True)
    assert "Suspects" not in done.stderr
    return done.stdout.split("<page ")[1:]


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("name", ROOMS)
def test_pages_are_a_third_full_and_no_word_leaves_one_or_runs_into_another(name, units, pdf_of, tmp_path):
    documents = {reader: boxes_of(pdf, tmp_path) for reader, pdf in pdf_of(name, units).items()}
    for page in (page for pages in documents.values() for page in pages):
        wide, high = (float(x) for x in re.match(r'width="([\d.]+)" height="([\d.]+)"', page).groups())
        pattern = r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">([^<]*)'
        found = re.findall(pattern, page)
        boxes = np.array([[float(x) for x in word[:4]] for word in found])
        assert boxes[:, :2].min() > 28.0  # points: 10 mm, what any printer can do
        assert np.all(boxes[:, 2:].max(axis=0) < (wide - 28.0, high - 20.0))
        above_footer = boxes[boxes[:, 3] < high - 48.0, 3]  # points: 17 mm, below which the footer stands
        assert above_footer.max() > high / 3.0
        # The reader's boxes hold line gaps and side bearings, which may touch: half the height counts.
        height = boxes[:, 3] - boxes[:, 1]
        boxes[:, 1] += 0.25 * height
        boxes[:, 3] -= 0.25 * height
        over = np.minimum(boxes[:, None, 2:], boxes[None, :, 2:]) - np.maximum(
            boxes[:, None, :2], boxes[None, :, :2]
        )
        touching = np.argwhere(np.triu(np.all(over > 0.6, axis=2), 1))  # points
        assert not [(found[i][4], found[j][4]) for i, j in touching]


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The whole folder of the box room, written twice."""
    study = shipped_study("box", up_to_order=2)
    ground = tmp_path_factory.mktemp("out")
    return [write_report(study, ground / name, style=STYLE) for name in ("one", "two")]


def contents_of(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.usefixtures("blank_stills", "small_charts")
def test_a_treated_room_brings_its_cut_list_loads_and_data_sheets(tmp_path):
    study = shipped_study("treated-box", up_to_order=1)
    # The second time an earlier report is ours to replace.
    one, two = (contents_of(write_report(study, tmp_path / "out", style=STYLE)) for _ in range(2))
    assert one == two
    assert {"cutlist.csv", "cutlist.json", "builds/build-1.png", "builds/build-3.png"} <= set(one)
    assert {f"{reader}.pdf" for reader in READERS} <= set(one)
    pages = [text for reader in READERS for text in pages_of(one[f"{reader}.pdf"])]
    assert {"drawings/01-reflected-ceiling-plan.dxf", "drawings/01-reflected-ceiling-plan.svg"} <= set(one)
    for title in ("Reflected ceiling plan", "Shopping and cut list", "Loads and hanging", "Data sheets"):
        assert any(title in text for text in pages)


def test_the_same_study_gives_the_same_bytes(written):
    one, two = map(contents_of, written)
    assert one == two
    assert {
        "client.pdf",
        "installer.pdf",
        "details.pdf",
        "page.html",
        "arrivals.csv",
        "arrivals.json",
        "stills/room.png",
        "stills/plan.png",
    } <= set(one)
    assert {"stills/section.png", "sheets/01-floor.pdf", "sheets/01-floor.png"} <= set(one)
    assert sum(name.startswith("curves/") for name in one) == 3 * 2  # level, tone and decay of two speakers
    assert "decay.json" in one
    assert "comparison.json" not in one  # there is nothing to compare a bare room with


def test_the_folder_is_all_that_is_left(written):
    ground = written[0].parent
    assert sorted(p.name for p in ground.iterdir()) == ["one", "two"]
    assert written[0].stat().st_mode & 0o077  # not the private folder that temporary ones are


def test_every_sheet_is_one_page_of_a4(written):
    for path in (written[0] / "sheets").glob("*.pdf"):
        (page,) = pypdf.PdfReader(path).pages
        sides = sorted(float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height))
        assert sides == pytest.approx([210, 297], abs=0.1)  # ISO 216
        assert "Set-out sheet" in page.extract_text()


def snapshot(folder):
    return {p: (p.stat().st_mtime_ns, p.read_bytes() if p.is_file() else b"") for p in folder.rglob("*")}


@pytest.mark.parametrize(
    "what", ["foreign file", "other PDF", "no record", "file", "link", "foreign in sheets"]
)
def test_what_is_not_ours_is_left_alone(what, written, tmp_path):
    study = shipped_study("box", up_to_order=1)
    target = tmp_path / "out"
    if what == "file":
        target.write_text("mine")
    elif what == "link":
        target.symlink_to(written[0], target_is_directory=True)
    else:
        shutil.copytree(written[0], target)
    if what == "foreign file":
        (target / "letter.txt").write_text("mine")
    elif what == "foreign in sheets":
        (target / "sheets" / "letter.pdf").write_text("mine")
    elif what == "other PDF":
        (target / "client.pdf").write_bytes(b"%PDF-1.7 somebody else's")
    elif what == "no record":
        (target / ".hitspot").unlink()
    before = snapshot(tmp_path)
    with pytest.raises(OutputRefused, match=re.escape(str(target))):
        write_report(study, target, style=STYLE)
    assert snapshot(tmp_path) == before
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.usefixtures("blank_stills", "small_charts")
def test_an_earlier_report_is_replaced_missing_folders_are_made_and_one_more_file_stays_ours(
    written, tmp_path, monkeypatch
):
    monkeypatch.setitem(TEXTS, "title.txt", lambda found: found.study.scene.title)
    study = shipped_study("box", up_to_order=1)
    target = tmp_path / "deep" / "down" / "out"
    assert write_report(study, target, style=STYLE) == target
    first = contents_of(target)
    assert first["title.txt"].decode() == study.scene.title
    write_report(study, target, style=STYLE)  # over a folder with one more file
    assert contents_of(target) == first
    shutil.rmtree(target)
    shutil.copytree(written[0], target)
    write_report(study, target, style=STYLE)
    assert contents_of(target) == first != contents_of(written[0])
    assert [p.name for p in target.parent.iterdir()] == ["out"]


@pytest.mark.usefixtures("blank_stills", "small_charts")
@pytest.mark.parametrize("at", ["tables", "charts", "details.pdf"])
def test_an_interrupted_run_leaves_nothing(at, written, tmp_path):
    study = shipped_study("box", up_to_order=1)
    earlier = tmp_path / "earlier"
    shutil.copytree(written[0], earlier)
    before = snapshot(tmp_path)

    def stop(text, _share):
        if text == at:
            raise KeyboardInterrupt

    for name in ("earlier", "new"):
        with pytest.raises(KeyboardInterrupt):
            write_report(study, tmp_path / name, style=STYLE, progress=stop)
    assert snapshot(tmp_path) == before


@pytest.mark.usefixtures("blank_stills", "small_charts")
def test_one_reader_alone_gets_one_document_and_no_sheets(tmp_path):
    style = PrintStyle(size=(600, 400), readers=("client",))
    folder = write_report(shipped_study("treated-box", up_to_order=1), tmp_path / "out", style=style)
    assert [path.name for path in folder.glob("*.pdf")] == ["client.pdf"]
    assert not {"sheets", "drawings", "builds"} & {path.name for path in folder.iterdir()}


@pytest.mark.usefixtures("blank_stills", "small_charts")
def test_progress_runs_from_nought_to_one(tmp_path):
    shares = []
    study = shipped_study("box", up_to_order=1)
    write_report(study, tmp_path / "out", style=STYLE, progress=lambda _text, share: shares.append(share))
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)


def test_feet_are_printed_on_letter_unless_told_otherwise():
    assert PrintStyle("imperial").sheet == "Letter"
    assert PrintStyle("imperial", paper="A4").sheet == "A4"

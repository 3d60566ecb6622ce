"""The client's page as a file: what it holds, what it does without, and how it is replaced."""

import hashlib
import json
import re
import stat
from functools import partial

import pytest

from tests.support.colours import contrast
from tests.support.jargon import jargon_in
from tests.support.scenes import SCENES
from tests.support.studies import shipped_study
from viewer import look
from viewer.files import OutputRefused, Place
from viewer.page.page import page_text, write_page

study_of = partial(shipped_study, up_to_order=2)


def test_three_js_is_the_file_its_authors_publish_beside_its_licence():
    folder = SCENES.parent / "viewer" / "page"
    library = (folder / "three.min.js").read_bytes()
    # build/three.min.js of three 0.140.2
    assert hashlib.sha256(library).hexdigest() == (
        "f0216a2121070d14fe51a90dbf9d8a1bc6219b9b55f8e4792aaf3867e613ac6d"
    )
    assert library in page_text(study_of("box")).encode()
    licence = (folder / "three.LICENSE").read_text(encoding="utf-8")
    assert "The MIT License" in licence
    assert "three.js authors" in licence


@pytest.mark.parametrize("name", ["box", "classroom"])
def test_it_holds_no_jargon_and_the_banned_word_nowhere(name):
    study = study_of(name)
    text = page_text(study)
    room = json.loads(re.search(r'id="room">(.*?)</script>', text, re.DOTALL)[1])
    words = [path["text"] for state in room["states"] for path in state["paths"]]
    words += [*room["words"].values(), *(layer["words"] for layer in room["layers"]), room["scale"]["words"]]
    words += re.findall(r"<p>(.*?)</p>", text)
    assert not jargon_in("\n".join(words))
    assert not re.search(r"\bsafe", " ".join(words), re.IGNORECASE)
    assert set(map(str, study.notes)) | set(study.cautions) <= set(room["notes"])


def test_text_stands_out_from_white():
    for colour in (look.INK, look.MUTED, look.ACCENT):
        assert contrast(colour, look.WHITE) >= 4.5
        assert contrast(colour, "#F3F2EF") >= 4.5  # a line of the list that is pointed at


def test_a_file_that_is_not_ours_is_left_alone(tmp_path):
    page = tmp_path / "page.html"
    page.write_text("<p>my own</p>")
    with pytest.raises(OutputRefused, match="holds no page of ours"):
        write_page(study_of("box"), page)
    assert page.read_text() == "<p>my own</p>"
    assert list(tmp_path.iterdir()) == [page]
    with pytest.raises(OutputRefused, match="not a folder"):
        write_page(study_of("box"), tmp_path / "missing" / "page.html")


def test_an_earlier_page_is_replaced_whole_and_others_may_read_it(tmp_path):
    page = write_page(study_of("box"), tmp_path / "page.html")
    before = page.read_bytes()
    write_page(study_of("box"), page)
    assert page.read_bytes() == before
    with pytest.raises(OutputRefused, match=r'another scene, "Box room" \(box\.toml; .*--replace'):
        write_page(study_of("ridge"), page)
    assert page.read_bytes() == before
    write_page(study_of("ridge"), Place(page, replace=True))
    assert "<h1>Ridge loft</h1>" in page.read_text(encoding="utf-8")
    assert list(tmp_path.iterdir()) == [page]
    plain = tmp_path / "plain"
    plain.touch()
    assert stat.S_IMODE(page.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)

"""The client's page in a real browser without a network: drawn, turned, read, harmless."""

import re
import time
from functools import cache, partial

import numpy as np
import pytest

from raytrace import run_study
from tests.support.browser import CHROMIUM, Browser
from tests.support.scenes import BOX
from tests.support.studies import shipped_study
from viewer import look
from viewer.page.page import page_text, write_page
from viewer.pictures import FINISHES

WIDE, NARROW, SMALL, FLAT = (1400, 900), (390, 844), (360, 640), (844, 390)
DESK = """
[[objects]]
name = "desk"
shape = "box"
centre = [2.1, 2.0, 0.7]
size = [0.6, 1.4, 0.04]
material = "wood"
"""

in_browser = pytest.mark.skipif(
    CHROMIUM is None, reason="no chromium here: apt-get install chromium brings it"
)


study_of = partial(shipped_study, up_to_order=2)


@pytest.fixture(scope="module")
def browser():
    started = Browser()
    yield started
    started.close()


@pytest.fixture(scope="module")
def page_of(tmp_path_factory):
    """Turns the name of a shipped scene into its page."""
    folder = tmp_path_factory.mktemp("page")
    return cache(lambda name: write_page(study_of(name), folder / f"{name}.html"))


@pytest.fixture(scope="module")
def ridge(page_of):
    return page_of("ridge")


def pixels(browser, box=None):
    from io import BytesIO

    from PIL import Image

    return np.asarray(Image.open(BytesIO(browser.picture())).convert("RGB").crop(box), np.int64)


def canvas_box(browser):
    return box_of(browser, "canvas")


def spot_on(browser, index, share=0.5):
    """Where in the window a place on the first leg of a path stands."""
    left, top, *_ = canvas_box(browser)
    ends = browser.run(f"hitspot.paths()[{index}].points.slice(0, 2).map(hitspot.onScreen)")
    return [edge + (1 - share) * a + share * b for edge, a, b in zip((left, top), *ends, strict=True)]


def read(browser):
    """What is said beside the mouse."""
    return " ".join(
        browser.run("(r => r.hidden ? '' : r.innerText)(document.getElementById('read'))").split()
    )


def strip(browser):
    """What is said under the picture."""
    return " ".join(browser.run("document.getElementById('strip').innerText").split())


def box_of(browser, name):
    return browser.run(
        f"(r => [r.left, r.top, r.right, r.bottom])"
        f"(document.getElementById('{name}').getBoundingClientRect())"
    )


def press(browser, selector, number=0):
    browser.run(f"document.querySelectorAll('{selector}')[{number}].click()")
    browser.settle()


@in_browser
@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_it_opens_without_a_network_and_draws_the_room(browser, ridge, size):
    browser.open(ridge, size, finger=size == NARROW)
    assert browser.requests == [ridge.as_uri()]
    assert browser.faults == []
    scale = 2 if size == NARROW else 1  # device pixels per pixel of the page
    seen = pixels(browser, [scale * side for side in canvas_box(browser)])
    floor, ink = look.rgb(FINISHES["laminate floor"][0]) * 255, look.rgb(look.ACCENT) * 255
    # Light keeps a floor's tint within 40 of 255; it covers at least a tenth of the picture.
    assert (np.abs(seen - floor).max(axis=-1) < 40).mean() > 0.1
    assert (np.abs(seen - ink).max(axis=-1) < 40).sum() > 50  # the outlines of areas
    assert (seen == 255).all(axis=-1).mean() > 0.1  # on white


@in_browser
def test_the_film_shows_the_sound_on_its_way_and_ends_when_it_is_told_to(browser, ridge):
    browser.open(ridge, WIDE)
    browser.send(
        "Emulation.setEmulatedMedia", features=[{"name": "prefers-reduced-motion", "value": "reduce"}]
    )
    before, still = strip(browser), pixels(browser)
    browser.run("document.getElementById('film').click()")
    told, end_s = "", time.monotonic() + 30.0
    while not re.match(r"[1-9]\d* ms after", told) and time.monotonic() < end_s:
        told = strip(browser)
    assert "ms after the sound left" in told
    assert np.abs(pixels(browser) - still).max() > 60
    press(browser, "#film")
    browser.send("Emulation.setEmulatedMedia", features=[])
    assert strip(browser) == before
    assert browser.faults == []


@in_browser
def test_what_asks_for_the_network_is_noticed(browser, ridge, tmp_path):
    text = ridge.read_text(encoding="utf-8")
    leaky = tmp_path / "leaky.html"
    leaky.write_text(text.replace("<h1>", '<h1><img src="http://127.0.0.1:9/x.png">'), encoding="utf-8")
    browser.open(leaky)
    assert len(browser.requests) > 1 or browser.faults


@in_browser
def test_pointing_at_a_path_reads_surface_delay_and_level(browser, ridge):
    study = study_of("ridge")
    browser.open(ridge)
    assert read(browser) == ""
    for index, path in enumerate(browser.run("hitspot.paths()")):
        if path["layer"] != "over":
            continue
        # Where several lines run together the nearest is read: somewhere along it that is this one.
        for share in (0.5, 0.35, 0.65, 0.8):
            browser.mouse("mouseMoved", *spot_on(browser, index, share))
            if read(browser) == path["text"]:
                break
        assert read(browser) == path["text"]
    row = int(np.argmax(study.arrivals.zone_worst_db))
    worst = study.arrivals.zone_worst_db[row]
    expected = f"{study.arrivals.delay_s[row] * 1e3:.1f} ms after the direct sound, {-worst:.1f} dB weaker"
    assert any(expected in path["text"] for path in browser.run("hitspot.paths()"))
    browser.mouse("mouseMoved", 60, 860)
    assert read(browser) == ""


@in_browser
def test_a_tap_reads_a_path_and_a_second_one_a_wall(browser, ridge):
    browser.open(ridge, NARROW, finger=True)
    paths = browser.run("hitspot.paths()")
    index = next(i for i, path in enumerate(paths) if path["layer"] == "over")
    browser.tap(*spot_on(browser, index, 0.7))
    assert strip(browser) in [path["text"] for path in paths if path["layer"] in ("over", "first")]
    left, top, _right, bottom = canvas_box(browser)
    browser.tap(left + 170, top + 0.72 * (bottom - top))
    assert strip(browser) == "Floor: laminate floor"
    assert read(browser) == ""  # nothing lies over the picture


@in_browser
@pytest.mark.parametrize("size", [WIDE, NARROW, SMALL, FLAT], ids=["wide", "narrow", "small", "flat"])
def test_room_and_reading_are_both_in_sight_and_apart(browser, ridge, size):
    browser.open(ridge, size, finger=size != WIDE)
    press(browser, "#strong button", 1)
    browser.run("(e => e.scrollIntoView())(document.querySelectorAll('#strong button')[1])")
    peaks = browser.run("JSON.parse(document.getElementById('room').textContent).states[0].peaks")
    assert strip(browser) == peaks[1]["text"]
    picture, words = box_of(browser, "picture"), box_of(browser, "strip")
    assert words[1] >= picture[3] or words[0] >= picture[2]  # below or beside
    for left, top, right, bottom in (picture, words):
        assert 0 <= left < right <= size[0]
        assert 0 <= top < bottom <= size[1]
    assert (picture[3] - picture[1]) * (picture[2] - picture[0]) > 0.3 * size[0] * size[1]
    # All of the words, without scrolling.
    assert browser.run("(s => s.scrollHeight <= s.clientHeight)(document.getElementById('strip'))")


@in_browser
def test_two_fingers_come_nearer_and_the_page_stays(browser, ridge):
    browser.open(ridge, NARROW, finger=True)
    ends = "hitspot.paths()[0].points.slice(0, 2).map(hitspot.onScreen)"
    long = np.hypot(*np.subtract(*browser.run(ends)))
    for kind, apart in (("touchStart", 30), ("touchMove", 50), ("touchMove", 70), ("touchEnd", 0)):
        points = [{"x": 195 + side * apart, "y": 250, "id": i} for i, side in enumerate((-1, 1))]
        browser.send("Input.dispatchTouchEvent", type=kind, touchPoints=points if kind != "touchEnd" else [])
    browser.settle()
    assert np.hypot(*np.subtract(*browser.run(ends))) > 1.5 * long  # the fingers went 2.3 times apart
    assert browser.run("[scrollX, scrollY, visualViewport.scale]") == [0, 0, 1]


@in_browser
def test_a_listed_reflection_marks_all_its_lines_and_a_second_press_none(browser, tmp_path):
    page = write_page(study_of("cupboard"), tmp_path / "page.html")
    browser.open(page)
    peaks = browser.run("JSON.parse(document.getElementById('room').textContent).states[0].peaks")
    over = [i for i, peak in enumerate(peaks) if peak["verdict"] == "over"]
    number = max(over, key=lambda i: len(peaks[i]["paths"]))
    assert peaks[number]["paths"]
    box = canvas_box(browser)
    plain = pixels(browser, box)
    press(browser, "#strong button", number)
    assert strip(browser) == peaks[number]["text"]
    marked = pixels(browser, box)
    left, top, *_ = box
    for index in peaks[number]["paths"]:
        x, y = spot_on(browser, index, 0.5)
        at = marked[round(y - top) - 2 : round(y - top) + 3, round(x - left) - 2 : round(x - left) + 3]
        assert (np.abs(at - look.rgb(look.ACCENT) * 255).max(axis=-1) < 40).any()
    press(browser, "#strong button", number)
    assert strip(browser).startswith("Each line is sound")
    browser.run("document.activeElement.blur()")
    assert (np.abs(pixels(browser, box) - plain).max(axis=-1) > 30).sum() == 0


@in_browser
def test_the_list_shows_as_many_as_the_sentences_say(browser, ridge):
    browser.open(ridge)
    sentences = browser.run("document.getElementById('findings').innerText")
    for speaker, verdict in zip(("left", "right"), study_of("ridge").verdicts, strict=True):
        count = "one early" if verdict.n_over == 1 else f"{verdict.n_over} early"
        assert re.search(
            rf"\b({speaker} speaker|left and right speaker, each): {count}", sentences, re.IGNORECASE
        )
        browser.run(
            f"(s => {{ s.value = '{speaker}'; s.dispatchEvent(new Event('change')); }})"
            "(document.querySelector('#choices select'))"
        )
        assert browser.run("document.querySelectorAll('#strong button').length") == verdict.n_over
        assert f"Too strong: {verdict.n_over}," in browser.run("document.getElementById('lists').innerText")


@in_browser
def test_every_control_is_reached_by_tab_and_shows_it(browser, ridge):
    browser.open(ridge)
    controls = browser.run(
        "[...document.querySelectorAll('button, select, input, summary, canvas')]"
        ".filter(e => e.offsetParent || e.id === 'canvas').length"
    )
    reached = set()
    for _ in range(controls + 5):
        for kind in ("keyDown", "keyUp"):
            browser.send("Input.dispatchKeyEvent", type=kind, key="Tab", code="Tab", windowsVirtualKeyCode=9)
        place, tag, outline = browser.run(
            "(e => [[...document.querySelectorAll('*')].indexOf(e), e.tagName, "
            "parseFloat(getComputedStyle(e).outlineWidth)])(document.activeElement)"
        )
        if tag != "BODY":
            reached.add(place)
            assert outline >= 2
    assert len(reached) == controls


@in_browser
def test_keys_turn_move_and_come_nearer(browser, ridge):
    browser.open(ridge)
    browser.run("document.getElementById('canvas').focus()")
    speaker = "hitspot.onScreen(hitspot.paths()[0].points[0])"
    for key, modifiers in (("ArrowLeft", 0), ("ArrowUp", 8), ("+", 0)):  # 8: Shift
        before = browser.run(speaker)
        browser.send("Input.dispatchKeyEvent", type="keyDown", key=key, modifiers=modifiers)
        browser.settle()
        assert np.hypot(*np.subtract(browser.run(speaker), before)) > 5


@in_browser
def test_printed_it_shows_the_whole_room_and_all_words(browser, ridge):
    import base64
    from io import BytesIO

    import pypdf

    browser.open(ridge, SMALL, finger=True)
    printed = base64.b64decode(browser.send("Page.printToPDF", printBackground=True)["data"])
    first, *others = pypdf.PdfReader(BytesIO(printed)).pages
    words = " ".join(" ".join(page.extract_text() for page in (first, *others)).split())
    assert "Flutter echo between" in words
    assert study_of("ridge").cautions[-1] in words
    assert "Tap a line" not in words
    room = max((image.image for image in first.images), key=lambda image: image.width)
    seen = np.asarray(room.convert("RGB"), np.int64)
    assert seen.shape[1] / seen.shape[0] == pytest.approx(660 / 460, rel=0.01)  # whole pixels
    drawn = (np.abs(seen - look.rgb(look.EDGE) * 255).max(axis=-1) < 40) & (seen.min(axis=-1) < 200)
    rows, columns = np.nonzero(drawn)
    assert drawn.sum() > 1000
    for places, size in ((rows, seen.shape[0]), (columns, seen.shape[1])):
        assert 0 < places.min() < places.max() < size - 1
    assert rows.max() - rows.min() > 0.7 * seen.shape[0]
    # On the screen again as before.
    left, _top, right, _bottom = canvas_box(browser)
    assert (left, right) == (0, SMALL[0])


@in_browser
def test_dragging_turns_the_room_and_the_wheel_comes_nearer(browser, ridge):
    browser.open(ridge)
    speaker = "hitspot.onScreen(hitspot.paths()[0].points[0])"
    before = browser.run(speaker)
    browser.drag((500, 500), (560, 500))
    turned = browser.run(speaker)
    assert np.hypot(*np.subtract(turned, before)) > 20
    ends = "hitspot.paths()[0].points.slice(0, 2).map(hitspot.onScreen)"
    long = np.hypot(*np.subtract(*browser.run(ends)))
    browser.mouse("mouseWheel", 500, 500, deltaX=0, deltaY=-120)
    assert np.hypot(*np.subtract(*browser.run(ends))) > 1.1 * long


@in_browser
def test_a_layer_switched_off_is_neither_drawn_nor_read(browser, ridge):
    browser.open(ridge)
    box = canvas_box(browser)
    index = next(i for i, path in enumerate(browser.run("hitspot.paths()")) if path["layer"] == "over")
    at = spot_on(browser, index)
    browser.mouse("mouseMoved", *at)
    assert read(browser) != ""
    browser.mouse("mouseMoved", 60, 860)
    with_all = pixels(browser, box)
    for number in range(browser.run("document.querySelectorAll('#layers input').length")):
        if browser.run(f"document.querySelectorAll('#layers input')[{number}].checked"):
            press(browser, "#layers input", number)
    browser.mouse("mouseMoved", *at)
    assert read(browser) == ""
    assert (np.abs(pixels(browser, box) - with_all).max(axis=-1) > 30).sum() > 1000
    accent = look.rgb(look.ACCENT) * 255
    assert not (np.abs(pixels(browser, box) - accent).max(axis=-1) < 40).any()


@in_browser
def test_before_and_after_switch_room_list_and_words(browser, scene_of, tmp_path):
    before = run_study(scene_of(BOX), up_to_order=1)
    after = run_study(scene_of(BOX + DESK, "after.toml"), up_to_order=1)
    page = write_page(before, tmp_path / "page.html", after)
    browser.open(page)
    assert browser.run("[...document.querySelectorAll('#change button')].map(b => b.innerText)") == [
        "Before",
        "After",
    ]
    assert any("Desk top" in path["text"] for path in browser.run("hitspot.paths()"))
    assert browser.run("document.getElementById('when').innerText") == "After"
    box = canvas_box(browser)
    with_desk = pixels(browser, box)
    press(browser, "#change button", 0)
    assert not any("Desk top" in path["text"] for path in browser.run("hitspot.paths()"))
    assert any("After: " in path["text"] for path in browser.run("hitspot.paths()"))
    assert (np.abs(pixels(browser, box) - with_desk).max(axis=-1) > 30).sum() > 1000


@in_browser
@pytest.mark.parametrize("size", [NARROW, SMALL, FLAT], ids=["narrow", "small", "flat"])
@pytest.mark.parametrize("name", ["box", "ridge", "beams", "classroom"])
def test_nothing_is_cut_off_on_a_phone(browser, page_of, name, size):
    browser.open(page_of(name), size, finger=True)
    left, _top, right, _bottom = canvas_box(browser)
    assert (left, right) == (0, pytest.approx(size[0] if size != FLAT else 0.6 * size[0], abs=1))
    assert browser.run("document.documentElement.scrollWidth") == size[0]
    outside = browser.run(
        "[...document.querySelectorAll('h1, aside *, #strip *')].filter(e => e.offsetParent && "
        "(e.getBoundingClientRect().right > innerWidth || e.getBoundingClientRect().left < 0))"
        ".map(e => e.outerHTML.slice(0, 90))"
    )
    assert outside == []
    small = browser.run(
        "[...document.querySelectorAll('button, select, summary, #layers label')]"
        ".filter(e => e.offsetParent && "
        "e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 90))"
    )
    assert small == []  # what a finger hits (WCAG 2.1, 2.5.5, from memory)


@in_browser
def test_every_corner_of_the_room_is_in_the_picture_from_each_view_outside(browser, ridge):
    for size in (WIDE, NARROW):
        browser.open(ridge, size)
        left, top, right, bottom = canvas_box(browser)
        corners = "JSON.parse(document.getElementById('room').textContent).states[0].corners"
        for view in range(3):
            press(browser, "#views button", view)
            flat = np.array(browser.run(f"{corners}.map(hitspot.onScreen)"))
            assert (flat >= 0).all()
            assert (flat <= [right - left, bottom - top]).all()


@in_browser
def test_a_browser_without_webgl_still_lists_the_reflections(browser, ridge, tmp_path):
    text = ridge.read_text(encoding="utf-8")
    # Another hash would be needed for any change of the program: break WebGL from the outside instead.
    blind = tmp_path / "blind.html"
    blind.write_text(text.replace('<canvas id="canvas"', '<canvas id="canvas" width="0"'), encoding="utf-8")
    script = browser.send(
        "Page.addScriptToEvaluateOnNewDocument", source="HTMLCanvasElement.prototype.getContext = () => null;"
    )
    try:
        browser.open(blind)
        assert "cannot draw" in browser.run("document.getElementById('trouble').innerText")
        listed = browser.run("document.getElementById('lists').innerText")
        assert listed.count(" ms after the direct sound, ") > 3
        assert not browser.run("document.getElementById('views').offsetParent")
    finally:
        browser.send("Page.removeScriptToEvaluateOnNewDocument", **script)


EVIL = '</script><script>document.title="owned"</script><img src=x onerror="document.title=\'owned\'">'


@in_browser
def test_a_scene_cannot_smuggle_a_script_into_the_page(browser, scene_of, tmp_path):
    text = BOX.replace('title = "test room"', f"title = '''{EVIL}'''")
    text = text.replace('name = "left"', f"name = '''{EVIL}'''").replace(
        'name = "mix"', f"name = '''{EVIL} seat'''"
    )
    page = write_page(run_study(scene_of(text), up_to_order=1), tmp_path / "page.html")
    browser.open(page)
    assert browser.run("document.title") == EVIL
    assert browser.run("document.querySelector('h1').textContent") == EVIL
    assert browser.run("document.images.length") == 0
    assert browser.requests == [page.as_uri()]
    assert browser.faults == []
    press(browser, "#strong button")
    assert EVIL in browser.run("document.getElementById('strip').textContent")


@in_browser
def test_a_script_that_is_not_ours_does_not_run(browser, ridge, tmp_path):
    text = ridge.read_text(encoding="utf-8")
    other = tmp_path / "other.html"
    other.write_text(text.replace("<h1>", "<h1><script>document.title = 'owned'</script>"), encoding="utf-8")
    browser.open(other)
    assert browser.run("document.title") == "Ridge loft"


def test_it_is_small_and_the_same_twice(ridge):
    assert ridge.stat().st_size < 1.5e6  # 6 MB is allowed; what it is made of needs less than one
    assert page_text(study_of("ridge")) == ridge.read_text(encoding="utf-8")


def test_it_names_no_address(ridge):
    text = ridge.read_text(encoding="utf-8")
    library = next(
        part for part in re.findall(r"<script>.*?</script>", text, re.DOTALL) if "THREE" in part[:700]
    )
    assert "SPDX-License-Identifier: MIT" in library
    assert "//" not in re.sub(r"https?://", "//", text.replace(library, "")).replace("://", "")

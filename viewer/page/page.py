"""The room as one file that a client opens in a browser, offline: turn it, point at a path, read it."""

import base64
import hashlib
import html
import json
import re
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING, Any

from raytrace import Study
from viewer import look
from viewer.files import Origin, OutputRefused, Place, check_origin, refusing_trouble, write_whole
from viewer.page.bass import bass_section
from viewer.page.contents import page_contents
from viewer.page.measured import measured_section
from viewer.words import judged_how, today

if TYPE_CHECKING:
    from raytrace import Bass, MeasuredRoom

PAGE = "page"
"""What a page is called in its record."""
_HEAD_BYTES = 16_000_000  # whatever else lies here is not read to its end: a scene has 2 MB at most
_RECORD = re.compile(r'<meta name="hitspot" content="([^"]*)">')

# three.js 0.140.2 (MIT, its licence in three.LICENSE), build/three.min.js as its authors publish it.
_LIBRARY = "three.min.js"
_PROGRAM = ("page_light.js", "page_picture.js", "page.js")


def write_page(
    study: Study,
    where: str | Path | Place,
    after: Study | None = None,
    *,
    units: str = "metric",
    bass: "Bass | None" = None,
    measured: "MeasuredRoom | None" = None,
) -> Path:
    """Write the page of a study.

    Parameters
    ----------
    study : Study
        A finished run.
    where : path or Place
        The HTML file. One that is there already is replaced if it is an earlier page of the same scene.
    after : Study, optional
        The same room once changed: the page then switches between before and after.
    units : {"metric", "imperial"}
        Of the sizes of panels.
    bass : Bass, optional
        Of the room as it is in the end: map of the floor, and the curve now and from the best place.
    measured : MeasuredRoom, optional
        What was measured in it: whether it worked, and the curve.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OutputRefused
        If something stands there that is not an earlier page, or nothing can be written.
    """
    place, origin = Place.of(where), Origin.of(PAGE, (after or study).scene)
    check_page(place, origin)
    write_whole(place.path, page_text(study, after, units=units, bass=bass, measured=measured))
    return place.path


def check_page(place: Place, origin: Origin) -> None:
    """Raise unless a place is free or holds an earlier page of the same scene.

    Raises
    ------
    OutputRefused
        Says what stands there.
    """
    path = place.path
    with refusing_trouble(path):
        if not path.absolute().parent.is_dir():
            raise OutputRefused(f"{path.parent} is not a folder")
        try:
            path.lstat()
        except FileNotFoundError:
            return
        if path.is_symlink() or not path.is_file():
            raise OutputRefused(f"{path}: something that is not a page stands here; give another --out")
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES).decode("utf-8", errors="replace")
        check_origin(place, _record(head), origin)


def _record(text: str) -> dict[str, Any]:
    """What a page keeps of its scene; nothing where it is no page of ours."""
    found = _RECORD.search(text)
    try:
        record = json.loads(html.unescape(found[1])) if found else {}
    except (ValueError, RecursionError):
        return {}
    return record if isinstance(record, dict) else {}


def page_text(
    study: Study,
    after: Study | None = None,
    *,
    units: str = "metric",
    bass: "Bass | None" = None,
    measured: "MeasuredRoom | None" = None,
) -> str:
    """The whole page: markup, style, program, library and data in one text.

    No part of it may load anything or run anything that is not listed by its hash: whatever a scene file
    holds stays words.
    """
    scene = (after or study).scene
    style, library = _style(), _part(_LIBRARY)
    program = "\n" + "\n".join(map(_part, _PROGRAM))
    allowed = " ".join(f"'{_digest(script)}'" for script in (library, program))
    shown = page_contents(study, after, units=units, bass=bass)
    contents = json.dumps(shown, ensure_ascii=False, separators=(",", ":"))
    return Template(_part("page.html")).substitute(
        policy=f"default-src 'none'; script-src {allowed}; style-src '{_digest(style)}'; base-uri 'none'; "
        "form-action 'none'",
        record=html.escape(json.dumps(Origin.of(PAGE, scene).record)),
        title=html.escape(scene.title),
        findings="\n".join(
            f"<p>{html.escape(line)}</p>" for line in (judged_how(after or study), *today(after or study))
        ),
        bass=bass_section(bass),
        measured=measured_section(measured),
        style=style,
        # Inside a script element only "<" could end it.
        room=contents.replace("<", "\\u003c"),
        library=library,
        program=program,
    )


def _part(name: str) -> str:
    return Path(__file__).with_name(name).read_text(encoding="utf-8")


def _style() -> str:
    colours = {"ink": look.INK, "muted": look.MUTED, "hairline": look.HAIRLINE, "accent": look.ACCENT}
    named = "; ".join(f"--{name}: {colour}" for name, colour in colours.items())
    return f"\n:root {{ {named}; }}\n{_part('page.css')}"


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")

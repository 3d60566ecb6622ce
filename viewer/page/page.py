"""The room as one file that a client opens in a browser, offline: turn it, point at a path, read it."""

import base64
import hashlib
import html
import json
import os
import tempfile
from pathlib import Path
from string import Template

from raytrace import Study
from viewer import look
from viewer.page.contents import page_contents
from viewer.words import today

_MARK = '<meta name="generator" content="hitspot">'

# three.js 0.140.2 (MIT, its licence in three.LICENSE), build/three.min.js as its authors publish it.
_LIBRARY = "three.min.js"


class PageRefused(Exception):
    """Something stands where the page should go, or nothing can be written; its text is the whole message."""


def write_page(study: Study, path: str | Path, after: Study | None = None, *, units: str = "metric") -> Path:
    """Write the page of a study.

    Parameters
    ----------
    study : Study
        A finished run.
    path : path
        The HTML file. One that is there already is replaced if it is an earlier page.
    after : Study, optional
        The same room once changed: the page then switches between before and after.
    units : {"metric", "imperial"}
        Of the sizes of panels.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    PageRefused
        If something stands there that is not an earlier page, or nothing can be written.
    """
    path = Path(path)
    _refuse_what_is_not_ours(path)
    text = page_text(study, after, units=units)
    try:
        with tempfile.NamedTemporaryFile(
            "w",
            dir=path.absolute().parent,
            prefix=f".{path.name}-",
            encoding="utf-8",
            newline="\n",
            delete=False,
        ) as beside:
            beside.write(text)
        # A temporary file is the owner's alone; a page is as readable as any other file.
        umask = os.umask(0)
        os.umask(umask)
        Path(beside.name).chmod(0o666 & ~umask)
        Path(beside.name).replace(path)
    except OSError as problem:
        raise PageRefused(f"{path}: cannot be written: {problem.strerror}") from None
    return path


def page_text(study: Study, after: Study | None = None, *, units: str = "metric") -> str:
    """The whole page: markup, style, program, library and data in one text.

    No part of it may load anything or run anything that is not listed by its hash: whatever a scene file
    holds stays words.
    """
    scene = (after or study).scene
    style, library = _style(), _part(_LIBRARY)
    program = f"\n{_part('page_picture.js')}\n{_part('page.js')}"
    allowed = " ".join(f"'{_digest(script)}'" for script in (library, program))
    contents = json.dumps(page_contents(study, after, units=units), ensure_ascii=False, separators=(",", ":"))
    return Template(_part("page.html")).substitute(
        policy=f"default-src 'none'; script-src {allowed}; style-src '{_digest(style)}'; base-uri 'none'; "
        "form-action 'none'",
        title=html.escape(scene.title or scene.path.stem),
        findings="\n".join(f"<p>{html.escape(line)}</p>" for line in today(after or study)),
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


def _refuse_what_is_not_ours(path: Path) -> None:
    """Raise unless the place is free or holds a page of ours."""
    if not path.absolute().parent.is_dir():
        raise PageRefused(f"{path.parent} is not a folder")
    if not path.is_symlink() and not path.exists():
        return
    is_file = path.is_file() and not path.is_symlink()
    if not is_file or _MARK.encode() not in path.read_bytes()[:2000]:
        raise PageRefused(f"{path}: something that is not a page of ours stands here; give another --out")

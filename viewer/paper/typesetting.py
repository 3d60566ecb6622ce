"""Contents laid out on pages by report.typ: the bytes of a PDF or of a picture."""

import json
import os
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any, Self

from viewer import look
from viewer.paper.drafting import font_folder
from viewer.paper.typeface import texts_of
from viewer.words import boxes_words

_PPI = 150.0
_LOOK = {
    "ink": look.INK,
    "muted": look.MUTED,
    "rule": look.HAIRLINE,
    "accent": look.ACCENT,
    "font": look.FONT,
}
_UNSUSPECTED = b"/Suspects false"


def typeset(contents: dict[str, Any], root: Path, *, picture: bool = False) -> bytes:
    """Contents laid out by report.typ: the bytes of a PDF, or of a one-page PNG."""
    import typst

    contents = contents | {"boxes": boxes_words("".join(texts_of(contents))), "look": _LOOK}
    template = Path(__file__).with_name("report.typ").read_bytes()
    laid_out = typst.compile(  # type: ignore[call-overload]  # its stub wants bytes and root of one type
        template,
        root=str(root),
        font_paths=[str(font_folder())],
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(contents)},
        format="png" if picture else "pdf",
        ppi=_PPI if picture else None,
    )
    assert isinstance(laid_out, bytes)
    # False is what the key means where it is left out (ISO 32000-1, table 321, from memory); poppler reads a
    # false one as a mistake. Blanks keep every offset in the file.
    return laid_out.replace(_UNSUSPECTED, b" " * len(_UNSUSPECTED))


class Press:
    """Contents laid out in the background, several at a time: typst works without Python's lock.

    Used in a `with`, at whose end all that was put is on disk; or nothing more is begun, where it failed.

    Parameters
    ----------
    root : Path
        The folder that pictures are named in.
    """

    def __init__(self, root: Path) -> None:
        self._root = root
        self._pool = ThreadPoolExecutor(max_workers=os.cpu_count())
        self._jobs: list[Future[None]] = []

    def put(self, path: Path, contents: dict[str, Any], *, picture: bool = False) -> None:
        """Have contents laid out into a file, a PDF or a one-page PNG; what they name must be there."""
        self._jobs.append(self._pool.submit(self._lay_out, path, contents, picture))

    def _lay_out(self, path: Path, contents: dict[str, Any], picture: bool) -> None:
        path.write_bytes(typeset(contents, self._root, picture=picture))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        self._pool.shutdown(cancel_futures=kind is not None)
        if kind is None:
            for job in self._jobs:
                job.result()

"""Contents laid out on pages by report.typ: the bytes of a PDF or of a picture."""

import json
from pathlib import Path
from typing import Any

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

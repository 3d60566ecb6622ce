"""Contents laid out on pages by report.typ: the bytes of a PDF or of a picture."""

import json
from pathlib import Path
from typing import Any

from viewer.paper.drafting import font_folder

_PPI = 150.0


def typeset(contents: dict[str, Any], root: Path, *, picture: bool = False) -> bytes:
    """Contents laid out by report.typ: the bytes of a PDF, or of a one-page PNG."""
    import typst

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
    return laid_out

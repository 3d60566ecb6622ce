"""A sheet as DXF: true millimetres counted from its datum, a layer for each kind of thing."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from viewer.look import FONT_FILES, WHITE
from viewer.paper import CAP_SHARE, LINE_SHARE, MM_PER_POINT, Mark
from viewer.sheets.panelplan import LAYERS
from viewer.sheets.panelsheet import Page

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

_MILLIMETRES, _METRIC = 4, 1
_BLACK_OR_WHITE, _GREY = 7, 8
_FAINT = ("furniture", "openings", "joists", "keep-outs")
_LINES = {"dashed": (3.0, -1.5), "centre": (8.0, -1.5, 1.0, -1.5)}
_DIGITS = 4  # of a millimetre: the same text on every machine


def dxf_text(page: Page) -> str:
    """The sheet as the text of a DXF file (R2010); x to the right and y upwards of the datum. [mm]

    Raises
    ------
    ValueError
        For a page of lists, which has no scale.
    """
    if page.scale is None:
        raise ValueError(f"{page.name} holds no drawing")
    with _same_bytes():
        document = _blank(page.scale)
        space = document.modelspace()
        for mark in page.marks:
            if mark.ink != WHITE:  # which covers something on paper only
                _draw(space, page, mark)
        _order_classes(document)
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue()


@contextmanager
def _same_bytes() -> Iterator[None]:
    """Fixed dates and identifiers: the same sheet gives the same bytes."""
    import ezdxf

    fixed = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = fixed


def _blank(scale: int) -> "Drawing":
    """A drawing in millimetres with the layers, lines and letters of every sheet, and nothing on it."""
    import ezdxf

    document = ezdxf.new("R2010")
    document.units = _MILLIMETRES
    document.header["$MEASUREMENT"] = _METRIC
    for name, pattern in _LINES.items():
        lengths = [step * scale for step in pattern]
        document.linetypes.add(name, pattern=[sum(map(abs, lengths)), *lengths])
    for weight, file in FONT_FILES.items():
        document.styles.add(weight, font=file)
    for name in LAYERS:
        document.layers.add(name, color=_GREY if name in _FAINT else _BLACK_OR_WHITE)
    return document


def _order_classes(document: "Drawing") -> None:
    """List what the file is made of in one order; left alone, it follows the hashes of this process."""
    from ezdxf.sections.classes import REQ_R2004

    for name in (*REQ_R2004, *sorted(document.entitydb.dxf_types_in_use())):
        document.classes.add_class(name)


def _draw(space: "Modelspace", page: Page, mark: Mark) -> None:
    """One mark of the sheet, in true size."""
    assert page.scale is not None
    on_layer = {"layer": mark.layer}
    if mark.kind == "text":
        _write(space, page, mark)
    elif mark.kind == "disc":
        (centre,) = mark.points
        space.add_circle(_true(page, centre), mark.radius * page.scale, dxfattribs=on_layer)
    else:
        space.add_lwpolyline(
            [_true(page, point) for point in mark.points],
            close=mark.kind == "area",
            dxfattribs=on_layer | {"linetype": _line_type(mark)},
        )


def _write(space: "Modelspace", page: Page, mark: Mark) -> None:
    """A text, each of its lines centred where it stands on paper."""
    from ezdxf.enums import TextEntityAlignment

    assert page.scale is not None
    for row, place in _text_rows(mark):
        entity = space.add_text(
            literal_text(row),
            height=CAP_SHARE * mark.size_pt * MM_PER_POINT * page.scale,
            rotation=90.0 if mark.turned else 0.0,
            dxfattribs={"layer": mark.layer, "style": "bold" if mark.bold else "regular"},
        )
        entity.set_placement(_true(page, place), align=TextEntityAlignment.MIDDLE_CENTER)


_LETTER_CODE = re.compile(r"\\(?=[UM]\+)", re.IGNORECASE)


def literal_text(text: str) -> str:
    """Text in which a reader of DXF finds no codes: those of signs, control characters and letters."""
    escaped = text.replace("%", "%%%") if "%%" in text else text
    return _LETTER_CODE.sub(r"\\U+005C", escaped).replace("^", "^ ")


def _true(page: Page, point: tuple[float, float]) -> tuple[float, float]:
    """A place on paper in true millimetres from the datum."""
    assert page.scale is not None
    x, y = point
    return (
        round((x - page.datum_mm[0]) * page.scale, _DIGITS) + 0.0,
        round((page.datum_mm[1] - y) * page.scale, _DIGITS) + 0.0,
    )


def _line_type(mark: Mark) -> str:
    return {0: "CONTINUOUS", 2: "dashed"}.get(len(mark.dash), "centre")


def _text_rows(mark: Mark) -> list[tuple[str, tuple[float, float]]]:
    """Every line of a text with its middle on paper. [mm]"""
    x, y = mark.points[0]
    rows = mark.text.split("\n")
    pitch = LINE_SHARE * mark.size_pt * MM_PER_POINT
    offs = [(i - (len(rows) - 1) / 2.0) * pitch for i in range(len(rows))]
    return [
        (row, (x + off, y) if mark.turned else (x, y + off))
        for row, off in zip(rows, offs, strict=True)
        if row
    ]

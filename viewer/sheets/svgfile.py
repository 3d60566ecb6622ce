"""A sheet as SVG: millimetres on paper, a group for every layer."""

from html import escape

from viewer.look import FONT, WHITE
from viewer.paper import CAP_SHARE, LINE_SHARE, MM_PER_POINT, Mark, text_size_mm
from viewer.sheets.panelsheet import Page


def svg_text(page: Page) -> str:
    """The sheet as the text of an SVG file."""
    wide, high = page.size_mm
    title = escape(page.title)
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {wide:g} {high:g}">',
        f"<title>{title}</title>",
        f'<rect width="{wide:g}" height="{high:g}" fill="{WHITE}"/>',
    ]
    for name, marks in page.layers:
        parts.append(f'<g id="{name}">')
        parts += [row for mark in marks for row in _rows(mark)]
        parts.append("</g>")
    return "\n".join([*parts, "</svg>", ""])


def _n(value: float) -> str:
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1e5 else f"{value:.3f}"


def _stroke(mark: Mark) -> str:
    if not mark.ink:
        return 'stroke="none"'
    dash = f' stroke-dasharray="{" ".join(map(_n, mark.dash))}"' if mark.dash else ""
    return f'stroke="{mark.ink}" stroke-width="{_n(mark.width_pt * MM_PER_POINT)}"{dash}'


def _rows(mark: Mark) -> list[str]:
    if mark.kind == "text":
        return _text(mark)
    fill = mark.fill or "none"
    if mark.kind == "disc":
        (x, y), r = mark.points[0], _n(mark.radius)
        return [f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{r}" fill="{fill}" {_stroke(mark)}/>']
    points = " ".join(f"{_n(x)},{_n(y)}" for x, y in mark.points)
    if mark.kind == "line":
        return [f'<polyline points="{points}" fill="none" {_stroke(mark)}/>']
    return [f'<polygon points="{points}" fill="{fill}" {_stroke(mark)}/>']


def _text(mark: Mark) -> list[str]:
    """Lines of text, as wide as the typeface meant, whatever a viewer has in its place."""
    x, y = mark.points[0]
    size = mark.size_pt * MM_PER_POINT
    rows = mark.text.split("\n")
    turn = f' transform="rotate(-90 {_n(x)} {_n(y)})"' if mark.turned else ""
    weight = ' font-weight="bold"' if mark.bold else ""
    parts = []
    if mark.plate:
        width, height = text_size_mm(mark.text, mark.size_pt, bold=mark.bold)
        left, top = x - width / 2.0 - 0.4, y - height / 2.0 - 0.2
        parts.append(
            f'<rect x="{_n(left)}" y="{_n(top)}" width="{_n(width + 0.8)}" height="{_n(height + 0.4)}" '
            f'fill="{WHITE}"{turn}/>'
        )
    for i, row in enumerate(rows):
        width, _ = text_size_mm(row, mark.size_pt, bold=mark.bold)
        base = y + (i - (len(rows) - 1) / 2.0) * LINE_SHARE * size + CAP_SHARE * size / 2.0
        parts.append(
            f'<text x="{_n(x)}" y="{_n(base)}" font-family="{FONT}, sans-serif" font-size="{_n(size)}"'
            f'{weight} text-anchor="middle" textLength="{_n(width)}" lengthAdjust="spacingAndGlyphs" '
            f'fill="{mark.ink}"{turn}>{escape(row, quote=False)}</text>'
        )
    return parts

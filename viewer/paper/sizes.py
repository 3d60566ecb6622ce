"""Sizes of paper, which of them a reader has, and scales as they are told beside a drawing."""

from fractions import Fraction

# Width and height as held upright: ISO 216; ANSI/ASME Y14.1 A and B (from memory). [mm]
PAPERS_MM = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "Letter": (215.9, 279.4),
    "Tabloid": (279.4, 431.8),
}
_LARGER = {"A4": "A3", "Letter": "Tabloid"}

TYPST_PAPERS = {"A4": "a4", "A3": "a3", "Letter": "us-letter", "Tabloid": "us-tabloid"}
"""What report.typ calls them."""


def usual_paper(units: str) -> str:
    """What readers of these units have in their printer."""
    return "A4" if units == "metric" else "Letter"


def papers_beside(paper: str) -> tuple[str, ...]:
    """A paper and the next larger one of its kind, if there is one."""
    return (paper, _LARGER[paper]) if paper in _LARGER else (paper,)


def scale_words(scale: int, units: str) -> str:
    """A scale as the reader's rule has it: "1 : 20"; "1/4 in = 1 ft" of 1 : 48."""
    if units == "metric":
        return f"1 : {scale}"
    whole, part = divmod(Fraction(12, scale), 1)
    inches = " ".join(str(number) for number in (whole, part) if number)
    return f"{inches} in = 1 ft"

"""The strip along the lower edge of a drawing sheet: scale bar, what it shows, whose it is, which sheet."""

import hashlib
from dataclasses import dataclass
from importlib.metadata import version

from raytrace import LOCAL_CODES_FIRST, Scene, format_length
from viewer.look import INK, MUTED
from viewer.paper.columns import wrap
from viewer.paper.drafting import Mark, line, scale_bar, text_size_mm, words_from
from viewer.paper.sizes import scale_words

_SCALE_MM, _SHEET_MM, _GAP_MM = 62.0, 43.0, 4.0
_NARROW_MM = 250.0  # an upright page: what is said of the job stands below the rest


def block_mm(wide: float) -> float:
    """Height of the block on a page with so much room across. [mm]"""
    return 23.0 if wide >= _NARROW_MM else 31.0


@dataclass(frozen=True)
class TitleLines:
    """What stands in a title block: sheet title and how it is seen, "1 : 20 on A3", "Sheet 1 of 3"."""

    title: str
    facing: str
    scale: int | None
    paper: str
    number: str


def title_block(
    scene: Scene, lines: TitleLines, left: float, top: float, wide: float, units: str
) -> list[Mark]:
    """The block, its upper left corner at `left`, `top`. [mm]"""
    marks = [line([(left, top), (left + wide, top)], ink=INK, width_pt=0.9)]
    x = left
    if lines.scale is not None:
        scale = scale_words(lines.scale, units)
        marks.append(words_from(scale, x, top + 5.0, size_pt=13.0, bold=True))
        beside, _ = text_size_mm(scale, 13.0, bold=True)
        told = f"on {lines.paper}; " + ("figures in mm" if units == "metric" else "feet and inches")
        marks.append(words_from(told, x + beside + 3.0, top + 5.4, size_pt=7.0, ink=MUTED))
        marks += scale_bar((x + 1.0, top + 10.0), scale=lines.scale, units=units)
        marks.append(words_from("Print at full size, 100 %.", x, top + 19.4, size_pt=7.0, ink=MUTED))
        x += max(_SCALE_MM, max(mark.box[2] for mark in marks[1:]) - left + 6.0)
    sheet_left = left + wide - _SHEET_MM
    marks.append(words_from(lines.title, x, top + 5.0, size_pt=13.0, bold=True))
    said = _job(scene, units)
    if wide < _NARROW_MM:
        title_wide = sheet_left - x - _GAP_MM
        marks += _small([" · ".join(said)], left, top + 24.4, wide)
    else:
        title_wide = 0.6 * (sheet_left - x) - _GAP_MM
        marks += _small(said, x + title_wide + _GAP_MM, top + 3.6, 0.4 * (sheet_left - x) - _GAP_MM)
    marks += _small([scene.title], x, top + 10.4, title_wide, ink=INK)
    marks += _small([lines.facing, LOCAL_CODES_FIRST], x, top + 14.6, title_wide)
    digest = hashlib.sha256(scene.text.encode("utf-8")).hexdigest()[:12]
    marks.append(words_from(lines.number, sheet_left, top + 5.0, size_pt=10.0, bold=True))
    marks += _small(
        [scene.file_name, f"SHA-256 {digest}", f"hitspot {version('hitspot')}"],
        sheet_left,
        top + 10.4,
        _SHEET_MM,
    )
    return marks


def _job(scene: Scene, units: str) -> list[str]:
    """Only what is given, never a date of today."""
    job = scene.job
    lines = [text for text in (job.client, job.place) if text]
    if job.surveyed_by or job.survey_error is not None:
        error = "" if job.survey_error is None else f" (± {format_length(job.survey_error, units=units)})"
        lines.append(f"Survey: {job.surveyed_by or 'not said by whom'}{error}")
    made = ", ".join(text for text in (job.author, job.date) if text)
    return [*lines, made] if made else lines


def _small(texts: list[str], left: float, top: float, wide: float, *, ink: str = MUTED) -> list[Mark]:
    """Lines of small type, no longer than `wide`, no more than the block holds."""
    rows = [row for text in texts for row in wrap(text, wide, 7.0)][:6]
    return [words_from(row, left, top + 3.2 * i, size_pt=7.0, ink=ink) for i, row in enumerate(rows)]

"""Marks, words and tables on pages measured in millimetres, and pages as PDF."""

from typing import TYPE_CHECKING

from raytrace import late_face

if TYPE_CHECKING:
    from viewer.paper.columns import (
        Cell,
        Column,
        Placed,
        Strip,
        bullet,
        heading,
        paragraph,
        pour,
        table,
        tick_line,
        wrap,
    )
    from viewer.paper.drafting import (
        CAP_SHARE,
        LINE_SHARE,
        MM_PER_POINT,
        Box,
        Mark,
        area,
        boxes_overlap,
        crossings,
        disc,
        hatch,
        line,
        moved,
        on_layer,
        on_plate,
        scale_bar,
        spread,
        text_size_mm,
        words,
        words_from,
    )
    from viewer.paper.running import depth_mm, run_along
    from viewer.paper.sizes import PAPERS_MM, TYPST_PAPERS, papers_beside, scale_words, usual_paper
    from viewer.paper.titleblock import TitleLines, block_mm, title_block
    from viewer.paper.typeface import typeface_note
    from viewer.paper.typesetting import Press, typeset
    from viewer.paper.wordplaces import (
        LETTER_PT,
        NAME_PT,
        SMALL_PT,
        WordPlaces,
        beyond,
        box_round,
        line_breaks,
        places_beside,
        places_inside,
    )

__all__ = [
    "CAP_SHARE",
    "LETTER_PT",
    "LINE_SHARE",
    "MM_PER_POINT",
    "NAME_PT",
    "PAPERS_MM",
    "SMALL_PT",
    "TYPST_PAPERS",
    "Box",
    "Cell",
    "Column",
    "Mark",
    "Placed",
    "Press",
    "Strip",
    "TitleLines",
    "WordPlaces",
    "area",
    "beyond",
    "block_mm",
    "box_round",
    "boxes_overlap",
    "bullet",
    "crossings",
    "depth_mm",
    "disc",
    "hatch",
    "heading",
    "line",
    "line_breaks",
    "moved",
    "on_layer",
    "on_plate",
    "papers_beside",
    "paragraph",
    "places_beside",
    "places_inside",
    "pour",
    "run_along",
    "scale_bar",
    "scale_words",
    "spread",
    "table",
    "text_size_mm",
    "tick_line",
    "title_block",
    "typeface_note",
    "typeset",
    "usual_paper",
    "words",
    "words_from",
    "wrap",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)

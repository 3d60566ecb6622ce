"""Variants of a room side by side: what is known of each, as records, and the words for it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from raytrace import Study, compare, headline
from viewer.pictures import Stage
from viewer.window.state.theme import THEMES, Theme
from viewer.window.state.verdictwords import hidden_words
from viewer.words import TOO_CLOSE, decibels, limit_side

if TYPE_CHECKING:
    from raytrace import BillOfMaterials, Decay

LINES = (
    "Over the limit",
    "Too close to say",
    "Worst peak, dB",
    "Left and right",
    "Decay",
    "Panels",
    "Price",
)
"""What is told of each variant, from top to bottom."""
NOTES = {
    "Over the limit": "peaks of all main speakers at all seats",
    "Too close to say": f"peaks that are {TOO_CLOSE}",
    "Worst peak, dB": "of them, against the limit",
    "Left and right": "by how much what they send early differs, at the first seat",
    "Decay": "T20 at 500 Hz and 1 kHz, the mean over the main speakers and seats",
    "Panels": "with stands and clouds, each slab",
    "Price": "of the panels that are to be made, as far as their builds have one",
}


@dataclass(frozen=True)
class VariantFigures:
    """What one variant comes to.

    Attributes
    ----------
    study, stage : Study or None, Stage or None
        Of the scene as it stands; None where it is none.
    decays : tuple of Decay
    goods : BillOfMaterials or None
        What to make for it; None where nothing can be made of it.
    trouble : str
        Why it is no scene.
    """

    study: Study | None = None
    stage: Stage | None = None
    decays: "tuple[Decay, ...]" = ()
    goods: "BillOfMaterials | None" = None
    trouble: str = ""


@dataclass(frozen=True)
class VariantLine:
    """One of the variants: file, name, whether it holds changes, and its figures once they are there."""

    path: Path
    name: str
    dirty: bool
    figures: VariantFigures | None


@dataclass(frozen=True)
class VariantSheet:
    """One state of the page of variants.

    Attributes
    ----------
    variants : tuple of VariantLine
        The first one first; empty where a room has no file.
    current : int
        Which of them is shown.
    beside : int or None
        Which of them it is compared with.
    can_add : bool
        Whether there is a file that a variant can stand beside.
    theme : str
    """

    variants: tuple[VariantLine, ...] = ()
    current: int = 0
    beside: int | None = None
    can_add: bool = False
    theme: str = "light"

    @property
    def colours(self) -> Theme:
        """The colours of the theme."""
        return THEMES[self.theme]

    @cached_property
    def words(self) -> str:
        """What the variant shown changes against the one it is compared with, or why that is not known."""
        if self.beside is None or self.beside == self.current:
            return ""
        now, other = self.variants[self.current], self.variants[self.beside]
        if now.figures is None or other.figures is None:
            return f"finding out what {now.name} and {other.name} differ in …"
        troubles = [f"{own.name}: {own.figures.trouble}" for own in (now, other) if own.figures.trouble]  # type: ignore[union-attr]  # both are there
        if troubles or now.figures.study is None or other.figures.study is None:
            return "; ".join(troubles)
        found = compare(other.figures.study, now.figures.study)
        return "\n".join([f"From {other.name} to {now.name}: {headline(found)}", *found.not_compared])


def has_peaks_over(figures: VariantFigures | None) -> bool:
    """Whether peaks of a variant are known to be over the limit."""
    study = None if figures is None else figures.study
    return study is not None and any(v.n_over for v in study.verdicts if v.status == "judged")


def figure_words(figures: VariantFigures | None) -> tuple[str, ...]:
    """What is told of one variant, in the sequence of `LINES`; "…" while it is on its way."""
    if figures is None:
        return ("…",) * len(LINES)
    study = figures.study
    if study is None:
        return ("no scene", *("–",) * (len(LINES) - 1))
    own = [verdict for verdict in study.verdicts if verdict.status == "judged"]
    worst_db = min((v.worst_margin_db for v in own if not math.isnan(v.worst_margin_db)), default=math.nan)
    hides = any(hidden_words(study, seat) for seat in range(len(study.scene.seats)))
    over = f"{sum(v.n_over for v in own)}" if own else "not judged"
    return (
        f"{over}, one hidden" if hides and own else over,
        f"{sum(v.n_undecided for v in own)}" if own else "–",
        "–" if math.isnan(worst_db) else limit_side(worst_db),
        _sides(study),
        _decay(figures.decays, study),
        f"{len(study.room.panels)}",
        _price(figures),
    )


def _sides(study: Study) -> str:
    pair = study.left_right
    if pair is None or not math.isfinite(pair.difference_db):
        return "–"
    return f"{decibels(abs(pair.difference_db))} dB"


def _decay(decays: "Sequence[Decay]", study: Study) -> str:
    mains = {k for k, speaker in enumerate(study.scene.speakers) if speaker.use == "main"}
    times_s = [d.middle_s for d in decays if d.speaker in mains and math.isfinite(d.middle_s)]
    return f"{sum(times_s) / len(times_s):.2f} s" if times_s else "–"


def _price(figures: VariantFigures) -> str:
    goods = figures.goods
    if goods is None or not goods.batches:
        return "–"
    if goods.price is None:
        return "0, all owned" if not goods.unpriced else "not stated"
    return f"{goods.price:g}" + (" and more" if goods.unpriced else "")

"""An installer's sheet: a view to scale with running dimensions, tables beside it and a title block."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property

from raytrace import Treatment
from viewer.files import file_stem
from viewer.look import HAIRLINE, MUTED
from viewer.paper import (
    PAPERS_MM,
    SMALL_PT,
    Column,
    Mark,
    Placed,
    Strip,
    TitleLines,
    block_mm,
    line,
    moved,
    on_layer,
    pour,
    title_block,
    words_from,
)
from viewer.sheets.elevation import SCALES
from viewer.sheets.hangwords import (
    CAUTIONS_TITLE,
    cautions,
    cautions_in_short,
    know,
    sequence,
    table_mm,
    tables,
    to_know,
)
from viewer.sheets.panelplan import LAYERS, PanelPlan, borders_mm
from viewer.sheets.sidesection import section_strips
from viewer.sheets.signs import key_strips
from viewer.sheets.standdrawing import stand_strips
from viewer.sheets.treatment import View

MARGIN_MM, GAP_MM = 8.0, 5.0
_READING_MM = 57.0  # the narrowest column of words
_LOW_MM = 25.0  # what a drawing must leave below itself for words to stand there
_FULL_SHARE = 1.0 / 3.0  # of its height: a page of lists that holds less is hardly one
_UPRIGHT_SHARE = 0.5  # of an upright page that the drawing may take
_EVEN_SHARES = (0.45, 0.55, 0.65, 0.75, 0.85)  # of its height that a last page of lists is filled to
_JOTTED_MM, _LEAST_JOTTED_MM = 7.5, 20.0  # from line to line for what is found on site; room that is worth it


@dataclass(frozen=True)
class Page:
    """One sheet of paper.

    Attributes
    ----------
    name : str
        For its files: "ceiling-plan", "left-wall".
    subject, title, facing : str
        What it shows, the same for all pages of one view; heading; how it is looked at.
    paper : str
        Of `PAPERS_MM`.
    size_mm : (2,) tuple
        Width and height as it is held.
    scale : int or None
        20 for 1:20; None on a page of lists.
    datum_mm : (2,) tuple
        Where on the paper both distances of the drawing are 0.
    layers : tuple of (name, marks)
        In drawing order.
    """

    name: str
    subject: str
    title: str
    facing: str
    paper: str
    size_mm: tuple[float, float]
    scale: int | None
    datum_mm: tuple[float, float]
    layers: tuple[tuple[str, tuple[Mark, ...]], ...]

    @property
    def marks(self) -> tuple[Mark, ...]:
        """All marks in drawing order."""
        return tuple(mark for _, marks in self.layers for mark in marks)


@dataclass(frozen=True)
class Layout:
    """A paper as it is held. [mm]"""

    paper: str
    wide: float
    high: float

    @property
    def is_upright(self) -> bool:
        """Tables stand below the drawing and not beside it."""
        return self.high > self.wide

    @property
    def free_mm(self) -> tuple[float, float]:
        """Width and height above the title block."""
        across = self.wide - 2.0 * MARGIN_MM
        return across, self.high - 2.0 * MARGIN_MM - block_mm(across) - 2.0


_LARGE = ("A3", "Tabloid")  # held on their side alone
_LARGE_COST = 1.55  # a larger sheet has to make the drawing so much larger


def draw_pages(treatment: Treatment, view: View, *, units: str, papers: Sequence[str]) -> list[Page]:
    """The sheets of one view on the paper that serves it best: large drawing, few sheets.

    Parameters
    ----------
    treatment : Treatment
    view : View
    units : {"metric", "imperial"}
    papers : sequence of str
        Of `PAPERS_MM`, the smallest first.

    Returns
    -------
    list of Page
        The drawing, and pages of what its tables and notes hold beyond it. Not yet numbered.
    """
    known = know(view, treatment, units)

    @cache
    def words_at(scale: int) -> _Words:
        return _Words(treatment, view, PanelPlan(treatment, view, scale, units), units, known)

    drafts = [
        _lay_out(words_at(scale), layout)
        for layout in _layouts(papers)
        for scale in _scales(treatment, view, layout, units)
    ]
    return min(drafts, key=lambda draft: (draft.cost, len(draft.lists))).drawn()


@dataclass(frozen=True)
class _Draft:
    """Where everything of one view goes; its marks are made once it is chosen.

    Attributes
    ----------
    words : _Words
        With the drawing.
    layout : Layout
    beside : list of Placed
        On the drawing's own page.
    lists : list of list of Placed
        Pages of what its tables and notes hold beyond it.
    """

    words: "_Words"
    layout: Layout
    beside: list[Placed]
    lists: list[list[Placed]]

    @property
    def cost(self) -> float:
        """A larger scale is a smaller drawing, every further page half as bad again; a scant one worse."""
        larger = _LARGE_COST if self.layout.paper in _LARGE else 1.0
        more = sum(1.5 if self._is_scant(placed) else 0.5 for placed in self.lists)
        return self.words.plan.scale * (1.0 + more) * larger

    def _is_scant(self, page: list[Placed]) -> bool:
        """Whether a page of lists is less than a third full."""
        return _low_mm(page) < _FULL_SHARE * self.layout.high

    @property
    def has_cautions(self) -> bool:
        """Whether the drawing's own page holds the cautions, from their beginning at least."""
        return any(mark.text == CAUTIONS_TITLE for placed in self.beside for mark in placed.marks)

    def drawn(self) -> list[Page]:
        """The pages, not yet numbered."""
        plan, view, layout = self.words.plan, self.words.view, self.layout
        left = MARGIN_MM
        if layout.is_upright:
            left += 0.5 * (layout.free_mm[0] - plan.size_mm[0])
        drawn = {name: moved(marks, left, MARGIN_MM) for name, marks in plan.layers.items()}
        datum = plan.datum_mm[0] + left, plan.datum_mm[1] + MARGIN_MM
        size_mm = (layout.wide, layout.high)
        layers = _layers(drawn, self.beside)
        name = file_stem(view.name)
        first = Page(
            name, view.name, view.title, view.facing, layout.paper, size_mm, plan.scale, datum, layers
        )
        title = f"{first.subject}: lists, continued"
        lists = replace(first, title=title, scale=None)
        parts = [f"-{k}" if k else "" for k in range(len(self.lists))]
        return [
            first,
            *(
                replace(
                    lists,
                    name=f"{name}-lists{part}",
                    layers=_layers({}, _with_jottings(layout, placed)),
                )
                for part, placed in zip(parts, self.lists, strict=True)
            ),
        ]


def _layouts(papers: Sequence[str]) -> list[Layout]:
    """Ways to hold these papers: on their side first."""
    layouts = []
    for paper in papers:
        short, long = PAPERS_MM[paper]
        layouts.append(Layout(paper, long, short))
        layouts += [] if paper in _LARGE else [Layout(paper, short, long)]
    return layouts


def _lay_out(words: "_Words", layout: Layout) -> _Draft:
    """The drawing at its scale, and the fewest pages that hold what is read beside it."""
    drafts = [_poured(words, layout, streams) for streams in _arrangements(words, layout)]
    return min(drafts, key=lambda draft: len(draft.lists))


def _poured(words: "_Words", layout: Layout, streams: Sequence["_Stream"]) -> _Draft:
    """Everything in its place; a drawing without room for its cautions begins with the first of them."""
    draft = _draft(words, layout, streams)
    if not draft.has_cautions:
        first, *others = streams
        short = cautions_in_short(words.view, words.treatment, first.width_mm)
        draft = _draft(words, layout, [replace(first, strips=[*short, *first.strips]), *others])
    return draft


def _draft(words: "_Words", layout: Layout, streams: Sequence["_Stream"]) -> _Draft:
    poured = [pour(stream.strips, stream.columns) for stream in streams]
    beside = [placed for own, _ in poured for placed in own]
    rest = [(stream.width_mm, strips) for stream, (_, strips) in zip(streams, poured, strict=True)]
    return _Draft(words, layout, beside, _more_pages(layout, rest))


@dataclass(frozen=True)
class _Stream:
    """Strips of one width, and the columns of the drawing's own page that are theirs."""

    width_mm: float
    strips: list[Strip]
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class _Words:
    """What is read beside a drawing, at any width: tables have their own, the rest takes what there is."""

    treatment: Treatment
    view: View
    plan: PanelPlan
    units: str
    known: list[str]
    _seen: dict[tuple[float, str], list[Strip]] = field(default_factory=dict)

    @property
    def table_mm(self) -> float:
        """Width of the tables."""
        return table_mm(self.units)

    @cached_property
    def listed(self) -> list[Strip]:
        return [
            *tables(self.view, self.treatment, self.units),
            *stand_strips(self.view, self.treatment, self.units, table_mm(self.units)),
        ]

    def parts(self, width: float, which: str) -> list[Strip]:
        """What is not in tables, by letters: k what to know, d what to do, c cautions, s side sections."""
        return [strip for letter in which for strip in self._part(width, letter)]

    def _part(self, width: float, letter: str) -> list[Strip]:
        if (width, letter) not in self._seen:
            view, treatment, units = self.view, self.treatment, self.units
            if letter == "k":
                known = to_know((*self.plan.keys, *self.known), width)
                owned = any(k in treatment.ownership.owned for k in view.listed)
                strips = [*key_strips(view, width, owned=owned), *known]
            elif letter == "d":
                strips = sequence(view, units, width)
            elif letter == "c":
                strips = cautions(view, treatment, width)
            else:
                strips = section_strips(view, treatment, units, width)
            self._seen[width, letter] = strips
        return self._seen[width, letter]


def _arrangements(words: _Words, layout: Layout) -> list[tuple[_Stream, ...]]:
    """Ways to stand tables and words beside or below a drawing."""
    if layout.is_upright:
        return _ways_below(words, layout)
    _, high = layout.free_mm
    last = Column(layout.wide - MARGIN_MM - words.table_mm, MARGIN_MM, high)
    every = [*words.listed, *words.parts(words.table_mm, "kcsd")]
    alone = (_Stream(words.table_mm, every, (last,)),)
    return [alone, *_ways_with_two_columns(words, layout), *_ways_beside_and_below(words, layout, last)]


def _ways_below(words: _Words, layout: Layout) -> list[tuple[_Stream, ...]]:
    """On an upright page: two columns below the drawing."""
    height = words.plan.size_mm[1]
    top, below = MARGIN_MM + height + GAP_MM, layout.free_mm[1] - height - GAP_MM
    left = (Column(MARGIN_MM, top, below),)
    right = (Column(MARGIN_MM + words.table_mm + GAP_MM, top, below),)
    # What stands below the tables, and what in the narrow column beside them.
    return [
        (
            _Stream(words.table_mm, [*words.listed, *words.parts(words.table_mm, wide)], left),
            _Stream(_READING_MM, words.parts(_READING_MM, narrow), right),
        )
        for wide, narrow in (("cd", "sk"), ("d", "skc"), ("kd", "sc"), ("s", "kcd"), ("sd", "kc"))
    ]


def _ways_with_two_columns(words: _Words, layout: Layout) -> list[tuple[_Stream, ...]]:
    """Beside the drawing, tables in one column and some of the words in another, if it is wide enough."""
    wide, high = layout.free_mm
    wide_left = min(wide - words.plan.size_mm[0] - words.table_mm - 2.0 * GAP_MM, words.table_mm)
    if wide_left < _READING_MM:
        return []
    column = Column(layout.wide - MARGIN_MM - wide_left, MARGIN_MM, high)
    tabled = Column(column.left - GAP_MM - words.table_mm, MARGIN_MM, high)
    return [
        (
            _Stream(words.table_mm, [*words.listed, *words.parts(words.table_mm, with_tables)], (tabled,)),
            _Stream(wide_left, words.parts(wide_left, apart), (column,)),
        )
        for with_tables, apart in (("c", "skd"), ("", "kcsd"), ("cd", "sk"), ("kcd", "s"), ("s", "kcd"))
    ]


def _ways_beside_and_below(words: _Words, layout: Layout, last: Column) -> list[tuple[_Stream, ...]]:
    """Tables beside the drawing, some of the words in two columns below it, if there is room."""
    wide, high = layout.free_mm
    height = words.plan.size_mm[1]
    top, below = MARGIN_MM + height + GAP_MM, high - height - GAP_MM
    under = 0.5 * (wide - words.table_mm - 2.0 * GAP_MM)
    if below <= _LOW_MM or under < _READING_MM:
        return []
    both = Column(MARGIN_MM, top, below), Column(MARGIN_MM + under + GAP_MM, top, below)
    return [
        (
            _Stream(words.table_mm, [*words.listed, *words.parts(words.table_mm, beside)], (last,)),
            _Stream(under, words.parts(under, low), both),
        )
        for beside, low in (("sk", "cd"), ("skd", "c"), ("kd", "sc"), ("kcd", "s"), ("s", "kcd"))
    ]


def _layers(drawn: dict[str, list[Mark]], beside: list[Placed]) -> tuple[tuple[str, tuple[Mark, ...]], ...]:
    read = [mark for placed in beside for mark in placed.made()]
    every = drawn | {"sheet": [*drawn.get("sheet", []), *read]}
    return tuple((name, tuple(on_layer(name, every[name]))) for name in LAYERS if every.get(name))


def _more_pages(layout: Layout, rest: Sequence[tuple[float, Sequence[Strip]]]) -> list[list[Placed]]:
    """Pages of lists for what the drawing's page did not hold, a width after the other; the last one even."""
    pages: list[list[Placed]] = []
    left_over = [(width, list(strips)) for width, strips in rest if strips]
    high = layout.free_mm[1]
    while left_over:
        page, after = _list_page(layout, left_over, high)
        if not after:
            even = (_list_page(layout, left_over, share * high) for share in _EVEN_SHARES)
            page = next((placed for placed, more in even if not more), page)
        pages.append(page)
        left_over = after
    return pages


def _list_page(
    layout: Layout, left_over: Sequence[tuple[float, list[Strip]]], high: float
) -> tuple[list[Placed], list[tuple[float, list[Strip]]]]:
    """As many columns of a height as stand side by side, and what they do not hold."""
    page: list[Placed] = []
    more, x = list(left_over), MARGIN_MM
    while more and x + more[0][0] <= MARGIN_MM + layout.free_mm[0] + 0.1:
        width, strips = more.pop(0)
        placed, strips = pour(strips, [Column(x, MARGIN_MM, high)])
        page += placed
        x += width + GAP_MM
        if strips:
            more.insert(0, (width, strips))
    return page, more


def _low_mm(page: Sequence[Placed]) -> float:
    """How far down a page is filled."""
    return max(placed.down + mark.box[3] for placed in page for mark in placed.marks)


def _with_jottings(layout: Layout, page: list[Placed]) -> list[Placed]:
    """A page of lists with ruled lines for what is found on site, where they have room below."""
    wide, high = layout.free_mm
    top = _low_mm(page) + GAP_MM
    room_mm = MARGIN_MM + high - top
    if room_mm < _LEAST_JOTTED_MM:
        return page
    rows = range(1, int(room_mm / _JOTTED_MM) + 1)
    lines = [line([(0.0, k * _JOTTED_MM), (wide, k * _JOTTED_MM)], ink=HAIRLINE, width_pt=0.5) for k in rows]
    words = words_from("found on site", 0.0, 2.0, size_pt=SMALL_PT, ink=MUTED)
    return [*page, Placed((words, *lines), MARGIN_MM, top)]


def _scales(treatment: Treatment, view: View, layout: Layout, units: str) -> tuple[int, ...]:
    """The finest usual scale at which a view and its dimensions fit, and two more that leave more room."""
    wide, high = layout.free_mm
    room = (wide, _UPRIGHT_SHARE * high) if layout.is_upright else (wide - table_mm(units) - GAP_MM, high)
    left, top, right, bottom = borders_mm(treatment, view, units)
    usual = SCALES[units]
    for k, scale in enumerate(usual):
        across, down = 1000.0 * view.width_m / scale, 1000.0 * view.height_m / scale
        if left + across + right <= room[0] and top + down + bottom <= room[1]:
            return usual[k : k + 3]
    return usual[-1:]


def numbered(treatment: Treatment, pages: Sequence[Page], units: str) -> tuple[Page, ...]:
    """Pages with their title blocks, which know how many there are."""
    done = []
    for number, page in enumerate(pages, start=1):
        wide, high = page.size_mm
        facing = page.facing if page.scale is not None else ""
        lines = TitleLines(page.title, facing, page.scale, page.paper, f"Sheet {number} of {len(pages)}")
        across = wide - 2.0 * MARGIN_MM
        top = high - MARGIN_MM - block_mm(across)
        block = title_block(treatment.scene, lines, MARGIN_MM, top, across, units)
        layers = dict(page.layers)
        layers["sheet"] = (*layers.get("sheet", ()), *on_layer("sheet", block))
        done.append(
            replace(
                page,
                name=f"{number:02d}-{page.name}",
                layers=tuple((name, layers[name]) for name in LAYERS if name in layers),
            )
        )
    return tuple(done)

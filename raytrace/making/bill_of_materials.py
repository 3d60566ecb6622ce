"""What to buy and cut for the panels of a scene: timber, slabs, cloth, fixings, mass, price."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from raytrace.facts import Amount, Fact, Fixing, Sentence, Unit, joined, metres, millimetres, sentence
from raytrace.making.battens import find_battens
from raytrace.making.coverlist import CoverToBuy, covers_to_buy
from raytrace.making.feet import feet_notes
from raytrace.making.fixings import hanging_rows, mounting_rows, stand_rows
from raytrace.making.frameroom import frame_notes
from raytrace.making.framing import MASS_BASIS, WRAP_M, Part, Piece, mass_notes, take_apart
from raytrace.making.hanging import Hook
from raytrace.making.loads import is_hung
from raytrace.making.nesting import KERF_M, Nesting, nest
from raytrace.making.ownership import Ownership, find_ownership, owned_notes
from raytrace.making.rafts import SAG_SHARE, Raft, find_rafts
from raytrace.making.stands import find_stability
from raytrace.making.timber import ACROSS_JOISTS, Timber
from raytrace.room import BOARD_M, PlacedPanel, Room
from raytrace.scene import Build, Scene, load_builds

ROLL_M = 1.40
"""Width of a roll of cloth. Common practice, no source; 1.5 m is usual too and does as well."""
PACK_M = 0.40
"""Height of a pack of slabs where a build states no `pack`. Common practice, no source."""
_ACROSS = ("hanging rail", "cross-bar", "raft bar")
_STAPLE_STEP_M = 0.05
_SAME_M = 0.005

_SAW = sentence("mitre saw or hand saw with a stop")
_AT_THE_SAW = sentence("goggles and ear muffs at the saw")
_FOR_FRAMES = (
    sentence("clamps or a flat table to keep the frames square; both diagonals equal"),
    sentence("stapler, scissors, long knife for what must be trimmed"),
)
TOOLS = (
    sentence("tape, square, spirit level or line laser"),
    _SAW,
    sentence("drill driver, bits for pilot holes, {bit} bit for eye bolts", bit=millimetres(0.006)),
    *_FOR_FRAMES,
    sentence("detector for cables, pipes and joists"),
    sentence("platform rather than a ladder; two persons for every lift overhead"),
)
PROTECTION = (
    sentence("mask EN 149 FFP2 or N95 for each person who handles wool"),
    sentence("gloves, long sleeves; goggles for work above the shoulder"),
    _AT_THE_SAW,
    sentence("vacuum cleaner for the dust, not a broom; open windows; rinse hands in cold water first"),
)


@dataclass(frozen=True)
class Batch:
    """Equal panels: build, whether hung on cords or owned, their names, the pieces of one of them; or a raft.

    A raft is made once, whatever it holds: `names` are those of its slabs, `piece` is all of it.
    """

    build_name: str
    build: Build
    hung: bool
    owned: bool
    names: tuple[str, ...]
    piece: Piece
    raft: Raft | None = None

    @property
    def n_made(self) -> int:
        """How many frames it takes."""
        return len(self.names) if self.raft is None else 1

    @property
    def mass_kg(self) -> float:
        """Of all of them."""
        return self.n_made * self.piece.mass_kg


@dataclass(frozen=True)
class CutPart:
    """Equal pieces of timber to cut: what for, length [m], how many."""

    label: str
    length_m: float
    count: int


@dataclass(frozen=True)
class TimberCut:
    """All parts of one timber; `nesting` numbers them in the order of `parts`, one after the other."""

    timber: Timber
    parts: tuple[CutPart, ...]
    nesting: Nesting

    @property
    def lengths(self) -> tuple[tuple[str, float], ...]:
        """Label and length [m] of every single part, in the numbering of `nesting`."""
        return tuple((part.label, part.length_m) for part in self.parts for _ in range(part.count))


@dataclass(frozen=True)
class Slabs:
    """Wool to buy: what it is, how many slabs are needed, slabs in a pack, whole packs."""

    text: Sentence
    size_m: tuple[float, float, float]
    needed: int
    per_pack: int
    packs: int


@dataclass(frozen=True)
class Cloth:
    """Cloth from the roll: what for, cut size [m], how many, how much roll they take together. [m]"""

    label: str
    size_m: tuple[float, float]
    count: int
    roll_m: float


@dataclass(frozen=True)
class BillOfMaterials:
    """Everything to buy, cut and carry for the panels of a scene; for owned ones only what holds them.

    Attributes
    ----------
    batches : tuple of Batch
    left_over : dict of str to int
        Owned panels that have no place in the room, by build.
    timber : tuple of TimberCut
    slabs : tuple of Slabs
    cloth : tuple of Cloth
    boards : tuple of (Sentence, int)
        Boards for solid backs by size, and how many.
    fixings : tuple of (Sentence, Sentence)
        What, and how much of it.
    tools, protection : tuple of Sentence
    covers : tuple of CoverToBuy
        Rugs, curtains and pads.
    mass_kg : float
        Of all panels, with what carries those that stand.
    price : float or None
        Of all panels to be made whose build states one; None where none does.
    unpriced : tuple of str
        Builds to be made without a price.
    largest : Batch or None
        The panel that is hardest to carry in.
    fits_access : bool or None
        Whether it goes lengthways through the stated access; None where none is stated.
    notes : tuple of Sentence
        What was assumed, and what to look out for.
    """

    batches: tuple[Batch, ...]
    left_over: dict[str, int]
    timber: tuple[TimberCut, ...]
    slabs: tuple[Slabs, ...]
    cloth: tuple[Cloth, ...]
    boards: tuple[tuple[Sentence, int], ...]
    fixings: tuple[tuple[Sentence, Sentence], ...]
    tools: tuple[Sentence, ...]
    protection: tuple[Sentence, ...]
    covers: tuple[CoverToBuy, ...]
    mass_kg: float
    price: float | None
    unpriced: tuple[str, ...]
    largest: Batch | None
    fits_access: bool | None
    notes: tuple[Sentence, ...]

    @property
    def owned(self) -> tuple[str, ...]:
        """Names of the panels that are owned."""
        return tuple(name for batch in self.batches if batch.owned for name in batch.names)


def list_bill_of_materials(scene: Scene, room: Room, hooks: Sequence[Hook]) -> BillOfMaterials:
    """What to buy and cut for every panel of a scene.

    Parameters
    ----------
    scene, room : Scene, Room
    hooks : sequence of Hook
        From `find_hooks`.

    Returns
    -------
    BillOfMaterials
    """
    ownership = find_ownership(scene, room.panels)
    batches = _batches(room.panels, ownership, find_rafts(scene, room))
    made = [batch for batch in batches if not batch.owned]
    battens = find_battens(scene, room, hooks)
    stands = find_stability(scene, room)
    carrying = [
        replace(part, name=f"{part.name}, stands of {room.panels[found.panel].build_name}")
        for found in stands
        for part in found.body.timber
    ]
    across = [Part("batten across joists", ACROSS_JOISTS, round(b.length_m, 4), 1) for b in battens]
    timber = _timber_cuts(made, [*across, *carrying])
    prices = [len(b.names) * b.build.price for b in made if b.build.price is not None]
    covers = covers_to_buy(scene)
    idle = {*(() if timber else (_SAW, _AT_THE_SAW)), *(() if made else _FOR_FRAMES)} if batches else set()
    largest = max(batches, key=lambda batch: _girth(batch.piece), default=None)
    return BillOfMaterials(
        batches=batches,
        left_over=ownership.left_over,
        timber=timber,
        slabs=tuple(_slabs(name, builds) for name, builds in _by_build(made).items()),
        cloth=_cloth(made),
        boards=_boards(made),
        fixings=(*_fixings(room, batches, hooks, len(battens)), *stand_rows(stands)) if batches else (),
        tools=() if covers and not batches else tuple(tool for tool in TOOLS if tool not in idle),
        protection=() if covers and not batches else tuple(p for p in PROTECTION if p not in idle),
        covers=covers,
        mass_kg=sum(b.mass_kg for b in batches) + sum(p.count * p.length_m * p.timber.kg_m for p in carrying),
        price=sum(prices) if prices else None,
        unpriced=tuple(dict.fromkeys(b.build_name for b in made if b.build.price is None)),
        largest=largest,
        fits_access=_fits(largest, scene.job.access),
        notes=_notes(scene, room, batches, timber),
    )


def _batches(panels: Sequence[PlacedPanel], ownership: Ownership, rafts: Sequence[Raft]) -> tuple[Batch, ...]:
    builds = {panel.build_name: panel.build for panel in panels}
    groups: dict[tuple[str, bool, bool], list[str]] = {}
    for index, panel in enumerate(panels):
        if panel.in_raft:
            continue
        names, count = _single_names(panel), ownership.n_owned.get(index, 0)
        for owned, own in ((True, names[:count]), (False, names[count:])):
            if own:
                groups.setdefault((panel.build_name, is_hung(panel), owned), []).extend(own)
    framed = [
        Batch(
            *(name, builds[name], hung, owned),
            names=tuple(own),
            piece=take_apart(builds[name], hung=hung),
        )
        for (name, hung, owned), own in groups.items()
    ]
    return (*framed, *(_raft_batch(panels, raft) for raft in rafts))


def _raft_batch(panels: Sequence[PlacedPanel], raft: Raft) -> Batch:
    names = tuple(panels[k].name for k in raft.panels)
    whole = raft.whole
    return Batch(
        whole.build_name, whole.build, hung=True, owned=False, names=names, piece=raft.piece, raft=raft
    )


def _single_names(panel: PlacedPanel) -> list[str]:
    """A name for each panel that is made: those of a stack have letters, from the lowest up."""
    letters = "abcd"[: panel.stacked]
    return [panel.name] if panel.stacked == 1 else [f"{panel.name} {letter}" for letter in letters]


def _by_build(batches: Sequence[Batch]) -> dict[str, list[Batch]]:
    found: dict[str, list[Batch]] = {}
    for batch in batches:
        found.setdefault(batch.build_name, []).append(batch)
    return found


def _timber_cuts(batches: Sequence[Batch], more: Sequence[Part]) -> tuple[TimberCut, ...]:
    """Parts by timber, equal ones together, longest first."""
    wanted: dict[Timber, Counter[tuple[str, float]]] = {}
    for batch in batches:
        for part in batch.piece.parts:
            label = f"{part.name}, {batch.build_name}"
            counter = wanted.setdefault(part.timber, Counter())
            counter[label, part.length_m] += part.count * batch.n_made
    for part in more:
        wanted.setdefault(part.timber, Counter())[part.name, part.length_m] += part.count
    cuts = []
    for timber, counter in wanted.items():
        ordered = sorted(counter.items(), key=lambda item: (-item[0][1], item[0][0]))
        parts = tuple(CutPart(label, length, count) for (label, length), count in ordered)
        lengths = [part.length_m for part in parts for _ in range(part.count)]
        cuts.append(TimberCut(timber, parts, nest(lengths, timber.stock_m)))
    return tuple(cuts)


def _slabs(name: str, batches: Sequence[Batch]) -> Slabs:
    """Whole packs for one build; a panel as large as several usual slabs takes several."""
    build = batches[0].build
    per_panel, size = _usual_slabs(build.size)
    needed = per_panel * sum(len(batch.names) for batch in batches)
    per_pack = build.pack or _usual_pack(build.thickness)
    flow = Amount((build.flow_resistivity,), Unit.PA_S_M2)
    text = sentence("slabs for {build}: {flow}", build=name, flow=flow)
    if build.density is not None:
        text = joined(", ", (text, Amount((build.density,), Unit.KG_M3)))
    return Slabs(text, (*size, build.thickness), needed, per_pack, math.ceil(needed / per_pack))


def _usual_pack(thickness_m: float) -> int:
    """Slabs in a pack of usual height; many come in even numbers."""
    count = max(int(PACK_M / thickness_m + 1e-9), 1)
    return count if count <= 4 else count - count % 2


def _usual_slabs(size: tuple[float, float]) -> tuple[int, tuple[float, float]]:
    """How many slabs of a usual size fill a panel without a cut, the fewest; else one of its own size."""
    long, short = max(size), min(size)
    fitting = []
    for slab in {(max(build.size), min(build.size)) for build in load_builds().values()}:
        for a, b in (slab, slab[::-1]):
            along, across = round(long / a), round(short / b)
            exact = abs(along * a - long) <= _SAME_M and abs(across * b - short) <= _SAME_M
            if along and across and exact:
                fitting.append((along * across, slab))
    return min(fitting, default=(1, (long, short)))


def _cloth(batches: Sequence[Batch]) -> tuple[Cloth, ...]:
    rows = []
    for batch in batches:
        piece, count = batch.piece, batch.n_made
        for label, size in (("front", piece.front_cloth_m), ("back", piece.back_cloth_m)):
            rows.append(Cloth(f"{label}, {batch.build_name}", size, count, _roll_length(size, count)))
    return tuple(rows)


def _roll_length(size: tuple[float, float], count: int) -> float:
    """Length of roll that some equal pieces take, turned whichever way takes less. [m]"""
    takes = []
    for across, along in (size, size[::-1]):
        abreast = int(ROLL_M / across + 1e-9)
        if abreast:
            takes.append(math.ceil(count / abreast) * along)
        else:
            # Wider than the roll: strips sewn together.
            takes.append(count * math.ceil(across / ROLL_M - 1e-9) * along)
    return min(takes)


def _boards(batches: Sequence[Batch]) -> tuple[tuple[Sentence, int], ...]:
    thick = millimetres(BOARD_M)
    return tuple(
        (
            sentence(
                "plywood {thick}, {size}, {build}",
                thick=thick,
                size=millimetres(*batch.piece.board_m),
                build=batch.build_name,
            ),
            len(batch.names),
        )
        for batch in batches
        if batch.piece.board_m is not None
    )


def _fixings(
    room: Room, batches: Sequence[Batch], hooks: Sequence[Hook], n_battens: int
) -> tuple[tuple[Sentence, Sentence], ...]:
    """Screws, staples, and what hangs the panels; usual amounts (common practice, no source)."""
    made = [batch for batch in batches if not batch.owned]
    n_made = sum(batch.n_made for batch in made)
    n_bars = sum(b.n_made * _count(b.piece.parts, _ACROSS) for b in made)
    edge_m = sum(2 * b.n_made * (b.piece.outer_m[0] + b.piece.outer_m[1]) for b in made)
    staples = sentence(
        "staples {long}, every {step}, both cloths", long=millimetres(0.008), step=millimetres(_STAPLE_STEP_M)
    )
    corners = sentence("wood screws {screw}, two at each corner of a frame", screw=Fixing.SCREW_50)
    rows: list[tuple[Sentence, Fact]] = []
    if made:
        rows += [
            (corners, 8 * n_made),
            (sentence("wood glue for the corners"), "1 bottle"),
            (staples, _round_up(2 * edge_m / _STAPLE_STEP_M, 100)),
        ]
    rows.append((sentence("labels with the panel's name"), sum(len(batch.names) for batch in batches)))
    if n_bars:
        bars = sentence("wood screws {screw}, two at each end of a rail or bar", screw=Fixing.SCREW_40)
        rows.append((bars, 4 * n_bars))
    rows += hanging_rows(hooks)
    if n_battens:
        across = "screws for battens across joists, two per joist, as the structure needs"
        rows.append((sentence(across), 4 * n_battens))
    rows += mounting_rows(room, hooks)
    return tuple((what, sentence("{much}", much=much)) for what, much in rows)


def _count(parts: Sequence[Part], names: Sequence[str]) -> int:
    return sum(part.count for part in parts if part.name in names)


def _round_up(value: float, step: int) -> int:
    return step * math.ceil(value / step)


def _girth(piece: Piece) -> tuple[float, ...]:
    """The hardest to carry first: by the second largest side, then the largest, then mass."""
    small, middle, large = sorted(piece.outer_m)
    return middle, large, small, piece.mass_kg


def _fits(largest: Batch | None, access: tuple[float, float] | None) -> bool | None:
    """Whether a panel goes lengthways through a hole; rectangles upright, not on the slant."""
    if largest is None or access is None:
        return None
    small, middle, _ = sorted(largest.piece.outer_m)
    return small <= min(access) and middle <= max(access)


def _notes(
    scene: Scene, room: Room, batches: Sequence[Batch], timber: Sequence[TimberCut]
) -> tuple[Sentence, ...]:
    if not batches and covers_to_buy(scene):
        return ()
    made = [batch for batch in batches if not batch.owned]
    ownership = find_ownership(scene, room.panels)
    owned = [room.panels[k] for k in ownership.n_owned]
    notes = [*(_cutting_notes() if made or not batches else ()), MASS_BASIS, *owned_notes(owned)]
    for name, own in _by_build(batches).items():
        notes += [joined(": ", (name, note)) for note in mass_notes(own[0].build)]
    notes += [_raft_note(batch.raft) for batch in made if batch.raft is not None]
    rafted = {batch.build_name for batch in made if batch.raft is not None}
    for name in (name for name in ownership.left_over if name in rafted):
        bare = "{build}: a raft takes bare slabs; owned panels are not taken out of their frames for it."
        notes.append(sentence(bare, build=name))
    unpacked = ", ".join(dict.fromkeys(b.build_name for b in made if b.build.pack is None))
    if unpacked:
        packs = "Slabs in a pack are not stated for {builds}: packs about {high} high are taken."
        notes.append(sentence(packs, builds=unpacked, high=millimetres(PACK_M)))
    if any(panel.kind == "stand" for panel in room.panels):
        notes.append(STAND_MAKING)
    for cut in timber:
        lengths = cut.lengths
        for part in cut.nesting.too_long:
            label, length_m = lengths[part]
            too_long = "{part}: {length} is longer than any stock length; order it."
            notes.append(sentence(too_long, part=label, length=millimetres(length_m)))
    return (*notes, *frame_notes(room), *feet_notes(scene, room))


STAND_MAKING = sentence(
    "Stands: a leg outside either end of the frames, as high as they are, screwed to each of them; a cross "
    "foot on edge outside each leg, glued and bolted through both with two bolts. What leans has a block on "
    "edge outside either end of its frame, from its rear lower edge forwards."
)


def _raft_note(raft: Raft) -> Sentence:
    """How a raft is put together."""
    stands = "on edge" if raft.bars.on_edge else "flat"
    return sentence(
        'Raft "{raft}": rails and ends on edge, rails run through; bars {stands} under both rails, {n_bars} '
        "of them, carry the slabs, and one cloth goes round below them. Slabs are laid in before it is "
        "lifted. Rails span at most {rails}, bars {bars}: then they sag by no more than 1/{share} of it in "
        "years (softwood C16, EN 338 and EN 1995-1-1, from memory; the share is common practice, no source).",
        raft=raft.name,
        stands=stands,
        n_bars=len(raft.bars.along_m),
        rails=millimetres(raft.most_rail_m),
        bars=millimetres(raft.bars.most_m),
        share=round(1.0 / SAG_SHARE),
    )


def _cutting_notes() -> tuple[Sentence, ...]:
    """How timber and cloth are cut, and how panels hang."""
    return (
        sentence(
            "Timber at its actual size, saw cut {kerf}. Butt joints: the long sides run through, the short "
            "ones stand between them; the inside of a frame is the slab, wool is not cut. Rails and bars "
            "lie flat across the back, and stand proud of it. Measure a slab before cutting.",
            kerf=millimetres(KERF_M),
        ),
        sentence(
            "Cloth from a roll {wide} wide, round the frame and {wrap} on to its back; a pattern or nap may "
            "need more.",
            wide=metres(ROLL_M, 1),
            wrap=millimetres(WRAP_M),
        ),
        sentence(
            "Hang from the frame, never from the cloth. In a cloud the slab rests on bars or wires across "
            "the underside, behind the cloth."
        ),
    )

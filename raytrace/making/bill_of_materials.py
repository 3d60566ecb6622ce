"""What to buy and cut for the panels of a scene: timber, slabs, cloth, fixings, mass, price."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from raytrace.making.battens import ACROSS_JOISTS, find_battens
from raytrace.making.feet import feet_notes
from raytrace.making.frameroom import frame_notes
from raytrace.making.framing import MASS_BASIS, Part, Piece, mass_notes, take_apart
from raytrace.making.hanging import Hook
from raytrace.making.loads import is_hung
from raytrace.making.nesting import KERF_M, Nesting, nest
from raytrace.making.timber import Timber
from raytrace.room import PlacedPanel, Room
from raytrace.scene import Build, Scene, load_builds

ROLL_M = 1.40
"""Width of a roll of cloth. Common practice, no source; 1.5 m is usual too and does as well."""
PACK_M = 0.40
"""Height of a pack of slabs where a build states no `pack`. Common practice, no source."""
KNOTS_M = 0.30
"""Cord for both terminations of one hook. Common practice, no source."""
_STAPLE_STEP_M = 0.05
_SAME_M = 0.005
_ON_FLOOR_M = 0.010

TOOLS = (
    "tape, square, spirit level or line laser",
    "mitre saw or hand saw with a stop",
    "drill driver, bits for pilot holes, 6 mm bit for eye bolts",
    "clamps or a flat table to keep the frames square; both diagonals equal",
    "stapler, scissors, long knife for what must be trimmed",
    "detector for cables, pipes and joists",
    "platform rather than a ladder; two persons for every lift overhead",
)
PROTECTION = (
    "mask EN 149 FFP2 or N95 for each person who handles wool",
    "gloves, long sleeves; goggles for work above the shoulder",
    "goggles and ear muffs at the saw",
    "vacuum cleaner for the dust, not a broom; open windows; rinse hands in cold water first",
)


@dataclass(frozen=True)
class Batch:
    """Equal panels: build, whether hung on cords, their names, the pieces of one of them."""

    build_name: str
    build: Build
    hung: bool
    names: tuple[str, ...]
    piece: Piece

    @property
    def mass_kg(self) -> float:
        """Of all of them."""
        return len(self.names) * self.piece.mass_kg


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

    text: str
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
    """Everything to buy, cut and carry for the panels of a scene.

    Attributes
    ----------
    batches : tuple of Batch
    timber : tuple of TimberCut
    slabs : tuple of Slabs
    cloth : tuple of Cloth
    boards : tuple of (str, int)
        Boards for solid backs by size, and how many.
    fixings : tuple of (str, str)
        What, and how much of it.
    tools, protection : tuple of str
    mass_kg : float
        Of all panels.
    price : float or None
        Of all panels whose build states one; None where none does.
    unpriced : tuple of str
        Builds without a price.
    largest : Batch or None
        The panel that is hardest to carry in.
    fits_access : bool or None
        Whether it goes lengthways through the stated access; None where none is stated.
    notes : tuple of str
        What was assumed, and what to look out for.
    """

    batches: tuple[Batch, ...]
    timber: tuple[TimberCut, ...]
    slabs: tuple[Slabs, ...]
    cloth: tuple[Cloth, ...]
    boards: tuple[tuple[str, int], ...]
    fixings: tuple[tuple[str, str], ...]
    tools: tuple[str, ...]
    protection: tuple[str, ...]
    mass_kg: float
    price: float | None
    unpriced: tuple[str, ...]
    largest: Batch | None
    fits_access: bool | None
    notes: tuple[str, ...]


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
    batches = _batches(room.panels)
    battens = find_battens(scene, room, hooks)
    timber = _timber_cuts(batches, [batten.length_m for batten in battens])
    prices = [len(b.names) * b.build.price for b in batches if b.build.price is not None]
    largest = max(batches, key=lambda batch: _girth(batch.piece), default=None)
    return BillOfMaterials(
        batches=batches,
        timber=timber,
        slabs=tuple(_slabs(name, builds) for name, builds in _by_build(batches).items()),
        cloth=_cloth(batches),
        boards=_boards(batches),
        fixings=_fixings(room, batches, hooks, len(battens)) if batches else (),
        tools=TOOLS,
        protection=PROTECTION,
        mass_kg=sum(batch.mass_kg for batch in batches),
        price=sum(prices) if prices else None,
        unpriced=tuple(dict.fromkeys(b.build_name for b in batches if b.build.price is None)),
        largest=largest,
        fits_access=_fits(largest, scene.job.access),
        notes=_notes(scene, room, batches, timber),
    )


def _batches(panels: Sequence[PlacedPanel]) -> tuple[Batch, ...]:
    groups: dict[tuple[str, bool], list[PlacedPanel]] = {}
    for panel in panels:
        groups.setdefault((panel.build_name, is_hung(panel)), []).append(panel)
    return tuple(
        Batch(name, own[0].build, hung, tuple(p.name for p in own), take_apart(own[0].build, hung=hung))
        for (name, hung), own in groups.items()
    )


def _by_build(batches: Sequence[Batch]) -> dict[str, list[Batch]]:
    found: dict[str, list[Batch]] = {}
    for batch in batches:
        found.setdefault(batch.build_name, []).append(batch)
    return found


def _timber_cuts(batches: Sequence[Batch], battens_m: Sequence[float]) -> tuple[TimberCut, ...]:
    """Parts by timber, equal ones together, longest first."""
    wanted: dict[Timber, Counter[tuple[str, float]]] = {}
    for batch in batches:
        for part in batch.piece.parts:
            label = f"{part.name}, {batch.build_name}"
            counter = wanted.setdefault(part.timber, Counter())
            counter[label, part.length_m] += part.count * len(batch.names)
    for length in battens_m:
        wanted.setdefault(ACROSS_JOISTS, Counter())["batten across joists", round(length, 4)] += 1
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
    density = "" if build.density is None else f", {build.density:g} kg/m3"
    text = f"slabs for {name}: {build.flow_resistivity:g} Pa s/m2{density}"
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
        piece, count = batch.piece, len(batch.names)
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


def _boards(batches: Sequence[Batch]) -> tuple[tuple[str, int], ...]:
    return tuple(
        (f"plywood 6 mm, {_mm(batch.piece.board_m)} mm, {batch.build_name}", len(batch.names))
        for batch in batches
        if batch.piece.board_m is not None
    )


def _mm(size: Sequence[float]) -> str:
    return " x ".join(f"{1000 * side:.0f}" for side in size)


def _fixings(
    room: Room, batches: Sequence[Batch], hooks: Sequence[Hook], n_battens: int
) -> tuple[tuple[str, str], ...]:
    """Screws, staples, and what hangs the panels; usual amounts (common practice, no source)."""
    n_panels = sum(len(batch.names) for batch in batches)
    n_bars = sum(len(b.names) * _count(b.piece.parts, ("hanging rail", "cross-bar")) for b in batches)
    edge_m = sum(2 * len(b.names) * (b.piece.outer_m[0] + b.piece.outer_m[1]) for b in batches)
    rows = [
        ("wood screws 4 x 50 mm, two at each corner of a frame", f"{8 * n_panels}"),
        ("wood glue for the corners", "1 bottle"),
        ("staples 8 mm, every 50 mm, both cloths", f"{_round_up(2 * edge_m / _STAPLE_STEP_M, 100)}"),
        ("labels with the panel's name", f"{n_panels}"),
    ]
    if n_bars:
        rows.append(("wood screws 4 x 40 mm, two at each end of a rail or bar", f"{4 * n_bars}"))
    cords = [hook for hook in hooks if hook.kind == "cord"]
    if cords:
        run_m = sum(max(hook.cord_m, 0.0) + KNOTS_M for hook in cords)
        hung = len({hook.panel for hook in cords})
        rows += [
            ("eye bolts M6 right through a rail, with washer and locking nut", f"{len(cords)}"),
            ("eyes for the structure, approved for it", f"{len(cords)}"),
            ("cord or wire, 0.3 m for the ends of each included", f"{math.ceil(run_m)} m"),
            ("terminations with stated strength, two per cord", f"{2 * len(cords)}"),
            ("second, independent support with its own anchor, one per panel", f"{hung}"),
        ]
    if n_battens:
        rows.append(
            ("screws for battens across joists, two per joist, as the structure needs", f"{4 * n_battens}")
        )
    held = [hook for hook in hooks if hook.kind == "fixed"]
    if held:
        flat = {hook.panel for hook in held if room.panels[hook.panel].kind == "surface"}
        spaced = {k for k in flat if room.panels[k].gap_m > _SAME_M}
        rows.append(("hanging plates with screws, fit for what lies behind", f"{len(held)}"))
        if spaced:
            depths = sorted({round(1000 * room.panels[k].gap_m) for k in spaced})
            text = " and ".join(f"{depth} mm" for depth in depths)
            rows.append((f"spacers {text} deep, two at the top and two at the bottom", f"{4 * len(spaced)}"))
    return tuple(rows)


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
) -> tuple[str, ...]:
    notes = [
        f"Timber at its actual size, saw cut {1000 * KERF_M:.0f} mm. Butt joints: the long sides run "
        "through, the short ones stand between them; the inside of a frame is the slab, wool is not cut. "
        "Rails and bars lie flat across the back, and stand proud of it. Measure a slab before cutting.",
        f"Cloth from a roll {ROLL_M:.1f} m wide, round the frame and 50 mm on to its back; a pattern or nap "
        "may need more.",
        "Hang from the frame, never from the cloth. In a cloud the slab rests on bars or wires across the "
        "underside, behind the cloth.",
        MASS_BASIS,
    ]
    for name, own in _by_build(batches).items():
        notes += [f"{name}: {note}" for note in mass_notes(own[0].build)]
    unpacked = ", ".join(dict.fromkeys(b.build_name for b in batches if b.build.pack is None))
    if unpacked:
        notes.append(f"Slabs in a pack are not stated for {unpacked}: packs about 400 mm high are taken.")
    stands = [panel for panel in room.panels if panel.kind == "stand"]
    lifts = {p.name: float(min(p.corners[:, 2].min(), p.back[:, 2].min())) for p in stands}
    raised = ", ".join(f"{name} {1000 * lift:.0f} mm" for name, lift in lifts.items() if lift > _ON_FLOOR_M)
    if lifts:
        notes.append(
            "Feet and legs of stands are not in these lists: their depth is in the loads, their height that "
            "of the lower edge above the floor" + (f" ({raised})." if raised else ".")
        )
    for cut in timber:
        lengths = cut.lengths
        for part in cut.nesting.too_long:
            label, length = lengths[part]
            notes.append(f"{label}: {1000 * length:.0f} mm is longer than any stock length; order it.")
    return (*notes, *frame_notes(room), *feet_notes(scene, room))

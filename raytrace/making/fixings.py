"""What holds panels, rafts and stands: usual amounts (common practice, no source)."""

import math
from collections.abc import Sequence

from raytrace.facts import Amount, Fact, Fixing, Sentence, Unit, joined, metres, millimetres, sentence
from raytrace.making.hanging import Hook
from raytrace.making.rafts import TAKE_UP_M
from raytrace.making.stands import STRAP_N, Stability
from raytrace.making.timber import ACROSS_JOISTS
from raytrace.room import Room

KNOTS_M = 0.30
"""Cord for both terminations of one hook. Common practice, no source."""
_BATTEN = millimetres(ACROSS_JOISTS.thickness_m)
_SPACED_M = 0.005  # less air behind a panel needs no spacer


def hanging_rows(hooks: Sequence[Hook]) -> list[tuple[Sentence, Fact]]:
    """What holds panels on cords."""
    cords = [hook for hook in hooks if hook.kind == "cord"]
    if not cords:
        return []
    run_m = sum(max(hook.cord_m, 0.0) + KNOTS_M for hook in cords)
    bolts = sentence("eye bolts {size} right through a rail, with washer and locking nut", size=Fixing.BOLT)
    cord = sentence("cord or wire, {ends} for the ends of each included", ends=metres(KNOTS_M, 1))
    return [
        (bolts, len(cords)),
        (sentence("eyes for the structure, approved for it"), len(cords)),
        (cord, metres(math.ceil(run_m), 0)),
        (sentence("terminations with stated strength, two per cord"), 2 * len(cords)),
        *_second_supports(cords),
    ]


def _second_supports(cords: Sequence[Hook]) -> list[tuple[Sentence, Fact]]:
    """What catches panels and rafts on cords, and what levels a raft."""
    alone = {hook.panel for hook in cords if hook.raft is None}
    rafts = {hook.panel for hook in cords if hook.raft is not None}
    rows: list[tuple[Sentence, Fact]] = []
    if alone:
        rows.append((sentence("second, independent support with its own anchor, one per panel"), len(alone)))
    if rafts:
        level = sentence(
            "turnbuckles, one per cord of a raft, that take up {take_up} or more, hung half-way; or grips "
            "that slide on the cord as far",
            take_up=millimetres(TAKE_UP_M),
        )
        rows.append((level, sum(hook.raft is not None for hook in cords)))
        twice = "second, independent supports with their own anchors, two per raft at opposite corners"
        rows.append((sentence(twice), 2 * len(rafts)))
    return rows


def mounting_rows(room: Room, hooks: Sequence[Hook]) -> list[tuple[Sentence, Fact]]:
    """What holds panels right on a surface or before it."""
    held = [hook for hook in hooks if hook.kind == "fixed"]
    if not held:
        return []
    rows: list[tuple[Sentence, Fact]] = [
        (sentence("hanging plates with screws, fit for what lies behind"), len(held))
    ]
    flat = {hook.panel for hook in held if room.panels[hook.panel].kind == "surface"}
    spaced = {k for k in flat if room.panels[k].clear_m > _SPACED_M}
    if spaced:
        depths = sorted({round(1000 * room.panels[k].clear_m) for k in spaced})
        text = joined(" and ", (millimetres(0.001 * depth) for depth in depths))
        less = sentence("; {thick} less where a batten lies behind", thick=_BATTEN)
        told = "spacers {depths} deep, two at the top and two at the bottom{less}"
        on_battens = any(hook.batten and hook.panel in spaced for hook in held)
        spacers = sentence(told, depths=text, less=less if on_battens else "")
        rows.append((spacers, 4 * len(spaced)))
    return rows


def stand_rows(stands: Sequence[Stability]) -> list[tuple[Sentence, Sentence]]:
    """What holds stands together and to the wall; usual amounts (common practice, no source)."""
    if not stands:
        return []
    upright = [found for found in stands if not found.leans]
    n_screws = sum(8 * sum(part.name == "panel" for part in found.body.parts) for found in stands)
    n_straps = sum(found.n_straps for found in stands)
    through = sentence(
        "bolts {size} right through leg and foot, with washers and locking nut", size=Fixing.BOLT
    )
    sides = "wood screws {screw}, four through each side of a frame into its leg or block"
    strap = sentence(
        "straps from a stand's top corners to structure in the wall, each and all that holds it for {force}",
        force=Amount((STRAP_N,), Unit.N),
    )
    rows = [
        (sentence(sides, screw=Fixing.SCREW_50), n_screws),
        (through, 4 * len(upright)),
        (sentence("rubber pads, one under each end of a foot or block"), 4 * len(stands)),
        (strap, n_straps),
    ]
    return [(what, sentence("{much}", much=much)) for what, much in rows if much]

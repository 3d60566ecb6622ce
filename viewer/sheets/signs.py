"""The signs of an installer's drawing and what they mean."""

from viewer.look import INK, MUTED, OBJECT, WHITE
from viewer.paper import Mark, Strip, area, disc, hatch, heading, line, words_from, wrap
from viewer.sheets.treatment import View

HOOK_MM = 1.3
OWNED_FILL = WHITE  # of a panel that is there already, beside the tint of those that are made


def key_strips(view: View, width_mm: float, *, owned: bool = False) -> list[Strip]:
    """What the signs in the drawing mean, those that are there; `owned`: some of its panels are."""
    known = {joist.entry.known for joist in view.joists}
    rows: list[tuple[list[Mark], str]] = []
    if view.hooks:
        rows.append(([disc((4.0, 2.0), HOOK_MM, ink=INK, width_pt=0.8)], "hook"))
        rows[-1][0].append(line([(2.0, 2.0), (6.0, 2.0)], width_pt=0.5))
        rows[-1][0].append(line([(4.0, 0.2), (4.0, 3.8)], width_pt=0.5))
    if "surveyed" in known:
        rows.append((_joist_sign(()), "joist as surveyed, with its number"))
    if "assumed" in known:
        rows.append((_joist_sign((1.6, 1.2)), "joist assumed, not surveyed: find it first"))
    if view.battens:
        bar = [(1.0, 1.2), (7.0, 1.2), (7.0, 2.8), (1.0, 2.8)]
        rows.append(([area(bar, ink=INK, fill=OBJECT)], "batten across joists, fixed to both"))
    if owned:
        box = [(1.0, 0.4), (7.0, 0.4), (7.0, 3.6), (1.0, 3.6)]
        rows.append(([area(box, ink=INK, fill=OWNED_FILL, width_pt=1.1)], "panel that is owned already"))
    if view.rafts:
        strip = [(1.0, 1.5), (7.0, 1.5), (7.0, 2.5), (1.0, 2.5)]
        sign = area(strip, ink=MUTED, fill=OBJECT, width_pt=0.5)
        rows.append(([sign], "timber of a raft; its bars lie below the slabs"))
    if any(obstacle.is_keep_out for obstacle in view.obstacles):
        box = [(1.0, 0.4), (7.0, 0.4), (7.0, 3.6), (1.0, 3.6)]
        rows.append(([*hatch(box, spacing=2.2, ink=MUTED), area(box, ink=INK)], "keep free"))
    if view.kind == "floor":
        edge = "edge that is marked on the floor: front, of what leans the rear one"
        rows.append(([line([(1.0, 2.0), (7.0, 2.0)], width_pt=2.4)], edge))
        foot = [(1.0, 1.2), (7.0, 1.2), (7.0, 2.8), (1.0, 2.8)]
        rows.append(([area(foot, ink=INK, fill=OBJECT)], "foot or block of a stand"))
    if not rows:
        return []
    strips = [heading("Signs", width_mm)]
    for marks, text in rows:
        lines = wrap(text, width_mm - 10.0, 7.5)
        told = [words_from(row, 10.0, 2.0 + 3.3 * i, size_pt=7.5) for i, row in enumerate(lines)]
        strips.append(Strip(1.3 + 3.3 * len(lines), (*marks, *told)))
    return strips


def _joist_sign(dash: tuple[float, ...]) -> list[Mark]:
    edges = [line([(0.5, y), (8.0, y)], ink=MUTED, width_pt=0.3, dash=dash) for y in (1.0, 3.0)]
    return [*edges, line([(0.5, 2.0), (8.0, 2.0)], ink=MUTED, width_pt=0.4, dash=(5.0, 1.0, 0.6, 1.0))]

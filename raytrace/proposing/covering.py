"""Covers where panels do not go: rugs, curtains and pads for the peaks that stay, each proven in full."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, sentence
from raytrace.making import site_of
from raytrace.proposing.margins import way_of_facets
from raytrace.proposing.proposed_scene import pair, quoted
from raytrace.room import (
    TOUCH_M,
    Orientation,
    looks_up,
    orientation,
    prism,
    shared_size_m,
    why_no_body,
)
from raytrace.scene import BoxObject, Cover, Scene, SceneError, load_scene, set_in_text
from raytrace.study import QuickLook, Study, Target, peaks_of, run_study

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

WORTH_DB = 1.5
"""What a cover has to take off a peak that stays over the limit; less is hardly heard (common practice, no
source)."""
_MOST_SITES = 4
_MAIN_DB = 10.0  # reflections of a peak that are weaker than its strongest by more than this do not matter
_GRAIN_M = 0.010
_EDGE_M = 0.005


@dataclass(frozen=True, eq=False)
class TriedCover:
    """A cover at the place where it does most for a peak that panels leave.

    Attributes
    ----------
    cover : str
        By name.
    on : str
        "floor", "window", "desk" or "wall".
    surface : str
    opening : str or None
        The window that it hangs before.
    name : str
        Of its entry in the new scene.
    rect : (4,) float
        u0, v0, u1, v1 in the set-out frame of its surface. [m]
    seat : str
    speakers, way : tuple of str
        Whose peak it is, and which way that comes.
    margin_db : (float, float)
        Margin of that peak without it and with it, by full runs; NaN where it is gone.
    price : float or None
    reason : Sentence or None
        Why it is not proposed; None where it is.
    """

    cover: str
    on: str
    surface: str
    opening: str | None
    name: str
    rect: Floats
    seat: str
    speakers: tuple[str, ...]
    way: tuple[str, ...]
    margin_db: tuple[float, float]
    price: float | None
    reason: Sentence | None

    @property
    def is_proposed(self) -> bool:
        """Whether it is in the new scene."""
        return self.reason is None

    @property
    def gain_db(self) -> float:
        """What it takes off the peak; inf where that is gone."""
        before, after = self.margin_db
        return float("inf") if np.isnan(after) else after - before


@dataclass(frozen=True, eq=False)
class Covered:
    """A room with covers: the text of its scene, its study, and what was tried."""

    text: str
    study: Study
    tried: tuple[TriedCover, ...]


class _Site(NamedTuple):
    """Where a peak meets what may be covered: kind of place, surface, opening or -1, its spots there."""

    on: str
    surface: int
    opening: int
    spots: Floats


class _Trial(NamedTuple):
    """A cover somewhere: its name, that of its entry, where it lies, and the text of the scene with it."""

    cover: str
    name: str
    rect: Floats
    text: str


def cover_what_stays(
    study: Study,
    text: str,
    *,
    seats: Collection[int],
    budget: float | None = None,
    out: Path,
    run: Callable[[Scene], Study] = run_study,
) -> Covered:
    """Covers for the peaks that panels leave, each where it does most, as far as they bring something.

    Parameters
    ----------
    study : Study
        With whatever panels there are.
    text : str
        Of its scene.
    seats : collection of int
        Those that count.
    budget : float, optional
        What may be spent on covers; each that is taken needs a price then.
    out : Path
        Where the scene is to be written.
    run : callable
        What a scene is proven by.

    Returns
    -------
    Covered
    """
    tried, left = list[TriedCover](), budget
    seen: set[tuple[int, int]] = set()
    while len(tried) < _MOST_SITES:
        found = next(_sites(study, seats, seen), None)
        if found is None:
            break
        target, site = found
        seen.add((site.surface, site.opening))
        trial = _best_trial(study, text, target, site, out)
        if trial is None:
            continue
        after = run(load_scene(out, trial.text))
        entry = _tried(study, after, target, site, trial, left)
        tried.append(entry)
        if entry.is_proposed:
            study, text = after, trial.text
            left = left if left is None else left - (entry.price or 0.0)
    return Covered(text, study, tuple(tried))


def _sites(
    study: Study, seats: Collection[int], seen: Collection[tuple[int, int]]
) -> Iterator[tuple[Target, _Site]]:
    """Peaks that stay, the strongest first, with each place that they meet and that a cover may take."""
    heard: dict[tuple[int, tuple[str, ...]], list[int]] = {}
    for k, peak in sorted(enumerate(study.peaks), key=lambda item: (item[1].margin_db, item[0])):
        if peak.may_be_over and peak.seat in seats:
            heard.setdefault((peak.seat, way_of_facets(study, peak.facets)), []).append(k)
    for (seat, way), own in heard.items():
        peaks = [study.peaks[k] for k in own]
        target = Target(seat, tuple(sorted({peak.speaker for peak in peaks})), way)
        met: dict[tuple[int, int], list[Floats]] = {}
        for peak in peaks:
            for place, spot in _met(study, peak.arrivals):
                met.setdefault(place, []).append(spot)
        for (surface, opening), spots in met.items():
            on = _place_of(study, surface, opening)
            if on is not None and (surface, opening) not in seen:
                yield target, _Site(on, surface, opening, np.array(spots))


def _met(study: Study, rows: Sequence[int]) -> Iterator[tuple[tuple[int, int], Floats]]:
    """Surfaces and openings that the stronger of some arrivals meet, and where: (2,) [m]."""
    table = study.arrivals
    if not rows:
        return
    strongest_db = table.zone_worst_db[list(rows)].max()
    for row in rows:
        if table.zone_worst_db[row] > strongest_db - _MAIN_DB:
            for bounce in range(table.order[row]):
                if table.path_panels[row, bounce] < 0:
                    place = int(table.path_surfaces[row, bounce]), int(table.path_openings[row, bounce])
                    yield place, table.spots[row, bounce]


def _place_of(study: Study, surface: int, opening: int) -> str | None:
    """What kind of place for a cover it is; None for what takes none, or has one."""
    own, scene = study.room.surfaces[surface], study.scene
    if opening >= 0:
        given = scene.openings[opening]
        return "window" if given.kind == "window" and given.cover is None else None
    if orientation(own.frame.n) is Orientation.UPRIGHT and own.owner is None:
        return "wall"
    if not looks_up(own.frame.n):
        return None
    if own.owner is None:
        return "floor"
    is_box = any(isinstance(thing, BoxObject) and thing.name == own.owner for thing in scene.objects)
    return "desk" if is_box else None


def _offers(scene: Scene, on: str) -> dict[str, Cover]:
    """Covers for a kind of place: the scene's own where it has some, else the library's."""
    known = {name: cover for name, cover in scene.known_covers.items() if cover.on == on}
    return {name: cover for name, cover in known.items() if name in scene.covers} or known


def _best_trial(study: Study, text: str, target: Target, site: _Site, out: Path) -> _Trial | None:
    """The first cover and place by which a quick look has the peak below the limit, else the best one."""
    best: tuple[float, _Trial] | None = None
    for name, cover in _offers(study.scene, site.on).items():
        for rect in _rects(study, site, cover):
            trial = _trial(study, text, site, name, rect)
            try:
                look = QuickLook(load_scene(out, trial.text), target)
                if best is not None and look.ears_db <= best[0]:
                    continue  # the zone has it no farther below
                score = look.zone_db
            except SceneError:
                continue  # there is something already
            if score > 0.0:
                return trial
            if best is None or score > best[0]:
                best = score, trial
    return None if best is None else best[1]


def _rects(study: Study, site: _Site, cover: Cover) -> list[Floats]:
    """Where a cover could lie: about the middle of its spots, either way round; a window as it is."""
    scene, surface = study.scene, study.room.surfaces[site.surface]
    if site.opening >= 0:
        given = scene.openings[site.opening]
        return [np.array([*given.at, *np.add(given.at, given.size)])]
    outlines = [surface.frame.to_plane(study.room.facets[k].outline) for k in surface.facets]
    low, high = np.concatenate(outlines).min(axis=0), np.concatenate(outlines).max(axis=0)
    if site.on == "wall":
        return _before_wall(study, site, cover, low, high)
    found = []
    for turned in (1, -1) if cover.size is not None else (1,):
        size = high - low if cover.size is None else np.array(cover.size[::turned])
        if site.on == "desk":
            size = np.minimum(size, high - low)  # a pad is cut
        if (size > high - low + _EDGE_M).any():
            continue
        corner = np.round((site.spots.mean(axis=0) - 0.5 * size) / _GRAIN_M) * _GRAIN_M
        corner = np.clip(corner, low, high - size)
        rect = np.round(np.array([*corner, *(corner + size)]), 4)
        if not _is_kept_free(scene, surface.name, rect):
            found.append(rect)
    return found


def _before_wall(study: Study, site: _Site, cover: Cover, low: Floats, high: Floats) -> list[Floats]:
    """Where furniture stands before a wall, from the floor up, so that it meets the spots; if anywhere."""
    assert cover.size is not None, "furniture has a size"
    assert cover.depth is not None, "furniture has a depth"
    room, frame = study.room, study.room.surfaces[site.surface].frame
    size, middle = np.array(cover.size), site.spots.mean(axis=0)
    lowest_z = float(frame.to_room(np.array([middle[0], low[1]]))[2])
    if (size > high - low + _EDGE_M).any() or middle[1] > size[1] or lowest_z > room.bounds[0, 2] + _EDGE_M:
        return []
    left = np.clip(np.round((middle[0] - 0.5 * size[0]) / _GRAIN_M) * _GRAIN_M, low[0], high[0] - size[0])
    rect = np.round(np.array([left, low[1], left + size[0], low[1] + size[1]]), 4)
    openings = [opening for opening in room.openings if opening.surface == site.surface]
    if any((shared_size_m(rect, opening.rect) > TOUCH_M).all() for opening in openings):
        return []
    outline = np.array([frame.to_room(rect[list(pick)]) for pick in ((0, 1), (2, 1), (2, 3), (0, 3))])
    body = prism(outline + TOUCH_M * frame.n, (cover.depth - TOUCH_M) * frame.n)
    return [] if why_no_body(site_of(study.scene, room), body, room.panels) else [rect]


def _is_kept_free(scene: Scene, surface: str, rect: Floats) -> bool:
    """Whether a rectangle reaches into something that stays free."""
    for own in scene.keep_outs:
        if own.surface != surface:
            continue
        if own.at is not None and own.size is not None:
            kept = np.array([*own.at, *np.add(own.at, own.size)])
        else:
            assert own.centre is not None, "a keep-out is a rectangle or a disc"
            assert own.radius is not None, "a disc has a radius"
            kept = np.array([*np.subtract(own.centre, own.radius), *np.add(own.centre, own.radius)])
        if (shared_size_m(rect, kept) > 0.0).all():
            return True
    return False


def _trial(study: Study, text: str, site: _Site, cover: str, rect: Floats) -> _Trial:
    """A scene's text with one cover more."""
    scene = study.scene
    if site.opening >= 0:
        key = ("openings", site.opening, "cover")
        name = scene.openings[site.opening].name
        return _Trial(cover, name, rect, set_in_text(text, key, cover, path=scene.path))
    taken, number = {entry.name for entry in (*scene.openings, *scene.objects)}, 1
    while f"{cover} {number}" in taken:
        number += 1
    name = f"{cover} {number}"
    if site.on == "wall":
        lines = _furniture_lines(study, site, cover, name, rect)
        return _Trial(cover, name, rect, _added(text, lines))
    at, size = rect[:2], rect[2:] - rect[:2]
    lines = [
        "[[openings]]",
        f"name = {quoted(name)}",
        f"surface = {quoted(study.room.surfaces[site.surface].name)}",
        'kind = "cover"',
        f"cover = {quoted(cover)}",
        f"at = {pair(tuple(at))}",
        f"size = {pair(tuple(size))}",
    ]
    return _Trial(cover, name, rect, _added(text, lines))


def _furniture_lines(study: Study, site: _Site, cover: str, name: str, rect: Floats) -> list[str]:
    """Furniture before a wall as an object of the scene."""
    own, frame = study.scene.known_covers[cover], study.room.surfaces[site.surface].frame
    assert own.depth is not None, "furniture has a depth"
    centre = frame.to_room(0.5 * (rect[:2] + rect[2:])) + 0.5 * own.depth * frame.n
    yaw = round(float(np.degrees(np.arctan2(frame.n[1], frame.n[0]))), 4)
    size = own.depth, float(rect[2] - rect[0]), float(rect[3] - rect[1])
    return [
        "[[objects]]",
        f"name = {quoted(name)}",
        'shape = "box"',
        f"centre = {pair(tuple(centre))}",
        f"size = {pair(size)}",
        f"yaw = {yaw:g}",
        f"material = {quoted(own.material)}",
        f"cover = {quoted(cover)}",
    ]


def _added(text: str, lines: Sequence[str]) -> str:
    """A text with one entry more at its end, in its own line ends."""
    added = "\n".join(["" if text.endswith("\n") else "\n", "# Proposed where panels do not go.", *lines, ""])
    return text + (added.replace("\n", "\r\n") if "\r\n" in text else added)


def _tried(
    before: Study, after: Study, target: Target, site: _Site, trial: _Trial, budget: float | None
) -> TriedCover:
    """What a cover does by the full run, and whether that is worth having."""
    scene = before.scene
    # What stands before a wall sends something back from its own face, which looks along its length.
    ways = [target.way, *([(f"{trial.name} back",)] if site.on == "wall" else [])]
    was, now = (
        min((p.margin_db for way in ways for p in peaks_of(study, replace(target, way=way))), default=np.nan)
        for study in (before, after)
    )
    counts = [
        sum(peak.may_be_over and peak.seat == target.seat for peak in study.peaks)
        for study in (before, after)
    ]
    price = scene.known_covers[trial.cover].price
    reason = None
    if counts[1] > counts[0]:
        reason = sentence("it would bring others over the limit")
    elif counts[1] == counts[0] and (now - was < WORTH_DB or site.on == "desk"):
        # A top is better changed than covered, unless a pad is all it takes.
        reason = sentence("it brings at most {gain} dB", gain=f"{max(now - was, 0.0):.1f}")
    elif budget is not None and price is None:
        reason = sentence("it has no price, and there is a budget")
    elif budget is not None and price is not None and price > budget:
        reason = sentence("it costs more than is left of the budget")
    return TriedCover(
        cover=trial.cover,
        on=site.on,
        surface=before.room.surfaces[site.surface].name,
        opening=scene.openings[site.opening].name if site.opening >= 0 else None,
        name=trial.name,
        rect=trial.rect,
        seat=scene.seats[target.seat].name,
        speakers=tuple(scene.speakers[k].name for k in target.speakers),
        way=target.way,
        margin_db=(float(was), float(now)),
        price=price,
        reason=reason,
    )

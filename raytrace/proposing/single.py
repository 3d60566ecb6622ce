"""The best single panel for one peak: tried at the spots of what makes it, each proven by a full run."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from raytrace.proposing.wishes import PanelWish, find_supplies
from raytrace.reflections import Progress
from raytrace.room import Orientation, build_room, is_overhead, orientation
from raytrace.scene import SceneError, add_in_text, load_scene
from raytrace.study import Study, compare, run_study
from raytrace.verdicts import Peak, main_arrivals

Floats = NDArray[np.float64]

MOST_ARRIVALS = 2  # of those that make the peak, the strongest
_SAME_M = 0.2  # spots on one surface that are nearer than this share a panel (own choice)
_STEP_M = 0.01
_DROP_M = 0.1  # of a slab under a ceiling: common practice, no source


@dataclass(frozen=True)
class TriedPanel:
    """One panel at one spot of a peak.

    Attributes
    ----------
    surface, build : str
    centre_m : tuple of float
        Of its middle in the surface's set-out frame. [m]
    text : str
        The scene's text with it; "" where it cannot be there.
    study : Study or None
        With it; None where it cannot be there.
    after : Peak or None
        What the peak becomes; None where it is gone, or nothing was tried.
    refused : str
        Why it cannot be there.
    """

    surface: str
    build: str
    centre_m: tuple[float, float]
    text: str = ""
    study: Study | None = None
    after: Peak | None = None
    refused: str = ""

    @property
    def level_db(self) -> float:
        """Of the peak with it; -inf where it is gone, inf where nothing was tried. [dB]"""
        if self.study is None:
            return math.inf
        return -math.inf if self.after is None else self.after.level_db


@dataclass(frozen=True)
class PeakMending:
    """What one panel at each spot of a peak does to it, in the order in which they were tried."""

    peak: Peak
    tried: tuple[TriedPanel, ...]

    @property
    def best(self) -> TriedPanel | None:
        """The panel that leaves least of the peak; None where none can be put up."""
        possible = [own for own in self.tried if own.study is not None]
        return min(possible, key=lambda own: own.level_db, default=None)


def mend_peak(
    study: Study, peak: Peak, *, text: str, within_s: float, progress: Progress | None = None
) -> PeakMending:
    """What the best single panel would do to one peak.

    Parameters
    ----------
    study : Study
        Of the scene in `text`.
    peak : Peak
        One of its peaks.
    text : str
        The scene's text; the panels that are tried are added to it.
    within_s : float
        How far the full runs reach after the direct sound. [s]
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    PeakMending
        A panel of the build that a proposal would buy first, at each spot on a wall or ceiling.
    """
    build = find_supplies(study.scene, PanelWish())[0].build
    spots = list(_spots(study, peak))
    tried = []
    for k, (surface, centre) in enumerate(spots):
        name = study.room.surfaces[surface].name
        if progress is not None:
            progress(f"a panel on the {name}", k / len(spots))
        tried.append(_tried(study, peak, (surface, centre, build), text=text, within_s=within_s))
    return PeakMending(peak, tuple(tried))


def _spots(study: Study, peak: Peak) -> Iterator[tuple[int, Floats]]:
    """Surface and set-out place of each spot of what makes a peak, each place once."""
    table = study.arrivals
    met: list[tuple[int, Floats]] = []
    for row in main_arrivals(table, peak)[:MOST_ARRIVALS]:
        for bounce in range(int(table.order[row])):
            surface, spot = int(table.path_surfaces[row, bounce]), table.spots[row, bounce]
            if all(own != surface or np.linalg.norm(at - spot) > _SAME_M for own, at in met):
                met.append((surface, spot))
                yield surface, spot


def _tried(
    study: Study, peak: Peak, wanted: tuple[int, Floats, str], *, text: str, within_s: float
) -> TriedPanel:
    """A panel at one spot, upright or lying; why not where it can be neither."""
    index, spot, build = wanted
    surface = study.room.surfaces[index]
    here = surface.name, build, (float(spot[0]), float(spot[1]))
    if surface.owner is not None:
        return TriedPanel(*here, refused="panels hang on walls and ceilings, not on what stands in the room")
    if orientation(surface.frame.n) is Orientation.LEVEL_UP:
        return TriedPanel(*here, refused="a rug is for the floor, not a panel")
    why = ""
    for turned in (0, 90):
        entry, centre = _entry(study, wanted, turned)
        try:
            with_it = add_in_text(text, "clouds" if "drop" in entry else "panels", entry)
            scene = load_scene(study.scene.path, with_it)
            build_room(scene)
        except SceneError as problem:
            why = why or problem.why.splitlines()[0]
            continue
        after = run_study(scene, within_s=within_s)
        pair = next((own for own in compare(study, after).peaks if own.before is peak), None)
        return TriedPanel(surface.name, build, centre, with_it, after, None if pair is None else pair.after)
    return TriedPanel(*here, refused=why)


def _entry(
    study: Study, wanted: tuple[int, Floats, str], turned: int
) -> tuple[dict[str, Any], tuple[float, float]]:
    """The entry of a panel that lies over a spot as far as its surface reaches, and its middle."""
    index, spot, build = wanted
    surface, own = study.room.surfaces[index], study.scene.build(build)
    half = np.array(own.size if turned == 0 else own.size[::-1]) / 2
    size = np.array([surface.frame.width, surface.frame.height])
    place = np.clip(spot, np.minimum(half, size / 2), np.maximum(size - half, size / 2))
    centre = tuple(round(float(np.round(at / _STEP_M) * _STEP_M), 3) for at in place)
    entry: dict[str, Any] = {
        "name": _free_name(study, surface.name),
        "surface": surface.name,
        "build": build,
        "centre": list(centre),
    }
    if is_overhead(surface.frame.n):
        entry |= {"rows": 1, "columns": 1, "drop": _DROP_M}
    return entry | ({"turned": turned} if turned and "drop" not in entry else {}), (centre[0], centre[1])


def _free_name(study: Study, surface: str) -> str:
    """The first name of the kind "left wall 1" that nothing in the room has."""
    scene = study.scene
    taken = {own.name for own in (*scene.panels, *scene.stands, *scene.clouds, *scene.objects)}
    return next(name for k in range(1, len(taken) + 2) if (name := f"{surface} {k}") not in taken)

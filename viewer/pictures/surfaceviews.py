"""Which pictures a study gets: the three of every room, and one of each surface that carries panels."""

from collections import Counter
from typing import Any

import numpy as np

from raytrace import Orientation, Study, format_length, orientation
from viewer import look
from viewer.files import file_stems
from viewer.look import View
from viewer.words import length_figure, panel_group_words

MOST_SURFACES = 8  # a report with more pictures than that is leafed through, not read
_PREFIX = "surface-"
_SOME_AIR_M = 0.0005  # less does not print


def views_of(study: Study) -> tuple[View, ...]:
    """All views of a study, the whole room first, then treated surfaces by the number of their panels.

    Parameters
    ----------
    study : Study
    """
    counts: dict[int, int] = {}
    for panel in study.room.panels:
        if panel.surface is not None:
            counts[panel.surface] = counts.get(panel.surface, 0) + 1
    treated = sorted(counts, key=lambda surface: (-counts[surface], surface))[:MOST_SURFACES]
    room = tuple(look.ACROSS if v.name == "section" and _slopes_across(study) else v for v in look.VIEWS)
    return (*room, *(_face_on(study, surface) for surface in treated))


def _slopes_across(study: Study) -> bool:
    """Whether more of the roof slopes towards left and right than towards front and back."""
    surfaces = [s for s in study.room.surfaces if s.owner is None]
    normals = np.array([s.frame.n for s in surfaces])
    areas = np.array([s.area_m2 for s in surfaces])
    slopes = np.array([orientation(normal) is Orientation.SLOPING for normal in normals])
    towards = np.abs(normals[:, :2]) * np.where(slopes, areas, 0.0)[:, None]
    front_back, left_right = towards.sum(axis=0)
    return bool(left_right > front_back)


def _face_on(study: Study, surface: int) -> View:
    """A wall as a person sees it who faces it inside the room; a ceiling as a plan, as if looked through."""
    name, normal = study.room.surfaces[surface].name, study.room.surfaces[surface].frame.n
    level = orientation(normal).is_level
    x, y, z = (0.0, 0.0, 1.0) if level else (float(part) for part in normal)
    glass = "" if level else " What stands before it is drawn as if of glass."
    how = "drawn as a plan, front wall at the top" if level else "straight on"
    return View(
        _PREFIX + file_stems(s.name for s in study.room.surfaces)[surface],
        f"Facing the {name}",
        ((x, y, z),),
        (-1.0, 0.0, 0.0) if level else (0.0, 0.0, 1.0),
        True,
        f"The {name} {how}, with its panels and the spots of all first reflections.{glass}",
        surface,
    )


def surface_pages(study: Study, pictures: dict[str, tuple[str, str]], *, units: str) -> list[dict[str, Any]]:
    """Pages of the report that show the treated surfaces, two on each; a lone last one has plan and list.

    Parameters
    ----------
    study : Study
        For the list of panels.
    pictures : dict
        File and caption of every picture by the name of its view.
    units : {"metric", "imperial"}
        Of the sizes of panels.
    """
    of_surfaces = surface_pictures(pictures)
    pages = []
    for start in range(0, len(of_surfaces), 2):
        here = of_surfaces[start : start + 2]
        is_lone = len(here) == 1
        blocks: list[dict[str, Any]] = []
        for path, caption in (*here, *([pictures["plan"]] if is_lone else [])):
            blocks += [{"kind": "share", "path": path, "alt": caption}, {"kind": "small", "text": caption}]
        if is_lone:
            blocks += [{"kind": "sub", "text": "All panels"}, panel_table(study, units)]
        title = "The panels, surface by surface" if start == 0 else "The panels, continued"
        above = "What is to be seen in the end"
        pages.append({"kind": "blocks", "above": above, "title": title, "blocks": blocks, "flows": False})
    return pages


def surface_pictures(pictures: dict[str, tuple[str, str]]) -> list[tuple[str, str]]:
    """File and caption of the pictures of treated surfaces, the one with most panels first."""
    return [picture for name, picture in pictures.items() if name.startswith(_PREFIX)]


def panel_table(study: Study, units: str) -> dict[str, Any]:
    """Equal panels of a group together: how many, where, of what, how large, how much air behind."""
    counts: Counter[tuple[str, ...]] = Counter()
    for panel in study.room.panels:
        where = "on the floor" if panel.surface is None else study.room.surfaces[panel.surface].name
        sides = (panel.width_m, panel.height_m, panel.depths.outer_m)
        size = " x ".join(length_figure(side, units) for side in sides)
        air = "–" if not panel.clear_m >= _SOME_AIR_M else format_length(panel.clear_m, units=units)
        counts[panel_group_words(panel), where, panel.build_name, size, air] += 1
    size_head = "each, mm" if units == "metric" else "each"
    return {
        "kind": "table",
        "head": ("what", "how many", "where", "build", size_head, "air behind"),
        "columns": ("fill", "right", "left", "left", "right", "right"),
        "rows": [(what, str(count), *others) for (what, *others), count in counts.items()],
        "inset": 1.4,
    }

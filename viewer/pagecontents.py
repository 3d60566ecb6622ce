"""A study as the plain data that page.js shows: faces, lines, paths with their words, names."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from raytrace import Comparison, Study, compare, headline
from viewer import look, meshes
from viewer.faces import column, loops_of, outlines, picked, raised
from viewer.layers import Stage, proud_m, set_stage
from viewer.pagecontrols import layer_switches, level_scale, rounded, sizes, views
from viewer.pagenames import names
from viewer.pagewords import (
    WORDS,
    capital,
    mains,
    panel_words,
    path_rows,
    path_words,
    peak_over,
    way_of,
    weaker,
)
from viewer.pictures import seat_words, speaker_words

if TYPE_CHECKING:
    from pyvista import PolyData

Contents = dict[str, Any]
Floats = NDArray[np.float64]


_MISSING = {"before": "not there", "after": "gone"}


@dataclass(frozen=True)
class _Moment:
    """One of the states that the page switches between."""

    name: str
    study: Study
    stages: tuple[Stage, ...]
    elsewhere: dict[int, str]
    units: str


def page_contents(study: Study, after: Study | None = None, *, units: str = "metric") -> Contents:
    """All that the page shows of one study, or of two that it switches between.

    Parameters
    ----------
    study : Study
        A finished run.
    after : Study, optional
        The same room once changed; the page then opens with it and calls `study` "Before".
    units : {"metric", "imperial"}
        Of the sizes of panels.
    """
    if after is None:
        moments = [_moment("Today", study, {}, units)]
    else:
        comparison = compare(study, after)
        moments = [
            _moment("Before", study, _counterparts(comparison, "after"), units),
            _moment("After", after, _counterparts(comparison, "before"), units),
        ]
    layers = layer_switches(
        has_patches=any(stage.patches.n_cells for moment in moments for stage in moment.stages),
        has_objects=any(moment.study.scene.objects for moment in moments),
        has_panels=any(moment.study.room.panels for moment in moments),
    )
    return {
        "states": [_state(moment) for moment in moments],
        "change": "" if after is None else headline(comparison),
        "seats": _shared([_seats(moment.study) for moment in moments]),
        "speakers": _shared([_speakers(moment.study) for moment in moments]),
        "layers": layers,
        "layers_on": {layer["key"]: layer["key"] != "others" for layer in layers},
        "views": views(moments[-1].stages[0]),
        "view": sizes(moments[-1].stages[0]),
        "look": {"ink": look.INK, "edge": look.EDGE, "accent": look.ACCENT},
        "scale": level_scale(),
        "words": WORDS,
        "notes": list(dict.fromkeys(note for m in moments for note in (*m.study.notes, *m.study.cautions))),
    }


def _moment(name: str, study: Study, elsewhere: dict[int, str], units: str) -> _Moment:
    stages = tuple(set_stage(study, seat) for seat in range(len(study.scene.seats)))
    return _Moment(name, study, stages, elsewhere, units)


def _counterparts(comparison: Comparison, there: Literal["before", "after"]) -> dict[int, str]:
    """For each reflection of one study a sentence on how strong it is in the other."""
    here = "before" if there == "after" else "after"
    study: Study = getattr(comparison, there)
    words = {}
    for pair in comparison.arrivals:
        row, other = getattr(pair, here), getattr(pair, there)
        if row is not None:
            what = weaker(study, other) if other is not None else _MISSING[there]
            words[row] = f" {there.capitalize()}: {what}."
    return words


def _speakers(study: Study) -> list[tuple[str, str]]:
    """Words and key of every speaker that takes part in verdicts."""
    return [(speaker_words(study, i), study.scene.speakers[i].name) for i in mains(study)]


def _seats(study: Study) -> list[tuple[str, str]]:
    return [(seat_words(study, i), seat.name) for i, seat in enumerate(study.scene.seats)]


def _shared(choices: list[list[tuple[str, str]]]) -> list[tuple[str, str]]:
    """Choices that there are before and after."""
    return [choice for choice in choices[0] if all(choice in others for others in choices)]


def _state(moment: _Moment) -> Contents:
    study, stages = moment.study, moment.stages
    room, stage = study.room, stages[0]
    return {
        "name": moment.name,
        "planes": [[*rounded(facet.normal, 6), round(float(facet.offset), 5)] for facet in room.facets],
        "corners": rounded(np.unique(np.round(stage.corners, 3), axis=0)),
        "seats": {seat.name: list(seat.ears) for seat in study.scene.seats},
        "skins": [
            *_room_skins(stage),
            *_furniture_skins(stage),
            *_panel_skins(moment),
            *_patch_skins(stages),
        ],
        "edges": _edges(stage),
        "lines": _lines(stages),
        "direct": _direct(stages),
        "paths": [_path(moment, row) for row in path_rows(study)],
        "names": names(stage),
    }


def _triangles(loops: Iterable[Floats], normal: Floats | None = None) -> list[float]:
    """Convex outlines as a flat list of triangle corners, turned to the side of a normal."""
    corners: list[Floats] = []
    for loop in loops:
        turned = loop
        if normal is not None and np.cross(loop[1] - loop[0], loop[2] - loop[1]) @ normal < 0:
            turned = loop[::-1]
        for i in range(1, len(turned) - 1):
            corners += [turned[0], turned[i], turned[i + 1]]
    flat: list[float] = rounded(np.array(corners).ravel())
    return flat


def _skin(
    layer: str, kind: str, colour: str, triangles: list[float], text: str = "", **more: Any
) -> Contents:
    return {
        "layer": layer,
        "kind": kind,
        "colour": colour,
        "triangles": triangles,
        "text": text,
        "light": "solid",
        **more,
    }


def _room_skins(stage: Stage) -> list[Contents]:
    """Surfaces of the room and of what stands in it, windows and doors."""
    room, scene = stage.study.room, stage.study.scene
    loops = loops_of(stage.faces)
    facets = column(stage.faces, "facet").astype(np.int64)
    skins = []
    for index in sorted(set(facets.tolist())):
        facet = room.facets[index]
        surface = room.surfaces[facet.surface]
        is_room = bool(room.is_room_surface[facet.surface])
        colour = look.FLOOR if facet.normal[2] > 0.9 else look.WALL
        own = [loop for loop, owner in zip(loops, facets, strict=True) if owner == index]
        name = surface.name if is_room else surface.owner
        skins.append(
            _skin(
                "room" if is_room else "objects",
                "face",
                colour if is_room else look.OBJECT,
                _triangles(own, facet.normal),
                f"{capital(name)}: {surface.material.name}",
            )
        )
    panes = meshes.panes(stage.study)
    normals = column(panes, "normal", 3)
    lifted = raised(panes, normals, by_m=look.RAISE_M * stage.scale)
    for loop, normal, opening in zip(loops_of(lifted), normals, column(panes, "opening"), strict=True):
        given = scene.openings[int(opening)]
        text = f"{capital(given.name)}: {given.material}"
        skins.append(_skin("room", "pane", look.PANE, _triangles([loop], normal), text))
    return skins


def _furniture_skins(stage: Stage) -> list[Contents]:
    """Speakers, heads and the range of the head."""
    study = stage.study
    boxes = meshes.speakers(study)
    is_front = column(boxes, "is_front").astype(bool)
    parts = (
        ("thing", picked(boxes, ~is_front), look.SPEAKER, "solid"),
        ("thing", picked(boxes, is_front), look.SPEAKER_FRONT, "solid"),
        ("thing", meshes.drivers(study), look.DRIVER, "flat"),
        ("head", meshes.heads(study), look.HEAD, "solid"),
    )
    skins = [
        _skin("room", kind, colour, _triangles(loops_of(mesh)), light=light)
        for kind, mesh, colour, light in parts
        if mesh.n_cells
    ]
    zones = _triangles(loops_of(meshes.zones(study)))
    return [*skins, _skin("room", "zone", look.HEAD, zones, opacity=look.ZONE_OPACITY)]


def _panel_skins(moment: _Moment) -> list[Contents]:
    """Panels with what they are made of."""
    study = moment.study
    mesh = meshes.panels(study)
    loops, owners = loops_of(mesh), column(mesh, "panel").astype(np.int64)
    skins = []
    for index, panel in enumerate(study.room.panels):
        own = [loop for loop, owner in zip(loops, owners, strict=True) if owner == index]
        text = panel_words(panel, moment.units)
        plane = rounded(np.array([*panel.normal, panel.normal @ panel.centre]), 5)
        skins.append(_skin("panels", "panel", look.PANEL, _triangles(own), text, plane=plane))
    return skins


def _patch_skins(stages: Iterable[Stage]) -> list[Contents]:
    """Areas that send too much to a seat, by seat and speaker."""
    skins = []
    for stage in stages:
        study, patches = stage.study, stage.patches
        normals = column(patches, "normal", 3)
        lifted = loops_of(raised(patches, normals, by_m=2 * look.RAISE_M * stage.scale))
        owners = column(patches, "patch").astype(np.int64)
        for index in sorted(set(owners.tolist())):
            patch = study.patches[index]
            own = [loop for loop, owner in zip(lifted, owners, strict=True) if owner == index]
            name = study.room.surfaces[patch.surface].name
            speaker = speaker_words(study, patch.speaker)
            text = f"Area on the {name}: from here too much of the {speaker} reaches the seat"
            skins.append(
                _skin(
                    "patches",
                    "patch",
                    look.ACCENT,
                    _triangles(own),
                    text,
                    opacity=look.PATCH_OPACITY,
                    seat=study.scene.seats[patch.seat].name,
                    speaker=study.scene.speakers[patch.speaker].name,
                )
            )
    return skins


def _segments(mesh: "PolyData") -> list[Any]:
    """Lines as pairs of points."""
    return [rounded(line[i : i + 2]) for line in loops_of(mesh) for i in range(len(line) - 1)]


def _edges(stage: Stage) -> list[Contents]:
    """Edges with the facets that meet there: drawn while one of them is turned to the viewer."""
    room = stage.study.room
    edges = []
    around = column(stage.edges, "facets", 4).astype(np.int64)
    for line, met in zip(loops_of(stage.edges), around, strict=True):
        facets = [int(facet) for facet in met if facet >= 0]
        is_room = all(room.is_room_surface[room.facets[facet].surface] for facet in facets)
        edges.append({"ends": rounded(line), "facets": facets, "layer": "room" if is_room else "objects"})
    return edges


def _lines(stages: tuple[Stage, ...]) -> list[Contents]:
    """Outlines of windows, doors, head ranges and areas, and where speakers point."""
    study, scale = stages[0].study, stages[0].scale
    plain = (
        ("pane", outlines(meshes.panes(study)), look.OUTLINE_M, look.PANE_EDGE),
        ("zone", outlines(meshes.zones(study)), look.ZONE_LINE_M, look.EDGE),
        ("panel", outlines(meshes.panels(study)), look.OBJECT_EDGE_M, look.PANEL_EDGE),
        ("axis", meshes.speaker_axes(study, length_m=look.AXIS_LENGTH_M), look.AXIS_M, look.SPEAKER),
    )
    lines: list[Contents] = [
        {
            "kind": kind,
            "layer": "panels" if kind == "panel" else "room",
            "radius": radius * scale,
            "colour": colour,
            "segments": _segments(mesh),
        }
        for kind, mesh, radius, colour in plain
        if mesh.n_cells
    ]
    for stage in stages:
        owners = column(stage.patch_edges, "facets", 4).astype(np.int64)
        for line, met in zip(loops_of(stage.patch_edges), owners, strict=True):
            patch = study.patches[int(met[0])]
            lines.append(
                {
                    "kind": "patch",
                    "layer": "patches",
                    "radius": look.OUTLINE_M * scale,
                    "colour": look.ACCENT,
                    "segments": [rounded(line)],
                    "seat": study.scene.seats[patch.seat].name,
                    "speaker": study.scene.speakers[patch.speaker].name,
                }
            )
    return lines


def _direct(stages: Iterable[Stage]) -> list[Contents]:
    found = []
    for stage in stages:
        mesh = meshes.direct_paths(stage.study, stage.shown.seat)
        for line, speaker in zip(loops_of(mesh), column(mesh, "speaker"), strict=True):
            name = stage.study.scene.speakers[int(speaker)].name
            found.append(
                {
                    "points": rounded(line),
                    "seat": stage.study.scene.seats[stage.shown.seat].name,
                    "speaker": name,
                }
            )
    return found


def _path(moment: _Moment, row: int) -> Contents:
    study, table = moment.study, moment.study.arrivals
    level = float(meshes.level_re_limit_db(study, np.array([row]))[0])
    spots = meshes.spots(study, np.array([row]))
    touched = _touched(study, spots)
    ends = table.path_points[row, [0, int(table.order[row]) + 1]]
    is_part = peak_over(study, row) is not None
    verdict = "above the limit" if level > 0 else "together above the limit" if is_part else ""
    is_first = int(table.order[row]) == 1
    way = way_of(study, row)
    return {
        "seat": table.seat_names[table.seat[row]],
        "speaker": table.speaker_names[table.speaker[row]],
        "layer": "over" if verdict else "first" if is_first else "others",
        "points": rounded(np.vstack([ends[:1], touched, ends[1:]])),
        "spots": [[at, n] for at, n in zip(rounded(touched), rounded(spots.normals, 4), strict=True)],
        "colour": _hex(look.level_colours(np.array([level]))[0]),
        "radius": (look.TUBE_M if is_first else look.TUBE_HIGHER_M) * moment.stages[0].scale,
        "text": path_words(study, row) + moment.elsewhere.get(row, ""),
        "way": f"{capital(way)}, from the {speaker_words(study, int(table.speaker[row]))}",
        "short": f"{table.delay_s[row] * 1e3:.1f} ms, {weaker(study, row)}",
        "verdict": verdict,
        "rank": round(float(table.zone_worst_db[row]), 2),
    }


def _touched(study: Study, spots: meshes.Spots) -> Floats:
    """Where spots are seen: on the face of a panel that covers them, else on their surface."""
    proud = np.array([proud_m(study, int(panel)) for panel in spots.panel])
    return np.asarray(spots.points + proud[:, None] * spots.normals)


def _hex(colour: Floats) -> str:
    return "#" + "".join(f"{part:02X}" for part in np.round(255 * colour).astype(int))

"""A study as the plain data that page.js shows: faces, lines, paths with their words, names."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from raytrace import Comparison, Hook, Peak, Study, Verdict, compare, find_hooks, headline
from viewer import look
from viewer.page.bass import bass_names, bass_skins
from viewer.page.controls import hex_colour, layer_switches, level_scale, rounded, sizes, views
from viewer.page.names import names
from viewer.page.skins import skins
from viewer.page.words import (
    WORDS,
    group_of,
    mains,
    path_rows,
    path_sentence,
    peak_figures,
    peak_rows,
    peak_sentence,
    peak_way,
    weaker,
)
from viewer.pictures import Layer, Stage, column, is_part, loops_of, meshes, parts, proud_m, set_stage
from viewer.words import hidden, judged, judged_how, named_rows, seat_words, speaker_words, today, told

if TYPE_CHECKING:
    from raytrace import Bass
    from viewer.pictures import Mesh

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
    peaks_elsewhere: dict[Peak, str]
    units: str
    hooks: tuple[Hook, ...]


def page_contents(
    study: Study, after: Study | None = None, *, units: str = "metric", bass: "Bass | None" = None
) -> Contents:
    """All that the page shows of one study, or of two that it switches between.

    Parameters
    ----------
    study : Study
        A finished run.
    after : Study, optional
        The same room once changed; the page then opens with it and calls `study` "Before".
    units : {"metric", "imperial"}
        Of the sizes of panels.
    bass : Bass, optional
        Of the room as it is in the end; the floor then shows how even each place makes it.
    """
    if after is None:
        moments = [_moment("Today", study, {}, {}, units)]
    else:
        comparison = compare(study, after)
        moments = [
            _moment("Before", study, *_counterparts(comparison, "after"), units),
            _moment("After", after, *_counterparts(comparison, "before"), units),
        ]
    layers = layer_switches(
        has_undecided=any(verdict.n_undecided for moment in moments for verdict in judged(moment.study)),
        has_patches=any(stage.patches.n_cells for moment in moments for stage in moment.stages),
        has_objects=any(moment.study.scene.objects for moment in moments),
        has_panels=any(moment.study.room.panels for moment in moments),
        has_bass=bass is not None,
    )
    states = [_state(moment) for moment in moments]
    if bass is not None:
        states[-1]["skins"] += bass_skins(bass, moments[-1].study)
        states[-1]["names"] = bass_names(bass, moments[-1].study) + states[-1]["names"]
    return {
        "states": states,
        "change": "" if after is None else headline(comparison),
        "seats": _shared([_seats(moment.study) for moment in moments]),
        "speakers": _shared([_speakers(moment.study) for moment in moments]),
        "layers": layers,
        "layers_on": {layer["key"]: layer["key"] not in ("others", "bass") for layer in layers},
        "views": views(moments[-1].stages[0]),
        "view": sizes(moments[-1].stages[0]),
        "look": {"ink": look.INK, "edge": look.EDGE, "accent": look.ACCENT, "hook": look.PANEL_EDGE},
        "scale": level_scale(),
        "words": WORDS,
        "notes": _notes(moments, units),
    }


def _notes(moments: list[_Moment], units: str) -> list[str]:
    """Limits of the method and cautions, each once."""
    notes = dict.fromkeys(note for m in moments for note in m.study.notes)
    cautions = dict.fromkeys(caution for m in moments for caution in m.study.cautions)
    return [*(told(note, units) for note in notes), *cautions]


def _moment(
    name: str, study: Study, elsewhere: dict[int, str], peaks_elsewhere: dict[Peak, str], units: str
) -> _Moment:
    stages = tuple(set_stage(study, seat) for seat in range(len(study.scene.seats)))
    hooks = find_hooks(study.scene, study.room)
    return _Moment(name, study, stages, elsewhere, peaks_elsewhere, units, hooks)


def _counterparts(
    comparison: Comparison, there: Literal["before", "after"]
) -> tuple[dict[int, str], dict[Peak, str]]:
    """For each reflection of one study a sentence on how strong it is in the other, by row and by peak."""
    here = "before" if there == "after" else "after"
    study: Study = getattr(comparison, there)
    rows: dict[int, str] = {}
    for pair in comparison.arrivals:
        row, other = getattr(pair, here), getattr(pair, there)
        if row is not None:
            what = _MISSING[there] if other is None else weaker(float(study.arrivals.zone_worst_db[other]))
            rows[row] = f" {there.capitalize()}: {what}."
    peaks: dict[Peak, str] = {}
    for both in comparison.peaks:
        peak, twin = getattr(both, here), getattr(both, there)
        if peak is not None:
            what = _MISSING[there] if twin is None else weaker(twin.level_db)
            peaks[peak] = f" {there.capitalize()}: {what}."
    return rows, peaks


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
        "skins": skins(stages, moment.hooks, moment.units),
        "edges": _edges(stage),
        "lines": _lines(stages),
        "hooks": [rounded(hook.anchor) for hook in moment.hooks],
        "direct": _direct(stages),
        "paths": [_path(moment, row) for row in path_rows(study)],
        "findings": [judged_how(study), *today(study)],
        "hidden": [_place(study, verdict) for verdict in hidden(study)],
        "peaks": [_peak(moment, peak) for peak in peak_rows(study)],
        "names": names(stage),
    }


def _segments(mesh: "Mesh") -> list[Any]:
    """Lines as pairs of points."""
    return [rounded(line[i : i + 2]) for line in loops_of(mesh) for i in range(len(line) - 1)]


def _edges(stage: Stage) -> list[Contents]:
    """Edges with the facets that meet there: drawn while one of them is turned to the viewer.

    None are named for the edges of what stands against a wall: those are always drawn.
    """
    edges = []
    around = column(stage.edges, "facets", 4).astype(np.int64)
    switches = np.where(is_part(stage.edges, "furniture"), "objects", "room").tolist()
    for line, met, switch in zip(loops_of(stage.edges), around, switches, strict=True):
        facets = [int(facet) for facet in met if facet >= 0]
        if any(stage.leaning[facet] for facet in facets):
            facets = []
        edges.append({"ends": rounded(line), "facets": facets, "layer": switch})
    return edges


_LINES = {"pane edges": "pane", "zone edges": "zone", "panel edges": "panel", "cords": "cord", "axes": "axis"}


def _lines(stages: tuple[Stage, ...]) -> list[Contents]:
    """Outlines of windows, doors, head ranges and areas, and where speakers point."""
    study, palette = stages[0].study, look.PRINT
    makers = (parts.panes, parts.seats, parts.panels, parts.speakers)
    layers = {name: layer for make in makers for name, layer in make(stages[0], palette).items()}
    lines = [
        _line(layers[name], "panels" if kind in ("panel", "cord") else "room", kind)
        for name, kind in _LINES.items()
        if layers[name].mesh.n_cells
    ]
    for stage in stages:
        owners = column(stage.patch_edges, "facets", 4).astype(np.int64)
        edges = parts.area_edges(stage, palette, stage.patch_edges)
        for row, met in enumerate(owners):
            patch = study.treatment_areas[int(met[0])]
            heard = {
                "seat": study.scene.seats[patch.seat].name,
                "speaker": study.scene.speakers[patch.speaker].name,
            }
            lines.append(_line(edges.only(np.arange(len(owners)) == row), "patches", "patch") | heard)
    return lines


def _line(layer: Layer, switch: str, kind: str) -> Contents:
    return {
        "kind": kind,
        "layer": switch,
        "radius": layer.radius_m,
        "colour": hex_colour(layer.colours[0]),
        "segments": _segments(layer.mesh),
    }


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
    level = float(table.level_re_limit_db[row])
    spots = meshes.spots(study, np.array([row]))
    touched = _touched(study, spots)
    ends = table.path_points[row, [0, int(table.order[row]) + 1]]
    is_first = int(table.order[row]) == 1
    return {
        "seat": table.seat_names[table.seat[row]],
        "speaker": table.speaker_names[table.speaker[row]],
        "layer": group_of(study, row),
        "points": rounded(np.vstack([ends[:1], touched, ends[1:]])),
        "spots": [[at, n] for at, n in zip(rounded(touched), rounded(spots.normals, 4), strict=True)],
        "colour": _level_colour(level),
        "radius": (look.TUBE_M if is_first else look.TUBE_HIGHER_M) * moment.stages[0].scale,
        "text": path_sentence(study, row) + moment.elsewhere.get(row, ""),
    }


def _peak(moment: _Moment, peak: Peak) -> Contents:
    """A reflection as verdicts count it: one line of the page's lists, with the lines that it is drawn as."""
    study = moment.study
    drawn = path_rows(study)
    rows = [row for row in named_rows(study, peak) if row in drawn]
    short, against_limit = peak_figures(peak)
    return {
        **_place(study, peak),
        "paths": [drawn.index(row) for row in rows],
        "way": peak_way(study, peak),
        "short": short,
        "verdict": peak.verdict,
        "against_limit": against_limit,
        "colour": _level_colour(-peak.margin_db),
        "text": peak_sentence(study, peak) + moment.peaks_elsewhere.get(peak, ""),
    }


def _place(study: Study, what: Peak | Verdict) -> Contents:
    """Who is heard where, by the names that the page's choices have."""
    table = study.arrivals
    return {"seat": table.seat_names[what.seat], "speaker": table.speaker_names[what.speaker]}


def _level_colour(level_re_limit_db: float) -> str:
    return hex_colour(look.level_colours(np.array([level_re_limit_db]))[0])


def _touched(study: Study, spots: meshes.Spots) -> Floats:
    """Where spots are seen: on the face of a panel that covers them, else on their surface."""
    proud = np.array([proud_m(study, int(panel)) for panel in spots.panel])
    return np.asarray(spots.points + proud[:, None] * spots.normals)

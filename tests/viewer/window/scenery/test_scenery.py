"""What the window's room is made of, by its numbers."""

from dataclasses import replace

import numpy as np
import pytest

from raytrace import find_hooks
from tests.support.studies import shipped_study
from viewer.pictures import column, loops_of, meshes, set_stage
from viewer.window.scenery import scenery
from viewer.window.scenery.marks import marks
from viewer.window.scenery.names import find_names, place_names
from viewer.window.state import LAYERS, Cut, Filter, OnScreen, named_view, path_key, with_layer

SIZE = (1000, 620)


@pytest.fixture(scope="module")
def shown():
    study = shipped_study("treated-box", up_to_order=2)
    stage = set_stage(study)
    return OnScreen(study=study, stage=stage, eye=named_view(stage, "room", SIZE))


def everything(shown):
    camera = shown.eye.camera(SIZE)
    parts = [scenery.walls(shown), scenery.edges(shown, camera), scenery.panes(shown, camera)]
    parts.append(scenery.panels(shown, camera))
    parts.append(marks(shown))
    makers = (
        "speakers",
        "seats",
        "sound",
        "near_misses",
        "spots",
        "areas",
        "picked_out",
        "balls",
        "measures",
    )
    parts += [getattr(scenery, name)(shown) for name in makers]
    return {name: layer for part in parts for name, layer in part.items()}


def test_every_layer_has_one_colour_per_cell_in_both_themes(shown):
    for theme in ("light", "dark"):
        chosen = path_key(shown.study, 0)
        full = replace(shown, theme=theme, chosen=chosen, time_s=0.003, layers=frozenset(LAYERS))
        layers = everything(full)
        assert len(layers) > 20
        for name, layer in layers.items():
            assert layer.colours.shape == (layer.mesh.n_cells, 3), name
            assert layer.mesh.n_cells == 0 or 0 <= layer.colours.min() <= layer.colours.max() <= 1, name


def test_layers_that_are_off_are_empty(shown):
    for layer, names in {
        "panels": ("panels", "panel edges", "cords"),
        "spots": ("spots", "spot rings"),
        "paths": ("paths",),
        "dimensions": ("dimensions",),
    }.items():
        off = everything(with_layer(shown, layer, False))
        assert all(off[name].mesh.n_cells == 0 for name in names)


def test_the_sound_is_at_the_speakers_when_it_starts_and_at_the_ears_with_its_delay(shown):
    table = shown.study.arrivals
    row = int(np.flatnonzero(table.order == 1)[0])
    at_ears = replace(shown, time_s=float(table.delay_s[row]) - 1e-9)
    centres = [loop.mean(axis=0) for loop in loops_of(scenery.balls(at_ears)["balls"].mesh)]
    ears = np.array(shown.study.scene.seats[0].ears)
    reach = scenery.BALL_M * shown.stage.scale
    assert min(np.linalg.norm(np.array(centres) - ears, axis=1)) <= reach
    start = replace(shown, time_s=-float(table.direct.delay_s[0]) + 1e-9)
    centres = [loop.mean(axis=0) for loop in loops_of(scenery.balls(start)["balls"].mesh)]
    speakers = np.array([s.position for s in shown.study.scene.speakers])
    away = np.linalg.norm(np.array(centres)[:, None] - speakers[None], axis=2).min(axis=1)
    assert away.max() <= 1.5 * reach  # the other speaker may be a hair nearer


def test_cords_run_from_the_eyelets_of_hooks_to_what_holds_them(shown):
    cords = loops_of(scenery.panels(shown, shown.eye.camera(SIZE))["cords"].mesh)
    study = shown.study
    hooks = [hook for hook in find_hooks(study.scene, study.room) if hook.kind == "cord"]
    assert len(cords) == len(hooks) > 0
    ends = np.array([[hook.eyelet, hook.anchor] for hook in hooks])
    assert np.abs(np.array(cords) - ends).max() < 1e-6  # single precision


def test_edges_between_faces_that_are_turned_away_are_left_out(shown):
    camera = shown.eye.camera(SIZE)
    drawn = scenery.edges(shown, camera)["edges"].mesh
    around = column(drawn, "facets", 4).astype(int)
    seen = scenery.seen_facets(shown.stage, camera)
    assert (seen[around] & (around >= 0)).any(axis=1).all()
    assert not seen.all()


def test_dimension_lines_measure_the_room(shown):
    lengths = [length for *_, length in scenery.dimension_lines(with_layer(shown, "dimensions", True))]
    room = shown.study.scene.room
    assert lengths[:3] == pytest.approx([room.length, room.width, room.height], abs=1e-9)


def test_dimension_lines_tell_heights_from_the_floor_itself(shown):
    full = with_layer(shown, "dimensions", True)
    lengths = [length for *_, length in scenery.dimension_lines(full)][3:]
    scene = full.study.scene
    places = [*(speaker.position for speaker in scene.speakers), scene.seats[full.seat].ears]
    assert len(lengths) == 3 * len(places) > 0
    assert lengths == pytest.approx(np.concatenate(places), abs=1e-9)  # from front wall, left wall, floor


@pytest.mark.parametrize("view", ["room", "plan", "section", "seat"])
def test_names_touch_neither_each_other_nor_the_edge_of_the_picture(shown, view):
    full = replace(shown, layers=frozenset(LAYERS), eye=named_view(shown.stage, view, SIZE), view=view)
    placed = place_names(find_names(full), full.eye.camera(SIZE), lambda text: 7.0 * len(text))
    assert len(placed) > 4
    boxes = [(p.left, p.bottom - p.size_px, p.left + 7.0 * len(p.text), p.bottom) for p in placed]
    for i, (left, top, right, bottom) in enumerate(boxes):
        assert min(left, top) >= 0
        assert right <= SIZE[0]
        assert bottom <= SIZE[1]
        for left2, top2, right2, bottom2 in boxes[:i]:
            assert right <= left2 or right2 <= left or bottom <= top2 or bottom2 <= top


def test_a_cut_is_part_of_the_record_only(shown):
    assert (
        everything(replace(shown, cut=Cut(1, 0.5)))["walls"].mesh.n_cells
        == everything(shown)["walls"].mesh.n_cells
    )


def test_near_misses_are_drawn_on_demand_at_the_seat_and_for_the_speaker_asked_for():
    study = shipped_study("garage", up_to_order=2)
    stage = set_stage(study)
    plain = OnScreen(study=study, stage=stage, eye=named_view(stage, "room", SIZE), filter=Filter(seat=0))
    assert scenery.near_misses(plain)["near misses"].mesh.n_cells == 0
    full = with_layer(plain, "near", True)
    every = scenery.near_misses(full)["near misses"]
    left = scenery.near_misses(replace(full, filter=Filter(seat=0, speaker=0)))["near misses"]
    assert 0 < left.mesh.n_cells < every.mesh.n_cells
    near = study.arrivals.near_misses
    early = near.delay_s <= study.scene.limits.within_ms / 1e3
    wanted = early & (near.seat == 0) & (near.speaker == 0)
    legs_m = np.linalg.norm(np.diff(near.path_points[wanted], axis=1), axis=2)
    drawn_m = sum(np.linalg.norm(line[1] - line[0]) for line in loops_of(left.mesh))
    # Dashes are three fifths of their lines, and the last of a leg may be cut short or whole.
    assert drawn_m == pytest.approx(0.6 * np.nansum(legs_m), rel=0.05)


def test_a_spot_on_a_panel_lies_on_the_panels_face(shown):
    main, _ = scenery.main_rows(shown)
    first = main[shown.study.arrivals.order[main] == 1]
    found = meshes.spots(shown.study, first)
    on_panel = np.flatnonzero(found.panel >= 0)
    assert len(on_panel)
    centres = np.array([loop.mean(axis=0) for loop in loops_of(scenery.spots(shown)["spots"].mesh)])
    for i in on_panel:
        panel = shown.study.room.panels[found.panel[i]]
        # The face of the panel, and not the wall behind it, is what the disc stands before.
        off_m = (centres[i] - panel.corners[0]) @ found.normals[i]
        assert 0.0 < off_m < 0.05


def test_what_stands_before_the_surface_that_is_faced_is_as_if_of_glass(shown):
    for view, is_glass in (("room", False), ("plan", False), ("", False), ("left wall", True)):
        here = replace(shown, view=view)
        parts = {**scenery.speakers(here), **scenery.seats(here), **scenery.walls(here)}
        for name in ("speakers", "drivers", "heads", "furniture"):
            assert (parts[name].opacity < 0.5) == is_glass, (view, name)
        assert parts["walls"].opacity == 1.0

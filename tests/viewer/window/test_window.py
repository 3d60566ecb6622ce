"""The window by real mouse and key events: what is selected, what moves, what is undone and saved."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QLabel

from raytrace import load_scene, run_study
from tests.support.extremes import WALLS, name_of, written
from tests.support.pixels import pixel_of_spot, pixel_of_thing
from tests.support.windows import SCENES, driver
from viewer.window.scenery import marks
from viewer.window.state import counts_words, path_key, place_of, row_of, thing_at, with_filter
from viewer.words import peak_of

__all__ = ["driver"]
SCREEN = """
[[objects]]
name = "screen"
shape = "box"
centre = [1.25, 1.5, 0.85]
size = ["30 mm", 2.8, 1.7]
material = "wood"
"""
ALL_SCENES = sorted(path.stem for path in SCENES.glob("*.toml"))


@pytest.mark.slow
@pytest.mark.parametrize("name", ALL_SCENES)
def test_every_scene_opens_and_is_drawn(driver, name):
    shown = driver.open(SCENES / f"{name}.toml")
    assert not driver.asked
    assert shown.settled
    picture = driver.window.main.room.picture()
    ground = picture[2, 2].astype(int)
    drawn = (np.abs(picture.astype(int) - ground).max(axis=2) > 12).mean()
    assert 0.1 < drawn < 0.95  # a room fills a good part of the view, and leaves some of it empty


@pytest.mark.slow
@pytest.mark.parametrize("case", [("black", WALLS[:1]), ("black", WALLS), ("white", WALLS)], ids=name_of)
def test_rooms_that_absorb_nothing_or_everything_are_drawn(driver, tmp_path, case):
    shown = driver.open(Path(written(tmp_path, case)))
    assert shown.settled
    assert driver.window.main.room.picture().std() > 1.0


def test_selecting_in_list_tape_or_room_selects_in_all(driver):
    shown = driver.open(SCENES / "box.toml")
    table = shown.study.arrivals
    ceiling = [
        r
        for r in range(len(table.order))
        if table.order[r] == 1
        and table.spots[r, 0, 0] > 0
        and shown.study.room.surfaces[table.path_surfaces[r, 0]].name == "ceiling"
    ]
    window = driver.window
    driver.click(driver.surface, pixel_of_spot(window, ceiling[0]))
    assert window.shown.chosen == path_key(shown.study, ceiling[0])
    assert window.main.list.table.currentIndex().row() == window.main.list.model.rows.index(ceiling[0])
    driver.click(window.main.strip, window.main.strip.pixel_of_row(int(np.flatnonzero(table.order == 1)[-1])))
    assert window.shown.chosen_row is not None
    assert table.order[window.shown.chosen_row] == 1
    assert window.shown.chosen_row != ceiling[0]
    window.main.list.table.selectRow(window.main.list.model.rows.index(ceiling[1]))
    assert window.shown.chosen_row == ceiling[1]


def test_pointing_at_a_spot_tells_surface_delay_level_and_millimetres(driver):
    shown = driver.open(SCENES / "box.toml")
    table = shown.study.arrivals
    row = next(
        r
        for r in range(len(table.order))
        if table.order[r] == 1 and shown.study.room.surfaces[table.path_surfaces[r, 0]].name == "ceiling"
    )
    driver.point(driver.surface, pixel_of_spot(driver.window, row))
    words = driver.window.selecting.words_pointed
    assert "ceiling" in words
    assert "ms after the direct sound" in words
    assert "mm from the front" in words
    assert f"{table.spots[row, 0, 0] * 1e3:.0f} mm" in words


@pytest.mark.parametrize("kind", ["speakers", "seats"])
def test_dragging_a_thing_moves_it_over_the_floor_and_undo_gives_the_same_bytes(driver, kind):
    path = driver.copy("garage")
    before = path.read_bytes()
    shown = driver.open(path)
    window, old = driver.window, shown.study
    height = {"speakers": old.scene.speakers, "seats": old.scene.seats}[kind][0]
    window.looking.view_plan()
    driver.drag(pixel_of_thing(window, (kind, 0)), (30, 22))
    driver.rest()
    moved = getattr(window.shown.study.scene, kind)[0]
    place = (lambda entry: entry.position) if kind == "speakers" else (lambda entry: entry.ears)
    assert place(moved)[2] == place(height)[2]
    assert np.linalg.norm(np.subtract(place(moved), place(height))) > 0.02
    assert window.session.draft.dirty
    assert path.read_bytes() == before
    window.editing.undo()
    driver.rest()
    assert window.session.draft.text.encode() == before
    assert place(getattr(window.shown.study.scene, kind)[0]) == place(height)


def test_shift_moves_a_thing_up_and_nowhere_else(driver):
    shown = driver.open(driver.copy("box"))
    old = shown.study.scene.speakers[1].position
    window = driver.window
    driver.drag(pixel_of_thing(window, ("speakers", 1)), (0, -30), Qt.KeyboardModifier.ShiftModifier)
    driver.rest()
    new = window.shown.study.scene.speakers[1].position
    assert new[:2] == old[:2]
    assert new[2] > old[2] + 0.02


def test_arrivals_follow_at_the_ears_while_the_hand_moves_and_in_full_when_it_rests(driver):
    shown = driver.open(driver.copy("garage"))
    window, found = driver.window, []
    window.session.found.connect(found.append)
    window.looking.view_plan()
    first = shown.study.arrivals.direct.length_m[0]
    driver.drag(pixel_of_thing(window, ("speakers", 0)), (40, 0), release=False)
    driver.qtbot.waitUntil(lambda: bool(found) and found[-1].settled, timeout=20_000)
    moving = [f for f in found if not f.settled]
    assert moving
    assert all(len(f.study.arrivals.at_points) == 3 for f in moving)  # one listening point per speaker
    held = found[-1].study
    assert held.arrivals.direct.length_m[0] != first
    assert len(held.arrivals.at_points) > 9  # the head zone of both main speakers
    assert held.treatment_areas
    assert len(held.arrivals.near_misses.order) > 0  # the desk has edges
    assert not window.session.draft.dirty  # nothing is let go yet


def test_furniture_is_pulled_along_the_floor_as_one_step_that_undo_takes_back(driver):
    path = driver.copy("garage")
    before = path.read_bytes()
    shown = driver.open(path)
    window, old = driver.window, shown.study.scene.objects[0].centre
    window.looking.view_plan()
    at = pixel_of_thing(window, ("objects", 0))
    assert thing_at(shown.study, window.main.room.camera, at) == ("objects", 0)
    driver.drag(at, (0, 9))
    driver.rest()
    new = window.shown.study.scene.objects[0].centre
    assert new[0] > old[0] + 0.02
    assert new[0] == pytest.approx(round(new[0], 2), abs=1e-9)
    assert new[2] == old[2]
    assert window.shown.thing == ("objects", 0)
    window.editing.undo()
    driver.rest()
    assert window.session.draft.text.encode() == before
    assert not window.session.history.can_undo


def test_where_furniture_cannot_stand_it_is_outlined_and_told_and_nothing_is_changed(driver):
    path = driver.copy("garage")
    shown = driver.open(path)
    window = driver.window
    window.looking.view_section()
    start, place = pixel_of_thing(window, ("objects", 0)), shown.study.scene.objects[0].centre
    ears = shown.study.scene.seats[0].ears
    target = window.main.room.camera.project(np.array([ears[0], place[1], ears[2]]))
    # Up into the listener's head: seen from the side a thing moves in the picture's plane.
    driver.drag(start, (float(target[0]) - start[0], float(target[1]) - start[1]), release=False)
    driver.qtbot.waitUntil(lambda: bool(window.shown.trouble), timeout=20_000)
    assert "Not possible there" in window.shown.trouble
    assert window.shown.wanted is not None
    assert marks(window.shown)["refused mark"].mesh.n_cells > 4
    driver.send(driver.surface, QEvent.Type.MouseButtonRelease, tuple(float(x) for x in target))
    driver.rest()
    assert window.shown.study.scene.objects[0].centre == place
    assert not window.session.draft.dirty


def test_the_room_keeps_its_size_whatever_is_selected_or_changed(driver):
    driver.open(driver.copy("treated-box"))
    window = driver.window
    size = window.main.room.size_px
    for thing in (("speakers", 0), ("clouds", 0), ("panels", 0)):
        window.screen.change(thing=thing)
        driver.qtbot.wait(20)
        assert window.main.room.size_px == size
    window.editing.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.rest()
    assert window.main.views.before.isVisible()
    assert window.main.room.size_px == size
    table_top = window.main.list.table.geometry().top()
    window.screen.change(
        trouble="Not possible there: for a reason that takes more than one line to say it in full"
    )
    driver.qtbot.wait(20)
    assert window.main.list.table.geometry().top() == table_top


def test_cut_walls_stay_in_the_picture_of_a_named_view(driver):
    from viewer.pictures import loops_of
    from viewer.window.scenery import cut_faces

    driver.open(SCENES / "box.toml")
    window = driver.window
    window.looking.view_section()
    fitted = window.shown.eye
    window.looking.toggle_cut(True)
    bands = np.concatenate(loops_of(cut_faces(window.shown)["cut walls"].mesh))
    pixels, (width, height) = window.main.room.camera.project(bands), window.main.room.size_px
    assert pixels.min() >= 0
    assert (pixels <= [width, height]).all()
    window.looking.toggle_cut(False)
    assert window.shown.eye == fitted


def test_a_click_on_a_spot_of_the_desk_selects_the_reflection_there(driver):
    shown = driver.open(driver.copy("garage"))
    window, table = driver.window, shown.study.arrivals
    window.looking.view_plan()
    tops = [
        r
        for r in range(len(table.order))
        if table.order[r] == 1
        and shown.study.room.surfaces[table.path_surfaces[r, 0]].name == "desk top"
        and table.speaker[r] == 1
    ]
    window.screen.put(with_filter(window.shown, surface="desk top", speaker=1, order=1))
    driver.click(driver.surface, pixel_of_spot(window, tops[0]))
    assert window.shown.chosen_row == tops[0]
    assert window.shown.thing == ("objects", 0)
    assert not window.session.draft.dirty


def test_a_place_outside_the_room_is_refused_in_words_and_changes_nothing(driver):
    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    window.screen.change(thing=("speakers", 0))
    window.editing.place(("speakers", 0), (9.0, 1.0, 1.2))
    assert "outside the room" in window.shown.trouble
    driver.rest()
    assert not window.session.draft.dirty


def test_typed_lengths_move_the_selected_thing_and_saving_keeps_the_comments(driver):
    path = driver.copy("box")
    comments = [line for line in path.read_text().splitlines() if line.startswith("#")]
    driver.open(path)
    window = driver.window
    window.screen.change(thing=("seats", 0))
    field = window.main.place.fields[0]
    field.setFocus()
    field.selectAll()
    driver.qtbot.keyClicks(field, "1850 mm")
    driver.qtbot.keyClick(field, "\r")
    driver.rest()
    assert window.shown.study.scene.seats[0].ears[0] == 1.85
    assert window.filing.save()
    text = path.read_text()
    assert [line for line in text.splitlines() if line.startswith("#")] == comments
    assert load_scene(path).seats[0].ears[0] == 1.85
    assert driver.open(path).study.scene.seats[0].ears[0] == 1.85


def test_lengths_typed_one_after_the_other_are_all_kept(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    window.editing.choose(("speakers", 0))
    before = window.session.scene.speakers[0].position
    first, second, _ = window.main.place.fields
    driver.type(first, "0.9")
    driver.type(second, "0.95")  # before any study of the first is there
    assert window.session.scene.speakers[0].position == (0.9, 0.95, before[2])


def test_the_selected_reflection_stays_selected_while_its_speaker_moves(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    window.selecting.strongest_row()
    way = window.shown.chosen
    window.editing.place(("speakers", 0), (0.8, 0.95, 1.2))
    driver.rest()
    assert window.shown.chosen == way
    assert row_of(window.shown.study, way) == window.shown.chosen_row


def test_filters_and_headings_change_what_is_listed_and_in_which_sequence(driver):
    shown = driver.open(SCENES / "garage.toml")
    window, table = driver.window, shown.study.arrivals
    window.main.list.combos["order"].setCurrentIndex(1)
    window.main.list.combos["order"].activated.emit(1)
    assert set(table.order[window.main.list.model.rows]) == {1}
    window.main.list.sorted.emit("level")
    levels = table.band_level_db[window.main.list.model.rows]
    assert (np.diff(levels) <= 0).all()
    window.main.list.over_only.setChecked(True)
    assert len(window.main.list.model.rows) < len(levels)
    assert all(peak_of(shown.study, row).may_be_over for row in window.main.list.model.rows)


def test_a_screen_before_both_speakers_is_named_in_list_tape_and_status_line(driver):
    scene = driver.copy("box")
    scene.write_text(scene.read_text() + SCREEN)
    shown = driver.open(scene)
    main = driver.window.main
    assert main.list.verdict.text().count("Not judged: the screen hides the direct sound.") == 2
    assert main.statusBar().findChildren(QLabel)[0].text() == counts_words(shown.study, 0)
    assert "left: not judged, the screen hides it" in counts_words(shown.study, 0)
    main.list.sorted.emit("limit")
    limits = {main.list.model.index(i, 4).data() for i in range(main.list.model.rowCount())}
    assert limits == {"not judged"}


def test_a_peak_without_a_path_to_the_ears_is_listed_but_cannot_be_selected(driver):
    shown = driver.open(SCENES / "box.toml")
    window = driver.window
    own = next(p for p in shown.study.peaks if p.verdict == "over")
    beside = replace(own, arrivals=(), delay_s=0.0)
    window.screen.change(study=replace(shown.study, peaks=(beside,)), as_peaks=True)
    assert (window.main.list.model.rows, window.main.list.rows) == ([None], [])
    window.main.list.table.selectRow(0)
    window.selecting.next_row()
    assert window.shown.chosen is None
    assert window.main.list.model.index(0, 4).data().endswith(" over")


def test_before_shows_the_file_as_it_was_and_after_the_change(driver):
    driver.open(driver.copy("box"))
    window = driver.window
    old = window.shown.study.scene.speakers[0].position
    window.editing.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.rest()
    window.editing.toggle_before(True)
    assert window.shown.study.scene.speakers[0].position == old
    window.editing.toggle_before(False)
    assert window.shown.study.scene.speakers[0].position == (0.9, 0.95, 1.2)


def test_a_broken_file_is_refused_in_its_own_words_and_what_was_open_stays(driver):
    driver.open(SCENES / "box.toml")
    broken = driver.folder / "broken.toml"
    broken.write_text((SCENES / "box.toml").read_text().replace("width", "widht"))
    assert not driver.window.filing.open(broken)
    assert "did you mean" in driver.asked[-1][1]
    assert driver.window.session.draft.path == SCENES / "box.toml"


def test_unsaved_changes_are_asked_about_before_they_are_lost(driver):
    path = driver.copy("box")
    driver.open(path)
    window = driver.window
    window.editing.place(("speakers", 0), (0.9, 0.95, 1.2))
    driver.answers = [2]
    assert not window.filing.may_leave()
    driver.answers = [0]
    assert window.filing.may_leave()
    assert load_scene(path).speakers[0].position == (0.9, 0.95, 1.2)
    assert [title for title, _ in driver.asked] == ["Save the changes?"] * 2
    driver.rest()


@pytest.mark.slow
def uncovered(window, thing):
    """A pixel of a panel of a group that nothing else covers."""
    study, camera = window.shown.study, window.main.room.camera
    own = [panel for panel in study.room.panels if panel.key[:2] == thing]
    pixels = [tuple(float(x) for x in camera.project(panel.centre)) for panel in own]
    return next(at for at in pixels if thing_at(study, camera, at) == thing)


@pytest.mark.parametrize("kind", ["panels", "clouds"])
def test_a_panel_or_a_whole_cloud_is_pulled_along_its_surface_and_put_back_by_undo(driver, kind):
    path = driver.copy("treated-box")
    before = path.read_bytes()
    shown = driver.open(path)
    window = driver.window
    surface = getattr(shown.study.scene, kind)[0].surface
    window.looking.view(surface)
    old = place_of(shown.study, (kind, 0))
    n_panels = len(shown.study.room.panels)
    at = uncovered(window, (kind, 0))
    # The cloud nearly fills the width of its room.
    driver.drag(at, (24, 0) if kind == "panels" else (0, 24))
    driver.rest()
    new = place_of(window.shown.study, (kind, 0))
    assert window.shown.trouble == ""
    assert np.abs(np.subtract(new, old)[:2]).max() > 0.02
    assert len(window.shown.study.room.panels) == n_panels
    window.editing.undo()
    driver.rest()
    assert window.session.draft.text.encode() == before


def test_panels_that_mirror_each_other_move_as_one_until_they_are_parted(driver):
    path = driver.copy("treated-box")
    before = path.read_bytes()
    driver.open(path)
    window = driver.window
    left, right = (np.array(window.shown.study.scene.panels[k].centre) for k in (0, 1))
    window.editing.choose(("panels", 0))
    assert "and its mirror image" in window.main.place.name.text()
    window.editing.place(("panels", 0), (2.80, 1.25))
    driver.rest()
    scene = window.shown.study.scene
    # Facing a side wall u runs to the front on one and to the back on the other; texts hold millimetres.
    assert np.subtract(scene.panels[0].centre, left) == pytest.approx([-0.15, 0.05], abs=5e-4)
    assert np.subtract(scene.panels[1].centre, right) == pytest.approx([0.15, 0.05], abs=5e-4)
    window.editing.undo()
    driver.rest()
    assert window.session.draft.text.encode() == before
    window.editing.toggle_pairs(False)
    assert "mirror" not in window.main.place.name.text()
    window.editing.place(("panels", 0), (2.80, 1.25))
    driver.rest()
    assert window.shown.study.scene.panels[1].centre == tuple(right)


def test_pulling_one_panel_of_a_pair_takes_the_other_along(driver):
    driver.open(driver.copy("treated-box"))
    window = driver.window
    window.looking.view("left wall")
    driver.drag(uncovered(window, ("panels", 0)), (24, 0))
    driver.rest()
    own, other = (window.shown.study.scene.panels[k].centre for k in (0, 1))
    assert window.shown.trouble == ""
    assert abs(own[0] - 2.95) > 0.02
    # The walls are 4.2 m long, and both texts hold millimetres.
    assert own[0] + other[0] == pytest.approx(4.2, abs=1e-3)


def test_shift_lowers_a_cloud(driver):
    shown = driver.open(driver.copy("treated-box"))
    window = driver.window
    window.looking.view_section()
    old = place_of(shown.study, ("clouds", 0))
    driver.drag(uncovered(window, ("clouds", 0)), (0, 9), Qt.KeyboardModifier.ShiftModifier)
    driver.rest()
    new = place_of(window.shown.study, ("clouds", 0))
    assert window.shown.trouble == ""
    assert new[:2] == pytest.approx(old[:2], abs=1e-9)
    assert new[2] > old[2] + 0.005
    assert window.shown.study.scene.clouds[0].drop == new[2]


def test_arrow_keys_move_what_is_selected_by_ten_millimetres(driver):
    shown = driver.open(driver.copy("box"))
    window = driver.window
    old = shown.study.scene.speakers[0].position
    window.editing.next_thing()
    assert window.shown.thing == ("speakers", 0)
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Down, Qt.Key.Key_PageUp):
        driver.qtbot.keyClick(driver.surface, key)
    driver.rest()
    assert window.shown.study.scene.speakers[0].position == pytest.approx(np.add(old, 0.01), abs=1e-9)


def test_dragging_beside_everything_turns_the_room_and_moves_nothing(driver):
    driver.open(SCENES / "box.toml")
    window = driver.window
    eye = window.shown.eye
    driver.drag((8, 8), (60, 20))
    assert window.shown.eye.azimuth_deg != eye.azimuth_deg
    assert window.shown.eye.distance_m == eye.distance_m
    assert not window.session.draft.dirty


def test_a_speaker_that_is_dragged_near_its_mirror_image_stays_there(driver):
    shown = driver.open(driver.copy("box"))
    window = driver.window
    window.looking.view_plan()
    left, right = (s.position for s in shown.study.scene.speakers[:2])
    driver.drag(pixel_of_thing(window, ("speakers", 1)), (40, 40))
    driver.rest()
    start = pixel_of_thing(window, ("speakers", 1))
    image = window.main.room.camera.project(np.array(right))
    driver.drag(start, (float(image[0]) - start[0] + 1, float(image[1]) - start[1] + 1))
    driver.rest()
    axis = shown.study.scene.seats[0].ears[1]
    new = window.shown.study.scene.speakers[1].position
    assert new == pytest.approx((left[0], 2 * axis - left[1], left[2]), abs=1e-9)


@pytest.mark.slow
def test_memory_does_not_grow_with_openings(driver, monkeypatch):
    import resource
    from pathlib import Path

    monkeypatch.setattr("viewer.window.session.session.run_study", run_study)  # a study of its own each time

    def memory_mb():
        return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 2**20

    kept = []
    for i in range(13):
        driver.open(SCENES / "box.toml")
        if i in (2, 12):
            kept.append(memory_mb())
    assert kept[1] - kept[0] < 30.0  # ten studies with their pictures, were they kept, are 80 and more


def test_a_click_on_a_thing_selects_it_and_moves_nothing(driver):
    shown = driver.open(driver.copy("box"))
    window = driver.window
    x, y = pixel_of_thing(window, ("speakers", 0))
    driver.drag((x, y), (1, 1), moves=2)
    assert window.shown.thing == ("speakers", 0)
    assert window.shown.settled
    assert not window.session.draft.dirty
    assert window.shown.study is shown.study


def test_a_hand_faster_than_the_window_is_followed_picture_by_picture(driver, monkeypatch):
    driver.open(driver.copy("box"))
    window, session, asked = driver.window, driver.window.session, []
    ask = session.worker.ask
    monkeypatch.setattr(session.worker, "ask", lambda name, job: (asked.append(name[0]), ask(name, job)))
    start, held = pixel_of_thing(window, ("speakers", 0)), Qt.MouseButton.LeftButton
    driver.send(driver.surface, QEvent.Type.MouseButtonPress, start, held)
    for step in range(30):  # no picture in between
        driver.send(driver.surface, QEvent.Type.MouseMove, (start[0] + step, start[1]), held)
    assert asked == ["moving"]
    last = session.drag.wanted[0][1]
    driver.qtbot.waitUntil(lambda: window.shown.study.scene.speakers[0].position == last, timeout=20_000)
    assert asked[1:2] == ["moving"]
    driver.send(driver.surface, QEvent.Type.MouseButtonRelease, (start[0] + 29, start[1]))
    driver.rest()

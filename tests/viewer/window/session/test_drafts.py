import os
import re
import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace import SceneError, build_room
from viewer.window.session.drafts import (
    Draft,
    History,
    autosave,
    changed_on_disk,
    discard_recovery,
    find_recovery,
    joist_catches,
    open_draft,
    save,
    snap,
)

SCENES = sorted((Path(__file__).parents[4] / "scenes").glob("*.toml"))
BOX = SCENES[0].with_name("box.toml")


@pytest.fixture(autouse=True)
def state_folder(tmp_path, monkeypatch):
    """The user's state folder, for this test alone."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state"


@pytest.fixture
def file(tmp_path):
    """A copy of the box room with line ends and a mark of another system, and no end to its last line."""
    path = tmp_path / "büro.toml"
    text = BOX.read_text(encoding="utf-8").rstrip("\n").replace("\n", "\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    return path


near = st.floats(0.4, 2.0)
steps = st.lists(
    st.one_of(
        st.tuples(st.sampled_from(["speakers", "seats"]), st.tuples(near, near, near)),
        st.tuples(st.just("title"), st.text(max_size=8)),
        st.tuples(st.just("length"), st.floats(3.0, 9.0)),
    ),
    min_size=1,
    max_size=8,
)


def edited(draft, step):
    what, value = step
    if what == "title":
        return draft.with_value(("title",), value)
    if what == "length":
        return draft.with_value(("air", "temperature"), value)
    return draft.with_position(what, 0, value)


@given(path=st.sampled_from(SCENES), steps=steps)
def test_any_edits_undone_give_the_same_bytes_and_redone_the_last_ones(path, steps):
    history = History(open_draft(path))
    for step in steps:
        history.push(edited(history.current, step))
    last = history.current
    comments = re.findall(r"#.*", open_draft(path).text)
    assert [c for c in re.findall(r"#.*", last.text) if c in comments] == comments
    while history.can_undo:
        history.undo()
    assert history.current.text.encode() == path.read_bytes()
    assert not history.current.dirty
    while history.can_redo:
        history.redo()
    assert history.current == last


def test_what_was_undone_is_gone_once_something_else_is_done():
    history = History(open_draft(BOX))
    first = history.push(history.current.with_value(("title",), "a"))
    history.push(first.with_value(("title",), "b"))
    assert history.undo() == first
    history.push(first.with_value(("title",), "c"))
    assert not history.can_redo
    assert history.redo().scene().title == "c"
    assert history.undo() == first
    history.undo()
    assert not history.can_undo
    assert history.undo().text == BOX.read_text(encoding="utf-8")


def test_saving_is_no_step_but_every_state_is_compared_with_it(file):
    history = History(open_draft(file))
    history.push(history.current.with_value(("title",), "new"))
    assert history.current.dirty
    history.push(save(history.current))
    assert not history.current.dirty
    assert history.undo().dirty
    assert not history.can_undo


def test_opening_and_saving_changes_no_byte(file):
    before = file.read_bytes()
    assert save(open_draft(file)).text.encode() == before
    assert file.read_bytes() == before
    moved = open_draft(file).with_position("speakers", 0, (1.111, 1.3, 1.2))
    assert save(moved).scene().speakers[0].position == (1.111, 1.3, 1.2)
    assert len(file.read_bytes().splitlines()) == len(before.splitlines())


def test_saving_keeps_permissions_and_links_and_leaves_nothing_behind(file, tmp_path):
    file.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(file)
    save(open_draft(link).with_value(("title",), "linked"))
    assert link.is_symlink()
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert open_draft(file).scene().title == "linked"
    assert {own.name for own in tmp_path.iterdir()} <= {"büro.toml", "link.toml", "state"}


def test_a_new_file_has_the_permissions_of_any_other(file, tmp_path):
    plain = tmp_path / "plain"
    plain.touch()
    new = save(open_draft(file), tmp_path / "copy.toml")
    assert new.path == tmp_path / "copy.toml"
    assert new.path.stat().st_mode == plain.stat().st_mode


def test_a_save_that_fails_says_so_and_leaves_the_old_file(file, tmp_path, monkeypatch):
    draft = open_draft(file).with_value(("title",), "lost?")
    with pytest.raises(SceneError, match=r"nowhere.*cannot be written: No such file"):
        save(draft, tmp_path / "nowhere" / "a.toml")

    def full(_):
        raise OSError(28, "No space left on device")

    before = file.read_bytes()
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SceneError, match="No space left"):
        save(draft)
    assert file.read_bytes() == before
    assert sorted(own.name for own in tmp_path.iterdir()) == ["büro.toml"]


def test_a_new_draft_needs_a_path():
    with pytest.raises(ValueError, match="under a path"):
        save(Draft(None, "a = 1", ""))


def test_what_a_crash_left_is_found_until_it_is_saved_or_discarded(file):
    draft = open_draft(file).with_value(("title",), "kept")
    assert find_recovery(file) is None
    assert autosave(open_draft(file)) is None
    assert autosave(draft).is_file()
    assert find_recovery(file) == draft
    assert not any(own.suffix == ".json" for own in file.parent.iterdir())
    save(draft)
    assert find_recovery(file) is None
    autosave(draft.with_value(("title",), "again"))
    discard_recovery(file)
    assert find_recovery(file) is None


def test_a_recovery_knows_that_the_file_has_moved_on(file):
    draft = open_draft(file).with_value(("title",), "mine")
    autosave(draft)
    file.write_bytes(open_draft(file).with_value(("title",), "theirs").text.encode())
    found = find_recovery(file)
    assert found.scene().title == "mine"
    assert changed_on_disk(found)


def test_files_of_one_name_in_two_folders_are_recovered_apart(file, tmp_path):
    other = tmp_path / "two" / file.name
    other.parent.mkdir()
    other.write_bytes(file.read_bytes())
    autosave(open_draft(file).with_value(("title",), "one"))
    autosave(open_draft(other).with_value(("title",), "two"))
    autosave(Draft(None, 'title = "new"', ""))
    assert find_recovery(file).scene().title == "one"
    assert find_recovery(other).scene().title == "two"
    assert find_recovery(None) == Draft(None, 'title = "new"', "")


def test_a_damaged_recovery_is_none_and_a_folder_that_takes_none_is_refused(file):
    kept = autosave(open_draft(file).with_value(("title",), "x"))
    kept.write_text("{", encoding="utf-8")
    assert find_recovery(file) is None
    discard_recovery(file)
    kept.parent.rmdir()
    kept.parent.write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(SceneError, match="cannot be written"):
        autosave(open_draft(file).with_value(("title",), "x"))
    assert find_recovery(file) is None
    discard_recovery(file)


def test_changes_on_disk_are_seen(file):
    draft = open_draft(file)
    assert not changed_on_disk(draft)
    assert not changed_on_disk(Draft(None, "", ""))
    file.write_bytes(file.read_bytes() + b"\r\n")
    assert changed_on_disk(draft)
    file.unlink()
    assert changed_on_disk(draft)


def test_a_broken_scene_opens_as_text_and_names_its_own_file(tmp_path):
    path = tmp_path / "loft.toml"
    path.write_text("[room]\nshape = box", encoding="utf-8")
    with pytest.raises(SceneError, match=r"loft.toml:2:9"):
        open_draft(path).scene()
    with pytest.raises(SceneError, match="no such file"):
        open_draft(tmp_path / "lost.toml")


def test_files_that_a_draft_names_lie_beside_it():
    half_slope = open_draft(BOX.with_name("half-slope.toml"))
    assert half_slope.with_value(("title",), "same mesh").scene().room.shape == "mesh"


@pytest.mark.parametrize(
    ("point", "options", "expected", "reason"),
    [
        ((1.2345, 0.999, 1.2), {}, (1.23, 1.0, 1.2), "10 mm grid"),
        ((1.23, 1.0, 1.2), {}, (1.23, 1.0, 1.2), ""),
        ((1.2345, 0.999, 1.2), {"step_m": 0.0}, (1.2345, 0.999, 1.2), ""),
        ((1.1, 2.02, 1.2), {"mirror_plane_y": 2.0}, (1.1, 2.0, 1.2), "on the listening axis"),
        (
            (1.01, 2.71, 1.33),
            {"mirror_plane_y": 2.0, "mirror": (0.995, 1.305, 1.2)},
            (0.995, 2.695, 1.33),
            "symmetric to the other speaker",
        ),
        ((0.41, 1.004), {"joists": [(0, 0.3), (0, 0.4)]}, (0.4, 1.0), "on a joist"),
        ((0.44, 1.0), {"joists": [(0, 0.3), (0, 0.4)]}, (0.44, 1.0), ""),
    ],
)
def test_a_dragged_point_is_drawn_to_what_the_hand_means(point, options, expected, reason):
    placed, why = snap(point, **options)
    assert placed == pytest.approx(expected, abs=1e-9)  # sums of decimals in floating point
    assert why == reason


def test_joists_are_lines_across_their_own_direction():
    scene = open_draft(BOX.with_name("garage.toml")).scene()
    room = build_room(scene)
    ceiling, floor = (next(s for s in room.surfaces if s.name == name) for name in ("ceiling", "floor"))
    assert [axis for axis, _ in joist_catches(scene, ceiling)] == [0] * 9
    # From 600 mm every 600 mm; sums of decimals in floating point.
    places = [at for _, at in joist_catches(scene, ceiling)]
    assert places == pytest.approx([0.6, 1.2, 1.8, 2.4, 3.0, 3.6, 4.2, 4.8, 5.4], abs=1e-9)
    assert joist_catches(scene, floor) == ()

import pytest

from raytrace import PanelWish, load_scene, propose, run_study
from tests.support.shelves import SHELF, SHELF_RUN


def proposed(tmp_path, *moves):
    scene = load_scene(tmp_path / "shelf.toml", SHELF)
    return propose(scene, PanelWish(moves=moves), out=tmp_path / "new.toml", **SHELF_RUN)


def test_the_best_move_of_the_desk_is_written_and_proven_and_every_other_byte_stays(tmp_path):
    found = proposed(tmp_path, "desk")
    assert found.moved
    assert not found.unreached
    again = run_study(load_scene(tmp_path / "new.toml", found.text), **SHELF_RUN)
    assert not any(peak.may_be_over for peak in again.peaks)
    old, new = SHELF.splitlines(), found.text.splitlines()
    changed = [k for k, (was, now) in enumerate(zip(old, new, strict=False)) if was != now]
    assert [old[k].partition(" ")[0] for k in changed] == ["centre"]
    assert new[changed[0]].endswith("]   # its middle")


def test_line_ends_and_marks_of_the_file_stay_with_a_move(tmp_path):
    raw = "\ufeff" + SHELF.replace("\n", "\r\n")
    (tmp_path / "shelf.toml").write_bytes(raw.encode())
    scene = load_scene(tmp_path / "shelf.toml")
    found = propose(scene, PanelWish(moves=("desk",)), out=tmp_path / "new.toml", **SHELF_RUN)
    assert found.moved
    assert found.text.startswith("\ufeff")
    assert "\n" not in found.text.replace("\r\n", "")


def test_without_moves_they_are_told_and_nothing_is_written(tmp_path):
    found = proposed(tmp_path)
    assert not found.moved
    assert found.text == SHELF
    assert found.variants[0].mending


def test_speakers_alone_are_moved_where_only_they_may_be(tmp_path):
    found = proposed(tmp_path, "speakers")
    heights = {speaker.position[2] for speaker in found.after.scene.speakers}
    assert len(heights) == 1  # a mirror pair stays one
    assert found.after.scene.objects == found.before.scene.objects
    margins = {margin.way: margin for margin in found.margins}
    assert margins["shelf top",].before_db < 0.0  # as the room is today


def test_a_wrong_name_is_answered_with_those_that_are_known(tmp_path):
    with pytest.raises(ValueError, match=r'"chair".*desk, speakers, seat'):
        proposed(tmp_path, "chair")


def test_panels_only_looks_for_nothing_else(tmp_path):
    scene = load_scene(tmp_path / "shelf.toml", SHELF)
    found = propose(scene, PanelWish(panels_only=True), out=tmp_path / "new.toml", **SHELF_RUN)
    assert found.unreached
    assert not found.variants
    assert not found.covers

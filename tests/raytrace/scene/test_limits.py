import tomllib
from dataclasses import replace

import pytest

from raytrace import SceneError, load_scene, run_study, sketch_scene
from raytrace.scene.limits import STANDARDS, USUAL_LIMITS, Limits

BROADCAST = Limits(
    "Broadcast rule 7",
    below_db=20.0,
    within_ms=10.0,
    from_hz=500.0,
    to_hz=4000.0,
    source="Broadcast rule 7 (invented for this test)",
    meant_for="announcers' booths",
    from_m2=4.0,
    to_m2=9.0,
)


@pytest.fixture
def published(monkeypatch):
    monkeypatch.setitem(STANDARDS, BROADCAST.name, BROADCAST)


def load_with(tmp_path, standard):
    path = tmp_path / "room.toml"
    text = sketch_scene("box", {"length": "5 m", "width": "4 m"})
    path.write_text(text.replace(f'standard = "{USUAL_LIMITS.name}"', f'standard = "{standard}"'), "utf-8")
    return load_scene(path)


@pytest.mark.usefixtures("published")
def test_one_more_published_limit_rules_a_whole_study(tmp_path):
    study = run_study(load_with(tmp_path, BROADCAST.name), up_to_order=1)
    assert study.scene.limits is BROADCAST
    # Twenty decibels within 10 ms, whatever the usual limit says of the same room.
    judged = [peak for peak in study.peaks if peak.delay_s <= 0.010]
    assert judged
    assert all(peak.margin_db == pytest.approx(-20.0 - peak.level_db) for peak in judged)
    (note,) = [note for note in study.notes if str(note).startswith(BROADCAST.name)]
    assert "rooms of 4 m² or more and at most 9 m²; this one has 20.0 m² and is larger" in str(note)
    usual = run_study(load_with(tmp_path, USUAL_LIMITS.name), up_to_order=1)
    assert sum(v.n_over for v in study.verdicts) > sum(v.n_over for v in usual.verdicts)


@pytest.mark.usefixtures("published")
def test_one_more_published_limit_is_offered_where_a_name_is_wrong_and_by_the_sketch(tmp_path):
    with pytest.raises(SceneError, match=f'"{BROADCAST.name}"'):
        load_with(tmp_path, "Broadcast rule")
    text = sketch_scene("box", {})
    assert f'#   "{BROADCAST.name}": announcers\' booths, 4 m² or more and at most 9 m²\n' in text
    assert tomllib.loads(text)["limits"] == {"standard": USUAL_LIMITS.name}


@pytest.mark.parametrize(
    ("from_m2", "to_m2", "sizes", "fitting"),
    [
        (20.0, 60.0, "20 m² or more and at most 60 m²", [25.0]),
        (20.0, float("inf"), "20 m² or more", [25.0, 70.0]),
        (0.0, 60.0, "at most 60 m²", [10.0, 25.0]),
        (0.0, float("inf"), "", [10.0, 25.0, 70.0]),
    ],
)
def test_sizes_are_told_by_the_ends_there_are(from_m2, to_m2, sizes, fitting):
    limits = replace(BROADCAST, from_m2=from_m2, to_m2=to_m2)
    assert str(limits.sizes) == sizes
    assert [area for area in (10.0, 25.0, 70.0) if limits.fits(area)] == fitting

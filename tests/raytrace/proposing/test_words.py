import pytest

from raytrace import load_scene, propose
from tests.support.proposals import proposal
from tests.support.scenes import SCENES


@pytest.mark.slow
def test_each_panel_is_there_for_a_peak_that_it_answers():
    found = proposal("box")
    for panel in found.panels:
        assert panel.reason.startswith("answers the reflection of ")
        assert panel.surface in panel.reason
        assert "after the direct sound" in panel.reason


@pytest.mark.slow
def test_hooks_without_a_joist_and_places_that_nothing_holds_are_told():
    found = propose(load_scene(SCENES / "garage.toml"), out=SCENES / "garage-proposed.toml", up_to_order=2)
    without = sum(panel.n_battens for panel in found.panels)
    assert without
    (note,) = (n for n in found.notes if "without a joist or stud in reach" in n)
    assert note.startswith(f"{without} of ")
    left_out = [n for n in found.notes if "left out" in n]
    assert any("beyond the first or last known joist" in n for n in left_out)


@pytest.mark.slow
def test_frames_are_told_beside_places():
    assert any("frames reach beyond them" in note for note in proposal("box").notes)

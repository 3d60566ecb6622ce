import pytest

from raytrace import load_scene, propose
from tests.support.proposals import proposal
from tests.support.scenes import SCENES


@pytest.mark.slow
def test_each_panel_is_there_for_a_peak_that_it_answers():
    found = proposal("box")
    for panel in found.panels:
        assert panel.surface in panel.answers.way
        peaks = [(margin.speaker, margin.way) for margin in found.margins]
        assert (panel.answers.speaker, panel.answers.way) in peaks
        assert str(panel.answers) == (
            f"answers the reflection of {panel.answers.speaker} by way of {', '.join(panel.answers.way)}, "
            f"{panel.answers.delay_ms:.1f} ms after the direct sound"
        )


@pytest.mark.slow
def test_hooks_without_a_joist_and_places_that_nothing_holds_are_told():
    found = propose(load_scene(SCENES / "garage.toml"), out=SCENES / "garage-proposed.toml", up_to_order=2)
    without = sum(panel.n_battens for panel in found.panels)
    assert without
    (note,) = (n for n in map(str, found.notes) if "without a joist or stud in reach" in n)
    assert note.startswith(f"{without} of ")
    left_out = [n for n in map(str, found.notes) if "left out" in n]
    assert any("beyond the first or last known joist" in n for n in left_out)


@pytest.mark.slow
def test_frames_are_told_beside_places():
    assert any("frames reach beyond them" in str(note) for note in proposal("box").notes)

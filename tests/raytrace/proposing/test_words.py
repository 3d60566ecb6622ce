import pytest

from raytrace import load_scene, propose
from raytrace.verdicts import PEAK_WIDTH_S
from tests.support.proposals import proposal
from tests.support.scenes import SCENES


@pytest.mark.slow
def test_each_panel_is_there_for_a_peak_that_it_answers():
    found = proposal("box")
    for panel in found.panels:
        assert panel.surface in panel.answers.way
        # What meets the panel's surface may arrive within one peak with what leads it; told to 0.1 ms.
        near_ms = 1e3 * PEAK_WIDTH_S + 0.05
        peaks_ms = [1e3 * m.delay_s for m in found.margins if m.speaker == panel.answers.speaker]
        assert min(abs(panel.answers.delay_ms - peak_ms) for peak_ms in peaks_ms) < near_ms
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

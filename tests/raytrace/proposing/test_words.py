import pytest

from raytrace import load_scene, propose
from tests.support.proposals import PANELS_ONLY, proposal
from tests.support.scenes import SCENES


@pytest.mark.slow
def test_each_panel_answers_a_reflection_off_its_surface_that_is_part_of_a_peak_to_be_brought_below():
    found = proposal("box")
    arrivals, room = found.before.arrivals, found.before.room
    planned_for = {
        row for p in found.before.peaks if p.verdict in ("over", "undecided") for row in p.arrivals
    }
    assert found.panels
    for panel in found.panels:
        told = panel.answers
        assert panel.surface in told.way
        rows = [
            row
            for row in arrivals.at(arrivals.speaker_names.index(told.speaker), 0)
            if tuple(room.surface_names[s] for s in arrivals.path_surfaces[row] if s >= 0) == told.way
            and abs(1e3 * arrivals.delay_s[row] - told.delay_ms) < 0.0501  # told to a tenth
        ]
        assert len(rows) == 1
        assert rows[0] in planned_for
        assert str(told) == (
            f"weakens the {told.speaker} speaker's reflection off the {' › '.join(told.way)}, "
            f"{told.delay_ms:.1f} ms after the direct sound"
        )


@pytest.mark.slow
def test_hooks_without_a_joist_and_places_that_nothing_holds_are_told():
    found = propose(
        load_scene(SCENES / "garage.toml"), PANELS_ONLY, out=SCENES / "garage-proposed.toml", up_to_order=1
    )
    without = sum(panel.n_battens for panel in found.panels)
    assert without
    (note,) = (n for n in map(str, found.notes) if "without a joist or stud in reach" in n)
    assert note.startswith(f"{without} of ")
    left_out = [n for n in map(str, found.notes) if "left out" in n]
    assert any("beyond the first or last known joist" in n for n in left_out)


@pytest.mark.slow
def test_frames_are_told_beside_places():
    assert any("frames reach beyond them" in str(note) for note in proposal("box").notes)

"""What a panel is worth at the seat: on the spot against beside it, one against two, a usual cloud."""

import numpy as np
import pytest

from raytrace import run_study
from raytrace.reflections import N_CORNERS
from tests.support.rooms import room_text

SPEAKER, SEAT = "[0.75, 0.9, 1.2]", "[1.79, 1.5, 1.2]"
SPOT_M = 4.2 - 1.14  # of the left speaker on the left wall, from the wall's left edge


def on_wall(name, along):
    return (
        f'[[panels]]\nname = "{name}"\nsurface = "left wall"\nbuild = "wool 50"\nturned = 90\ngap = 0.05\n'
        f"centre = [{along}, 1.2]\n"
    )


@pytest.fixture
def zone_level_db(scene_of):
    """Level of a surface's first reflection, energy averaged over the head zone: limit's band, octaves."""

    def level(surface, more=""):
        text = room_text("box", more, speaker=SPEAKER, seat=SEAT).replace("zone = [0, 0, 0]", "")
        study = run_study(scene_of(text.replace('"omni"', '"two-way"')), up_to_order=1)
        room, band, octaves = study.room, [], []
        for at_point in (h for h in study.arrivals.at_points if h.zone_point < N_CORNERS):
            for k, (facet, *_) in enumerate(at_point.paths.facets):
                if room.surfaces[room.facets[facet].surface].name == surface:
                    band.append(10 ** (at_point.band_level_db[k] / 10))
                    octaves.append(np.mean(np.abs(at_point.pressure[k]) ** 2, axis=1))
        assert len(band) == N_CORNERS
        return 10 * np.log10(np.mean(band)), 10 * np.log10(np.mean(octaves, axis=0))

    return level


def test_a_panel_on_the_spot_beats_the_same_one_600_mm_beside_it_by_3_db(zone_level_db):
    on = zone_level_db("left wall", on_wall("p", SPOT_M))[0]
    for beside in (SPOT_M - 0.6, SPOT_M + 0.6):
        assert zone_level_db("left wall", on_wall("p", beside))[0] > on + 3.0


def test_two_panels_beat_one(zone_level_db):
    one = zone_level_db("left wall", on_wall("p", SPOT_M))[0]
    two = zone_level_db("left wall", on_wall("p", SPOT_M - 0.3) + on_wall("q", SPOT_M + 0.3))[0]
    assert two < one - 1.0


def test_a_small_panel_does_next_to_nothing_low_down(zone_level_db):
    bare, treated = (zone_level_db("left wall", more)[1] for more in ("", on_wall("p", SPOT_M)))
    assert abs(bare[0] - treated[0]) < 0.5  # 63 Hz: the panel is a tenth of a wavelength wide
    assert bare[5] - treated[5] > 5.0  # 2 kHz


def test_a_six_panel_cloud_of_thin_slabs_is_honest_at_250_hz(zone_level_db):
    # Six slabs of 1200 x 600 x 30 mm, 100 mm down: a usual small job (common practice, no source).
    cloud = (
        '[[clouds]]\nname = "cloud"\nsurface = "ceiling"\nbuild = "wool 30"\ndrop = 0.1\nspacing = 0.03\n'
        "rows = 2\ncolumns = 3\ncentre = [1.3, 1.5]\n"
    )
    bare, treated = (zone_level_db("ceiling", more)[1] for more in ("", cloud))
    gain = bare - treated
    assert 1.0 < gain[2] < 6.0  # 250 Hz: some, far from what 1 kHz gets
    assert gain[4] > gain[2] + 3.0
    assert abs(gain[0]) < 1.5  # 63 Hz: nothing


def test_the_notes_say_what_panels_were_taken_for_and_that_single_octaves_ripple(scene_of):
    stand = '[[stands]]\nname = "s"\nbuild = "wool 100"\nat = [3.2, 1.5]\nyaw = 180\n'
    notes = run_study(scene_of(room_text("box", on_wall("p", SPOT_M) + stand)), up_to_order=1).notes
    text = " ".join(map(str, notes))
    assert "may ripple" in text
    assert "Below 286 Hz the smallest panel" in text  # 343.2 / (2 x 0.6)
    assert "hang or stand free" in text
    assert "wool 50, wool 100: " in text
    bare = " ".join(map(str, run_study(scene_of(room_text("box")), up_to_order=1).notes))
    assert "anel" not in bare

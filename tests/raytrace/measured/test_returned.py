"""What surfaces return: pulses of a box one wall of which was made weaker, and a measured room."""

import numpy as np
import pytest

from raytrace import load_scene
from raytrace.measured import Take, find_returned, hold_against, returned_notes
from tests.raytrace.measured.test_real_rooms import heard_in, lab, needs_r3vival
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav

__all__ = ["lab"]  # a fixture
SIZE_M = np.array([5.0, 4.0, 2.6])
SEATS = np.array([(3.2, 2.0, 1.2), (3.4, 1.5, 1.0), (2.9, 2.6, 1.4), (3.6, 2.3, 0.9)])


def heard_in_box(folder, left_wall):
    """First-order pulses at four seats, those of the left wall times a factor."""
    head = BOX.partition("[[seats]]")[0]
    seats = "".join(f'[[seats]]\nname = "seat {k}"\nears = {ears.tolist()}\n' for k, ears in enumerate(SEATS))
    (folder / "box.toml").write_text(head + seats, encoding="utf-8")
    scene = load_scene(folder / "box.toml")
    source = np.array(scene.speakers[0].position)
    takes = []
    for k, ears in enumerate(SEATS):
        images, factors = [source], [1.0]
        for axis in range(3):
            for far in (0.0, SIZE_M[axis]):
                image = source.copy()
                image[axis] = 2.0 * far - source[axis]
                images.append(image)
                factors.append(left_wall if (axis, far) == (1, 0.0) else 1.0)
        away_m = np.linalg.norm(np.array(images) - ears, axis=1)
        samples = pulses((away_m - away_m[0]) / 343.2, np.array(factors) * away_m[0] / away_m)
        takes.append(Take(0, k, write_wav(folder / f"{k}.wav", samples)))
    return hold_against(scene, takes, up_to_order=1, within_s=0.014)


def test_a_wall_that_returns_half_the_pressure_is_told_and_no_other(tmp_path):
    found = find_returned([heard_in_box(tmp_path, 0.5)])
    assert {one.surface for one in found} == {"left wall"}
    whole, *_, highest = found
    assert whole.octave_hz is None
    assert whole.by_db == pytest.approx(-6.02 * 16 / 17, abs=0.5)
    assert np.isnan(whole.before_m)  # nothing is unexplained
    assert highest.octave_hz == pytest.approx(4000.0, rel=0.01)
    # 6 dB, drawn towards nothing by a prior of 6 dB against four arrivals of 3 dB: by one part in 17.
    assert highest.by_db == pytest.approx(-6.02 * 16 / 17, abs=0.5)
    assert highest.n_arrivals == 4
    assert "left wall returns 6 dB less than hard at 4 kHz" in str(returned_notes(found)[-1])


def test_a_box_that_is_as_drawn_is_left_alone(tmp_path):
    assert find_returned([heard_in_box(tmp_path, 1.0)]) == ()


@needs_r3vival
def test_the_wall_that_was_turned_returns_less_than_it_is_drawn_to(lab):
    # Drawn of plasterboard all round. With all 30 loudspeakers: -4 and -5 dB at 2 and 4 kHz, with the hard
    # panels nothing; its own arrivals fall by 11 to 18 dB, those that are mistaken for them do not.
    found = find_returned([heard_in(lab, "R", [speaker.name for speaker in lab.speakers][::3])])
    right = {
        one.octave_hz and round(one.octave_hz / 1000): one for one in found if one.surface == "right wall"
    }
    assert right[4].by_db < -3.0
    assert {one.surface for one in found if one.octave_hz is None} == {"right wall"}
    assert all(one.by_db < 0.0 for one in right.values())

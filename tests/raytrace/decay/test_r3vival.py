"""A wall turned from hard to absorbing: predicted and measured change of its arrival.

S. V. Amengual Gari, "R3VIVAL - Repository of Room Responses and 360 Videos of a Variable Acoustics Lab",
repository facebookresearch/R3VIVAL, commit 0dca192; data under CC BY 4.0 (text beside the files). The files
are not part of this repository: HITSPOT_DATA names the folder that holds r3vival/.

State 000: every panel hard. State R: the right wall's panels turned to their absorbing side. The build of
that side is not published, so no absorption coefficient can be checked here.
"""

import numpy as np
import pytest
from scipy.io import wavfile

from raytrace.acoustics import (
    BANDS_HZ,
    Layer,
    Medium,
    Miki,
    air_density_kg_m3,
    band_frequencies_hz,
    reflection,
)
from tests.support.scenes import DATA

FOLDER = DATA / "r3vival"

pytestmark = pytest.mark.skipif(
    not (FOLDER / "R_270-150.wav").is_file(),
    reason=f"measured wall not found in {FOLDER}: set HITSPOT_DATA to the folder that holds r3vival/",
)

AIR = Medium(345.0, air_density_kg_m3(23.0))  # the temperature is not published: c assumed with the data
BANDS = slice(4, 8)  # 1, 2, 4, 8 kHz
SAMPLE_RATE_HZ = 48_000
DIRECT_SAMPLE = 480  # the authors aligned every file

# Each loudspeaker plays past the microphone at the wall beyond, square on (cosine 1), so that the arrival is
# 2 D / c late at any distance. D was inferred from these arrivals off the hard panels: no test of delays.
WALLS = {"right": ("270", 2.667), "left": ("090", 2.551)}  # azimuth of the loudspeaker, D [m]
DISTANCES_CM = (150, 200)

# Our assumption: 100 mm of wool straight on a hard wall (50 mm would fall by no more than 8.7 dB at 1 kHz).
ASSUMED_BUILD = (Layer(Miki(10_000.0), 0.100),)
HARD = ()

# In state R the right wall answers from a face this much nearer, 0.61 ms earlier: read off the responses.
NEARER_M = 0.105


def predicted_change_db(before, after):
    """Change of the arrival's octave levels between two builds at normal incidence, (4,). [dB]"""
    energies = [
        np.mean(np.abs(reflection(build, band_frequencies_hz()[BANDS], 1.0, AIR)) ** 2, axis=1)
        for build in (before, after)
    ]
    return 10.0 * np.log10(energies[1] / energies[0])


def read_response(state, azimuth, distance_cm):
    rate, response = wavfile.read(FOLDER / f"{state}_{azimuth}-{distance_cm}.wav")
    assert rate == SAMPLE_RATE_HZ
    return response.astype(np.float64)


def octave_energies(piece):
    """Energy of a short piece of a response in the octaves, (4,)."""
    n_padded = 8192
    energy = np.abs(np.fft.rfft(piece, n_padded)) ** 2
    frequency = np.fft.rfftfreq(n_padded, 1.0 / SAMPLE_RATE_HZ)
    octave = np.abs(np.log10(frequency[1:] / BANDS_HZ[BANDS, None])) <= 0.15
    return octave @ energy[1:]


def level_db(response, delay_s):
    """Octave levels of what arrives within 0.5 ms of a delay, re the direct sound, (4,). [dB]

    Cut first and split into octaves afterwards: a filter would ring from the neighbours into the window. In a
    Hann window of 1 ms the 1 kHz octave is coarse.
    """
    half = round(0.0005 * SAMPLE_RATE_HZ)

    def energies(delay_s):
        middle = DIRECT_SAMPLE + round(delay_s * SAMPLE_RATE_HZ)
        return octave_energies(response[middle - half : middle + half + 1] * np.hanning(2 * half + 1))

    return 10.0 * np.log10(energies(delay_s) / energies(0.0))


def delay_of(distance_m):
    return 2.0 * distance_m / AIR.speed_of_sound_m_s


def measured_change_db(wall, distance_cm):
    azimuth, wall_m = WALLS[wall]
    before, after = (
        level_db(read_response(state, azimuth, distance_cm), delay_of(wall_m)) for state in ("000", "R")
    )
    return after - before


def show(label, values):
    print(f"{label:38s}" + "".join(f"{value:8.1f}" for value in values))


def test_arrival_of_the_turned_wall_leaves_its_delay_and_the_other_wall_stays():
    predicted = {"right": predicted_change_db(HARD, ASSUMED_BUILD), "left": predicted_change_db(HARD, HARD)}
    assert (predicted["right"] <= -10.0).all()
    assert (predicted["left"] == 0.0).all()

    show("change, state R re 000 [dB] at Hz", BANDS_HZ[BANDS])
    for wall, change in predicted.items():
        show(f"{wall} wall, predicted", change)
        for distance_cm in DISTANCES_CM:
            measured = measured_change_db(wall, distance_cm)
            show(f"{wall} wall, measured at {distance_cm} cm", measured)
            if wall == "right":
                assert (measured <= -10.0).all()  # at the hard panels' delay; where the sound went: next test
            else:
                assert (np.abs(measured) <= 3.0).all()  # one period at 1 kHz fills the window


@pytest.mark.parametrize("distance_cm", DISTANCES_CM)
def test_turned_wall_still_answers_from_its_nearer_face(distance_cm):
    """So the fall at the hard panels' delay is not what the wall absorbs: much of it has moved."""
    azimuth, wall_m = WALLS["right"]
    hard, turned = (read_response(state, azimuth, distance_cm) for state in ("000", "R"))
    old, new = delay_of(wall_m), delay_of(wall_m - NEARER_M)

    left_behind, arrived, there_before = level_db(turned, old), level_db(turned, new), level_db(hard, new)
    moved = arrived - level_db(hard, old)
    show(f"nearer face re hard panels at {distance_cm} cm", moved)
    assert (arrived - left_behind > 5.0).all()  # clearly the stronger of the two (7.6 dB or more)
    assert (arrived - there_before > 5.0).all()  # and not there while the panels are hard (6.6 dB or more)
    assert (moved > -10.0).all()  # so the wall as a whole falls by less than 10 dB

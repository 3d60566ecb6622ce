"""Recordings of two real rooms, held against plain drawings of them.

D. Di Carlo et al., "dEchorate: a calibrated room impulse response dataset for echo-aware signal processing",
EURASIP J. Audio Speech Music Process. 2021, doi 10.1186/s13636-021-00229-0 (MIT). S. V. Amengual Gari,
"R3VIVAL - Repository of Room Responses and 360 Videos of a Variable Acoustics Lab", repository
facebookresearch/R3VIVAL, commit 0dca192 (CC BY 4.0). Their files are not part of this repository:
HITSPOT_DATA names the folder that holds dechorate/ and r3vival/.
"""

import csv
from functools import cache

import numpy as np
import pytest

from raytrace import load_scene
from raytrace.measured import (
    Take,
    find_changes,
    find_corrections,
    find_response,
    find_returned,
    hold_against,
    measured_decay,
    measured_notes,
    read_recording,
    record_notes,
)
from tests.support.scenes import DATA

DECHORATE, R3VIVAL = DATA / "dechorate", DATA / "r3vival"
MICROPHONES = ("0", "1", "10", "11", "20", "21")

needs_dechorate = pytest.mark.skipif(
    not (DECHORATE / "sources.csv").is_file(),
    reason=f"measured room not found in {DECHORATE}: set HITSPOT_DATA to the folder that holds dechorate/",
)
needs_r3vival = pytest.mark.skipif(
    not (R3VIVAL / "index.csv").is_file(),
    reason=f"measured room not found in {R3VIVAL}: set HITSPOT_DATA to the folder that holds r3vival/",
)


def rows(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def place(row, *columns):
    return [float(row[column]) for column in columns]


@pytest.fixture(scope="module")
def cuboid(tmp_path_factory):
    """The cuboid of dEchorate as its tables have it, one source heard at six microphones.

    Hand picks of its floor fit a plane 45 mm lower than these tables.
    """
    source = next(row for row in rows(DECHORATE / "sources.csv") if row["src"] == "0")
    microphones = {row["mic"]: row for row in rows(DECHORATE / "microphones.csv")}
    seats = "".join(
        f'[[seats]]\nname = "mic {mic}"\nears = {place(microphones[mic], "x_m", "y_m", "z_m")}\n'
        for mic in MICROPHONES
    )
    path = tmp_path_factory.mktemp("dechorate") / "cuboid.toml"
    path.write_text(
        f"""
title = "measured cuboid"
[air]
temperature = 24.0
[room]
shape = "box"
length = 5.705
width = 5.965
height = 2.355
[surfaces]
default = "plasterboard"
floor = "concrete"
[[speakers]]
name = "source"
position = {place(source, "x_m", "y_m", "z_m")}
aim = [2.8, 3.0, 1.2]
{seats}""",
        encoding="utf-8",
    )
    scene = load_scene(path)
    takes = [Take(0, k, DECHORATE / f"rir_room011111_src0_mic{mic}.wav") for k, mic in enumerate(MICROPHONES)]
    return scene, hold_against(scene, takes, up_to_order=3, within_s=0.015)


@needs_dechorate
def test_ceiling_and_floor_are_named_at_every_microphone(cuboid):
    scene, held = cuboid
    for heard in held.heard:
        for surface in ("ceiling", "floor"):
            errors_s = [
                abs(own.peak.delay_s - part.delay_s)
                for own in heard.peaks
                if own.made_by is not None
                for part in heard.predicted.peaks[own.made_by].parts
                if part.surfaces == (surface,)
            ]
            # The floor as drawn is 45 mm too high: up to 0.19 ms.
            assert min(errors_s) < 0.3e-3, (scene.seats[heard.take.seat].name, surface)


@needs_dechorate
def test_the_direct_sound_is_found_where_a_hand_picked_it(cuboid):
    scene, held = cuboid
    picked = {
        row["mic"]: float(row["toa_s"])
        for row in rows(DECHORATE / "toa_annotations.csv")
        if (row["src"], row["surface"]) == ("0", "direct")
    }
    for heard in held.heard:
        start_s = heard.response.recording.start_s + heard.response.direct_s
        mic = scene.seats[heard.take.seat].name.removeprefix("mic ")
        # Behind the loudspeaker its pulse rises slowly: its top is later than its beginning.
        assert start_s == pytest.approx(picked[mic], abs=0.2e-3)


@needs_dechorate
def test_the_floor_is_put_lower(cuboid):
    scene, held = cuboid
    floor = next(own for own in find_corrections(scene, [held]) if own.what == "floor")
    # 48 mm by the hand picks of 35 pairs, from 34 to 69 mm; 41 and 40 mm by those of two of these six, the
    # only ones that a hand picked there. The ceiling's peaks put the same two microphones 6 mm higher, so
    # that 34 are left for the floor; later walls put the air cooler, which takes some more.
    assert floor.is_likely < -0.025
    assert floor.is_likely < -3.0 * floor.uncertainty
    assert abs(floor.is_likely + 0.045) < 2.0 * floor.uncertainty  # the truth lies within what it admits


@needs_dechorate
def test_nothing_but_the_floor_is_told_to_be_off(cuboid):
    scene, held = cuboid
    assert [own.what for own in find_corrections(scene, [held])] == ["floor"]


@needs_dechorate
def test_four_floor_peaks_of_six_put_the_floor_40_mm_lower_by_themselves(cuboid):
    scene, held = cuboid
    source = np.array(scene.speakers[0].position)
    lower_m = []
    for heard in held.heard:
        own = next(
            (
                own
                for own in heard.peaks
                if own.made_by is not None
                and own.confidence > 0.5
                and heard.predicted.peaks[own.made_by].is_top
                and heard.predicted.peaks[own.made_by].parts[0].surfaces == ("floor",)
            ),
            None,
        )
        if own is not None:
            ears = np.array(scene.seats[heard.take.seat].ears)
            way_m = np.linalg.norm(source - ears) + own.peak.delay_s * held.room.speed_of_sound_m_s
            level_m = np.linalg.norm((source - ears)[:2])
            lower_m.append(0.5 * (np.sqrt(way_m**2 - level_m**2) - source[2] - ears[2]))
    # Picks within 0.02 ms are 5 mm; the hand picks' own plane is at 45.
    assert sum(abs(m - 0.040) < 0.006 for m in lower_m) >= 4


@needs_dechorate
def test_of_many_unexplained_peaks_the_strongest_are_told_one_by_one_and_the_rest_counted(cuboid):
    _, held = cuboid
    first = held.heard[0]  # near a loudspeaker that rings on for 2 ms
    assert len(first.strong_unexplained) == 3
    strong = [own.peak.level_db for own in first.unexplained if own.peak.level_db >= -20.0]
    assert first.n_more_unexplained == len(strong) - 3 > 0
    assert min(own.peak.level_db for own in first.strong_unexplained) == sorted(strong)[-3]
    own = [str(note) for note in measured_notes([held]) if str(note).startswith("source at mic 0: ")]
    assert len(own) == 4
    assert f"{first.n_more_unexplained} weaker peaks above −20 dB" in own[-1]


@needs_dechorate
def test_among_many_unexplained_peaks_no_face_is_made_up(cuboid):
    # Of three distances behind the left wall two are alike, at microphones 4 cm apart: chance does that.
    assert all(np.isnan(own.before_m) for own in find_returned([cuboid[1]]))


@needs_dechorate
def test_the_cuboid_is_no_doubt_its_own_drawing(cuboid):
    assert not cuboid[1].is_doubtful


LAB = {"back wall": (1, 0), "left wall": (0, -1), "front wall": (-1, 0), "right wall": (0, 1)}
MICROPHONE = np.array([5.45, 2.551])  # from the front and left faces of the hard panels, as the data infers


def faced(azimuth_deg):
    """The wall that the axis of an aimed loudspeaker meets behind the microphone."""
    turned = np.radians(azimuth_deg)
    ahead = np.array([np.cos(turned), -np.sin(turned)])
    to_wall = {"back wall": 4.06, "left wall": 2.551, "front wall": 5.45, "right wall": 2.667}
    reached = {w: to_wall[w] / max(float(ahead @ np.array(n)), 1e-9) for w, n in LAB.items()}
    return min(reached, key=reached.get)


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """The lab of R3VIVAL as a box, every aimed loudspeaker one of its own."""
    aimed = [
        row
        for row in rows(R3VIVAL / "index.csv")
        if (row["config"], row["source_type"]) == ("000", "loudspeaker_aimed_at_mic")
    ]
    speakers = "".join(
        f'[[speakers]]\nname = "{row["source"]}"\nposition = [{MICROPHONE[0] - float(row["x_front_m"]):.4f}, '
        f"{MICROPHONE[1] + float(row['y_right_m']):.4f}, 1.36]\n"
        for row in aimed
    )
    path = tmp_path_factory.mktemp("r3vival") / "lab.toml"
    path.write_text(
        f"""
title = "lab"
[air]
temperature = 23.1
[room]
shape = "box"
length = 9.51
width = 5.218
height = 2.72
[surfaces]
default = "plasterboard"
[[seats]]
name = "microphone"
ears = [{MICROPHONE[0]}, {MICROPHONE[1]}, 1.36]
{speakers}""",
        encoding="utf-8",
    )
    return load_scene(path)


def heard_in(lab, state, sources):
    """What was recorded of some loudspeakers; only they are in the scene, for the time it takes."""
    speakers = tuple(speaker for speaker in lab.speakers if speaker.name in sources)
    scene = lab.model_copy(update={"speakers": speakers})
    takes = [Take(k, 0, R3VIVAL / f"{state}_{own.name}.wav") for k, own in enumerate(speakers)]
    return hold_against(scene, takes, up_to_order=2, within_s=0.034)


@needs_r3vival
def test_floor_with_ceiling_and_the_wall_that_is_faced_are_named(lab):
    sources = [speaker.name for speaker in lab.speakers][::3]
    held = heard_in(lab, "000", sources)
    right = 0
    for heard in held.heard:
        named = {
            part.surfaces
            for own in heard.peaks
            if own.made_by is not None
            for part in heard.predicted.peaks[own.made_by].parts
        }
        azimuth_deg = float(held.scene.speakers[heard.take.speaker].name[:3])
        right += bool({("floor",), ("ceiling",)} & named) and (faced(azimuth_deg),) in named
    assert len(held.heard) == 10  # of 30: the others are alike, and all of them together give 28 of 30
    assert right >= 8
    assert all(heard.fits_better is None for heard in held.heard)  # of no loudspeaker for another


@needs_r3vival
@pytest.mark.parametrize("distance", ["150", "200"])
def test_the_wall_that_was_turned_falls_and_the_other_stays(lab, distance):
    sources = [f"270-{distance}", f"090-{distance}"]
    changes = find_changes(*(heard_in(lab, state, sources) for state in ("000", "R")))

    @cache
    def change_db(source, wall, delay_ms):
        own = [c for c in changes if c.speaker == source and c.peak.parts[0].surfaces == (wall,)]
        nearest = min(own, key=lambda c: abs(1e3 * c.peak.delay_s - delay_ms))
        return nearest.after_db - nearest.before_db

    # Delays 2 D / c off the hard panels, as the data's notes have them.
    assert change_db(sources[0], "right wall", 15.46) < -10.0
    assert abs(change_db(sources[1], "left wall", 14.79)) < 3.0


@needs_r3vival
def test_files_that_were_shortened_are_said_to_be_and_claim_no_decay_times(lab):
    held = heard_in(lab, "000", ["000-150"])
    decay = held.heard[0].decay
    # 100 ms of a room of 0.4 to 0.75 s fall by 8 to 15 dB: EDT asks for 20, T30 for 45.
    assert np.isnan(decay.parameters.t30_s).all()
    assert any("before the room is quiet" in str(note) for note in record_notes([held]))


@needs_r3vival
def test_no_file_that_was_shortened_holds_a_t30_and_t20_stands_where_it_falls_far_enough(lab):
    # All panels turned to absorb: the fastest decays, T30 of the whole responses at least 0.19 s at 8 kHz.
    ratios = []
    for row in rows(R3VIVAL / "metrics.csv"):
        if row["config"] == "100":
            decay = measured_decay(find_response(lab, read_recording(R3VIVAL / row["file"])))
            # T30 asks for a fall by 45 dB (ISO 3382-1, from memory); 100 ms of 0.19 s are 32 dB and the
            # step from a near loudspeaker's direct sound.
            assert decay.range_db.max() < 45.0
            assert np.isnan(decay.parameters.t30_s).all()
            assert np.isnan(decay.parameters.t20_s[:7]).all()
            ratios.append(decay.parameters.t20_s[7] / float(row["T30_8000_s"]))
    told = np.array(ratios)[np.isfinite(ratios)]
    assert len(told) == 17  # where the loudspeaker stands 1.5 or 2 m away
    # T20 from -5 dB on has more of early reflections in it than T30 has: 0.82 to 1.05 of it.
    assert np.median(told) == pytest.approx(0.91, abs=0.02)
    assert np.abs(told - 1.0).max() < 0.2

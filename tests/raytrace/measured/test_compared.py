"""Measurements whose makers are known: ideal pulses, and full-wave solutions of whole rooms."""

from functools import cache

import numpy as np
import pytest

from raytrace import build_room, find_arrivals, load_scene
from raytrace.measured import (
    RecordingError,
    Sweep,
    Take,
    find_changes,
    find_returned,
    hold_against,
    measured_notes,
    predicted_peaks,
    returned_notes,
    sweep_file,
    unexplained_points,
)
from raytrace.reflections import energy_time_curves
from tests.support.full_waves import WAVES, load_waves
from tests.support.scenes import BEDROOM, BOX
from tests.support.soundfiles import FIRST_ORDER, first_order_pulses, noisy, wave_response, write_wav


@pytest.fixture(scope="module")
def box(tmp_path_factory):
    folder = tmp_path_factory.mktemp("box")
    (folder / "box.toml").write_text(BOX, encoding="utf-8")
    return load_scene(folder / "box.toml")


def test_pulses_come_back_with_delay_level_and_name(box, tmp_path):
    path = write_wav(tmp_path / "left.wav", first_order_pulses())
    heard = hold_against(box, [Take(0, 0, path)], up_to_order=1, within_s=0.015).heard[0]
    assert len(heard.peaks) == len(FIRST_ORDER)
    for own, (name, (delay_ms, level_db)) in zip(heard.peaks, FIRST_ORDER.items(), strict=True):
        # Side lobes of the band overlap: 6.2 us and 0.31 dB by our own sums beforehand.
        assert 1e3 * own.peak.delay_s == pytest.approx(delay_ms, abs=0.01)
        assert own.peak.level_db == pytest.approx(level_db, abs=0.5)
        assert heard.predicted.peaks[own.made_by].parts[0].surfaces == (name,)
        assert own.confidence > 0.9  # nothing else is near
    assert not heard.unheard
    assert not heard.unexplained


def test_noise_hides_no_pulse_and_makes_up_none(box, tmp_path):
    # Errors of delay and level: what noise in step with a pulse adds to one of -8 dB, most of 40 draws.
    bounds = {-50.0: (0.003, 0.6), -40.0: (0.008, 1.3), -30.0: (0.025, 3.0)}
    draws = [(noise_db, seed) for noise_db in bounds for seed in range(6)]
    files = [
        write_wav(tmp_path / f"{noise_db:.0f}-{seed}.wav", noisy(first_order_pulses(), noise_db, seed=seed))
        for noise_db, seed in draws
    ]
    takes = [Take(0, 0, path) for path in files]
    found = hold_against(box, takes, up_to_order=1, within_s=0.015).heard
    for (noise_db, seed), heard in zip(draws, found, strict=True):
        # Peaks stand 10 dB above the mean of the noise, one moment in 20 000 of a Rayleigh envelope does, and
        # so far above what the skirts of pulses are with noise in step.
        assert len(heard.peaks) == len(FIRST_ORDER), (noise_db, seed)
        for own, (name, (delay_ms, level_db)) in zip(heard.peaks, FIRST_ORDER.items(), strict=True):
            assert heard.predicted.peaks[own.made_by].parts[0].surfaces == (name,)
            off_ms, off_db = bounds[noise_db]
            assert 1e3 * own.peak.delay_s == pytest.approx(delay_ms, abs=off_ms)
            assert own.peak.level_db == pytest.approx(level_db, abs=off_db)


def test_predicted_curves_are_those_that_verdicts_rest_on(box):
    room = build_room(box)
    arrivals = find_arrivals(box, room, up_to_order=3, within_s=0.015, zone=False)
    own = predicted_peaks(box, room, arrivals, until_s=0.012, lowest_db=-30.0)[0].curves
    curve = energy_time_curves(box, arrivals, until_s=0.012)[0]
    n = len(curve.level_db)
    assert own.time_s[:n] == pytest.approx(curve.time_s)
    loud = curve.level_db > -60.0
    assert own.level_db[:n][loud] == pytest.approx(curve.level_db[loud], abs=1e-9)  # rounding


needs_waves = pytest.mark.skipif(
    not (WAVES / "bare.npz").is_file(),
    reason=f"full-wave solutions not found in {WAVES}: set HITSPOT_DATA to the folder that holds waves/",
)


@cache
def solved(name, drawn, folder):
    """A full-wave solution as a sound file, held against a drawing of the room."""
    path = write_wav(folder / f"{name}.wav", wave_response(load_waves(name), 0))
    return hold_against(
        load_scene(WAVES / f"{drawn}.toml"), [Take(0, 0, path)], up_to_order=6, within_s=0.011
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("waves")


@needs_waves
@pytest.mark.parametrize("name", ["bare", "desk", "treated"])
def test_every_strong_peak_of_a_solved_room_is_named(name, folder):
    heard = solved(name, name, folder).heard[0]
    strong = [own for own in heard.peaks if own.peak.level_db > -18.0 and own.peak.delay_s < 0.010]
    assert len(strong) >= 6
    for own in strong:
        assert own.made_by is not None
        made = heard.predicted.peaks[own.made_by]
        # A late solution's sound is slow by up to 0.1 ms, a pulse's width is 0.15 ms.
        assert abs(made.delay_s - own.peak.delay_s) < 0.1e-3
        # What the summed paths are off by in such rooms (nine in ten), and one that two cancel to.
        assert abs(made.level_db - own.peak.level_db) < 4.5
    assert [peak for peak in heard.unheard if peak.level_db > -10.0] == []


@needs_waves
def test_a_desk_that_no_mirror_spot_lies_on_is_named(folder):
    heard = solved("desk", "desk", folder).heard[0]
    first = heard.peaks[0]
    made = heard.predicted.peaks[first.made_by]
    assert made.parts[0].surfaces == ("desk top",)
    assert made.parts[0].is_near_miss
    assert first.peak.level_db == pytest.approx(-9.7, abs=1.0)  # what the solution has there, desk less bare


@needs_waves
def test_a_desk_that_is_not_drawn_is_unexplained_with_its_detour(folder):
    held = solved("desk", "bare", folder)
    first = held.heard[0].unexplained[0]
    # Over the desk top at z = 0.73: its image lies 0.94 m below the speaker, 1.20 m away.
    detour_m = np.hypot(1.2007, 0.94) - 1.2007
    assert first.peak.delay_s * held.room.speed_of_sound_m_s == pytest.approx(detour_m, abs=0.01)
    assert first.confidence > 0.99


@needs_waves
def test_measured_changes_stand_beside_predicted_ones(folder):
    changes = find_changes(solved("bare", "bare", folder), solved("treated", "treated", folder))
    measured = np.array([change.after_db - change.before_db for change in changes])
    predicted = np.array([change.predicted_after_db - change.predicted_before_db for change in changes])
    right = next(k for k, change in enumerate(changes) if change.peak.parts[0].surfaces == ("right wall",))
    assert measured[right] < -8.0  # 100 mm of wool on the mirror spot
    # Twice what the summed paths are off by in the median, for a difference of two.
    assert np.median(np.abs(measured - predicted)) < 1.0


def test_a_recorded_sweep_without_its_sweep_is_no_response(box, tmp_path):
    path = tmp_path / "left.wav"
    path.write_bytes(sweep_file(Sweep(6.0)))
    with pytest.raises(RecordingError, match=r"stays loud for .* name that sweep too \(--sweep\)"):
        hold_against(box, [Take(0, 0, path)], up_to_order=1, within_s=0.015)


@pytest.mark.parametrize("end", ["cut", "filled up with zeros", "faded out"])
def test_what_lies_beyond_the_record_is_not_called_missing(box, tmp_path, end):
    samples = first_order_pulses()
    late = np.random.default_rng(4).normal(size=len(samples)) * (np.arange(len(samples)) > 2400)
    samples += 10.0 ** (-30.0 / 20.0) * np.abs(samples).max() * late  # a room sounds on
    kept = samples[: round(0.058 * 48_000)].copy()  # 8 ms after the direct sound, before two of the walls
    if end == "faded out":
        kept[-96:] *= np.linspace(1.0, 0.0, 96) ** 4  # 2 ms
    if end == "filled up with zeros":
        kept = np.append(kept, np.zeros(4800))
    path = write_wav(tmp_path / "left.wav", kept)
    found = hold_against(box, [Take(0, 0, path)], up_to_order=1, within_s=0.015)
    heard = found.heard[0]
    assert {peak.parts[0].surfaces for peak in heard.beyond} == {("right wall",), ("back wall",)}
    assert not heard.unheard
    # Where it falls by 20 dB within a millisecond, the fade lasts two; else its last sample.
    assert heard.until_s == pytest.approx(0.008, abs=0.0021 if end == "faded out" else 0.0001)
    assert np.isnan(heard.decay.parameters.t30_s).all()


@needs_waves
def test_a_drawing_of_another_room_is_doubted_and_its_own_is_not(folder, tmp_path):
    assert not solved("bare", "bare", folder).is_doubtful
    assert not solved("treated", "bare", folder).is_doubtful  # the same room without its panels
    (tmp_path / "bedroom.toml").write_text(BEDROOM, encoding="utf-8")
    path = write_wav(tmp_path / "bare.wav", wave_response(load_waves("bare"), 0))
    held = hold_against(
        load_scene(tmp_path / "bedroom.toml"), [Take(0, 0, path)], up_to_order=6, within_s=0.011
    )
    assert held.is_doubtful
    assert any("bedroom.toml explains" in str(note) for note in measured_notes([held]))


SOURCE = np.array([0.75125, 0.90125, 1.20125])
# Wool of 30 mm from 100 mm below the ceiling of 2.4 m: sound turns between its face and its back.
TURNED = np.array([SOURCE * (1, 1, -1) + (0, 0, 2 * z) for z in (2.27, 2.30)])


@cache
def solved_everywhere(name, drawn, without, folder):
    """A solution at its nine places, each a seat, held against a drawing from which something is left out."""
    waves = load_waves(name)
    places = np.round(waves.receivers, 5)
    head, _, rest = (WAVES / f"{drawn}.toml").read_text(encoding="utf-8").partition("[[seats]]")
    kept = ("\n[" + rest.partition("\n[")[2]).partition(without)[0] if "\n[" in rest else ""
    seats = "".join(f'[[seats]]\nname = "{k}"\nears = {ears.tolist()}\n' for k, ears in enumerate(places))
    (folder / "room.toml").write_text(head + seats + kept, encoding="utf-8")
    files = [write_wav(folder / f"{name}-{k}.wav", wave_response(waves, k)) for k in range(len(places))]
    takes = [Take(0, k, path) for k, path in enumerate(files)]
    return hold_against(load_scene(folder / "room.toml"), takes, up_to_order=2, within_s=0.006)


def meets_slabs(extra_m, ears):
    """Whether an extra path is one over the cloud, to 10 mm: a sample of 48 kHz."""
    near_m, far_m = np.linalg.norm(TURNED - ears, axis=1) - np.linalg.norm(SOURCE - ears)
    return near_m - 0.01 < extra_m < far_m + 0.01


@needs_waves
def test_a_cloud_that_is_not_drawn_is_unexplained_with_a_detour_over_its_slabs(folder):
    held = solved_everywhere("treated", "treated", "[[clouds]]", folder)
    told_at, shown_at = set(), set()
    for k, (seat, heard) in enumerate(zip(held.scene.seats, held.heard, strict=True)):
        for own in heard.peaks:
            extra_m = own.peak.delay_s * held.room.speed_of_sound_m_s
            # What is stronger than wool alone sends back, by the solution at most -20 dB, is something else.
            if meets_slabs(extra_m, np.array(seat.ears)) and own.peak.level_db < -20.0:
                shown_at.add(k)
        for own in heard.unexplained:
            if meets_slabs(unexplained_points(held, heard, own).extra_m, np.array(seat.ears)):
                told_at.add(k)
    # Elsewhere its weak echo lies on the flank of the front wall's or the floor's and makes no peak.
    assert told_at == shown_at == {6, 8}


@needs_waves
def test_a_cloud_that_is_not_drawn_is_told_by_what_it_takes_and_where_it_hangs(folder):
    found = find_returned([solved_everywhere("treated", "treated", "[[clouds]]", folder)])
    assert [(one.surface, one.octave_hz) for one in found] == [("ceiling", None)]
    assert found[0].by_db < -4.0  # the drawn cloud takes 4 to 9 dB at seven places
    assert found[0].n_arrivals >= 4
    assert 0.100 < found[0].before_m < 0.130  # from the back of the slabs to their face
    text = str(returned_notes(found)[0])
    assert "ceiling returns" in text
    assert "fits a face about 120 mm before it: something is there" in text


@needs_waves
def test_where_nothing_is_left_out_no_surface_is_told_to_return_less(folder, tmp_path):
    assert find_returned([solved_everywhere("treated", "treated", "no such table", tmp_path)]) == ()
    for name in ("bare", "desk"):
        assert find_returned([solved(name, name, folder)]) == ()  # at nine places neither: seen once


@needs_waves
def test_what_bends_round_drawn_edges_is_not_called_unexplained(folder):
    # The side panel's edges send -28 dB to the seat before anything is mirrored: the curve has it too.
    held = solved_everywhere("treated", "treated", "[[clouds]]", folder)
    of_edges = [own for heard in held.heard for own in heard.peaks if own.is_of_edges]
    assert len(of_edges) >= 3
    assert all(own.made_by is None and not own.is_unexplained for own in of_edges)
    assert all(own.peak.level_db < -25.0 for own in of_edges)

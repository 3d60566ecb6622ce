"""Sound files as they really arrive: read in every form, or refused in one message."""

import os

import numpy as np
import pytest
import soundfile

from raytrace.measured import RecordingError, read_recording
from tests.support.soundfiles import pulses, write_wav


@pytest.fixture(scope="module")
def response():
    return pulses([0.0, 0.004], [1.0, 0.4])


@pytest.mark.parametrize("form", [{"subtype": "PCM_16"}, {"subtype": "PCM_24"}, {"subtype": "FLOAT"}])
@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 48_000, 192_000])
def test_every_rate_and_format_gives_the_same_pressure(tmp_path, form, rate_hz):
    samples = pulses([0.0, 0.004], [1.0, 0.4], rate_hz=rate_hz)
    read = read_recording(write_wav(tmp_path / "a.wav", samples, rate_hz, **form))
    assert read.rate_hz == rate_hz
    # 16 bits: half a step of 2**-15 of full scale, rounding included.
    assert np.abs(read.samples - 0.5 * samples / np.abs(samples).max()).max() < 2.0**-15


def test_flac_reads_like_wav(tmp_path, response):
    wav, flac = (
        read_recording(write_wav(tmp_path / name, response, subtype="PCM_24")) for name in ("a.wav", "a.flac")
    )
    assert np.abs(wav.samples - flac.samples).max() <= 2.0**-23  # the last of 24 bits


def test_eight_bits_are_read_and_said(tmp_path, response):
    read = read_recording(write_wav(tmp_path / "a.wav", response, subtype="PCM_U8"))
    assert "8 bits" in str(read.notes[0])


def test_a_file_name_that_is_no_text_can_be_printed(tmp_path, response):
    path = write_wav(tmp_path / "a.wav", response).rename(tmp_path / os.fsdecode(b"caf\xe9.wav"))
    assert read_recording(path).file == "caf\N{REPLACEMENT CHARACTER}.wav"


def test_a_channel_is_chosen_or_asked_for(tmp_path, response):
    both = np.stack([response, 0.5 * response], axis=1)
    path = write_wav(tmp_path / "both.wav", both)
    with pytest.raises(RecordingError, match="2 channels that differ; choose one"):
        read_recording(path)
    with pytest.raises(RecordingError, match="channels 1 to 2, not 3"):
        read_recording(path, channel=3)
    first, second = (read_recording(path, channel=channel).samples for channel in (1, 2))
    assert second == pytest.approx(0.5 * first, abs=1e-7)  # 32-bit floats
    assert read_recording(write_wav(tmp_path / "mono.wav", both[:, [0, 0]])).samples.ndim == 1


def broken(folder, response):
    """Files that cannot be used, with what their message must say."""
    whole = write_wav(folder / "whole.wav", response, subtype="PCM_16").read_bytes()
    flac = write_wav(folder / "whole.flac", response, subtype="PCM_16").read_bytes()
    clipped = np.clip(20.0 * response / np.abs(response).max(), -1.0, 1.0)
    soundfile.write(folder / "clipped.wav", clipped, 48_000)
    soundfile.write(folder / "silent.wav", np.zeros(4800), 48_000)
    soundfile.write(folder / "short.wav", response[:100], 48_000)
    lost = response.copy()
    lost[700] = np.nan
    soundfile.write(folder / "nan.wav", lost, 48_000, subtype="FLOAT")
    for name, content in {
        "empty.wav": b"",
        "text.wav": b"title = 'no sound'\n" * 40,
        "cut.wav": whole[: len(whole) // 2],
        "cut.flac": flac[: len(flac) // 2],
        "head.wav": whole[:30],
    }.items():
        (folder / name).write_bytes(content)
    (folder / "folder.wav").mkdir()
    return {
        "clipped.wav": "is clipped, first at",
        "silent.wav": "is silent",
        "short.wav": "that is no measurement",
        "nan.wav": "no numbers, the first at 0.015 s",
        "empty.wav": "is empty",
        "text.wav": "is no sound file",
        "cut.wav": "is cut off: its head promises",
        "cut.flac": "is no sound file that can be read",
        "head.wav": "is no sound file",
        "folder.wav": "cannot be read: Is a directory",
        "missing.wav": "cannot be read: No such file",
    }


def test_what_cannot_be_used_is_refused_in_one_message(tmp_path, response):
    for name, words in broken(tmp_path, response).items():
        with pytest.raises(RecordingError) as problem:
            read_recording(tmp_path / name)
        assert str(problem.value).startswith(f"{tmp_path / name}: ")
        assert words in str(problem.value)
        assert "\n" not in str(problem.value)


def test_a_mislabelled_file_is_read_by_what_it_holds(tmp_path, response):
    path = write_wav(tmp_path / "a.flac", response, subtype="PCM_16")
    for name in ("flac.wav", "flac.raw", "flac"):
        (tmp_path / name).write_bytes(path.read_bytes())
        assert (read_recording(tmp_path / name).samples == read_recording(path).samples).all()


def test_what_a_lossy_coder_made_is_refused(tmp_path, response):
    soundfile.write(tmp_path / "a.wav", response, 48_000, format="OGG", subtype="VORBIS")
    with pytest.raises(RecordingError, match="OGG changes what it stores"):
        read_recording(tmp_path / "a.wav")


def test_of_a_long_file_only_what_surrounds_the_response_is_held(tmp_path):
    rate_hz = 8_000
    with soundfile.SoundFile(tmp_path / "long.wav", "w", rate_hz, 1, "PCM_16") as file:
        for minute in range(10):
            block = np.zeros(60 * rate_hz)
            block[rate_hz] = 0.9 if minute == 7 else 0.001
            file.write(block)
    read = read_recording(tmp_path / "long.wav")
    assert read.lasts_s == 600.0
    assert len(read.samples) == 11 * rate_hz  # a second before, ten after
    assert int(np.argmax(read.samples)) == rate_hz

"""Files given for the wrong speaker or seat: told where the room tells them apart, and only there."""

import numpy as np
import pytest

from raytrace import load_scene
from raytrace.measured import RecordingError, Take, find_measured, hold_against
from tests.support.scenes import BOX
from tests.support.soundfiles import pulses, write_wav

SIZE = np.array([5.0, 4.0, 2.6])
SPEAKERS = {"left": (1.0, 1.3, 1.2), "right": (1.1, 2.9, 1.3)}
SEATS = {"mix": (3.2, 2.0, 1.2), "sofa": (4.1, 2.6, 1.0)}
MIRRORED = {"left": (1.0, 1.3, 1.2), "right": (1.0, 2.7, 1.2)}


def drawn(folder, speakers):
    entries = "".join(
        f'[[speakers]]\nname = "{name}"\nposition = {list(at)}\ndirectivity = "omni"\n'
        for name, at in speakers.items()
    )
    entries += "".join(f'[[seats]]\nname = "{name}"\nears = {list(at)}\n' for name, at in SEATS.items())
    path = folder / "box.toml"
    path.write_text(BOX.partition("[[speakers]]")[0] + entries, encoding="utf-8")
    return load_scene(path)


def recorded(folder, speakers, speaker, seat):
    """What six walls send from a speaker to a seat, by images.

    J. B. Allen, D. A. Berkley, J. Acoust. Soc. Am. 65 (1979) 943.
    """
    source, ears = np.array(speakers[speaker]), np.array(SEATS[seat])
    images = [source * (1 - 2 * side) + 2 * at * side for side in np.eye(3) for at in (0.0, SIZE)]
    away_m = np.linalg.norm(np.array([source, *images]) - ears, axis=1)
    samples = pulses((away_m - away_m[0]) / 343.2, away_m[0] / away_m)
    return write_wav(folder / f"{speaker}-{seat}.wav", samples)


def held(folder, speakers, given):
    """Files of some speakers and seats, given for others: {(speaker, seat): (speaker, seat)}."""
    scene = drawn(folder, speakers)
    names = list(speakers), list(SEATS)
    takes = [
        Take(names[0].index(speaker), names[1].index(seat), recorded(folder, speakers, *true))
        for (speaker, seat), true in given.items()
    ]
    return hold_against(scene, takes, up_to_order=1, within_s=0.014)


EVERY = [(speaker, seat) for speaker in SPEAKERS for seat in SEATS]


def test_right_labels_are_in_no_doubt(tmp_path):
    found = held(tmp_path, SPEAKERS, {label: label for label in EVERY})
    assert [heard.fits_better for heard in found.heard] == [None] * 4
    assert len(found.surely_labelled.heard) == 4


def test_a_speaker_for_the_other_and_a_seat_for_the_other_are_told(tmp_path):
    for given, true in [
        (("left", "mix"), ("right", "mix")),
        (("right", "mix"), ("right", "sofa")),
        (("left", "sofa"), ("left", "mix")),
    ]:
        found = held(tmp_path, SPEAKERS, {given: true})
        speaker, seat = found.heard[0].fits_better
        assert EVERY[2 * speaker + seat] == true
        assert found.surely_labelled.heard == ()


def test_two_files_that_were_swapped_are_told_in_one_sentence_and_say_nothing_of_the_room(tmp_path):
    swapped = {("left", "mix"): ("right", "mix"), ("right", "mix"): ("left", "mix")}
    room = find_measured([("measured", held(tmp_path, SPEAKERS, swapped))])
    texts = [str(note) for note in room.notes]
    assert texts[0].startswith(
        "right-mix.wav was given for left at mix and fits right at mix far better, left-mix"
    )
    assert sum("far better" in text for text in texts) == 1
    assert not any("nothing drawn explains" in text for text in texts)
    assert room.corrections == room.returned == ()


def test_in_a_room_that_mirrors_left_in_right_no_label_is_doubted(tmp_path):
    swapped = {("left", "mix"): ("right", "mix"), ("right", "mix"): ("left", "mix")}
    assert [heard.fits_better for heard in held(tmp_path, MIRRORED, swapped).heard] == [None, None]


def test_the_same_sound_for_two_places_is_refused(tmp_path):
    scene = drawn(tmp_path, SPEAKERS)
    first = recorded(tmp_path, SPEAKERS, "left", "mix")
    second = tmp_path / "right.wav"
    second.write_bytes(first.read_bytes())
    with pytest.raises(RecordingError, match=r"right\.wav: holds the same sound as left-mix\.wav"):
        hold_against(scene, [Take(0, 0, first), Take(1, 0, second)], up_to_order=1, within_s=0.014)

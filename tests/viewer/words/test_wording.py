"""What a study says in a client's words."""

from raytrace import run_study
from tests.support.scenes import BOX
from tests.support.studies import shipped_study
from viewer.words.wording import verdict_sentences, will_not_change

RIGHT = '[[speakers]]\nname = "right"\nposition = [1.0, {}, 1.2]\ndirectivity = "omni"\n'


def test_speakers_that_are_alike_share_a_sentence():
    study = shipped_study("treated-box", up_to_order=1)
    (sentence,) = verdict_sentences(study)
    assert sentence.startswith("Left and right speaker, each: one early reflection is too strong: floor")


def test_speakers_that_differ_have_a_sentence_each(scene_of):
    study = run_study(scene_of(BOX + RIGHT.format(3.2)), up_to_order=1)
    left, right = verdict_sentences(study)
    assert left.startswith("Left speaker: ")
    assert right.startswith("Right speaker: ")


def test_an_object_called_out_of_range_is_no_word_on_the_room_size(scene_of):
    shed = (
        '\n[[objects]]\nname = "outside the range"\nshape = "box"\ncentre = [9.0, 9.0, 0.5]\n'
        'size = [0.5, 0.5, 0.5]\nmaterial = "hard"\n'
    )
    study = run_study(scene_of(BOX + shed), up_to_order=1)
    assert any('"outside the range"' in str(note) for note in study.notes)
    told = " ".join(will_not_change(study, "imperial"))
    assert "this one has 215 ft² and is smaller" in told
    assert '"outside the range"' not in told

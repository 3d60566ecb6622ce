"""Every entry of a menu does something, under a key of its own."""

from collections import Counter

from viewer.window.controls.commands import COMMANDS, GESTURES


def test_no_key_stands_for_two_things():
    keys = Counter(command.keys for command in COMMANDS if command.keys)
    assert [key for key, count in keys.items() if count > 1] == []


def test_every_name_and_every_text_stands_once():
    assert len({command.name for command in COMMANDS}) == len(COMMANDS)
    assert len({command.text for command in COMMANDS}) == len(COMMANDS)


def test_gestures_are_told_in_words():
    assert all(gesture and meaning for gesture, meaning in GESTURES)


def test_no_key_takes_from_a_control_what_it_needs_to_be_worked_by_keyboard():
    assert not {command.keys for command in COMMANDS} & {"Tab", "Space", "Return", "Enter", "Up", "Down"}

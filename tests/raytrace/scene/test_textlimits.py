"""No text, however long or odd, does more than be refused with one message."""

import math
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from raytrace.scene import SceneError, load_scene, parse_length
from raytrace.scene.text import read_scene_file
from raytrace.scene.textlimits import DEEPEST, MOST_BYTES, MOST_DIGITS, why_unreadable
from tests.support.scenes import SCENES

BOX = (SCENES / "box.toml").read_text(encoding="utf-8")


def why(text):
    with pytest.raises(SceneError) as caught:
        load_scene("room.toml", text)
    return caught.value.why


def test_a_file_over_2_mb_is_refused_unread(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(BOX)
    with path.open("r+b") as stream:
        stream.truncate(10**12)  # a sparse file: nobody could hold it
    with pytest.raises(SceneError, match=r"1000000.0 MB, no scene file; accepted: up to 2 MB"):
        load_scene(path)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no endless file")
def test_an_endless_file_is_refused():
    with pytest.raises(SceneError, match=r"^/dev/zero: over 2 MB, no scene file"):
        load_scene(Path("/dev/zero"))


def test_2_mb_are_read(tmp_path):
    path = tmp_path / "room.toml"
    room = BOX.encode()
    path.write_bytes(room + b"\n" + b"#" * (MOST_BYTES - len(room) - 1))
    assert load_scene(path).title == "Box room"
    path.write_bytes(path.read_bytes() + b"#")
    with pytest.raises(SceneError, match="accepted: up to 2 MB"):
        load_scene(path)


@pytest.mark.parametrize(
    "nested",
    [
        lambda deep: f"a = {'[' * deep}{']' * deep}",
        lambda deep: "a = " + "{b = " * deep + "1" + "}" * deep,
        lambda deep: ".".join("a" * (deep + 1)) + " = 1",
        lambda deep: f"[{' . '.join('a' * deep)}]",
        lambda deep: "[" + ".".join(['"b.]"'] * deep) + "]",
    ],
    ids=["lists", "inline tables", "dotted key", "header", "header in quotes"],
)
def test_what_is_nested_over_64_deep_is_refused_before_it_is_parsed(nested):
    assert why(nested(DEEPEST + 1)) == "nested more than 64 deep; a scene needs four levels"
    assert why(nested(200_000)) == "nested more than 64 deep; a scene needs four levels"
    assert "nested" not in why(nested(DEEPEST - 1))


def test_signs_in_texts_and_notes_are_not_counted():
    text = f'# {"[" * 100}\na = "{"[.{" * 100}"\nb = """\n{"{" * 100}""{"." * 100}"""\nc = \'{"[" * 100}\''
    assert why_unreadable(text + "\n#" + "." * 100) is None


def test_many_flat_values_are_not_nested():
    assert why_unreadable("a = [" + "[1.5, 2.5], " * 1000 + "]") is None
    assert why_unreadable("a.b.c = 1.5\n" * 1000) is None


@pytest.mark.parametrize("digits", ["9" * 5000, "-" + "9" * 5000, "1_" * 3000 + "0", "0." + "3" * 5000])
def test_a_number_of_thousands_of_digits_is_refused(digits):
    text = BOX.replace('length = "4200 mm"', f"length = {digits}")
    assert why(text) == f"a number of more than {MOST_DIGITS} digits"


@pytest.mark.parametrize("value", ["9" * 99, "0x" + "f" * 5000, "1e308", "-1e308", '"' + "9" * 400 + ' mm"'])
@pytest.mark.parametrize(
    ("old", "key"),
    [
        ('length = "4200 mm"', "length"),
        ("temperature = 20.0", "temperature"),
        ('name = "left"', "name"),
        ("drilling = true", "drilling"),
    ],
)
def test_a_number_beyond_all_size_is_refused_wherever_it_stands(old, key, value):
    if key == "name" and value.startswith('"'):
        return  # any text is a name
    assert len(why(BOX.replace(old, f"{key} = {value}"))) < 300


def test_an_outline_of_very_many_corners_is_refused_before_its_edges_are_compared():
    corners = ", ".join(f"[{k % 50}, {k % 49}]" for k in range(50_000))
    text = BOX.replace(
        'shape = "box"\nlength = "4200 mm"\nwidth = "3000 mm"', f'shape = "plan"\ncorners = [{corners}]'
    )
    assert why(text) == "expected at most 400 values; found 50000"


def test_the_line_ends_of_old_editors_are_called_by_name():
    told = why(BOX.replace("\n", "\r"))
    assert told.startswith("a line ends in a lone carriage return")
    assert load_scene("room.toml", BOX.replace("\n", "\r\n")).title == "Box room"


def test_what_a_terminal_would_obey_is_not_sent_to_it():
    with pytest.raises(SceneError) as caught:
        load_scene("room.toml", 'title = "\x1b[2Jgone"\n')
    assert "\x1b" not in str(caught.value)
    assert "�[2Jgone" in str(caught.value)


def test_a_message_is_short_however_long_the_key():
    with pytest.raises(SceneError) as caught:
        load_scene("room.toml", "a" * 1_000_000 + " = 1\n")
    assert len(str(caught.value)) < 1000


def test_a_name_that_is_not_utf_8_is_read_and_named(tmp_path):
    import os

    path = os.fsdecode(os.fsencode(tmp_path) + b"/salle \xe9.toml")
    try:
        with open(path, "w") as stream:  # noqa: PTH123 - a name no Path would be made from by hand
            stream.write(BOX.replace('title = "Box room"\n', ""))
    except OSError:
        pytest.skip("this file system takes names in UTF-8 only")
    assert load_scene(path).title == "salle �"


def outcome(read, given):
    """What is read, or the words of the one refusal that there may be."""
    try:
        return read(given), ""
    except (SceneError, ValueError) as problem:
        return None, str(problem)


SIGNS = st.text(st.sampled_from("ab1_.=[]{},\"'#\\\n\r \t-+eé\x00"), max_size=60)
LENGTHS = st.from_regex(r"-?[0-9./' ]{1,110}(mm|cm|m|ft|in|\")", fullmatch=True)


@settings(deadline=None)  # a busy machine is no fault
@given(SIGNS)
@example('a = """""""')
@example("[[a]]\n[a]")
@example("a = 0000-99-99")
def test_any_text_is_read_or_refused_with_one_message(text):
    file, refusal = outcome(lambda given: read_scene_file("room.toml", given), text)
    if file is None:
        assert refusal.startswith("room.toml")
    else:
        assert set(file.table) <= {path[0] for path in file.marks}


@settings(deadline=None)  # a busy machine is no fault
@given(st.one_of(st.text(max_size=120), LENGTHS))
@example("9" * 90 + " m")
@example("1/" + "0" * 50 + " in")
@example("1/" + "9" * 90 + " in")
def test_any_text_is_a_finite_length_or_refused(text):
    metres, refusal = outcome(parse_length, text)
    assert math.isfinite(metres) if refusal == "" else len(refusal) < 600  # a message, not an echo


@settings(deadline=None)  # a busy machine is no fault
@given(st.one_of(st.integers(), st.floats(), st.integers(10**300, 10**400)))
def test_any_number_is_a_finite_length_or_refused(number):
    metres, refusal = outcome(parse_length, number)
    assert math.isfinite(metres) if refusal == "" else "a length cannot be" in refusal

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from raytrace import load_scene, move_in_text, place_of, read_scene_text, set_in_text

SCENES = sorted((Path(__file__).parents[3] / "scenes").glob("*.toml"))
PLACES = {"speakers": "position", "seats": "ears", "objects": "centre"}
# Half of 1/32 in: what feet and inches are rounded to; metric text is rounded to the millimetre.
COARSEST_M = 0.0254 / 64

LOFT = """\
# top
title = "loft" # after the title
[room]
shape = "box"
length = "5.00 m"
width = '400cm'
height = "8' 6 1/2\\""
[surfaces]
default = "plasterboard"
[[objects]] # a thing
shape = "mesh"
name = "sofa"
file = "sofa.obj"
unit = "m" # metres
[[speakers]]
name = "left"
position = [ # from the front
    0.80, # x
    "1200 mm",
    1.2
] # end
[[seats]]
name = "mix"
ears = ["8 ft", "6ft 6in", "47 1/4 in"]
[[clouds]]
name = "cloud"
surface = "ceiling"
build = "slab"
drop = "200 mm"
panels = [{centre = [1.0, 1.0]}, {centre = [1.0, 2.0], turned = 90}] # two
"""


def changed_lines(before: str, after: str) -> list[str]:
    """Lines of `after` that stand where `before` had others; both have as many."""
    pairs = list(zip(before.splitlines(), after.splitlines(), strict=True))
    return [new for old, new in pairs if old != new]


def comments(text: str) -> list[str]:
    # None of the scenes has a # inside a text.
    return re.findall(r"#.*", text)


@pytest.mark.parametrize(
    ("kind", "values", "lines"),
    [
        ("speakers", (0.85, 1.2, 1.2), ["    0.85, # x"]),
        ("speakers", (0.8, 1.2344, 1.25), ['    "1234 mm",', "    1.25"]),
        ("speakers", (0.8, -0.5, 1.2), ['    "-500 mm",']),
        ("seats", (2.5, 1.9812, 1.20015), ['ears = ["8 ft 2 7/16 in", "6ft 6in", "47 1/4 in"]']),
        ("seats", (2.7432, 2.0, 0.0127), ['ears = ["9 ft", "6ft 6 3/4in", "1/2 in"]']),
    ],
)
def test_a_moved_number_keeps_its_way_of_being_written(kind, values, lines):
    assert changed_lines(LOFT, move_in_text(LOFT, kind, 0, values)) == lines


def test_a_cloud_laid_out_panel_by_panel_moves_as_one():
    assert place_of(LOFT, "clouds", 0) == (1.0, 1.5)
    moved = move_in_text(LOFT, "clouds", 0, (1.1, 1.45))
    assert changed_lines(LOFT, moved) == [
        "panels = [{centre = [1.1, 0.95]}, {centre = [1.1, 1.95], turned = 90}] # two"
    ]


def test_a_mesh_object_that_has_not_moved_yet_gets_a_move():
    moved = move_in_text(LOFT, "objects", 0, (0.0, 0.5, 0.0))
    assert 'unit = "m" # metres\nmove = [0.0, 0.5, 0.0]\n[[speakers]]' in moved
    assert place_of(moved, "objects", 0) == (0.0, 0.5, 0.0)


def test_lengths_keep_quotes_blanks_and_signs():
    text = set_in_text(LOFT, ("room", "width"), 3.85)
    text = set_in_text(text, ("room", "length"), 4.125)
    text = set_in_text(text, ("room", "height"), 2.4384)
    assert changed_lines(LOFT, text) == ['length = "4.125 m"', "width = '385cm'", 'height = "8\' 0\\""']


def test_values_join_the_table_they_belong_to():
    text = set_in_text(LOFT, ("seats", 0, "zone"), [0.1, "20 cm", 0.05])
    assert '"47 1/4 in"]\nzone = [0.1, "20 cm", 0.05]\n[[clouds]]' in text
    text = set_in_text(text, ("job", "client"), 'the "owner"')
    assert text.endswith('# two\n\n[job]\nclient = "the \\"owner\\""\n')
    assert tomllib.loads(text)["job"] == {"client": 'the "owner"'}
    text = set_in_text(LOFT, ("clouds", 0, "panels", 0, "turned"), 90)
    assert tomllib.loads(text)["clouds"][0]["panels"][0] == {"centre": [1.0, 1.0], "turned": 90}


def test_a_new_key_of_dotted_ones_takes_their_names_with_it():
    text = set_in_text('room.shape = "box" # dotted\ntitle = "a"', ("room", "height"), 2.5)
    assert text == 'room.shape = "box" # dotted\nroom.height = 2.5\ntitle = "a"'
    assert set_in_text("# only\n[room]", ("title",), "x") == 'title = "x"\n# only\n[room]'


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        (("speakers", 1, "name"), "right", r"there is no speakers\[2\]"),
        (("speakers", 0, "position"), [1.0, 2.0], r"speakers\[1\].position is a list of 3"),
        (("speakers", 0, "position"), 3.0, r"speakers\[1\].position is a list of 3"),
        (("room",), 3.0, "room is a table"),
        (("title", "of"), 3.0, "title is no table"),
        (("air", "deep", "down"), 3.0, "there is no air.deep"),
        (("air", "temperature"), float("nan"), "holds no nan"),
    ],
)
def test_what_has_no_place_in_the_text_is_refused(key, value, message):
    with pytest.raises(ValueError, match=message):
        set_in_text(LOFT, key, value)


def test_moving_what_is_not_there_is_refused():
    for kind, index in (("speakers", 1), ("speakers", -1), ("panels", 0), ("rooms", 0)):
        with pytest.raises(ValueError, match="the scene has no"):
            move_in_text(LOFT, kind, index, (1.0, 1.0, 1.0))
    with pytest.raises(ValueError, match="3 coordinates, not 2"):
        move_in_text(LOFT, "seats", 0, (1.0, 1.0))


@pytest.mark.parametrize("path", SCENES, ids=lambda p: p.stem)
def test_writing_every_place_as_it_is_changes_no_byte(path):
    text, scene = read_scene_text(path), load_scene(path)
    for kind in ("speakers", "seats", "objects"):
        for index in range(len(getattr(scene, kind))):
            assert move_in_text(text, kind, index, place_of(text, kind, index)) == text


coordinate = st.floats(0.3, 2.2)


@given(path=st.sampled_from(SCENES), data=st.data(), values=st.tuples(coordinate, coordinate, coordinate))
def test_an_edited_text_loads_to_the_scene_with_that_value_and_nothing_else_changed(path, data, values):
    text, scene = read_scene_text(path), load_scene(path)
    kind = data.draw(st.sampled_from([k for k in PLACES if getattr(scene, k)]))
    index = data.draw(st.integers(0, len(getattr(scene, kind)) - 1))
    edited = move_in_text(text, kind, index, values)
    entry = getattr(load_scene(path, edited), kind)[index]
    field = "move" if getattr(entry, "shape", "") == "mesh" else PLACES[kind]
    assert getattr(entry, field) == pytest.approx(values, abs=0.0005 + 1e-9)  # half a millimetre
    if path.stem != "cupboard":  # the one room taped in inches
        assert getattr(entry, field) == tuple(round(v, 3) for v in values)
    assert comments(edited) == comments(text)
    before, after = tomllib.loads(text), tomllib.loads(edited)
    before[kind][index].pop(field, None), after[kind][index].pop(field)
    assert before == after
    assert move_in_text(edited, kind, index, values) == edited


@given(
    values=st.tuples(coordinate, coordinate, coordinate),
    bom=st.booleans(),
    newline=st.sampled_from(["\n", "\r\n"]),
)
def test_line_ends_marks_and_foreign_letters_survive(values, bom, newline):
    text = ("\ufeff" if bom else "") + LOFT.replace("top", "öben 家").replace("\n", newline).rstrip("\r\n")
    edited = text
    for kind, count in (("speakers", 3), ("seats", 3), ("objects", 3), ("clouds", 2)):
        edited = move_in_text(edited, kind, 0, values[:count])
    edited = set_in_text(edited, ("job", "client"), "größer")
    assert edited.startswith(text[: text.index("[room]")])
    assert (
        edited.count("\n") == text.count("\n") + 5
    )  # one line of a move; the last one ended, a blank one, two of [job]
    assert edited.count("\r") == (edited.count("\n") if newline == "\r\n" else 0)
    assert place_of(edited, "seats", 0) == pytest.approx(values, abs=COARSEST_M + 1e-9)


def leaves(value, key=()):
    """Key paths of all single values of a document."""
    if isinstance(value, dict):
        for name, own in value.items():
            yield from leaves(own, (*key, name))
    elif isinstance(value, list):
        for index, own in enumerate(value):
            yield from leaves(own, (*key, index))
    else:
        yield key


def put(table, key, value):
    for part in key[:-1]:
        table = table[part]
    table[key[-1]] = value


plain_values = st.one_of(
    st.booleans(),
    st.integers(-1000, 1000),
    st.floats(-50.0, 50.0).map(lambda x: round(x, 3)),
    st.text(max_size=12),
)


@given(path=st.sampled_from(SCENES), data=st.data(), value=plain_values)
def test_any_value_of_any_scene_can_be_set_and_nothing_else_changes(path, data, value):
    text = read_scene_text(path)
    expected = tomllib.loads(text)
    key = data.draw(st.sampled_from(list(leaves(expected))))
    old = expected
    for part in key:
        old = old[part]
    if isinstance(old, str) and not isinstance(value, bool | str):
        value = str(value)  # a number would be a length and take the old unit
    put(expected, key, value)
    edited = set_in_text(text, key, value)
    assert tomllib.loads(edited) == expected
    assert len(edited.splitlines()) >= len(text.splitlines())
    assert [c for c in comments(edited) if c in comments(text)] == comments(text)


@given(path=st.sampled_from(SCENES), data=st.data(), value=plain_values)
def test_a_key_can_be_added_to_any_table_of_any_scene(path, data, value):
    text = read_scene_text(path)
    expected = tomllib.loads(text)
    tables = sorted({key[:n] for key in leaves(expected) for n in range(len(key))}, key=str)

    def at(key):
        found = expected
        for part in key:
            found = found[part]
        return found

    key = data.draw(st.sampled_from([key for key in tables if isinstance(at(key), dict)]))
    put(expected, (*key, "new key"), value)
    edited = set_in_text(text, (*key, "new key"), value)
    assert tomllib.loads(edited) == expected
    assert comments(edited.replace("new key", "")) == comments(text) or isinstance(value, str)


def test_a_first_key_can_be_added_where_a_header_names_two_tables():
    text = 'title = "t"\n[materials."rubble stone"]\nsource = "none"\n'
    edited = set_in_text(text, ("author",), "me")
    assert tomllib.loads(edited) == {**tomllib.loads(text), "author": "me"}


def test_lists_that_are_no_tables_are_refused_with_the_reason():
    with pytest.raises(ValueError, match="no speakers"):
        move_in_text("speakers = [1, 2]", "speakers", 0, (1.0, 1.0, 1.0))
    with pytest.raises(ValueError, match="does not say where it stands"):
        move_in_text('[[speakers]]\nname = "left"', "speakers", 0, (1.0, 1.0, 1.0))

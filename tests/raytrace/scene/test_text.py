import pickle
import re
import string
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from raytrace.scene.marks import find_marks
from raytrace.scene.naming import nearest_name
from raytrace.scene.text import SceneError, SceneFile, key_text, read_scene_file
from tests.support.scenes import SCENES


def read_text(folder: Path, text: str | bytes, name: str = "loft.toml") -> SceneFile:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_scene_file(path)


def message(folder: Path, text: str | bytes) -> str:
    with pytest.raises(SceneError) as caught:
        read_text(folder, text)
    return str(caught.value).removeprefix(str(folder) + "/")


def test_an_error_has_the_form_of_the_design(tmp_path, monkeypatch):
    # The sample of the design: file, line, column, key; the line itself; carets under the key.
    lines = ["[room]", *(["# a note"] * 10), 'widht = "3700 mm"', 'shape = "box"']
    (tmp_path / "loft.toml").write_text("\n".join(lines), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    file = read_scene_file("loft.toml")
    error = file.error(("room", "widht"), 'unknown key "widht", did you mean "width"?', at="key")
    assert str(error) == (
        'loft.toml:12:1: room.widht: unknown key "widht", did you mean "width"?\n'
        '   12 | widht = "3700 mm"\n'
        "      | ^^^^^"
    )


def carets(file: SceneFile, key: tuple, at: str = "value") -> tuple[str, str]:
    """The line shown, and below it the line with the carets, both without the margin."""
    _, shown, below = str(file.error(key, "wrong", at=at)).split("\n")
    return shown[8:], below[8:]


def test_carets_stay_under_the_value_behind_tabs(tmp_path):
    shown, below = carets(read_text(tmp_path, "\t\twidth\t=\t-3.0 # note"), ("width",))
    assert shown == "\t\twidth\t=\t-3.0 # note"
    # Tabs are repeated, so that the terminal moves both lines alike whatever its tab stops.
    assert below == "\t\t     \t \t^^^^"


def test_carets_allow_for_wide_and_combining_characters(tmp_path):
    # Two cells for an East Asian wide character, none for a combining accent (Unicode TR 11).
    shown, below = carets(read_text(tmp_path, 'a = ["\u5bb6", "e\u0301", 7]'), ("a", 2))
    assert shown.index("7") == 16
    assert below == " " * (16 + 1 - 1) + "^"


def test_a_very_long_line_is_cut_around_the_fault(tmp_path):
    numbers = ", ".join(str(k) for k in range(300))
    shown, below = carets(read_text(tmp_path, f"corners = [{numbers}]"), ("corners", 250))
    assert len(shown) <= 108  # a hundred characters and the dots at both ends
    assert shown.startswith("... ")
    assert shown.endswith(" ...")
    assert shown[below.index("^") : below.rindex("^") + 1] == "250"


def test_of_a_value_over_several_lines_the_first_is_underlined(tmp_path):
    shown, below = carets(read_text(tmp_path, "corners = [\n  [0, 0],\n  [4, 0],\n]"), ("corners",))
    assert (shown, below) == ("corners = [", " " * 10 + "^")


def test_what_is_missing_is_shown_by_the_table_that_should_hold_it(tmp_path):
    file = read_text(tmp_path, 'a = 1\n[[speakers]]\nname = "x"\n[[speakers]]\nname = "y"\n')
    assert carets(file, ("speakers", 1, "position")) == ("[[speakers]]", "^" * 12)
    assert file.where(("speakers", 1, "position", 0)) == (4, 1)
    assert file.where(("seats",)) == (1, 1)


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("[room\n", "1:6", "']'"),
        ("a = 1\na = 2\n", "2:6", "overwrite"),
        ("a = 1\nb = [1, 2\n", "2:9", "array"),
        ('a = "never closed\n', "1:18", "a quote is missing"),
        ("a = 3,7\n", "1:6", "decimals with a point"),
        ("a = 3400 mm\n", "1:10", '"2400 mm"'),
        ("a = [3.4 m, 2]\n", "1:10", '"2400 mm"'),
        ("a = 8' 6\"\n", "1:6", '"2400 mm"'),
        ('a = "8\' 6""\n', "1:11", '"8 ft 6 in"'),
        ('left wall = "brick"\n', "1:6", '"left wall"'),
        ("a = brick\n", "1:5", "quotes"),
        ("a = " + "[" * 5000, "1:69", "nested"),
    ],
)
def test_slips_of_syntax_are_shown_where_they_stand(tmp_path, text, place, words):
    found = message(tmp_path, text)
    headline = found.split("\n")[0]
    assert headline.startswith(f"loft.toml:{place}: ")
    assert words in headline
    assert re.fullmatch(r" *\^", found.split("\n")[2].removeprefix("      | "))


def test_a_missing_file_is_named_with_its_nearest_neighbour(tmp_path):
    (tmp_path / "attic.toml").write_text("a = 1")
    with pytest.raises(SceneError) as caught:
        read_scene_file(tmp_path / "atic.toml")
    assert str(caught.value) == f'{tmp_path}/atic.toml: no such file, did you mean "{tmp_path}/attic.toml"?'
    assert caught.value.line == 0
    with pytest.raises(SceneError, match="there is no folder"):
        read_scene_file(tmp_path / "nowhere" / "attic.toml")
    with pytest.raises(SceneError, match="hitspot new"):
        read_scene_file(tmp_path / "quite-another.toml")


def test_a_folder_is_answered_with_the_scenes_in_it(tmp_path):
    (tmp_path / "attic.toml").write_text("a = 1")
    with pytest.raises(SceneError, match=r'a folder, not a scene file; scene files in it: "attic\.toml"'):
        read_scene_file(tmp_path)


def test_a_file_in_another_encoding_is_shown_at_its_first_odd_byte(tmp_path):
    found = message(tmp_path, 'a = 1\nplace = "Käthe"\n'.encode("latin-1"))
    assert found.split("\n") == [
        "loft.toml:2:11: byte 0xe4 is not UTF-8; save as UTF-8",
        '    2 | place = "Käthe"',
        "      |           ^",
    ]
    assert "UTF-16" in message(tmp_path, 'title = "x"\n'.encode("utf-16"))


def test_a_mark_at_the_start_and_windows_line_ends_change_nothing(tmp_path):
    plain = read_text(tmp_path, "a = 1\n[b]\nc = [1,\n 2]\n")
    windows = read_text(tmp_path, b"\xef\xbb\xbfa = 1\r\n[b]\r\nc = [1,\r\n 2]\r\n")
    assert (windows.table, windows.marks, windows.text) == (plain.table, plain.marks, plain.text)


@pytest.mark.parametrize("text", ["", "\n\n  \n", "# only a note\n"])
def test_a_file_without_a_scene_says_how_to_start_one(tmp_path, text):
    assert "hitspot new" in message(tmp_path, text)


def test_errors_survive_being_handed_to_another_process(tmp_path):
    error = read_text(tmp_path, "a = 1").error(("a",), "wrong")
    assert str(pickle.loads(pickle.dumps(error))) == str(error)


def test_list_entries_count_from_one_and_odd_names_are_quoted():
    assert key_text(("a", 0, "b c", 2, "d-e")) == 'a[1]."b c"[3].d-e'


def test_no_name_is_near_a_quite_different_one():
    assert nearest_name("temperature", ["length", "width"]) is None


# ---- the table of places against tomllib ---------------------------------------------------------


def paths_of(table: object, path: tuple = ()) -> dict[tuple, object]:
    """Every key path below a value as tomllib reads it, with its value."""
    found = {} if path == () else {path: table}
    entries = (
        table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    )
    for key, value in entries:
        found |= paths_of(value, (*path, key))
    return found


def assert_marks_agree(text: str) -> None:
    """Every key path of tomllib has a place; the text there reads as its key and as its value."""
    marks = find_marks(text)
    expected = paths_of(tomllib.loads(text))
    assert set(marks) == set(expected)
    lines = text.split("\n")
    for path, value in expected.items():
        mark = marks[path]
        key = text[slice(*mark.key)]
        if isinstance(path[-1], str) and not key.startswith("["):
            assert next(iter(tomllib.loads(f"{key} = 0"))) == path[-1]
            assert key in lines[text.count("\n", 0, mark.key[0])]
        shown = text[slice(*mark.value)]
        first = value[0] if isinstance(value, list) and value and shown.startswith("[[") else value
        if shown.startswith("[") and isinstance(first, dict):  # an inline table would start with a brace
            names = [part for part in path if isinstance(part, str)]
            header = tomllib.loads(shown)
            for name in names:
                header = header[0][name] if isinstance(header, list) else header[name]
        elif mark.key != mark.value or not isinstance(value, dict | list):
            assert tomllib.loads(f"x = {shown}") == {"x": value}


@pytest.mark.parametrize(
    "text",
    [
        "a.b.c = 1\na.b.d = 2\n",
        "[a]\nb.c = 1\n[a.d]\ne = 2\n",
        "[[a]]\n[a.b]\nc = 1\n[[a.d]]\n[[a.d]]\ne = 1\n[[a]]\n[[a.d]]\nf = 2\n",
        '"a.b" = 1\n\'c d\'."e\\"f" = { "g h" = [1, { i = 2 }], j.k = "}" }\n',
        "a = \"\"\"\n# not a note = 1\n\"\"\"\" # a note\nb = '''it's'''\n",
        'a = [ # note ]\n  "x]", # more\n\n  [ ], {},\n]\n',
        "[ a . b ] # note\nc = 1979-05-27 07:32:00 # note\nd = [+1e3,-0x1f , true]\n",
        "[a.b]\nc = 1\n[a]\nd = 1\n",
        "\ta\t=\t1\t\n",
    ],
)
def test_places_agree_with_tomllib_in_the_corners_of_the_grammar(text):
    assert_marks_agree(text.replace("0x1f", "31") if "-0x1f" in text else text)


@pytest.mark.parametrize("path", sorted(SCENES.glob("*.toml")), ids=lambda path: path.stem)
def test_places_agree_with_tomllib_in_every_shipped_scene(path):
    assert_marks_agree(path.read_text(encoding="utf-8"))


bare_keys = st.text(string.ascii_letters + string.digits + "-_", min_size=1, max_size=6)
quoted_keys = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=5)
blanks = st.sampled_from(["", " ", "\t", "  "])
gaps = st.sampled_from(["", " ", "\n", "\n\t", " # note ]}\n  "])


def quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


@st.composite
def written_keys(draw: st.DrawFn) -> str:
    if draw(st.booleans()):
        return draw(bare_keys)
    text = draw(quoted_keys)
    return f"'{text}'" if "'" not in text and draw(st.booleans()) else quoted(text)


scalars = st.one_of(
    st.integers(-(10**9), 10**9).map(str),
    st.floats(-1e6, 1e6).map(repr),
    st.sampled_from(
        ["true", "false", "1979-05-27", "'[#]'", '"""a\n[b]\n"""', "'''\n'''", '"=,}\\""', "1_000"]
    ),
    quoted_keys.map(quoted),
)


@st.composite
def written_lists(draw: st.DrawFn, values: st.SearchStrategy[str]) -> str:
    entries = draw(st.lists(values, max_size=3))
    body = "".join(f"{draw(gaps)}{entry}{draw(gaps)}," for entry in entries)
    return f"[{body if draw(st.booleans()) else body.removesuffix(',')}{draw(gaps)}]"


@st.composite
def written_tables(draw: st.DrawFn, values: st.SearchStrategy[str]) -> str:
    keys = draw(st.lists(written_keys(), max_size=3, unique_by=plain))
    pairs = [f"{draw(blanks)}{key}{draw(blanks)}={draw(blanks)}{draw(values)}{draw(blanks)}" for key in keys]
    return "{" + ",".join(pairs) + "}"


def plain(key: str) -> str:
    """What a written key says."""
    return next(iter(tomllib.loads(f"{key} = 0")))


written_values = st.recursive(
    scalars, lambda inner: st.one_of(written_lists(inner), written_tables(inner)), max_leaves=6
)


@st.composite
def documents(draw: st.DrawFn) -> str:
    """A document of tables, lists of tables with tables below them, dotted keys and values of every kind."""
    names = draw(st.lists(written_keys(), min_size=1, max_size=6, unique_by=plain))
    lines = [draw(pairs_of())]
    for name in names:
        kind = draw(st.sampled_from(["pair", "table", "list"]))
        if kind == "pair":
            lines.insert(0, f"{name}{draw(blanks)}={draw(blanks)}{draw(written_values)}")
        elif kind == "table":
            lines.append(f"{draw(blanks)}[{draw(blanks)}{name}{draw(blanks)}] # note\n{draw(pairs_of())}")
            lines.append(f"[{name}.below.'far below']\n{draw(pairs_of())}")
        else:
            for _ in range(draw(st.integers(1, 3))):
                lines.append(f"[[{name}]]\n{draw(pairs_of())}")
                if draw(st.booleans()):
                    lines.append(f"[{name} . below]\n{draw(pairs_of())}[[{name}.list]]\n{draw(pairs_of())}")
    return "\n".join(lines)


@st.composite
def pairs_of(draw: st.DrawFn) -> str:
    """Lines of pairs under distinct first keys; none of them is the name of a table below."""
    keys = draw(st.lists(written_keys(), max_size=3, unique_by=plain))
    pairs = []
    for key in keys:
        dotted = f"{key}{draw(blanks)}.{draw(blanks)}{draw(written_keys())}" if draw(st.booleans()) else key
        pairs.append(f"{draw(blanks)}q-{dotted}" if dotted[0] not in "\"'" else f"pair.{dotted}")
        pairs[-1] += f" = {draw(written_values)} # note\n"
    return "".join(pairs)


def accepted_by_tomllib(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


@settings(max_examples=200, deadline=None)
@given(documents().filter(accepted_by_tomllib))
def test_every_key_path_of_tomllib_has_its_place_in_the_text(text):
    assert_marks_agree(text)


@pytest.mark.parametrize("line", ['material = "wood door', 'material = wood door"', 'at = ["1 m, 2]'])
def test_a_missing_quote_is_named(tmp_path, line):
    assert re.match(r"loft\.toml:2:\d+: a quote is missing", message(tmp_path, f"[[openings]]\n{line}\n"))


def test_an_error_says_what_is_wrong_apart_from_where_it_stands(tmp_path):
    folder = tmp_path / "a: b:1: c"
    folder.mkdir()
    error = read_text(folder, "[room]\nwidth = 3").error(("room", "width"), "too small: 3 m: x:1:2: y")
    assert error.why == "too small: 3 m: x:1:2: y"
    assert error.why in str(error)

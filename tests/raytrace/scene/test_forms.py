"""Forms of keys: every key of every class is offered, with its unit, bounds and help, where it applies."""

from typing import Annotated

import pytest
from pydantic import BaseModel, PlainValidator, ValidationError

from raytrace import build_room, keys_at, load_scene, put_key
from raytrace.scene.scene import Scene
from raytrace.scene.tables import Seat, Table, problems
from raytrace.scene.values import Length
from tests.support.broken_scenes import SECTIONS

MORE = """
[[openings]]
name = "window"
surface = "left wall"
kind = "window"
at = [0.2, 1.0]
size = [0.5, 0.5]
material = "window"

[[keep_outs]]
name = "grille"
surface = "ceiling"
at = [0.1, 0.1]
size = [0.2, 0.2]
"""


def whole_scene(text=""):
    """A scene with a table of every kind."""
    return load_scene("whole.toml", "\n\n".join([*SECTIONS.values(), MORE, text]))


def tables_of(scene):
    """Every table of a scene, by its key path."""
    for own in type(scene).model_fields:
        value = getattr(scene, own)
        if isinstance(value, Table):
            yield (own,), value
        elif isinstance(value, tuple):
            yield from (((own, k), entry) for k, entry in enumerate(value))
        elif isinstance(value, dict):
            yield from (((own, name), e) for name, e in value.items() if isinstance(e, BaseModel))


def is_ruled_out(scene, path, own):
    """Whether the table's own rules say that a key has no place beside its other values."""
    given = scene.document
    for part in path:
        given = given[part]
    for example in ("x", 1.0, True, [1.0, 1.0], {"hinge": "left", "out": 0.5}):
        try:
            type(dict(tables_of(scene))[path]).model_validate({**given, own: example})
        except ValidationError as problem:
            if any(at == "key" for _, _, at in problems(problem)):
                return True
    return False


def test_every_key_of_every_class_is_offered_where_it_applies():
    scene = whole_scene()
    surfaces = [s.name for s in build_room(scene).surfaces]
    seen = 0
    for path, table in tables_of(scene):
        offered = {key.path[len(path)] for key in keys_at(scene, path, surfaces=surfaces)}
        for own in type(table).model_fields:
            seen += 1
            assert own in offered or is_ruled_out(scene, path, own), (path, own)
    assert seen > 100  # the scene has a table of every kind


def test_what_other_values_rule_out_is_not_offered():
    scene = whole_scene()
    offered = [{key.path[2] for key in keys_at(scene, ("openings", k))} for k in (0, 1)]
    assert "stands" not in offered[0]
    assert {"stands", "swing"} <= offered[1]
    assert "radius" not in {key.path[2] for key in keys_at(scene, ("keep_outs", 1))}
    assert "at" not in {key.path[2] for key in keys_at(scene, ("keep_outs", 0))}


def test_a_new_key_is_offered_by_itself_with_unit_bounds_and_help():
    class CushionedSeat(Seat):
        cushion: Annotated[float, PlainValidator(Length(0.0, 0.3, '"50 mm"'))] = 0.05
        """How thick the cushion is. [m]"""

    scene = whole_scene()
    seats = (CushionedSeat(name="mix", ears=(1.0, 1.0, 1.2)),)
    key = keys_at(scene.model_copy(update={"seats": seats}), ("seats", 0))[-1]
    assert key.path == ("seats", 0, "cushion")
    assert (key.form.kind, key.form.low, key.form.high, key.form.unit) == ("length", 0.0, 0.3, "m")
    assert (key.usual, key.is_required) == (0.05, False)


def test_keys_say_what_stands_below_them_in_their_class():
    keys = {key.path[-1]: key for key in keys_at(whole_scene(), ("clouds", 0))}
    assert keys["raft"].help.startswith("One frame for all slabs")
    assert keys["surface"].help.startswith("The surface of the room")


def test_every_key_says_what_it_is():
    scene = whole_scene()
    mute = [
        k.path
        for path, _ in tables_of(scene)
        for k in keys_at(scene, path, surfaces=("floor",))
        if not k.help
    ]
    assert mute == []


def test_every_bound_of_a_number_is_one_that_the_scene_accepts():
    scene = whole_scene()
    for path, key in [(p, k) for p, _ in tables_of(scene) if p != ("limits",) for k in keys_at(scene, p)]:
        form = key.form
        if form.kind in ("length", "number"):
            assert form.low is not None
            assert form.high is not None
            assert form.low < form.high, path


@pytest.mark.parametrize(
    ("path", "typed", "line"),
    [
        (("seats", 0, "zone"), None, "zone = [0.15, 0.2, 0.05]"),
        (("speakers", 0, "aim"), "{ yaw = 20, pitch = 0 }", "aim = { yaw = 20, pitch = 0 }"),
        (("speakers", 0, "use"), "main", 'use = "main"'),
        (("clouds", 0, "raft"), "true", "raft = true"),
        (("panels", 0, "gap"), "50 mm", 'gap = "50 mm"'),
        (("panels", 0, "turned"), "90", "turned = 90"),
        (("openings", 1, "swing", "out"), "0.5", 'swing = { hinge = "left", out = 0.5 }'),
        (("limits", "standard"), "ITU-R BS.1116-3", 'standard = "ITU-R BS.1116-3"'),
        (("job", "date"), "3 May", 'date = "3 May"'),
    ],
)
def test_what_is_typed_stands_in_the_file_as_a_person_would_write_it(path, typed, line):
    scene = whole_scene()
    table = path[:2] if isinstance(path[1], int) else path[:1]
    key = next(key for key in keys_at(scene, table, surfaces=["ceiling"]) if key.path == path)
    value = key.usual if typed is None else key.form.read(typed, key.value)
    text = put_key(scene.text, key, value)
    assert line in text.splitlines()
    assert isinstance(load_scene("x.toml", text), Scene)


def test_what_is_no_length_or_number_is_told_before_it_is_written():
    keys = {key.path[-1]: key for key in keys_at(whole_scene(), ("joists", 0))}
    with pytest.raises(ValueError, match="is not a length"):
        keys["spacing"].form.read("wide")
    yaw = next(key for key in keys_at(whole_scene(), ("stands", 0)) if key.path[-1] == "yaw")
    with pytest.raises(ValueError, match="no number"):
        yaw.form.read("left")

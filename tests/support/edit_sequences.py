"""Random edits of scenes in unusual styles of TOML; by hand: `python -m tests.support.edit_sequences 500`.

After each edit the text reads back as a model of plain dictionaries says, it is a scene with a room, and
nothing else of the text has changed: no remark and no line end of what was not asked for.
"""

import copy
import random
import sys
import tempfile
import tomllib
from pathlib import Path

from raytrace import (
    SceneError,
    add_in_text,
    build_room,
    keys_at,
    load_scene,
    move_in_text,
    parse_length,
    plain_text,
    put_key,
    remove_in_text,
    rename_in_text,
    retyped,
)
from viewer.window.session.drafts import Draft, History, open_draft, save

HEADED = """\
# A room with remarks everywhere.
title = "headed" # its name

  [room] # indented
\tshape = "box"
\tlength = "4200 mm"   # from plaster to plaster
\twidth = '300cm'
\theight = "7' 10 1/2\\""

[surfaces]
default = "plasterboard"
"desk top" = "wood" # a face

# the way in
[[openings]]
name = "door"
kind = "door"
surface = "back wall"
at = ["1900 mm", 0] # lower left
size = [
    "800 mm", # wide
    2.0,      # high
]
material = "wood door"
[openings.swing]
hinge = "left"
out = 0.75

[[objects]]
name = "desk"
shape = "box"
centre = [1.2, 1.5, 0.72]
size = [0.7, 1.5, 0.03]
material = "desk" # see below
# nothing on it

[[speakers]]
name = "left"
position = [0.75, 0.9, 1.2]
[speakers.directivity]
radius = 0.07

[[speakers]]
name = "right"
position = [0.75, 2.1, 1.2]

[[seats]]
name = "mix"
ears = ["5 ft 10 1/2 in", 1.5, 1.2]

[[panels]]
name = "P1"
surface = "left wall"
build = "wool 100"
centre = [3.0, 1.2]

[materials.desk]
absorption = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]
"""
INLINE = """\
title = "inline" # one line each
room = { shape = "box", length = 4.2, width = 3, height = 2.4 }
surfaces.default = "plasterboard" # dotted
surfaces.floor = "laminate floor"
job.client = "somebody" # dotted as well
speakers = [
\t{ name = "left", position = [0.75, 0.9, 1.2] }, # left, of course
\t{ name = "right", position = [0.75, 2.1, 1.2], aim = { yaw = -30 } }, # a comma, more
]
seats = [{ name = "mix", ears = [1.79, 1.5, 1.2] }] # one
panels = [
    { name = "P1", surface = "left wall", build = "wool 100", centre = [3.0, 1.2] }
]
openings = [{name="rug",kind="cover",surface="floor",at=[1,1],size=[1,1],material="rug"}]
"""
STYLES = {
    "headed": HEADED,
    "windows": HEADED.replace("\n", "\r\n"),
    "marked": "\ufeff" + HEADED,
    "inline": INLINE,
    "inline windows": INLINE.replace("\n", "\r\n"),
    "compact": "\n".join(line for line in HEADED.split("\n") if line.strip()),
}
NEW = {
    "openings": {
        "kind": "cover",
        "surface": "floor",
        "at": [0.2, 0.2],
        "size": ["50 cm", 0.5],
        "material": "rug",
    },
    "objects": {"shape": "box", "centre": [3.6, 0.5, 0.4], "size": [0.5, 0.5, 0.8], "material": "wood"},
    "speakers": {"position": [0.4, 1.5, 0.3], "use": "sub"},
    "seats": {"ears": [3.0, 1.4, 1.2]},
    "keep_outs": {"surface": "ceiling", "centre": [2.0, 2.0], "radius": "120 mm"},
    "joists": {"surface": "ceiling", "along": "v", "first": 0.2, "spacing": 0.4},
    "panels": {"surface": "right wall", "build": "wool 50", "centre": [2.5, 1.2]},
    "stands": {"build": "wool 50", "at": [3.8, 1.5], "yaw": 180.0},
    "clouds": {
        "surface": "ceiling",
        "build": "wool 30",
        "centre": [1.5, 1.5],
        "rows": 1,
        "columns": 1,
        "drop": 0.1,
    },
}
MOVED = {"speakers": "position", "seats": "ears", "objects": "centre", "panels": "centre", "stands": "at"}
STEPS = 12
ROUNDED_M = 0.0254 / 64 + 1e-9  # half of 1/32 in, to which texts in feet and inches are rounded


def document(text):
    return tomllib.loads(plain_text(text))


def value_at(table, path):
    for part in path:
        table = table[part]
    return table


def with_value(table, path, value):
    table = copy.deepcopy(table)
    outer = table
    for part in path[:-1]:
        outer = outer.setdefault(part, {}) if isinstance(outer, dict) else outer[part]
    outer[path[-1]] = value
    return table


def without(table, path):
    table = copy.deepcopy(table)
    del value_at(table, path[:-1])[path[-1]]
    return table


def alike(one, other):
    """Whether two documents say the same; lengths may be written otherwise."""
    if isinstance(one, dict) and isinstance(other, dict):
        # A table or list of which the last entry has gone may stay as an empty one, or not.
        return all(alike(one.get(key) or None, other.get(key) or None) for key in {*one, *other})
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(alike(a, b) for a, b in zip(one, other, strict=True))
    if one == other or not (one or other):
        return one == other or {type(one), type(other)} <= {dict, list, type(None), int, float}
    try:
        return abs(parse_length(one) - parse_length(other)) <= ROUNDED_M
    except ValueError:
        return False


def remarks(text):
    return [line[line.index("#") :].strip() for line in plain_text(text).split("\n") if "#" in line]


class Sequence:
    """One random sequence of edits of one text."""

    def __init__(self, seed, style, folder):
        self.random = random.Random(seed)
        self.path = Path(folder) / f"{seed}.toml"
        self.path.write_bytes(STYLES[style].encode())
        self.history = History(open_draft(self.path))
        self.told = []

    @property
    def text(self):
        return self.history.current.text

    def edit(self):
        """An edit, the document it should give, and whether remarks may go with it."""
        scene = load_scene(self.path, self.text)
        doc = document(self.text)
        kinds = [kind for kind in NEW if doc.get(kind)]
        kind = self.random.choice(kinds)
        index = self.random.randrange(len(doc[kind]))
        choice = self.random.choice(("add", "remove", "rename", "put", "put", "put", "drop", "move", "type"))
        self.told.append((choice, kind, index))
        if choice == "add":
            kind = self.random.choice(tuple(NEW))
            named = {} if kind == "joists" else {"name": f"new {self.random.randrange(1000)}"}
            entry = named | NEW[kind]
            wanted = copy.deepcopy(doc)
            wanted.setdefault(kind, []).append(entry)
            return add_in_text(self.text, kind, entry), wanted, False
        if choice == "remove":
            return remove_in_text(self.text, (kind, index)), without(doc, (kind, index)), True
        if choice == "rename" and kind != "joists":
            name = f'so "{self.random.randrange(1000)}"'
            wanted = with_value(doc, (kind, index, "name"), name)
            old = doc[kind][index]["name"]
            if kind == "objects" and f"{old} top" in wanted.get("surfaces", {}):
                wanted["surfaces"][f"{name} top"] = wanted["surfaces"].pop(f"{old} top")
            return rename_in_text(self.text, (kind, index), name), wanted, False
        if choice == "move" and kind in MOVED:
            place = [parse_length(value) for value in doc[kind][index][MOVED[kind]]]
            moved = [round(value + self.random.uniform(-0.05, 0.05), 3) for value in place]
            wanted = with_value(doc, (kind, index, MOVED[kind]), moved)
            return move_in_text(self.text, kind, index, moved), wanted, False
        if choice == "type":
            lines = plain_text(self.text).split("\n")
            lines.insert(0, f"# typed {self.random.randrange(1000)}")
            return retyped(self.text, "\n".join(lines)), doc, False
        return self.edit_of_key(
            scene, doc, self.random.choice([(kind, index), ("room",), ("job",), ("air",)]), choice
        )

    def edit_of_key(self, scene, doc, path, choice):
        offered = keys_at(scene, path, surfaces=["ceiling", "left wall"])
        keys = [own for own in offered if own.path[-1] != "name" and own.form.example is not None]
        key = self.random.choice(keys)
        self.told.append(key.path)
        if choice == "drop" and key.value is not None:
            return remove_in_text(self.text, key.path), without(doc, key.path), True
        form = key.form.of or key.form
        value = key.form.example
        if key.form.choices:
            value = self.random.choice(key.form.choices)
        elif form.low is not None and key.form.of is None:
            value = round(form.low + (min(form.high, 4.0) - form.low) * self.random.random(), 3)
            value = int(max(form.low, value)) if form.is_whole else value
        wanted = doc
        if key.table is not None:
            for own, usual in key.table.items():
                wanted = with_value(wanted, (*key.path[:-1], own), usual)
        return put_key(self.text, key, value), with_value(wanted, key.path, value), isinstance(value, list)

    def step(self):
        before = self.text
        kind = self.random.random()
        if kind < 0.15 and self.history.can_undo:
            self.told.append("undo")
            self.history.undo()
        elif kind < 0.25 and self.history.can_redo:
            self.told.append("redo")
            self.history.redo()
        elif kind < 0.3:
            self.told.append("save")
            self.history.push(save(self.history.current))
            assert self.path.read_bytes() == before.encode()
            assert open_draft(self.path).text == before
        else:
            self.change(before)

    def change(self, before):
        try:
            text, wanted, may_lose = self.edit()
        except ValueError:
            return  # told to change it in the text
        found = document(text)  # whatever comes out is TOML
        assert alike(found, wanted), (found, wanted)
        assert ("\r\n" in before) == ("\r\n" in text)
        assert text.count("\n") == text.count("\r\n") or "\r\n" not in before
        kept = remarks(text)
        for remark in remarks(before):
            assert remark in kept or may_lose, remark
        draft = Draft(self.path, text, self.history.current.saved_text)
        try:
            build_room(draft.scene())
        except SceneError:
            return  # refused with its reason: nothing is changed
        self.history.push(draft)


def run(seed, style, folder, steps=STEPS):
    """One sequence, and all of it taken back."""
    made = Sequence(seed, style, folder)
    first = made.text
    try:
        for _ in range(steps):
            made.step()
        while made.history.can_undo:
            made.history.undo()
        assert made.text == first
    except Exception as problem:
        problem.add_note(f"{style}, seed {seed}: {made.told}\n{made.text}")
        raise
    return len(made.told)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        names = list(STYLES)
        done = [run(seed, names[seed % len(names)], folder) for seed in range(int(sys.argv[1]))]
    sys.stdout.write(f"{len(done)} sequences, {sum(done)} edits\n")

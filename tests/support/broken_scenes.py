"""Scenes that break one rule each, with the place and the words that the message must have.

The text between « and » is what the carets of the message have to stand under; the marks are taken
out before the scene is read. `python -m tests.support.broken_scenes` prints the list.
"""

import re
from dataclasses import dataclass

SECTIONS = {
    "top": 'title = "Broken room"',
    "job": '[job]\nclient = "somebody"\nsurvey_error = "10 mm"\ndrilling = ["ceiling", "left wall"]',
    "air": "[air]\ntemperature = 21.0\nhumidity = 45.0",
    "room": '[room]\nshape = "box"\nlength = "4200 mm"\nwidth = 3.0\nheight = "7 ft 10 1/2 in"',
    "surfaces": '[surfaces]\ndefault = "plasterboard"\nfloor = "laminate floor"',
    "materials": '[materials."old curtain"]\nabsorption = [0.1, 0.1, 0.2, 0.3, 0.4, 0.5, 0.5, 0.5]\n'
    "scattering = 0.2",
    "openings": '[[openings]]\nname = "door"\nsurface = "back wall"\nkind = "door"\nat = [1.9, 0]\n'
    'size = [0.8, 2.0]\nmaterial = "wood door"\nswing = { hinge = "left", out = 0.75 }',
    "objects": '[[objects]]\nname = "desk"\nshape = "box"\ncentre = [1.2, 1.5, 0.72]\n'
    'size = [0.7, 1.5, 0.03]\nmaterial = "desk"',
    "speakers": '[[speakers]]\nname = "left"\nposition = [0.75, 0.9, 1.2]\n\n'
    '[[speakers]]\nname = "right"\nposition = [0.75, 2.1, 1.2]\naim = { yaw = -30, pitch = 0 }',
    "seats": '[[seats]]\nname = "mix"\nears = [1.79, 1.5, 1.2]',
    "keep_outs": '[[keep_outs]]\nname = "smoke alarm"\nsurface = "ceiling"\ncentre = [2.6, 1.5]\n'
    "radius = 0.5",
    "joists": '[[joists]]\nsurface = "ceiling"\nalong = "v"\nfirst = 0.2\nspacing = "16 in"',
    "builds": '[builds."slab 100"]\nsize = [0.6, 1.2]\nthickness = "100 mm"\nflow_resistivity = 12000',
    "prices": '[prices]\n"slab 100" = 48',
    "stock": '[stock]\n"wool 50" = 6',
    "covers": '[covers."thick rug"]\nprice = 180\n\n[covers."own rug"]\non = "floor"\nmaterial = "rug"',
    "panels": '[[panels]]\nname = "P1"\nsurface = "left wall"\nbuild = "slab 100"\ncentre = [3.06, 1.2]',
    "stands": '[[stands]]\nname = "S1"\nbuild = "slab 100"\nat = [2.6, 2.6]\nyaw = 180',
    "clouds": '[[clouds]]\nname = "C1"\nsurface = "ceiling"\nbuild = "slab 100"\ncentre = [1.3, 1.5]\n'
    "rows = 2\ncolumns = 2\ndrop = 0.2",
    "limits": '[limits]\nstandard = "EBU Tech 3276"',
    "method": '[method]\nplain_surfaces = "random incidence"',
}
"""A whole scene of every kind of key, section by section; none of it is wrong."""


def _box_obj(length: int, width: int, height: int, start: int = 0) -> str:
    """A cuboid as an OBJ file, from (start, 0, 0)."""
    xs = (start, start + length)
    corners = "".join(f"v {x} {y} {z}\n" for x in xs for y in (0, width) for z in (0, height))
    return f"{corners}o hull\nf 1 5 7 3\nf 2 4 8 6\nf 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\n"


FILES = {
    "flat.obj": "v 0 0 0\nv 1 0 0\nv 1 1 0\no sheet\nf 1 2 3\n",
    "box mm.obj": _box_obj(4200, 3000, 2400),
    "box moved.obj": _box_obj(4200, 3000, 2400, start=150),
    "torn.obj": "v 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 9\n",
    "speaker.csv": "angle,63\n0,0\n",
}
"""Files that lie beside the scene."""


@dataclass(frozen=True)
class BrokenScene:
    """A scene that breaks the rule `name`; its message is about `key` and holds all of `words`."""

    name: str
    marked: str
    key: str
    words: tuple[str, ...]
    needs_room: bool

    @property
    def text(self) -> str:
        return re.sub("[«»]", "", self.marked)

    @property
    def place(self) -> tuple[int, int, str]:
        """Line and column of what is wrong, both from 1, and its text as far as the line goes."""
        start = self.marked.index("«")
        wrong = self.marked[start + 1 : self.marked.index("»")].split("\n")[0]
        return self.marked.count("\n", 0, start) + 1, start - self.marked.rfind("\n", 0, start), wrong


def _scene(**changed: str) -> str:
    return "\n\n".join({**SECTIONS, **changed}.values()) + "\n"


def _broken(name: str, key: str, *words: str, needs_room: bool = False, **changed: str) -> BrokenScene:
    unknown = set(changed) - set(SECTIONS)
    assert not unknown, unknown
    return BrokenScene(name, _scene(**changed), key, words, needs_room)


def _in_room(name: str, key: str, *words: str, **changed: str) -> BrokenScene:
    """A rule that only the room's geometry can tell."""
    return _broken(name, key, *words, needs_room=True, **changed)


def _with(section: str, old: str, new: str) -> str:
    """A section with one stretch of its text changed."""
    assert SECTIONS[section].count(old) == 1, (section, old)
    return SECTIONS[section].replace(old, new)


def _gable(lines: str) -> str:
    return f'[room]\nshape = "gable"\nlength = 4.2\nwidth = 3.0\n{lines}'


def _plan(lines: str) -> str:
    return f'[room]\nshape = "plan"\nheight = 2.4\n{lines}'


_FLAT_CORNERS = "corners = [[0, 0], [4.2, 0], [4.2, 3], [0, 3]]"
_LEAN_TO = '[room]\nshape = "lean-to"\nlength = 4.2\nwidth = 3\n'
_LEFT = '[[speakers]]\nname = "left"\nposition = [0.75, 0.9, 1.2]\n'
_FELT = "[materials.felt]\nabsorption = [0.1, 0.1, 0.2, 0.3, 0.4, 0.5, 0.5, "

# fmt: off
BROKEN_SCENES = [
    # TOML itself
    _broken("bare decimal comma", "", "decimals with a point",
        room=_with("room", "width = 3.0", "width = 3«,»0")),
    _broken("unit without quotes", "", "quotes", "2400 mm", room=_with("room", "3.0", "3000 «m»m")),
    _broken("space in a bare key", "", "quotes", "left wall", surfaces='[surfaces]\nleft «w»all = "brick"'),
    _broken("text without quotes", "", "quotes", surfaces="[surfaces]\ndefault = «b»rick"),
    # keys
    _broken("unknown key", "room.widht", '"widht"', '"width"', room=_with("room", "width", "«widht»")),
    _broken("unknown table", "seat", '"seats"', air='«[seat]»\nname = "mix"'),
    _broken("unknown key in a list", "speakers[2].posiiton", "position",
        speakers=SECTIONS["speakers"].replace("position = [0.75, 2.1", "«posiiton» = [0.75, 2.1")),
    _broken("unknown key in an inline table", "openings[1].swing.hing", "hinge",
        openings=_with("openings", "hinge", "«hing»")),
    _broken("key in capitals", "room.Height", '"height"', room=_with("room", "height", "«Height»")),
    _broken("missing key", "room.height", "missing", "height = ",
        room='«[room]»\nshape = "box"\nlength = 4.2\nwidth = 3.0'),
    _broken("missing key of a list entry", "speakers[2].position", "missing",
        speakers=_LEFT + '«[[speakers]]»\nname = "right"'),
    _broken("no room", "room", "missing", top='«t»itle = "No room"', room=""),
    _broken("one table as a list", "room", "single brackets",
        room='«[[room]]»\nshape = "box"\nlength = 4.2\nwidth = 3\nheight = 2.4'),
    _broken("a list as one table", "seats", "double brackets",
        seats='«[seats]»\nname = "mix"\nears = [1.8, 1.5, 1.2]'),
    # lengths and numbers
    _broken("decimal comma in text", "room.width", "comma", "point", room=_with("room", "3.0", '«"3,0 m"»')),
    _broken("text without a unit", "room.width", "unit", '"3.0 m"', room=_with("room", "3.0", '«"3.0"»')),
    _broken("unknown unit", "room.width", "1200 mm", room=_with("room", "3.0", '«"3 yd"»')),
    _broken("true as a length", "room.width", "length", "true", room=_with("room", "3.0", "«true»")),
    _broken("a length that is not a number", "room.width", "nan", room=_with("room", "3.0", "«nan»")),
    _broken("height in centimetres without a unit", "room.height", "240 m", '"240 cm"',
        room=_with("room", '"7 ft 10 1/2 in"', "«240»")),
    _broken("height ten times too much", "room.height", "24 m", '"240 cm"',
        room=_with("room", '"7 ft 10 1/2 in"', "«24»")),
    _broken("width in millimetres without a unit", "room.width", "3000 m", '"3000 mm"',
        room=_with("room", "3.0", "«3000»")),
    _broken("negative length", "room.width", "-3", "1 m to", room=_with("room", "3.0", "«-3.0»")),
    _broken("position in millimetres without a unit", "speakers[1].position[1]", '"750 mm"',
        speakers='[[speakers]]\nname = "left"\nposition = [«750», 900, 1200]'),
    _broken("two numbers for a position", "seats[1].ears", "expected 3", "found 2",
        seats='[[seats]]\nname = "mix"\nears = «[1.8, 1.5]»'),
    _broken("decimal commas in a list", "seats[1].ears", "point", "[1.79, 1.50, 1.2]",
        seats='[[seats]]\nname = "mix"\nears = «[1,79, 1,50, 1,2]»'),
    _broken("a number for a position", "seats[1].ears", "list",
        seats='[[seats]]\nname = "mix"\nears = «1.8»'),
    # job and air
    _broken("survey error of a metre", "job.survey_error", "1 m", job='[job]\nsurvey_error = «"1 m"»'),
    _broken("a number as text", "job.client", "text", "7", job="[job]\nclient = «7»"),
    _broken("drilling neither yes nor no", "job.drilling", "true", '"maybe"',
        job='[job]\ndrilling = «"maybe"»'),
    _broken("units that nobody has", "job.units", '"feet"', '"imperial"', job='[job]\nunits = «"feet"»'),
    _broken("paper of another kind", "job.paper", '"A5"', '"Letter"', job='[job]\npaper = «"A5"»'),
    _broken("raised neither yes nor no", "job.raised", "true", '"perhaps"',
        job='[job]\nraised = «"perhaps"»'),
    _in_room("drilling in an unknown surface", "job.drilling[2]", '"ceiling"',
        job='[job]\ndrilling = ["floor", «"cieling"»]'),
    _broken("temperature out of range", "air.temperature", "60", "-20 to 50",
        air="[air]\ntemperature = «60»"),
    _broken("temperature as text", "air.temperature", "number", air='[air]\ntemperature = «"20"»'),
    _broken("humidity out of range", "air.humidity", "120", "0 to 100", air="[air]\nhumidity = «120»"),
    _broken("pressure in hectopascal", "air.pressure", "1013", "kPa", air="[air]\npressure = «1013»"),
    # rooms
    _broken("unknown shape", "room.shape", '"gable"', room=_with("room", '"box"', '«"gabel"»')),
    _broken("no shape", "room.shape", "missing", '"lean-to"',
        room="«[room]»\nlength = 4.2\nwidth = 3\nheight = 2.4"),
    _broken("key of another shape", "room.ridge", "ridge", '"box"',
        room=SECTIONS["room"] + "\n«ridge» = 2.6"),
    _broken("ridge below the eaves", "room.ridge", "eaves", room=_gable("eaves = 2.5\nridge = «2.4»")),
    _broken("three eaves", "room.eaves", "expected 2", room=_gable("eaves = «[1, 1, 1]»\nridge = 2.4")),
    _broken("ridge along nothing", "room.ridge_along", '"length"',
        room=_gable('eaves = 1\nridge = 2.4\nridge_along = «"lenght"»')),
    _broken("ridge beside the room", "room.ridge_at", "width (3 m)",
        room=_gable("eaves = 1\nridge = 2.4\nridge_at = «3.5»")),
    _broken("flat above the ridge", "room.flat", "ridge (2.4 m)",
        room=_gable("eaves = 1\nridge = 2.4\nflat = «2.5»")),
    _broken("lean-to upside down", "room.high", "low side",
        room=_LEAN_TO + 'low = 2.7\nhigh = «2.1»\nlow_side = "front"'),
    _broken("unknown low side", "room.low_side", '"front"',
        room=_LEAN_TO + 'low = 2\nhigh = 2.7\nlow_side = «"forward"»'),
    _broken("two corners", "room.corners", "at least 3", room=_plan("corners = «[[0, 0], [4, 0]]»")),
    _broken("a corner twice", "room.corners[3]", "same point",
        room=_plan("corners = [[0, 0], [4.2, 0], «[4.2, 0]», [4.2, 3], [0, 3]]")),
    _broken("walls that cross", "room.corners[3]", "meets", "1",
        room=_plan("corners = [[0, 0], [4.2, 3], «[4.2, 0]», [0, 3]]")),
    _broken("a plan of no area", "room.corners", "m²",
        room=_plan("corners = «[[0, 0], [0.3, 0], [0.3, 0.3]]»")),
    _in_room("an assumed wall that is not there", "room.assumed[1]", '"back wall"',
        room=_with("room", 'height', 'assumed = [«"bak wall"»]\nheight')),
    _broken("a wall without a name", "room.walls", "3 names for 4 walls",
        room=_plan(f'{_FLAT_CORNERS}\nwalls = «["a", "b", "c"]»')),
    _broken("a diagonal to no corner", "room.diagonals[1].corners", "4 corners", "5",
        room=_plan(f'{_FLAT_CORNERS}\ndiagonals = [{{ corners = «[1, 5]», length = 5.1 }}]')),
    _broken("a diagonal to its own corner", "room.diagonals[1].corners", "another",
        room=_plan(f'{_FLAT_CORNERS}\ndiagonals = [{{ corners = «[3, 3]», length = 5.1 }}]')),
    _broken("two walls of one name", "room.walls[3]", '"a"', "taken",
        room=_plan(f'{_FLAT_CORNERS}\nwalls = ["a", "b", «"a"», "c"]')),
    _broken("pitch beyond upright", "room.slopes[1].pitch", "95",
        room=SECTIONS["room"] + '\nslopes = [{ wall = "left wall", eaves = 1.0, pitch = «95» }]'),
    _in_room("slope over no wall", "room.slopes[1].wall", '"left wall"',
        room=SECTIONS["room"] + '\nslopes = [{ wall = «"left wal"», eaves = 1.0, pitch = 40 }]'),
    _in_room("slope above the whole room", "room.slopes[1]", "roof",
        room=SECTIONS["room"] + '\nslopes = [«{ wall = "left wall", eaves = 3.0, pitch = 40 }»]'),
    _in_room("slope too flat for a room", "room.slopes[1].pitch", "1.170 m", "in degrees",
        room=SECTIONS["room"] + '\nslopes = [{ wall = "left wall", eaves = 0.95, pitch = «4.2» }]'),
    _in_room("ceiling that slopes leave nothing of", "keep_outs[1].surface", "whole roof", "4.2 degrees",
        room=SECTIONS["room"] + '\nslopes = [{ wall = "left wall", eaves = 2.1, pitch = 4.2 }]',
        keep_outs='[[keep_outs]]\nname = "alarm"\nsurface = «"ceiling"»\ncentre = [2.6, 1.5]\nradius = 0.5'),
    _broken("section with length and width", "room.width", "not both",
        room='[room]\nshape = "section"\nlength = 4.2\n«width» = 3\nprofile = [[0, 0], [3, 0], [3, 2.4]]'),
    _broken("section without a length", "room.length", "missing",
        room='«[room]»\nshape = "section"\nprofile = [[0, 0], [3, 0], [3, 2.4]]'),
    _broken("section that crosses itself", "room.profile[3]", "meets",
        room='[room]\nshape = "section"\nlength = 4\nprofile = [[0, 0],\n [3, 2.4],\n «[3, 0]»,\n [0, 2.4]]'),
    _broken("mesh file missing", "room.file", "flatt.obj", '"flat.obj"',
        room='[room]\nshape = "mesh"\nfile = «"flatt.obj"»\nunit = "m"'),
    _broken("unknown unit of a mesh", "room.unit", '"mm"',
        room='[room]\nshape = "mesh"\nfile = "flat.obj"\nunit = «"millimetre"»'),
    _broken("unknown upright axis", "room.up", '"z"',
        room='[room]\nshape = "mesh"\nfile = "flat.obj"\nunit = "m"\nup = «"x"»'),
    _in_room("mesh read in the wrong unit", "room.unit", 'unit = "mm"',
        room='[room]\nshape = "mesh"\nfile = "box mm.obj"\nunit = «"m"»'),
    _in_room("mesh that does not start at zero", "room.move", "0.150", "move = [-0.1500, 0.0000, 0.0000]",
        room='«[room]»\nshape = "mesh"\nfile = "box moved.obj"\nunit = "mm"'),
    _in_room("mesh with a corner missing", "objects[1].file", "torn.obj", "vertex 9",
        objects='[[objects]]\nname = "sofa"\nshape = "mesh"\nfile = «"torn.obj"»\nunit = "m"'),
    # surfaces and materials
    _broken("unknown material", "surfaces.default", '"plasterboard"',
        surfaces='[surfaces]\ndefault = «"plasterbord"»'),
    _broken("a table for a material", "surfaces.wall", "table", surfaces='[surfaces]\n«wall».left = "brick"'),
    _in_room("unknown surface", 'surfaces."left wal"', '"left wall"',
        surfaces='[surfaces]\ndefault = "plasterboard"\n«"left wal"» = "brick"'),
    _in_room("a surface without a material", "surfaces", "default",
        surfaces='«[surfaces]»\nfloor = "laminate floor"'),
    _broken("seven bands", 'materials."old curtain".absorption', "expected 8", "found 7",
        materials='[materials."old curtain"]\nabsorption = «[0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]»'),
    _broken("more than all absorbed", "materials.felt.absorption[8]", "1.2", "0 to 1",
        materials=_FELT + "«1.2»]"),
    _broken("negative scattering", "materials.felt.scattering", "-0.1", "0 to 1",
        materials=_FELT + "0.5]\nscattering = «-0.1»"),
    _in_room("one name for two faces", "objects[1]", '"desk top"', "rename",
        room=_plan(f'{_FLAT_CORNERS}\nwalls = ["a", "b", "c", "desk top"]'), openings="", panels="",
        objects=SECTIONS["objects"].replace("[[objects]]", "«[[objects]]»")),
    # openings
    _broken("unknown kind of opening", "openings[1].kind", '"door"',
        openings=_with("openings", 'kind = "door"', 'kind = «"dor"»')),
    _broken("window of nothing", "openings[1].material", "missing", "glass",
        openings='«[[openings]]»\nname = "w"\nsurface = "floor"\nkind = "door"\nat = [1, 1]\nsize = [1, 1]'),
    _broken("unknown material of a door", "openings[1].material", '"wood door"',
        openings=_with("openings", '"wood door"', '«"wod door"»')),
    _broken("hinge in the middle", "openings[1].swing.hinge", '"left"',
        openings=_with("openings", '"left"', '«"middle"»')),
    _broken("a curtain nobody knows", "openings[1].cover", '"heavy curtain"',
        openings=SECTIONS["openings"] + '\ncover = «"hevy curtain"»'),
    _broken("a cover for a roof", 'covers."thick rug".on', '"floor"',
        covers=_with("covers", "price = 180", 'on = «"roof"»')),
    _broken("a cover of nothing", 'covers."own rug".material', "missing",
        covers='«[covers."own rug"]»\non = "floor"'),
    _broken("a cover of what nobody knows", 'covers."own rug".material', '"rug"',
        covers=_with("covers", '"rug"', '«"rugg"»')),
    _broken("a shelf without a size", 'covers."own rug".size', "depth",
        covers=_with("covers", '[covers."own rug"]', '«[covers."own rug"]»').replace("floor", "wall")),
    _broken("a rug with a depth", 'covers."own rug".depth', "wall",
        covers=SECTIONS["covers"] + "\n«depth» = 0.3"),
    _broken("a price below nothing", 'covers."thick rug".price', "-1",
        covers=_with("covers", "180", "«-1»")),
    _broken("a shelf nobody knows", "objects[1].cover", '"full bookshelf"',
        objects=SECTIONS["objects"] + '\ncover = «"ful bookshelf"»'),
    _broken("a rug that swings", "openings[1].swing", "cover",
        openings=_with("openings", 'kind = "door"', 'kind = "cover"').replace("swing", "«swing»")),
    _in_room("opening in no surface", "openings[1].surface", '"back wall"',
        openings=_with("openings", '"back wall"', '«"bakc wall"»')),
    _in_room("opening that leaves its surface", "openings[1].at", "back wall",
        openings=_with("openings", "[1.9, 0]", "«[2.6, 0]»")),
    _in_room("openings that overlap", "openings[2].at", '"door"',
        openings=SECTIONS["openings"] + '\n[[openings]]\nname = "hatch"\nsurface = "back wall"\n'
        'kind = "opening"\nat = «[2.0, 1.0]»\nsize = [0.5, 0.5]'),
    # objects
    _broken("two objects of one name", "objects[2].name", '"desk"', "taken",
        objects=SECTIONS["objects"] + "\n\n" + _with("objects", '"desk"\nshape', '«"desk"»\nshape')),
    _broken("object of no height", "objects[1].size[3]", "0 m", objects=_with("objects", "0.03", "«0.0»")),
    _broken("unknown shape of an object", "objects[1].shape", '"box"',
        objects=_with("objects", '"box"', '«"bok"»')),
    _broken("object without a material", "objects[1].material", "missing",
        objects='«[[objects]]»\nname = "desk"\nshape = "box"\ncentre = [1, 1.5, 0.7]\nsize = [0.7, 1.5, 1]'),
    _broken("object file missing", "objects[1].file", "sofa.obj",
        objects='[[objects]]\nname = "sofa"\nshape = "mesh"\nfile = «"sofa.obj"»\nunit = "m"'),
    # speakers and seats
    _broken("no seat", "seats", "missing", top='«t»itle = "Empty"', seats=""),
    _broken("an empty list of seats", "seats", "at least one", top='title = "Empty"\nseats = «[]»', seats=""),
    _broken("only a sub", "speakers[1].use", "main",
        speakers='[[speakers]]\nname = "sub"\nposition = [0.4, 0.4, 0.3]\nuse = «"sub"»'),
    _broken("two speakers of one name", "speakers[2].name", "taken",
        speakers=_LEFT + '' '[[speakers]]\nname = «"left"»\nposition = [0.75, 2.1, 1.2]'),
    _broken("two seats of one name", "seats[2].name", "taken",
        seats=SECTIONS["seats"] + '\n[[seats]]\nname = «"mix"»\nears = [3, 1.5, 1.2]'),
    _broken("a name of nothing", "seats[1].name", "nothing",
        seats='[[seats]]\nname = «""»\nears = [1.79, 1.5, 1.2]'),
    _broken("unknown use", "speakers[1].use", '"main"',
        speakers=_LEFT + 'use = «"mian"»'),
    _broken("aim at a word", "speakers[1].aim", '"seat"',
        speakers=_LEFT + 'aim = «"sofa"»'),
    _broken("aim without a yaw", "speakers[1].aim.yaw", "missing",
        speakers=_LEFT + 'aim = «{ pitch = 10 }»'),
    _broken("aim at itself", "speakers[1].aim", "own place",
        speakers=_LEFT + 'aim = «[0.75, 0.9, 1.2]»'),
    _broken("speaker in the head", "speakers[1].position", "ears",
        speakers='[[speakers]]\nname = "left"\nposition = «[1.79, 1.5, 1.2]»'),
    _broken("unknown directivity", "speakers[1].directivity", '"two-way"',
        speakers=_LEFT + 'directivity = «"twoway"»'),
    _broken("driver larger than its box", "speakers[1].directivity.radius", "0.13",
        speakers=_LEFT + 'directivity = { radius = «0.2» }'),
    _broken("one driver height", "speakers[1].directivity.drivers", '["-120 mm", "40 mm"] (woofer, tweeter)',
        speakers=_LEFT + 'directivity = { drivers = «["40 mm"]» }'),
    _broken("driver height too far", "speakers[1].directivity.drivers[1]", '"3 mm"',
        speakers=_LEFT + 'directivity = { drivers = [«3.0», 0.1] }'),
    _broken("body of two sizes", "speakers[1].body", '["250 mm", "200 mm", "350 mm"]',
        speakers=_LEFT + 'body = «[0.25, 0.2]»'),
    _broken("body of another kind", "speakers[1].body", '"none"', speakers=_LEFT + 'body = «"box"»'),
    _broken("directivity file missing", "speakers[1].directivity.file", '"speaker.csv"',
        speakers=_LEFT + '' 'directivity = { file = «"speakers.csv"» }'),
    _broken("directivity file of one level", "speakers[1].directivity.file", "found 2 values, not 9",
        speakers=_LEFT + 'directivity = { file = «"speaker.csv"» }'),
    _broken("negative head zone", "seats[1].zone[2]", "-0.2",
        seats='[[seats]]\nname = "mix"\nears = [1.79, 1.5, 1.2]\nzone = [0.1, «-0.2», 0.1]'),
    _in_room("speaker outside the room", "speakers[1].position", "outside", "left wall",
        speakers='[[speakers]]\nname = "left"\nposition = «[0.75, -0.9, 1.2]»'),
    _in_room("seat outside the room", "seats[1].ears", "outside", "ceiling",
        seats='[[seats]]\nname = "mix"\nears = «[1.79, 1.5, 2.9]»'),
    _in_room("seat on a wall", "seats[1].ears", "front wall",
        seats='[[seats]]\nname = "mix"\nears = «[0, 1.5, 1.2]»'),
    _in_room("seat inside an object", "seats[1].ears", "inside", '"desk"',
        objects=_with("objects", "1.2, 1.5, 0.72]\nsize = [0.7, 1.5, 0.03", "1.8, 1, 0.7]\nsize = [1, 2, 2"),
        seats='[[seats]]\nname = "mix"\nears = «[1.79, 1.5, 1.2]»'),
    _in_room("speaker inside an object", "speakers[1].position", "inside", '"desk"',
        objects=_with("objects", "[0.7, 1.5, 0.03]", "[1.1, 1.5, 1.2]"),
        speakers='[[speakers]]\nname = "left"\nposition = «[0.75, 0.9, 1.2]»'),
    # keep-outs and joists
    _broken("keep-out of two forms", "keep_outs[1].centre", "not a mixture",
        keep_outs='[[keep_outs]]\nname = "k"\nsurface = "x"\nat = [1, 1]\nsize = [1, 1]\n«centre» = [1, 1]'),
    _broken("keep-out of no form", "keep_outs[1].at", "centre and radius",
        keep_outs='«[[keep_outs]]»\nname = "k"\nsurface = "ceiling"'),
    _broken("keep-out without a radius", "keep_outs[1].radius", "centre needs it",
        keep_outs='«[[keep_outs]]»\nname = "k"\nsurface = "ceiling"\ncentre = [1, 1]'),
    _in_room("keep-out that leaves its surface", "keep_outs[1].at", "ceiling",
        keep_outs='[[keep_outs]]\nname = "k"\nsurface = "ceiling"\nat = «[4, 1]»\nsize = [1, 1]'),
    _in_room("keep-out on no surface", "keep_outs[1].surface", '"ceiling"',
        keep_outs=_with("keep_outs", '"ceiling"', '«"cieling"»')),
    _broken("joists along w", "joists[1].along", '"u"', joists=_with("joists", '"v"', '«"w"»')),
    _broken("joists without a distance", "joists[1].spacing", "0 m",
        joists=_with("joists", '"16 in"', "«0»")),
    _broken("joists known by hearsay", "joists[1].known", '"assumed"',
        joists=SECTIONS["joists"] + '\nknown = «"guessed"»'),
    _in_room("joists behind no surface", "joists[1].surface", '"ceiling"',
        joists=_with("joists", '"ceiling"', '«"celing"»')),
    # treatment
    _broken("build without its wool", 'builds."slab 100".flow_resistivity', "missing", "12000",
        builds='«[builds."slab 100"]»\nsize = [0.6, 1.2]\nthickness = 0.1'),
    _broken("build with an unknown back", 'builds."slab 100".back', '"open"',
        builds=SECTIONS["builds"] + '\nback = «"closed"»'),
    _broken("build like an unknown one", 'builds."slab 100".like', '"slab 90"', '"slab 100"',
        builds=SECTIONS["builds"] + '\nlike = «"slab 90"»'),
    _broken("build like itself", 'builds."slab 100".like', "circle", '"slab 100", "slab 100"',
        builds=SECTIONS["builds"] + '\nlike = «"slab 100"»'),
    _broken("builds like each other", 'builds.b.like', "circle", '"slab 100", "b", "slab 100"',
        builds=SECTIONS["builds"] + '\nlike = "b"\n[builds.b]\nlike = «"slab 100"»'),
    _broken("build like a number", 'builds."slab 100".like', "text in quotes",
        builds=SECTIONS["builds"] + '\nlike = «100»'),
    _broken("price of an unknown build", 'prices."slab 10"', '"slab 100"',
        prices='[prices]\n«"slab 10"» = 48'),
    _broken("price as text", 'prices."slab 100"', "a number", prices='[prices]\n"slab 100" = «"48"»'),
    _broken("price in two places", 'prices."slab 100"', "price already",
        builds=SECTIONS["builds"] + "\nprice = 40", prices='[prices]\n«"slab 100"» = 48'),
    _broken("prices that are no table", "prices", "a table", '"wool 100" = 48',
        top="prices = «[48]»", prices=""),
    _broken("stock of an unknown build", 'stock."wol 50"', '"wool 50"', stock='[stock]\n«"wol 50"» = 6'),
    _broken("stock of half a panel", 'stock."wool 50"', "whole number", stock='[stock]\n"wool 50" = «6.5»'),
    _broken("panel of an unknown build", "panels[1].build", '"slab 100"',
        panels=_with("panels", '"slab 100"', '«"slab 10"»')),
    _broken("panel turned by 45 degrees", "panels[1].turned", "0 or 90",
        panels=SECTIONS["panels"] + "\nturned = «45»"),
    _in_room("panel that leaves its surface", "panels[1].centre", "left wall",
        panels=_with("panels", "[3.06, 1.2]", "«[0.2, 1.2]»")),
    _in_room("panel across surfaces that are parallel", "panels[1].across_corner", "they are parallel",
        panels=SECTIONS["panels"] + '\nacross_corner = «"right wall"»'),
    _in_room("panel across no corner", "panels[1].across_corner", '"front wall"',
        panels=SECTIONS["panels"] + '\nacross_corner = «"fornt wall"»'),
    _broken("stand lying down", "stands[1].lean", "0 to 45", stands=SECTIONS["stands"] + "\nlean = «60»"),
    _broken("more panels on a stand than it bears", "stands[1].stacked", "from 1 to 4",
        stands=SECTIONS["stands"] + "\nstacked = «5»"),
    _broken("stand named like a panel", "stands[1].name", "panels[1]",
        stands=_with("stands", '"S1"', '«"P1"»')),
    _broken("half a row", "clouds[1].rows", "whole number",
        clouds=_with("clouds", "rows = 2", "rows = «2.5»")),
    _broken("cloud of two forms", "clouds[1].centre", "not both",
        clouds=_with("clouds", "centre", "«centre»") + "\npanels = [{ centre = [1, 1] }]"),
    _broken("cloud of no form", "clouds[1].rows", "missing",
        clouds='«[[clouds]]»\nname = "C"\nsurface = "x"\nbuild = "slab 100"\ncentre = [1, 1]\ndrop = 0.2'),
    _in_room("cloud under a wall", "clouds[1].surface", "is upright: hang [[panels]] on it",
        clouds=_with("clouds", '"ceiling"', '«"left wall"»')),
    _in_room("cloud under the floor", "clouds[1].surface", '"floor" looks up',
        clouds=_with("clouds", '"ceiling"', '«"floor"»')),
    _in_room("cloud tilted towards the floor", "clouds[1].tilt.towards", '"floor" is level',
        clouds=SECTIONS["clouds"] + '\ntilt = { towards = «"floor"», deg = 10 }'),
    _broken("cloud neither level nor along", "clouds[1].level", '"along"',
        clouds=SECTIONS["clouds"] + '\nlevel = «"slope"»'),
    _broken("raft of a number", "clouds[1].raft", "true or false",
        clouds=SECTIONS["clouds"] + "\nraft = «6»"),
    _in_room("cloud tilted towards nothing", "clouds[1].tilt.towards", '"front wall"',
        clouds=SECTIONS["clouds"] + '\ntilt = { towards = «"frnt wall"», deg = 10 }'),
    # limits
    _broken("unknown standard", "limits.standard", '"EBU Tech 3276"',
        limits='[limits]\nstandard = «"EBU 3276"»'),
    _broken("standard and own numbers", "limits.within_ms", "not both",
        limits=SECTIONS["limits"] + "\n«within_ms» = 20"),
    _broken("half of own numbers", "limits.within_ms", "missing", limits="«[limits]»\nbelow_db = 12"),
    _broken("own numbers as a standard, too few", "limits.standard.from_hz", "missing",
        limits="[limits]\nstandard = «{ below_db = 12, within_ms = 20 }»"),
    _broken("limit below zero", "limits.below_db", "-10", "0 to 60",
        limits="[limits]\nbelow_db = «-10»\nwithin_ms = 15\nfrom_hz = 1000\nto_hz = 8000"),
    _broken("band upside down", "limits.to_hz", "from_hz",
        limits="[limits]\nbelow_db = 10\nwithin_ms = 15\nfrom_hz = 4000\nto_hz = «2000»"),
    # method
    _broken("no such model of plain surfaces", "method.plain_surfaces", '"local"',
        method='[method]\nplain_surfaces = «"locl"»'),
]
# fmt: on
"""One scene per rule of the scene file."""

if __name__ == "__main__":
    for scene in BROKEN_SCENES:
        line, column, wrong = scene.place
        print(f"{scene.name:45} line {line:3}, column {column:2}: {wrong}")

"""Every mess that files arrive in, a small file each, comes back as the same room; all that is said of it."""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from raytrace.room import MeshError
from raytrace.scan import clean_scan

Corner = tuple[float, float, float]
LENGTH, WIDTH, HEIGHT = 3.4, 3.0, 2.4
CORNERS = [
    (x, y, z) for z in (0.0, HEIGHT) for x, y in ((0.0, 0.0), (LENGTH, 0.0), (LENGTH, WIDTH), (0.0, WIDTH))
]
FLOOR, CEILING, LEFT, BACK, RIGHT, FRONT = (
    (1, 2, 3, 4), (8, 7, 6, 5), (2, 1, 5, 6), (3, 2, 6, 7), (4, 3, 7, 8), (1, 4, 8, 5),
)  # fmt: skip
FACES = (FLOOR, CEILING, LEFT, BACK, RIGHT, FRONT)


def obj(corners=CORNERS, faces=FACES, *, number="{:.4f}", above="", below=""):
    """A room as an OBJ of metres, z upwards."""
    text = "".join("v " + " ".join(number.format(x) for x in corner) + "\n" for corner in corners)
    return text + above + "".join("f " + " ".join(str(k) for k in face) + "\n" for face in faces) + below


def moved(scale=1.0, by=(0.0, 0.0, 0.0)):
    """The corners as in a file with y upwards."""
    return [(x * scale + by[0], z * scale + by[1], -y * scale + by[2]) for x, y, z in CORNERS]


def with_window():
    """The back wall with a window of 1.0 by 0.8 m, joined to its edge by a bridge."""
    window = [(LENGTH, y, z) for y, z in ((0.8, 1.0), (1.8, 1.0), (1.8, 1.8), (0.8, 1.8))]
    bridged = (3, 2, 9, 10, 11, 12, 9, 2, 6, 7)
    return obj([*CORNERS, *window], [bridged if face is BACK else face for face in FACES])


def with_a_hole():
    """A ceiling of which a piece of 0.5 by 0.4 m is missing."""
    hole = [(x, y, HEIGHT) for x, y in ((2.0, 1.0), (2.0, 1.4), (2.5, 1.4), (2.5, 1.0))]
    corners = [*CORNERS, *hole]
    return obj(corners, [(8, 7, 6, 5, 9, 12, 11, 10, 9, 5) if face is CEILING else face for face in FACES])


def with_desk():
    """A block of 1.2 by 0.6 by 0.72 m grown together with the floor, out of which it is cut."""
    (x0, x1), (y0, y1), top = (0.5, 1.1), (0.7, 1.9), 0.72
    block = [(x, y, z) for z in (0.0, top) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    floor = (1, 2, 3, 4, 1, 9, 12, 11, 10, 9)
    sides = [(9, 10, 14, 13), (10, 11, 15, 14), (11, 12, 16, 15), (12, 9, 13, 16), (13, 14, 15, 16)]
    return obj([*CORNERS, *block], [floor, *FACES[1:], *sides])


def concave():
    """An L of which floor and ceiling have six corners."""
    plan = [(0, 0), (4, 0), (4, 3), (2.4, 3), (2.4, 2), (0, 2)]
    corners = [(x, y, z) for z in (0.0, HEIGHT) for x, y in plan]
    walls = [(k % 6 + 1, k, k + 6, k % 6 + 7) for k in range(1, 7)]
    return obj(corners, [(1, 2, 3, 4, 5, 6), (12, 11, 10, 9, 8, 7), *walls])


@dataclass(frozen=True)
class Mess:
    """A mess, the file, and what is made and said of it."""

    name: str
    text: Callable[[], str | bytes]
    said: tuple[str, ...] = ()
    reading: tuple[str, str] = ("m", "z")
    shape: str = "box"
    holes: tuple[tuple[str, float], ...] = ()
    objects: tuple[str, ...] = ()
    others: tuple[tuple[str, str], ...] = field(default=(("m", "y"),))


MESSES = (
    Mess("no unit", obj),
    Mess("y upwards", lambda: obj(moved()), reading=("m", "y"), others=(("m", "z"),)),
    Mess(
        "millimetres with an offset of kilometres",
        lambda: obj(moved(1000.0, (12345600.0, 0.0, -8765400.0))),
        reading=("mm", "y"),
        others=(("mm", "z"),),
    ),
    Mess(
        "groups, objects and materials without an MTL",
        lambda: obj(above="mtllib lost.mtl\no room\ng a\nusemtl oak\n"),
    ),
    Mess("names with spaces", lambda: obj(above="g old timber floor\n")),
    Mess("concave n-gons", concave, shape="plan"),
    Mess("a wall with a bridged hole", with_window, holes=(("back wall", 0.8),)),
    Mess(
        "flipped faces",
        lambda: obj(faces=(FLOOR, CEILING[::-1], LEFT[::-1], BACK, RIGHT, FRONT)),
        ("2 faces turned round that looked away from the air",),
    ),
    Mess("a face twice", lambda: obj(faces=(*FACES, LEFT)), ("1 repeated face dropped",)),
    Mess("a face without area", lambda: obj(faces=(*FACES, (1, 2, 2))), ("1 face without area dropped",)),
    Mess("a hole", with_a_hole, holes=(("ceiling", 0.2),)),
    Mess(
        "furniture fused to the floor",
        with_desk,
        (
            "1 open place behind, under or in furniture: nothing was scanned there, and the room goes on "
            "behind it",
        ),
        objects=("table 1",),
    ),
    Mess(
        "decimal commas",
        lambda: obj(number="{:.4f}").replace(".", ","),
        ("decimal commas read as points (the first in line 1)",),
    ),
    Mess(
        "latin-1",
        lambda: obj(above="g T\xfcr\n").encode("latin-1"),
        ("read as latin-1, because it is not UTF-8",),
    ),
    Mess("a backslash at the end of a line", lambda: obj().replace("f 1 2 3 4", "f 1 2 \\\n3 4")),
    Mess("negative numbers", lambda: obj(faces=[[k - 9 for k in face] for face in FACES])),
    Mess("line elements", lambda: obj(below="l 1 2\nl 2 3\n"), ("2 line elements left out: no faces",)),
    Mess("CRLF", lambda: obj().replace("\n", "\r\n")),
)


@pytest.mark.parametrize("mess", MESSES, ids=[mess.name for mess in MESSES])
def test_a_mess_becomes_the_room_and_is_told_to_the_word(tmp_path, mess):
    print(mess.name)
    path = tmp_path / "room.obj"
    text = mess.text()
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    room = clean_scan(path)
    assert (*room.doubts, *room.report) == mess.said
    assert (room.reading.unit, room.reading.up) == mess.reading
    assert room.reading.others == mess.others
    assert room.shape.kind == mess.shape
    if mess.shape == "box":
        # Drawn, not scanned: exact to what the file's digits round to.
        assert dict(room.shape.numbers) == pytest.approx(
            {"length": LENGTH, "width": WIDTH, "height": HEIGHT}, abs=1e-3
        )
    assert [hole.surface for hole in room.holes] == [name for name, _ in mess.holes]
    assert [hole.area_m2 for hole in room.holes] == pytest.approx([area for _, area in mess.holes], abs=1e-3)
    assert tuple(block.name for block in room.objects) == mess.objects


@pytest.mark.parametrize("text", ["", "\n \n", "\r\n"])
def test_an_empty_file_is_refused(tmp_path, text):
    path = tmp_path / "room.obj"
    path.write_text(text)
    with pytest.raises(MeshError, match=r"^room\.obj is empty$"):
        clean_scan(path)

"""What a file really is, by its first bytes, where its name says something else."""

from raytrace.room.rawmesh import MeshError

# First bytes, what starts with them, and the endings that such a file may have (magic numbers, from memory).
_STARTS = (
    (b"\xff\xd8\xff", "a JPEG picture", ()),
    (b"\x89PNG\r\n", "a PNG picture", ()),
    (b"GIF8", "a GIF picture", ()),
    (b"II*\0", "a TIFF picture", ()),
    (b"MM\0*", "a TIFF picture", ()),
    (b"8BPS", "a picture of layers", ()),
    (b"%PDF", "a PDF document", ()),
    (b"PK\3\4", "an archive (ZIP, or a format made of one)", ()),
    (b"\x1f\x8b", "an archive (gzip)", ()),
    (b"7z\xbc\xaf", "an archive (7z)", ()),
    (b"Rar!", "an archive (RAR)", ()),
    (b"RIFF", "a sound or film file", ()),
    (b"OggS", "a sound file", ()),
    (b"fLaC", "a sound file", ()),
    (b"ID3", "a sound file", ()),
    (b"\x7fELF", "a program", ()),
    (b"AC10", "a DWG drawing", ()),
    (b"LASF", "a cloud of points (LAS)", ()),
    (b"ASTM-E57", "a cloud of points (E57)", ()),
    (b"Kaydara FBX", "an FBX scene", ()),
    (b"BLENDER", "the working file of a modelling program", ()),
    (b"{\\rtf", "a text document", ()),
    (b"<?xml", "an XML document", ()),
    (b"<!DOCTYPE", "a web page", ()),
    (b"<html", "a web page", ()),
    (b"glTF", "a GLB scene", (".glb",)),
    (b"ply\n", "a PLY mesh", (".ply",)),
    (b"ply\r", "a PLY mesh", (".ply",)),
    (b"solid ", "an STL mesh", (".stl",)),
    (b"AutoCAD Binary DXF", "a DXF drawing", (".dxf",)),
)
_TAKEN = (".obj", ".glb", ".gltf", ".ply", ".stl", ".dxf")
_FILM = b"ftyp"  # from the fifth byte on: films, and pictures as phones take them


def refuse_other_kind(raw: bytes, *, suffix: str, file: str) -> None:
    """Refuse a file whose first bytes are those of another kind than its ending says.

    Parameters
    ----------
    raw : bytes
    suffix : str
        Its ending, in small letters.
    file : str
        Its name, for messages.

    Raises
    ------
    MeshError
        With what the file is, and what to do.
    """
    if suffix == ".stl" and len(raw) == 84 + 50 * int.from_bytes(raw[80:84], "little"):
        return  # a binary STL starts with 80 bytes of anything
    kind, endings = _kind_of(raw)
    if kind and suffix not in endings:
        todo = (
            f"rename it to end in {endings[0]}"
            if endings
            else "export the room as OBJ, GLB, PLY or STL, a floor plan as DXF"
        )
        lies = ", whatever its name says" if suffix in _TAKEN else ""
        raise MeshError(f"{file} is {kind}{lies}: {todo}")


def _kind_of(raw: bytes) -> tuple[str, tuple[str, ...]]:
    """What some bytes are, and how such a file may end; empty where nothing tells."""
    if raw[4:8] == _FILM:
        return "a film or a picture from a phone", ()
    start = raw[:64].removeprefix(b"\xef\xbb\xbf").lstrip()
    if len(lines := start.split(None, 2)) >= 2 and lines[0] == b"0" and lines[1] == b"SECTION":
        return "a DXF drawing", (".dxf",)
    found = (
        (kind, endings)
        for magic, kind, endings in _STARTS
        if raw.startswith(magic) or start.startswith(magic)
    )
    return next(found, ("", ()))

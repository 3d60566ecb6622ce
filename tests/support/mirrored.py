"""A scene with left and right exchanged, as text: what arrivals depend on and nothing else."""

import json
import tomllib


def swap_sides(name):
    """The same name seen in a mirror: "left slope" becomes "right slope"."""
    words = {"left": "right", "right": "left"}
    return " ".join(words.get(word, word) for word in name.split(" "))


def mirrored_scene(scene, room):
    """The tables of a scene with left and right exchanged; only what arrivals depend on."""
    table = tomllib.loads(scene.text)
    width_m = float(room.bounds[1, 1])

    def flip(point):
        return [point[0], width_m - point[1], *point[2:]]

    def flip_all(kind, key):
        entries = zip(table.get(kind, []), getattr(scene, kind), strict=True)
        return [
            {**entry, "name": swap_sides(given.name), key: flip(getattr(given, key))}
            for entry, given in entries
        ]

    def flip_opening(opening):
        frame = room.surfaces[room.surface_index(opening.surface)].frame
        across = (opening.at[0], opening.size[0])
        at = [frame.width - sum(across), opening.at[1]]
        if abs(frame.n[2]) > 0.999:  # floor and ceiling count y along v
            at = [opening.at[0], frame.height - opening.at[1] - opening.size[1]]
        return {
            **{"name": opening.name, "surface": swap_sides(opening.surface), "kind": opening.kind},
            **{"at": at, "size": list(opening.size), "material": opening.material},
        }

    def flip_spot(spot, surface):
        frame = room.surfaces[room.surface_index(surface)].frame
        level = abs(frame.n[2]) > 0.999
        return [spot[0], frame.height - spot[1]] if level else [frame.width - spot[0], spot[1]]

    def flip_hung(kind):
        """Panels, or clouds that are given panel by panel."""
        entries = zip(table.get(kind, []), getattr(scene, kind), strict=True)
        for entry, given in entries:
            flipped = {**entry, "name": swap_sides(given.name), "surface": swap_sides(given.surface)}
            if kind == "panels":
                flipped["centre"] = flip_spot(given.centre, given.surface)
            else:
                flipped["panels"] = [
                    {"centre": flip_spot(panel.centre, given.surface), "turned": panel.turned}
                    for panel in given.panels
                ]
            yield flipped

    mirror = {
        **{key: table[key] for key in ("title", "air", "room", "materials", "builds") if key in table},
        "surfaces": {swap_sides(name): material for name, material in table["surfaces"].items()},
        "openings": [flip_opening(opening) for opening in scene.openings],
        "objects": flip_all("objects", "centre"),
        "speakers": flip_all("speakers", "position"),
        "seats": flip_all("seats", "ears"),
        "panels": list(flip_hung("panels")),
        "clouds": list(flip_hung("clouds")),
        "stands": [{**entry, "yaw": -entry["yaw"]} for entry in flip_all("stands", "at")],
    }
    if scene.room.shape == "plan":
        first, *others = scene.room.corners
        mirror["room"] = {
            **table["room"],
            "corners": [flip(corner) for corner in (first, *reversed(others))],
            "walls": [swap_sides(wall) for wall in reversed(scene.room.walls)],
            "slopes": [
                {**slope, "wall": swap_sides(slope["wall"])} for slope in table["room"].get("slopes", [])
            ],
        }
    return mirror


def mirrored_obj(text, width):
    """An OBJ file with y counted from the other side; faces turn round so that they still look inwards."""
    lines = []
    for line in text.splitlines():
        kind, *words = line.split(" ")
        if kind == "v":
            words[1] = repr(width - float(words[1]))
        elif kind == "f":
            words.reverse()
        elif kind == "o":
            words = [swap_sides(" ".join(words))]
        lines.append(" ".join((kind, *words)))
    return "\n".join(lines) + "\n"


def toml_value(value):
    """A value as TOML text, tables inline."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {toml_value(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return json.dumps(value)

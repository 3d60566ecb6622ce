"""What a scene holds, as `check` prints it: surfaces and what lies on them, objects, panels, places."""

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from raytrace import Room, Scene, format_length, frame_notes, place_notes
from viewer.tables.grid import grid
from viewer.tables.terminal import notes_text
from viewer.words import area_words, told


def scene_summary(scene: Scene, room: Room, *, units: str) -> Group:
    """Tables of what a room holds, then what was noticed."""
    parts = [
        _surfaces(scene, room, units),
        _openings(scene, room, units),
        _objects(scene, room, units),
        _panels(room, units),
    ]
    tables = [part for table in parts if table.row_count for part in (table, Text(""))]
    keys = [_PLACES] * any(part.row_count for part in parts[1:]) + [_FREE] * bool(room.panels)
    explained = [Text(" ".join(keys)), Text("")] if keys else []
    notes = tuple(told(note, units) for note in (*place_notes(scene, room), *frame_notes(room), *room.notes))
    return Group(*tables, *explained, *map(Text, _facts(scene, room, units)), *notes_text(notes))


_PLACES = (
    "At: lower left corner (discs: middle), from the left / from the bottom edge of the surface; on level "
    "ones from the front / from the left wall."
)
_FREE = "Free: sound passes the panel and meets what lies behind."


def _surfaces(scene: Scene, room: Room, units: str) -> Table:
    numbers = ("width", "height", "area")
    title = scene.title
    table = grid(["surface", *numbers, "material", "on it"], numbers=numbers, title=title)
    for index in np.flatnonzero(room.is_room_surface):
        surface = room.surfaces[index]
        hung = sum(panel.surface == index for panel in room.panels)
        on_it = [opening.name for opening in surface.openings]
        on_it += [f"{hung} panel{'s' if hung > 1 else ''}"] if hung else []
        # Its own extent: a ceiling beside a slope is counted from the wall, which it does not reach.
        outlines = [room.facets[facet].outline for facet in surface.facets]
        width, height = np.ptp(surface.frame.to_plane(np.concatenate(outlines)), axis=0)
        table.add_row(
            surface.name,
            _length(float(width), units),
            _length(float(height), units),
            area_words(surface.area_m2, units),
            surface.material.name,
            ", ".join(on_it),
        )
    return table


def _openings(scene: Scene, room: Room, units: str) -> Table:
    numbers = ("size", "at")
    table = grid(["name", "kind", "surface", *numbers, ""], numbers=numbers, title="On the surfaces")
    for opening in room.openings:
        u0, v0, u1, v1 = (float(x) for x in opening.rect)
        surface = room.surfaces[opening.surface].name
        size, at = _pair((u1 - u0, v1 - v0), "x", units), _pair((u0, v0), "/", units)
        table.add_row(opening.name, opening.kind, surface, size, at, opening.material.name)
    for kept in scene.keep_outs:
        size = f"radius {_length(kept.radius, units)}" if kept.radius else ""
        size = _pair(kept.size, "x", units) if kept.size else size
        at = _pair(kept.at or kept.centre or (0.0, 0.0), "/", units)
        table.add_row(kept.name, "keep free", kept.surface, size, at, kept.reason or "")
    return table


def _objects(scene: Scene, room: Room, units: str) -> Table:
    numbers = ("from the front", "from the left", "up", "faces")
    table = grid(["object", *numbers, "material"], numbers=numbers, title="In the room")
    for entry in scene.objects:
        own = [surface for surface in room.surfaces if surface.owner == entry.name]
        corners = np.concatenate([room.facets[k].outline for surface in own for k in surface.facets])
        spans = zip(corners.min(axis=0), corners.max(axis=0), strict=True)
        materials = dict.fromkeys(surface.material.name for surface in own)
        table.add_row(
            entry.name,
            *(
                f"{_length(float(low), units)} -{_gap(units)}{_length(float(high), units)}"
                for low, high in spans
            ),
            str(len(own)),
            ", ".join(materials),
        )
    return table


def _panels(room: Room, units: str) -> Table:
    numbers = ("size", "thick", "gap", "at")
    table = grid(["panel", "build", "surface", *numbers], numbers=numbers, title="Panels")
    for panel in room.panels:
        at = gap = surface = ""
        if panel.surface is not None:
            surface = room.surfaces[panel.surface].name
            gap = _thin(panel.clear_m, units) if panel.acts_as == "patch" else "free"
            at = _pair((float(panel.rect[0]), float(panel.rect[1])), "/", units)
        size = _pair((panel.width_m, panel.height_m), "x", units)
        thick = _thin(panel.depths.outer_m, units)
        table.add_row(panel.name, panel.build_name, surface, size, thick, gap or "free", at)
    return table


def _thin(metres: float, units: str) -> str:
    return format_length(metres, units=units, style="mm")


def _pair(lengths: tuple[float, float], between: str, units: str) -> str:
    """Two lengths with their unit once: "0.60 x 1.20 m"."""
    first = format_length(lengths[0], units=units, style="m", bare=True)
    return f"{first} {between}{_gap(units)}{_length(lengths[1], units)}"


def _gap(units: str) -> str:
    """Between two lengths: feet and inches are too wide for one line."""
    return " " if units == "metric" else "\n"


def _facts(scene: Scene, room: Room, units: str) -> list[str]:
    size = room.bounds[1] - room.bounds[0]
    volume = f"{room.volume_m3:.1f} m³" if units == "metric" else f"{room.volume_m3 * 35.3147:.0f} ft³"
    limits = scene.limits
    facts = [
        f"{' x '.join(_length(float(x), units) for x in size)}, floor "
        f"{area_words(room.floor_area_m2, units)}, "
        f"volume {volume}, surfaces {area_words(room.surface_area_m2, units)}",
        f"speed of sound {room.speed_of_sound_m_s:.1f} m/s at {scene.air.temperature:g} °C; "
        f"limit: {limits.below_db:g} dB below the direct sound within {limits.within_ms:g} ms, "
        f"{limits.from_hz:g}-{limits.to_hz:g} Hz ({limits.name})",
    ]
    facts += [
        f"{s.name}: {'sub' if s.use == 'sub' else 'speaker'} at {_position(s.position, units)}"
        for s in scene.speakers
    ]
    return facts + [f"{s.name}: ears at {_position(s.ears, units)}" for s in scene.seats]


def _length(metres: float, units: str) -> str:
    return format_length(metres, units=units, style="m")


def _position(position: tuple[float, float, float], units: str) -> str:
    return ", ".join(
        f"{_length(value, units)} {where}"
        for value, where in zip(position, ("from the front", "from the left", "up"), strict=True)
    )

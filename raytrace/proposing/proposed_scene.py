"""A scene with proposed panels: entries with plain names, written behind the text of the old scene."""

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from raytrace.proposing.candidates import Candidate
from raytrace.room import Room
from raytrace.scene import (
    Build,
    Cloud,
    CloudPanel,
    DirectivityFile,
    Facing,
    KeyPath,
    MeshObject,
    MeshRoom,
    Panel,
    Scene,
    SceneError,
    Stand,
    load_scene,
    plain_text,
    read_scene_text,
    set_in_text,
)
from raytrace.study import Setting


@dataclass(frozen=True, eq=False)
class NamedPanel:
    """A chosen candidate with its name as a panel of the room, that of its entry, and its place there.

    `member` counts the panels of one entry from 0.
    """

    candidate: int
    name: str
    group: str
    member: int = 0


def name_panels(
    scene: Scene, room: Room, candidates: Sequence[Candidate], chosen: Iterable[int]
) -> tuple[NamedPanel, ...]:
    """Plain names of panels: "left wall 1", "wall 5 panel 1", "left wall stand 1", "ceiling cloud 1".

    Panels of one surface are counted from the left as a person facing it sees them, from the front under
    a ceiling; names that the scene uses already are passed over.
    """
    taken = {panel.name for panel in scene.panels} | {stand.name for stand in scene.stands}
    taken |= {cloud.name for cloud in scene.clouds}
    groups: dict[tuple[object, ...], list[int]] = {}
    for k in chosen:
        groups.setdefault(_group(candidates[k]), []).append(k)
    named: list[NamedPanel] = []
    for key in sorted(groups, key=str):
        members = sorted(groups[key], key=lambda k: _reading_order(room, candidates[k]))
        surface = room.surfaces[candidates[members[0]].surface].name
        if isinstance(candidates[members[0]].entry, Cloud):
            group = _free_name(f"{surface} cloud", taken, first_bare=True)
            named += [NamedPanel(k, f"{group} {i + 1}", group, i) for i, k in enumerate(members)]
            continue
        first = candidates[members[0]].entry
        kind = " panel" if surface[-1].isdigit() else ""  # two numbers side by side say nothing
        if isinstance(first, Stand):
            kind = " leaning panel" if first.lean else " stand"
        for k in members:
            name = _free_name(f"{surface}{kind}", taken)
            named.append(NamedPanel(k, name, name))
    return tuple(named)


def _group(candidate: Candidate) -> tuple[object, ...]:
    entry = candidate.entry
    own: tuple[object, ...] = ()
    if isinstance(entry, Cloud):
        own = candidate.panel.build_name, entry.drop
    elif isinstance(entry, Stand):
        own = (entry.lean > 0.0,)
    return (candidate.surface, type(entry).__name__, *own)


def _reading_order(room: Room, candidate: Candidate) -> tuple[float, ...]:
    frame = room.surfaces[candidate.surface].frame
    u, v = np.round(frame.to_plane(candidate.panel.centre), 3)
    return (float(u), float(v))


def _free_name(stem: str, taken: set[str], *, first_bare: bool = False) -> str:
    number = 1
    while True:
        name = stem if first_bare and number == 1 else f"{stem} {number}"
        if name not in taken:
            taken.add(name)
            return name
        number += 1


def scene_text(
    scene: Scene,
    candidates: Sequence[Candidate],
    named: Sequence[NamedPanel],
    *,
    answers: Mapping[int, object],
    out: Path,
    settings: Sequence[Setting] = (),
) -> str:
    """The text of the new scene: that of the old one, the chosen panels behind it.

    Parameters
    ----------
    scene : Scene
        What it holds beyond its own text, from lists of stock and prices, is written down too.
    candidates : sequence of Candidate
    named : sequence of NamedPanel
    answers : mapping of int to Answer
        What each candidate answers, told in a comment.
    out : Path
        Where the text is to go: files that the scene names are named from there.
    settings : sequence of Setting
        Values that are replaced in the old text.

    Returns
    -------
    str

    Raises
    ------
    SceneError
        If the scene writes its panels as a list in one line, to which nothing can be added at the end.
    """
    text = _moved(scene, out)
    for setting in settings:
        text = set_in_text(text, setting.key, setting.value, path=scene.path)
    if not named:
        return text
    text, blocks = _with_lists(scene, text, out)
    groups: dict[str, list[NamedPanel]] = {}
    for panel in named:
        groups.setdefault(panel.group, []).append(panel)
    kinds = {"panels": Panel, "stands": Stand, "clouds": Cloud}
    for kind, made in kinds.items():
        own = [g for g in groups.values() if isinstance(candidates[g[0].candidate].entry, made)]
        if own and getattr(scene, kind) and not re.search(rf"(?m)^\s*\[\[\s*{kind}\s*\]\]", scene.text):
            raise scene.error((kind,), f"write each of these as [[{kind}]], so that more can be added below")
        for members in own:
            blocks.append(_block(kind, candidates, members, answers))
    lines = "\n".join(["", "# Proposed panels. hitspot arrivals shows what moving them does.", *blocks])
    end = "" if text.endswith("\n") else "\n"
    added = end + lines
    return text + (added.replace("\n", "\r\n") if "\r\n" in text else added)


def _with_lists(scene: Scene, text: str, out: Path) -> tuple[str, list[str]]:
    """The text with stock and prices that it does not say, and blocks of the builds that it does not know."""
    own = load_scene(out, text)
    blocks = [
        _build_block(name, made if name in scene.prices else scene.build(name))
        for name, made in scene.builds.items()
        if name not in own.builds
    ]
    for key in ("stock", "prices"):
        said, known = getattr(own, key), getattr(scene, key)
        changed = {name: value for name, value in known.items() if said.get(name) != value}
        if key in own.model_fields_set:
            for name, value in changed.items():
                text = set_in_text(text, (key, name), value, path=scene.path)
        elif changed:
            lines = [f"{quoted(name)} = {_number(value)}" for name, value in changed.items()]
            blocks.append("\n".join([f"[{key}]", *lines, ""]))
    return text, blocks


def _moved(scene: Scene, out: Path) -> str:
    """The old text to the last byte, with the files it names found from the new place."""
    text = scene.text
    try:
        exact = read_scene_text(scene.path)
    except SceneError:
        exact = text
    if plain_text(exact) == plain_text(text):
        text = exact
    if out.parent.resolve() == scene.path.parent.resolve():
        return text
    uses: list[tuple[KeyPath, str]] = []
    if isinstance(scene.room, MeshRoom):
        uses.append((("room", "file"), scene.room.file))
    uses += [
        (("objects", k, "file"), entry.file)
        for k, entry in enumerate(scene.objects)
        if isinstance(entry, MeshObject)
    ]
    uses += [
        (("speakers", k, "directivity", "file"), entry.directivity.file)
        for k, entry in enumerate(scene.speakers)
        if isinstance(entry.directivity, DirectivityFile)
    ]
    for key, file in uses:
        place = os.path.relpath(scene.resolve(file).resolve(), out.parent.resolve())
        text = set_in_text(text, key, Path(place).as_posix(), path=scene.path)
    return text


def _block(
    kind: str, candidates: Sequence[Candidate], members: Sequence[NamedPanel], answers: Mapping[int, object]
) -> str:
    """One entry of the scene as text, with what it is for."""
    first = candidates[members[0].candidate].entry
    lines = [f"# {answer}" for answer in dict.fromkeys(answers[m.candidate] for m in members)]
    lines += [f"[[{kind}]]", f"name = {quoted(members[0].group)}"]
    if isinstance(first, Stand):
        lines += [f"build = {quoted(first.build)}", f"at = {pair(first.at)}", f"yaw = {_number(first.yaw)}"]
        lines += [f"stacked = {first.stacked}"] if first.stacked > 1 else []
        lines += [f"lift = {_number(first.lift)}"] if first.lift else []
        lines += [f"lean = {_number(first.lean)}"] if first.lean else []
        lines += ["turned = 90"] if first.turned else []
    elif isinstance(first, Panel):
        lines += [f"surface = {quoted(first.surface)}", f"build = {quoted(first.build)}"]
        lines += [f"centre = {pair(first.centre)}"]
        lines += ["turned = 90"] if first.turned else []
        lines += [f"gap = {_number(first.gap)}"] if first.gap else []
    else:
        spots = [candidates[m.candidate].entry for m in members]
        lines += _cloud_lines(first, [spot.panels[0] for spot in spots if isinstance(spot, Cloud)])
    return "\n".join([*lines, ""])


def _cloud_lines(first: Cloud, panels: Sequence[CloudPanel]) -> list[str]:
    lines = [f"surface = {quoted(first.surface)}", f"build = {quoted(first.build)}"]
    lines += [f"drop = {_number(first.drop)}"]
    lines += [f'level = "{first.level}"'] if first.level != "true" else []
    lines += ["panels = ["]
    for panel in panels:
        turned = ", turned = 90" if panel.turned else ""
        lines.append(f"    {{ centre = {pair(panel.centre)}{turned} }},")
    return [*lines, "]"]


def _build_block(name: str, build: Build) -> str:
    lines = [f"[builds.{quoted(name)}]"]
    for key, value in build:
        if key == "like" or value == Build.model_fields[key].default:
            continue
        if isinstance(value, tuple):
            lines.append(f"{key} = {pair(value)}")
        elif isinstance(value, Facing):
            inside = ", ".join(f"{k} = {_number(v)}" for k, v in value)
            lines.append(f"{key} = {{ {inside} }}")
        else:
            lines.append(f"{key} = {quoted(value) if isinstance(value, str) else _number(value)}")
    return "\n".join([*lines, ""])


def quoted(text: str) -> str:
    """A text as TOML has it."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _number(value: float) -> str:
    """Metres to a tenth of a millimetre, degrees and the like likewise."""
    return f"{value:.4f}".rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"


def pair(values: tuple[float, ...]) -> str:
    """Numbers as a list of a scene file."""
    return "[" + ", ".join(_number(value) for value in values) + "]"

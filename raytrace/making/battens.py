"""What is needed where no joist is in reach: battens across joists, or another place for the cloud."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.facts import Sentence, millimetres, sentence
from raytrace.making.hanging import (
    Hook,
    along_joists,
    find_hooks,
    hooks_of_rafts,
    rail_span_m,
    standing_lines,
)
from raytrace.making.rafts import SAG_SHARE, TURNBUCKLE_M, Raft
from raytrace.making.timber import ACROSS_JOISTS
from raytrace.room import HEAD_ROOM_M, TOUCH_M, Room, build_room, is_overhead, orientation
from raytrace.scene import KeepOut, Scene, SceneError

Floats = NDArray[np.float64]

SHORTEST_CORD_M = 0.030
"""Eyelet and hook need about that much height. Common practice, no source."""
_SAME_LINE_M = 0.005  # hooks this near to one line across the joists share a batten
_FARTHEST_M = 0.30  # a cloud moved farther than this no longer covers what it was put there for
_STEP_M = 0.005
_ON_M = 1e-6
_ALONG_M = 0.01  # a batten is looked at every so often along its length


@dataclass(frozen=True, eq=False)
class Batten:
    """A timber across joists that carries hooks: its surface, both ends in the set-out frame (2, 2) [m]."""

    surface: int
    ends_uv: Floats
    hooks: tuple[Hook, ...]

    @property
    def length_m(self) -> float:
        """From end to end."""
        return float(np.linalg.norm(self.ends_uv[1] - self.ends_uv[0]))


def find_battens(scene: Scene, room: Room, hooks: Sequence[Hook]) -> tuple[Batten, ...]:
    """The fewest battens across joists that carry every hook which no joist does.

    A batten runs square to the joists from the outer side of one to that of another; hooks in one line
    and in neighbouring bays share one. A hook outside the first or last joist has none: nothing known carries
    it there.

    Parameters
    ----------
    scene, room : Scene, Room
    hooks : sequence of Hook

    Returns
    -------
    tuple of Batten
    """
    battens: list[Batten] = []
    for surface in dict.fromkeys(hook.surface for hook in hooks if hook.batten):
        entry = next(j for j in scene.joists if j.surface == room.surfaces[surface].name)
        column = 1 if entry.along_u else 0
        waiting = [hook for hook in hooks if hook.batten and hook.surface == surface]
        waiting.sort(key=lambda hook: (round(hook.anchor_uv[1 - column], 6), hook.anchor_uv[column]))
        runs: list[tuple[float, float, float, list[Hook]]] = []
        for hook in waiting:
            across, along = hook.anchor_uv[column], float(hook.anchor_uv[1 - column])
            lines, _ = standing_lines(room.surfaces[surface], entry, along)
            bay = int(np.searchsorted(lines, across)) - 1
            if not 0 <= bay < len(lines) - 1:
                continue
            low, high = float(lines[bay]), float(lines[bay + 1])
            last = runs[-1] if runs else None
            if last and abs(along - last[2]) <= _SAME_LINE_M and low <= last[1]:
                runs[-1] = (last[0], max(last[1], high), last[2], [*last[3], hook])
            else:
                runs.append((low, high, along, [hook]))
        for low, high, along, held in runs:
            ends = np.full((2, 2), along)
            ends[:, column] = low - 0.5 * entry.width, high + 0.5 * entry.width
            battens.append(Batten(surface, ends, tuple(held)))
    return tuple(battens)


def better_place(scene: Scene, room: Room, hooks: Sequence[Hook], group: str) -> tuple[float, int] | None:
    """How far a cloud would have to move across the joists for more of its hooks to hold in one.

    Parameters
    ----------
    scene, room : Scene, Room
    hooks : sequence of Hook
        Of all panels.
    group : str
        Name of the cloud.

    Returns
    -------
    (float, int) or None
        The shortest best move, along u where joists run along v and along v otherwise [m], and how many
        hooks are then without a joist. None where no move of 300 mm at most that keeps clear of everything
        is better than none, or the cloud hangs from several surfaces.
    """
    own = [hook for hook in hooks if room.panels[hook.panel].group == group]
    surfaces = {hook.surface for hook in own}
    without = sum(hook.batten for hook in own)
    if without == 0 or len(surfaces) != 1:
        return None
    surface = room.surfaces[surfaces.pop()]
    entry = next(j for j in scene.joists if j.surface == surface.name)
    standing = [standing_lines(surface, entry, along_joists(entry, hook.anchor_uv))[0] for hook in own]
    n_steps = round(_FARTHEST_M / _STEP_M)
    moves: list[tuple[int, int]] = []
    for step in range(-n_steps, n_steps + 1):
        lost = 0
        for hook, lines in zip(own, standing, strict=True):
            low, high = hook.reach + step * _STEP_M
            lost += int(not ((lines >= low - _ON_M) & (lines <= high + _ON_M)).any())
        moves.append((lost, step))
    blocked = [-n_steps - 1, n_steps + 1]  # what one step runs into, the farther ones do too
    for left, step in sorted(moves, key=lambda move: (move[0], abs(move[1]))):
        if left >= without:
            break
        if not blocked[0] < step < blocked[1]:
            continue
        if _may_move(scene, group, step * _STEP_M, 1 if entry.along_u else 0):
            return step * _STEP_M, left
        blocked = [max(blocked[0], step), blocked[1]] if step < 0 else [blocked[0], min(blocked[1], step)]
    return None


def _may_move(scene: Scene, group: str, move_m: float, column: int) -> bool:
    """Whether a cloud may hang so far from where it hangs, by the rules that hold for every scene."""

    def moved(place: Sequence[float]) -> tuple[float, ...]:
        return tuple(x + move_m * (axis == column) for axis, x in enumerate(place))

    clouds = []
    for cloud in scene.clouds:
        if cloud.name != group:
            clouds.append(cloud)
        elif cloud.centre is not None:
            clouds.append(cloud.model_copy(update={"centre": moved(cloud.centre)}))
        else:
            spots = [spot.model_copy(update={"centre": moved(spot.centre)}) for spot in cloud.panels]
            clouds.append(cloud.model_copy(update={"panels": tuple(spots)}))
    try:
        build_room(scene.model_copy(update={"clouds": tuple(clouds)}))
    except SceneError:
        return False
    return True


def hook_notes(scene: Scene, room: Room, hooks: Sequence[Hook]) -> tuple[Sentence, ...]:
    """What must be known before anything is drilled for these hooks, a sentence each."""
    battens = find_battens(scene, room, hooks)
    return (
        *_unknown_structure(scene, room, hooks, battens),
        *_no_room(room, hooks),
        *_raft_notes(room, hooks),
        *_better_places(scene, room, hooks),
        *_blocked_anchors(scene, room, hooks),
        *_blocked_battens(scene, room, battens),
    )


def _unknown_structure(
    scene: Scene, room: Room, hooks: Sequence[Hook], battens: Sequence[Batten]
) -> list[Sentence]:
    """Hooks of which nobody knows what they will hold in."""
    notes = []
    lost = [hook.name for hook in not_carried(hooks, battens)]
    if lost:
        outside = "Outside the first or last known joist: {hooks}. Find what carries them."
        notes.append(sentence(outside, hooks=", ".join(lost)))
    blind = dict.fromkeys(room.surfaces[hook.surface].name for hook in hooks if np.isnan(hook.to_joist_m))
    if blind:
        unknown = (
            "No joists or studs are given for {surfaces}: find the structure before drilling; every point "
            "must hold in it."
        )
        notes.append(sentence(unknown, surfaces=", ".join(blind)))
    assumed = dict.fromkeys(
        entry.surface
        for entry in scene.joists
        if entry.known == "assumed" and any(room.surfaces[h.surface].name == entry.surface for h in hooks)
    )
    if assumed:
        unsure = "Joists of {surfaces} are assumed, not surveyed: find them before drilling."
        notes.append(sentence(unsure, surfaces=", ".join(assumed)))
    return notes


def _no_room(room: Room, hooks: Sequence[Hook]) -> list[Sentence]:
    """Hooks that have no room for cord or batten."""
    notes = []
    short = [hook.name for hook in hooks if hook.cord_m < SHORTEST_CORD_M]
    if short:
        no_room = "No room for eyelet and hook, the cord would be under {least}: {hooks}."
        notes.append(sentence(no_room, least=millimetres(SHORTEST_CORD_M), hooks=", ".join(short)))
    squeezed = dict.fromkeys(room.panels[hook.panel].name for hook in _squeezed(room, hooks))
    if squeezed:
        tight = (
            "{panels}: a batten {thick} thick does not fit behind; leave that much air there, or move the "
            "panel until its hooks meet joists."
        )
        thick = millimetres(ACROSS_JOISTS.thickness_m)
        notes.append(sentence(tight, panels=", ".join(squeezed), thick=thick))
    return notes


def _raft_notes(room: Room, hooks: Sequence[Hook]) -> list[Sentence]:
    """How low rafts reach, and where their timber spans too far or cords are too short to be adjusted."""
    notes: list[Sentence] = []
    for raft, own in hooks_of_rafts(hooks):
        low_m = float(raft.underside[:, 2].min() - room.bounds[0][2])
        told = (
            'Raft "{raft}": its slabs lie on bars that reach {deep} below them; its underside is {low} above '
            "the floor{warned}."
        )
        usual = sentence(
            ", less than the head room of {usual} that is kept elsewhere", usual=millimetres(HEAD_ROOM_M)
        )
        warned = usual if low_m < HEAD_ROOM_M - TOUCH_M else ""
        deep, low = millimetres(raft.bars.deep_m), millimetres(low_m)
        notes.append(sentence(told, raft=raft.name, deep=deep, low=low, warned=warned))
        notes += _too_far(raft, rail_span_m(raft, own))
        short = [hook.name for hook in own if SHORTEST_CORD_M <= hook.cord_m < TURNBUCKLE_M]
        if short:
            told = (
                "Too short for a turnbuckle, which takes {length} half-way: {hooks}. Take cord or wire with "
                "a grip that slides, or a larger drop."
            )
            notes.append(sentence(told, length=millimetres(TURNBUCKLE_M), hooks=", ".join(short)))
    return notes


def _too_far(raft: Raft, rail_span: float) -> list[Sentence]:
    """Rails and bars of a raft that would sag by more than the stated share of their span."""
    found = []
    if rail_span > raft.most_rail_m:
        more = (
            'Raft "{raft}": its rails span {span}, and sag by more than 1/{share} of it beyond {most}: one '
            "more hook pair, or rails of deeper timber (frame of the build)."
        )
        found.append((more, rail_span, raft.most_rail_m))
    if raft.bar_span_m > raft.bars.most_m:
        split = (
            'Raft "{raft}": its bars span {span}, and sag by more than 1/{share} of it beyond {most}: make '
            "two rafts of it, or take stiffer bars."
        )
        found.append((split, raft.bar_span_m, raft.bars.most_m))
    share = round(1.0 / SAG_SHARE)
    return [
        sentence(told, raft=raft.name, span=millimetres(span), share=share, most=millimetres(most))
        for told, span, most in found
    ]


def _better_places(scene: Scene, room: Room, hooks: Sequence[Hook]) -> list[Sentence]:
    """Clouds that would need fewer battens a little beside where they hang."""
    notes = []
    groups = dict.fromkeys(room.panels[hook.panel].group for hook in hooks if hook.batten)
    every = find_hooks(scene, room) if groups else ()  # a sheet may show some of a cloud's hooks only
    for group in groups:
        is_cloud = any(cloud.name == group for cloud in scene.clouds)
        better = better_place(scene, room, every, group) if is_cloud else None
        if better is not None:
            notes.append(_move_words(scene, room, hooks, group, *better))
    return notes


def why_not_held(scene: Scene, room: Room, hooks: Sequence[Hook]) -> Sentence | None:
    """Why some hooks cannot hold their panel where it is, as the rest of a sentence; None where they can.

    Overhead nothing hangs but from what is known; on a wall, knowing some studs rules nothing out that would
    be proposed if none were known.

    Parameters
    ----------
    scene, room : Scene, Room
    hooks : sequence of Hook
        Of one panel.
    """
    battens = find_battens(scene, room, hooks)
    for hook in hooks:
        for name, kind in _at(scene, room, hook.surface, *hook.anchor_uv.tolist()):
            return sentence('would be held inside the {kind} "{name}"', kind=kind, name=name)
    if not any(is_overhead(room.surfaces[hook.surface].frame.n) for hook in hooks):
        return None  # what carries it on a wall is found there, as on one whose studs nobody knows
    if not_carried(hooks, battens):
        surface = room.surfaces[not_carried(hooks, battens)[0].surface].name
        beyond = (
            'has a hook beyond the first or last known joist of the "{surface}": nothing known carries it'
        )
        return sentence(beyond, surface=surface)
    for _, kind, name in _crossings(scene, room, battens):
        if kind == "keep-out":
            return sentence('needs a batten through what is kept free for "{keep_out}"', keep_out=name)
        return sentence('needs a batten across the {kind} "{name}"', kind=kind, name=name)
    if _squeezed(room, hooks):
        return sentence("lies too near its surface for the batten that its hooks need")
    if any(hook.cord_m < SHORTEST_CORD_M for hook in hooks):
        return sentence("leaves no room for hook, eyelet and cord above it")
    return None


def not_carried(hooks: Sequence[Hook], battens: Sequence[Batten]) -> list[Hook]:
    """Hooks of surfaces with known joists that neither a joist nor a batten holds."""
    carried = {hook.key for batten in battens for hook in batten.hooks}
    return [hook for hook in hooks if hook.batten and hook.key not in carried]


def _squeezed(room: Room, hooks: Sequence[Hook]) -> list[Hook]:
    """Hooks of fixed panels that need a batten where there is no room for one."""
    least_m = ACROSS_JOISTS.thickness_m - _ON_M
    return [h for h in hooks if h.batten and h.kind == "fixed" and room.panels[h.panel].clear_m < least_m]


def _move_words(
    scene: Scene, room: Room, hooks: Sequence[Hook], group: str, move_m: float, without: int
) -> Sentence:
    """A sentence on the place that would spare battens."""
    hook = next(hook for hook in hooks if room.panels[hook.panel].group == group)
    surface = room.surfaces[hook.surface]
    entry = next(j for j in scene.joists if j.surface == surface.name)
    if orientation(surface.frame.n).is_level:
        ways = ("right wall", "left wall") if entry.along_u else ("back wall", "front wall")
        way = f"towards the {ways[0] if move_m > 0.0 else ways[1]}"
    else:
        ways = ("up", "down") if entry.along_u else ("to the right", "to the left")
        way = f"{ways[0] if move_m > 0.0 else ways[1]}, facing the {surface.name}"
    of_it = "every hook" if without == 0 else f"all hooks but {without}"
    return sentence(
        '"{group}" moved {move} {way}: {of_it} would hold in a joist.',
        group=group,
        move=millimetres(abs(move_m)),
        way=way,
        of_it=of_it,
    )


def _blocked_anchors(scene: Scene, room: Room, hooks: Sequence[Hook]) -> list[Sentence]:
    """Hooks whose anchor comes out where nothing can hold, or where something is to stay free."""
    notes = []
    for hook in hooks:
        for name, kind in _at(scene, room, hook.surface, *hook.anchor_uv.tolist()):
            told = '{hook} comes out in "{name}": nothing can hold there.'
            if kind == "keep-out":
                told = '{hook} comes out in the keep-out "{name}".'
            notes.append(sentence(told, hook=hook.name, name=name))
    return notes


def _blocked_battens(scene: Scene, room: Room, battens: Sequence[Batten]) -> list[Sentence]:
    """Battens that cross what is to stay free."""
    return [
        sentence(
            'The batten for {hooks} reaches into the {kind} "{name}": it may not go there; move the '
            "panel, or find another support.",
            hooks=", ".join(hook.name for hook in batten.hooks),
            kind=kind,
            name=name,
        )
        for batten, kind, name in _crossings(scene, room, battens)
    ]


def _crossings(scene: Scene, room: Room, battens: Sequence[Batten]) -> list[tuple[Batten, str, str]]:
    """Battens with the keep-outs, windows and doors that they run through: kind and name."""
    found = []
    for batten in battens:
        n_spots = max(2, int(np.ceil(batten.length_m / _ALONG_M)) + 1)
        spots = np.linspace(batten.ends_uv[0], batten.ends_uv[1], n_spots)
        crossed = [entry for u, v in spots for entry in _at(scene, room, batten.surface, float(u), float(v))]
        found += [(batten, kind, name) for name, kind in dict.fromkeys(crossed)]
    return found


def _at(scene: Scene, room: Room, surface: int, u: float, v: float) -> list[tuple[str, str]]:
    """Openings and keep-outs in which a place on a surface lies: name and kind."""
    found: list[tuple[str, str]] = []
    for opening in room.surfaces[surface].openings:
        u0, v0, u1, v1 = opening.rect
        if opening.kind != "cover" and u0 <= u <= u1 and v0 <= v <= v1:
            found.append((opening.name, opening.kind))
    kept = [entry for entry in scene.keep_outs if entry.surface == room.surfaces[surface].name]
    return found + [(entry.name, "keep-out") for entry in kept if _is_in(entry, u, v)]


def _is_in(entry: KeepOut, u: float, v: float) -> bool:
    if entry.centre is not None and entry.radius is not None:
        return float(np.hypot(u - entry.centre[0], v - entry.centre[1])) <= entry.radius
    assert entry.at is not None, "a keep-out is a rectangle or a disc"
    assert entry.size is not None, "a keep-out is a rectangle or a disc"
    return entry.at[0] <= u <= entry.at[0] + entry.size[0] and entry.at[1] <= v <= entry.at[1] + entry.size[1]

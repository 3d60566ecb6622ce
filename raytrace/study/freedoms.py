"""What of a scene could stand another way, within which bounds, and the edits of its text that make it so."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import radians, tan
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from raytrace.room import object_axes
from raytrace.scene import BoxObject, KeyPath, Scene, load_scene, set_in_text

Floats = NDArray[np.float64]

# Bounds of what may be proposed; where something stands beyond one already, that place is the bound.
# All of them are common practice without a source.
TOP_M = (0.62, 0.85)
"""Height of a table's top that one can sit at. [m]"""
REACH_M = (0.0, 0.55)
"""Distance of a table's near edge before the ears. [m]"""
TILT_DEG = 10.0
"""Tilt of a top, either way: more and things slide off it. [deg]"""
LEAST_DEPTH_M = 0.45
"""Depth of a table that one can still work at. [m]"""
AIM_DEG = 15.0
"""How far above or below the ears' level a speaker is heard from. [deg]"""
SEAT_M = 0.30
"""How far a seat is moved, forward or back. [m]"""
LEAST_TO_SPEAKER_M = 0.80
"""Distance of a seat from a speaker. [m]"""

_RAISED_M = 0.30  # a box whose lower face is higher stands on legs, which are not drawn, or hangs
_STEP_M, _STEP_DEG = 0.010, 1.0
_TOUCHES_M = 0.030
_SNAP = 0.995  # a direction so near an axis of the room is that axis


class Freedom(StrEnum):
    """A way in which something could stand otherwise."""

    HEIGHT = "height"
    DISTANCE = "distance"
    TILT = "tilt"
    FAR_CUT = "cut at the far edge"
    NEAR_CUT = "cut at the near edge"
    SPEAKERS = "speaker height"
    SEAT = "seat depth"


@dataclass(frozen=True)
class Setting:
    """A value of a scene's text: where it stands, and the new one."""

    key: KeyPath
    value: float | tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Range:
    """How far something may be changed one way.

    Attributes
    ----------
    freedom : Freedom
    things : tuple of str
        Names of what is changed.
    now : float
        Height of the top, distance of the near edge before the ears, depth, height of the acoustic centre,
        distance of the ears from where they are [m], or tilt, far edge up [deg].
    low, high : float
        Bounds of it.
    step : float
        To which it is rounded.
    """

    freedom: Freedom
    things: tuple[str, ...]
    now: float
    low: float
    high: float
    step: float

    @property
    def group(self) -> str:
        """What is moved: "desk", "speakers" or "seat"."""
        by_freedom = {Freedom.SPEAKERS: "speakers", Freedom.SEAT: "seat"}
        return by_freedom.get(self.freedom, "desk")

    def rounded(self, value: float) -> float:
        """The nearest value in whole steps from now, within the bounds. [m or deg]"""
        steps = round((value - self.now) / self.step)
        found = self.now + self.step * steps
        return float(np.clip(found, self.low, self.high))


class _Desk(NamedTuple):
    """A box whose top reflects: position among the objects, axes, which of them leads away from the seat."""

    position: int
    box: BoxObject
    axes: Floats
    ahead: Floats
    depth_axis: int
    far: float
    companions: tuple[int, ...]

    @property
    def corners(self) -> Floats:
        """(8, 3) [m]"""
        return box_corners(self.box)


def box_corners(box: BoxObject) -> Floats:
    """Corners of a box that stands in a room, (8, 3). [m]"""
    return turned_box(np.asarray(box.centre), np.asarray(box.size), box.yaw, box.pitch)


def turned_box(centre: Floats, size: Floats, yaw_deg: float, pitch_deg: float) -> Floats:
    """Corners (8, 3) of a box of some size (3,) about its centre (3,). [m]"""
    signs = np.array([(i, j, k) for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)])
    corners: Floats = centre + (signs * 0.5 * size) @ object_axes(yaw_deg, pitch_deg)
    return corners


def find_ranges(scene: Scene, seat: int, *, tops: Collection[str]) -> tuple[Range, ...]:
    """All that may be changed for a seat.

    Parameters
    ----------
    scene : Scene
    seat : int
    tops : collection of str
        Names of objects whose top faces are to be looked after.

    Returns
    -------
    tuple of Range
        Those of tables first, then the height of the main speakers, then the seat.
    """
    ranges: list[Range] = []
    for name in tops:
        desk = _desk(scene, name, seat)
        if desk is not None:
            ranges += _desk_ranges(scene, desk, seat)
    found = (*ranges, _speaker_range(scene, seat), _seat_range(scene, seat))
    return tuple(own for own in found if own is not None and own.high - own.low > own.step)


def settings_of(scene: Scene, seat: int, given: Range, value: float) -> tuple[Setting, ...]:
    """The edits that bring something to a value of its range.

    Parameters
    ----------
    scene : Scene
        In which `given` was found.
    seat : int
    given : Range
    value : float
        [m or deg]

    Returns
    -------
    tuple of Setting
    """
    by = value - given.now
    if given.freedom is Freedom.SPEAKERS:
        mains = [k for k, speaker in enumerate(scene.speakers) if speaker.name in given.things]
        places = [scene.speakers[k].position for k in mains]
        return tuple(
            Setting(("speakers", k, "position"), _moved(place, np.array([0.0, 0.0, by])))
            for k, place in zip(mains, places, strict=True)
        )
    if given.freedom is Freedom.SEAT:
        ahead = np.array([*_ahead(scene, seat), 0.0])
        return (Setting(("seats", seat, "ears"), _moved(scene.seats[seat].ears, -by * ahead)),)
    desk = _desk(scene, given.things[0], seat)
    assert desk is not None, "ranges of a desk come from one that is there"
    return _desk_settings(scene, desk, given.freedom, by)


def in_reach(scene: Scene, seat: int, ranges: Sequence[Range]) -> bool:
    """Whether tables of some ranges, wherever they and the seat are now, are as near it as those allow."""
    for own in ranges:
        if own.freedom is Freedom.DISTANCE:
            desk = _desk(scene, own.things[0], seat)
            if (
                desk is None
                or not own.low - own.step <= _stands_off_m(scene, desk, seat) <= own.high + own.step
            ):
                return False
    return True


def with_settings(scene: Scene, settings: Sequence[Setting]) -> Scene:
    """A scene with some values of its text replaced, read again; lists that were added to it stay.

    Raises
    ------
    SceneError
        If a value cannot be.
    """
    text = scene.text
    for setting in settings:
        text = set_in_text(text, setting.key, setting.value, path=scene.path)
    read = load_scene(scene.path, text)
    lists = {name: getattr(scene, name) for name in ("builds", "prices", "stock")}
    return read.model_copy(update=lists)


def _ahead(scene: Scene, seat: int) -> Floats:
    """Level direction from a seat towards the main speakers, (2,)."""
    mains = [speaker.position for speaker in scene.speakers if speaker.use == "main"]
    away = np.mean(mains, axis=0)[:2] - np.asarray(scene.seats[seat].ears)[:2]
    length = float(np.linalg.norm(away))
    ahead: Floats = away / length if length > 0.0 else np.array([-1.0, 0.0])
    if np.abs(ahead).max() > _SNAP:
        ahead = np.round(ahead) + 0.0
    return ahead


def _desk(scene: Scene, name: str, seat: int) -> _Desk | None:
    """A box as a table before a seat; None for what is no box."""
    index = next((k for k, thing in enumerate(scene.objects) if thing.name == name), None)
    if index is None or not isinstance(box := scene.objects[index], BoxObject):
        return None
    axes, ahead = object_axes(box.yaw, box.pitch), _ahead(scene, seat)
    along = axes[:2, :2] @ ahead
    depth_axis = int(np.argmax(np.abs(along)))
    return _Desk(
        index, box, axes, ahead, depth_axis, float(np.sign(along[depth_axis])), _companions(scene, box)
    )


def _companions(scene: Scene, desk: BoxObject) -> tuple[int, ...]:
    """Other boxes that stand on a table or carry it: they go where it goes."""
    own = box_corners(desk)
    low, high = own.min(axis=0), own.max(axis=0)
    found = []
    for k, other in enumerate(scene.objects):
        if not isinstance(other, BoxObject) or other.name == desk.name:
            continue
        corners = box_corners(other)
        touches = (
            abs(corners[:, 2].min() - high[2]) < _TOUCHES_M or abs(corners[:, 2].max() - low[2]) < _TOUCHES_M
        )
        middle = np.asarray(other.centre)[:2]
        if touches and (middle > low[:2]).all() and (middle < high[:2]).all():
            found.append(k)
    return tuple(found)


def _stands_off_m(scene: Scene, desk: _Desk, seat: int) -> float:
    """How far before the ears the near edge of a table is. [m]"""
    ears = np.asarray(scene.seats[seat].ears)[:2]
    return float(((desk.corners[:, :2] - ears) @ desk.ahead).min())


def _desk_ranges(scene: Scene, desk: _Desk, seat: int) -> list[Range]:
    corners, names = desk.corners, (desk.box.name,)
    stands_off_m = _stands_off_m(scene, desk, seat)
    depth_m = desk.box.size[desk.depth_axis]
    cut = (depth_m, min(LEAST_DEPTH_M, depth_m), depth_m)
    ranges = [Range(Freedom.DISTANCE, names, stands_off_m, *_hull(REACH_M, stands_off_m), _STEP_M)]
    if corners[:, 2].min() < _RAISED_M:  # it stands on the floor as it is: a chest, a shelf
        return ranges
    others = [scene.objects[k] for k in desk.companions]
    carried = any(isinstance(thing, BoxObject) and thing.centre[2] < desk.box.centre[2] for thing in others)
    top_m = desk.box.centre[2] + 0.5 * desk.box.size[2] * float(desk.axes[2, 2])
    if not carried:
        ranges.append(Range(Freedom.HEIGHT, names, top_m, *_hull(TOP_M, top_m), _STEP_M))
    if not desk.companions and desk.depth_axis == 0:
        tilt = desk.far * desk.box.pitch
        ranges.append(Range(Freedom.TILT, names, tilt, *_hull((-TILT_DEG, TILT_DEG), tilt), _STEP_DEG))
    if not desk.companions:
        ranges += [Range(way, names, *cut, _STEP_M) for way in (Freedom.FAR_CUT, Freedom.NEAR_CUT)]
    return ranges


def _desk_settings(scene: Scene, desk: _Desk, freedom: Freedom, by: float) -> tuple[Setting, ...]:
    centre, objects = ("objects", desk.position, "centre"), scene.objects
    if freedom is Freedom.TILT:
        pitch = round(desk.box.pitch + desk.far * by, 2) + 0.0
        return (Setting(("objects", desk.position, "pitch"), pitch),)
    if freedom in (Freedom.FAR_CUT, Freedom.NEAR_CUT):
        size = list(desk.box.size)
        size[desk.depth_axis] = round(size[desk.depth_axis] + by, 4)
        side = 1.0 if freedom is Freedom.FAR_CUT else -1.0  # the other edge stays where it is
        shift = 0.5 * side * by * desk.far * desk.axes[desk.depth_axis]
        return (
            Setting(("objects", desk.position, "size"), tuple(size)),
            Setting(centre, _moved(desk.box.centre, shift)),
        )
    shift = np.array([0.0, 0.0, by]) if freedom is Freedom.HEIGHT else by * np.array([*desk.ahead, 0.0])
    moved = [(desk.position, desk.box)]
    moved += [(k, thing) for k in desk.companions if isinstance(thing := objects[k], BoxObject)]
    return tuple(Setting(("objects", k, "centre"), _moved(thing.centre, shift)) for k, thing in moved)


def _speaker_range(scene: Scene, seat: int) -> Range | None:
    """Heights of the main speakers, moved together by the same."""
    mains = [speaker for speaker in scene.speakers if speaker.use == "main"]
    ears = np.asarray(scene.seats[seat].ears)
    away_m = min(float(np.linalg.norm(np.subtract(s.position, ears)[:2])) for s in mains)
    up_m, now = away_m * tan(radians(AIM_DEG)), mains[0].position[2]
    low, high = _hull((float(ears[2]) - up_m, float(ears[2]) + up_m), now)
    return Range(Freedom.SPEAKERS, tuple(s.name for s in mains), now, low, high, _STEP_M)


def _seat_range(scene: Scene, seat: int) -> Range | None:
    """A seat moved back (positive) or forward, no nearer to a speaker than is usual."""
    mains = np.array([speaker.position for speaker in scene.speakers if speaker.use == "main"])
    ears, ahead = np.asarray(scene.seats[seat].ears), _ahead(scene, seat)
    least_m = min(LEAST_TO_SPEAKER_M, float(np.linalg.norm(mains - ears, axis=1).min()))
    steps = np.arange(0.0, SEAT_M + 1e-9, _STEP_M)
    near = [np.linalg.norm(mains - (ears + s * np.array([*ahead, 0.0])), axis=1).min() for s in steps]
    forward_m = max(s for s, apart_m in zip(steps, near, strict=True) if apart_m >= least_m - 1e-9)
    return Range(Freedom.SEAT, (scene.seats[seat].name,), 0.0, -float(forward_m), SEAT_M, _STEP_M)


def _hull(bounds: tuple[float, float], now: float) -> tuple[float, float]:
    """Bounds, or where something is beyond one already, that."""
    return min(bounds[0], now), max(bounds[1], now)


def _moved(place: tuple[float, ...], shift: Floats) -> tuple[float, ...]:
    return tuple(round(float(value), 4) + 0.0 for value in np.asarray(place) + shift)

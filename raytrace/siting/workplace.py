"""What moves with a seat: its speakers as they stand to it, and the furniture between them."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from raytrace.room import Room, Solid, cabinet_size_m, object_axes, prism, speaker_axis
from raytrace.scene import Aim, BoxObject, KeyPath, MeshObject, Scene
from raytrace.study import Setting

Floats = NDArray[np.float64]

SEAT = 0
"""The seat that is moved: the first of a scene, where speakers aim."""
BESIDE_M = 0.30
"""Furniture whose middle is so near the triangle of ears and speakers goes with them (own choice). [m]"""
OVER_EARS_M = 0.30
"""What reaches higher above the ears stays: it is a wardrobe or part of the room (own choice). [m]"""
PERSON_M = 0.60
"""Width and depth of a chair with somebody in it (common practice, no source). [m]"""
PLUGS_M = 0.05
"""Behind a cabinet plugs and cables take this much (common practice, no source). [m]"""
_HEAD_M = 0.12  # of a head above its ears
_HUNG_M = 1.60  # a cabinet whose underside is higher hangs on something; below it stands on the floor
_TOUCHES_M = 0.030


@dataclass(frozen=True)
class Body:
    """Something that takes room at a place of the seat.

    Attributes
    ----------
    name : str
        Of the speaker, seat or object.
    solid : Solid
        Where it is now. [m]
    """

    name: str
    solid: Solid

    def moved(self, step: Floats) -> Solid:
        """The same moved by (3,). [m]"""
        return Solid(self.solid.corners + step, self.solid.edges)


@dataclass(frozen=True)
class Workplace:
    """A seat with what moves with it.

    Attributes
    ----------
    scene : Scene
        As it is now.
    speakers, objects : tuple of int
        Main speakers and furniture that go with the seat: positions in the scene's lists.
    bodies : tuple of Body
    """

    scene: Scene
    speakers: tuple[int, ...]
    objects: tuple[int, ...]
    bodies: tuple[Body, ...]

    @property
    def ears(self) -> Floats:
        """Where they are now, (3,). [m]"""
        return np.array(self.scene.seats[SEAT].ears)

    @property
    def object_names(self) -> tuple[str, ...]:
        """Names of the furniture that goes with the seat."""
        return tuple(self.scene.objects[k].name for k in self.objects)

    def speaker_places(self, ears: Floats) -> Floats:
        """Where the speakers are with the ears at (3,), (n_speakers, 3). [m]"""
        now = np.array([self.scene.speakers[k].position for k in self.speakers])
        return np.asarray(now + (ears - self.ears))

    def settings(self, ears: Floats, *, turned: bool) -> tuple[Setting, ...]:
        """Edits that put the seat there, with all that goes with it.

        Parameters
        ----------
        ears : (3,) float
            [m]
        turned : bool
            Whether they are for a text that was turned, so that directions have to be set again.
        """
        edits = [*self._moves(ears - self.ears), *(self._directions() if turned else ())]
        return tuple(Setting(key, value) for key, value in edits)

    def _directions(self) -> Iterator[tuple[KeyPath, float]]:
        for k in self.speakers:
            aim = self.scene.speakers[k].aim
            if isinstance(aim, Aim):
                yield ("speakers", k, "aim", "yaw"), aim.yaw
        for k in self.objects:
            thing = self.scene.objects[k]
            if isinstance(thing, MeshObject):
                yield ("objects", k, "turn"), thing.turn
            else:
                yield ("objects", k, "yaw"), thing.yaw

    def _moves(self, step: Floats) -> Iterator[tuple[KeyPath, tuple[float, ...]]]:
        scene = self.scene
        yield ("seats", SEAT, "ears"), _at(scene.seats[SEAT].ears, step)
        for k in self.speakers:
            speaker = scene.speakers[k]
            yield ("speakers", k, "position"), _at(speaker.position, step)
            if isinstance(speaker.aim, tuple):
                yield ("speakers", k, "aim"), _at(speaker.aim, step)
        for k in self.objects:
            thing = scene.objects[k]
            if isinstance(thing, MeshObject):
                yield ("objects", k, "move"), _at(thing.move, step)
            else:
                yield ("objects", k, "centre"), _at(thing.centre, step)


def _at(place: tuple[float, ...], step: Floats) -> tuple[float, ...]:
    return tuple(round(float(value), 6) + 0.0 for value in np.asarray(place) + step)


def find_workplace(scene: Scene, room: Room) -> Workplace:
    """What goes with the first seat of a scene.

    Parameters
    ----------
    scene : Scene
    room : Room
        Built from it.
    """
    speakers = tuple(k for k, speaker in enumerate(scene.speakers) if speaker.use == "main")
    objects = _furniture(scene, room, speakers)
    floor_m = float(room.bounds[0][2])
    carried = [_box_of(room.skins[scene.objects[k].name]) for k in objects]
    bodies = [Body(scene.seats[SEAT].name, person(scene.seats[SEAT].ears, floor_m))]
    bodies += [_speaker_body(scene, k, floor_m, carried) for k in speakers]
    bodies += [Body(scene.objects[k].name, _object_solid(scene, room, k)) for k in objects]
    return Workplace(scene, speakers, objects, tuple(bodies))


def person(ears: tuple[float, ...], floor_m: float) -> Solid:
    """Somebody in a chair."""
    x, y, z = ears
    half = 0.5 * PERSON_M
    outline = np.array([(x + s * half, y + t * half, floor_m) for s, t in _SQUARE])
    return prism(outline, np.array([0.0, 0.0, z + _HEAD_M - floor_m]))


_SQUARE = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))


def _speaker_body(scene: Scene, index: int, floor_m: float, carried: list[Floats]) -> Body:
    """A cabinet with its plugs, and its stand where no furniture that goes along carries it."""
    speaker = scene.speakers[index]
    axis = speaker_axis(scene, speaker)[:2]
    ahead = axis / np.linalg.norm(axis) if np.linalg.norm(axis) > 0.0 else np.array([1.0, 0.0])
    aside = np.array([-ahead[1], ahead[0]])
    depth, width, height = (float(side) for side in cabinet_size_m(speaker))
    x, y, z = speaker.position
    low, high = z - 0.5 * height, z + 0.5 * height
    on_furniture = any((box[0, :2] <= (x, y)).all() and (box[1, :2] >= (x, y)).all() for box in carried)
    bottom = low if on_furniture or low - floor_m > _HUNG_M else floor_m
    corners = [
        np.array([x, y]) + 0.5 * width * s * aside - t * ahead
        for s, t in ((-1.0, 0.0), (1.0, 0.0), (1.0, depth + PLUGS_M), (-1.0, depth + PLUGS_M))
    ]
    outline = np.column_stack([np.array(corners), np.full(4, bottom)])
    return Body(speaker.name, prism(outline, np.array([0.0, 0.0, high - bottom])))


def _object_solid(scene: Scene, room: Room, index: int) -> Solid:
    """A box as it is; of another object the box around it."""
    thing = scene.objects[index]
    if isinstance(thing, BoxObject):
        axes = object_axes(thing.yaw, thing.pitch)
        edges = np.asarray(thing.size)[:, None] * axes
        first = np.asarray(thing.centre) - 0.5 * edges.sum(axis=0)
        outline = np.array([first, first + edges[0], first + edges[0] + edges[1], first + edges[1]])
        return prism(outline, edges[2])
    (x0, y0, z0), (x1, y1, z1) = _box_of(room.skins[thing.name])
    outline = np.array([(x0, y0, z0), (x1, y0, z0), (x1, y1, z0), (x0, y1, z0)])
    return prism(outline, np.array([0.0, 0.0, z1 - z0]))


def _furniture(scene: Scene, room: Room, speakers: tuple[int, ...]) -> tuple[int, ...]:
    """Objects in and near the triangle of ears and speakers, and what stands on them or carries them."""
    ears = scene.seats[SEAT].ears
    triangle = np.array([ears, *(scene.speakers[k].position for k in speakers)])[:, :2]
    boxes = {k: _box_of(room.skins[thing.name]) for k, thing in enumerate(scene.objects)}
    low_ones = {k: box for k, box in boxes.items() if box[1, 2] <= ears[2] + OVER_EARS_M}
    found = {k for k, box in low_ones.items() if _distance_m(box.mean(axis=0)[:2], triangle) <= BESIDE_M}
    while True:
        more = {
            k
            for k, box in low_ones.items()
            if k not in found and any(_stand_on_each_other(box, boxes[other]) for other in found)
        }
        if not more:
            return tuple(sorted(found))
        found |= more


def _box_of(skin: Floats) -> Floats:
    """Lowest and highest corner of triangles, (2, 3). [m]"""
    points = skin.reshape(-1, 3)
    return np.array([points.min(axis=0), points.max(axis=0)])


def _stand_on_each_other(one: Floats, other: Floats) -> bool:
    """Whether of two boxes (2, 3) one stands on the other, the middle of the upper within the lower."""
    for upper, lower in ((one, other), (other, one)):
        middle = upper.mean(axis=0)[:2]
        touches = abs(upper[0, 2] - lower[1, 2]) < _TOUCHES_M
        if touches and (middle > lower[0, :2]).all() and (middle < lower[1, :2]).all():
            return True
    return False


def _distance_m(point: Floats, corners: Floats) -> float:
    """Distance of a point (2,) from the convex hull of some (n, 2), 0 inside. [m]"""
    directions = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    normals = np.stack([np.cos(directions), np.sin(directions)], axis=1)
    # The distance from a convex body is the largest by which the point is past its supporting lines.
    return max(float((normals @ point - (normals @ corners.T).max(axis=1)).max()), 0.0)

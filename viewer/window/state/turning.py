"""The eye that turns about a room: pure arithmetic from pointer moves and named views to a camera."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace import Room, Study, orientation
from viewer import look
from viewer.pictures import Camera, Stage, choose_camera, fit_camera

Floats = NDArray[np.float64]

TURN_DEG_PER_PX = 0.35
STEEPEST_DEG = 90.0
SEAT_ANGLE_DEG = 78.0  # about what one takes in without turning the head
INSIDE_M = 0.05  # nearer to its target than this the eye itself turns, not the room
BEHIND_M, ABOVE_M = 0.35, 0.16
NEAREST_M, FARTHEST_M = 0.2, 200.0
FACE_MARGIN = 0.07
HEADING = {
    "room": "The whole room",
    "plan": "From above",
    "section": "From the side",
    "seat": "From the seat",
}


@dataclass(frozen=True)
class Eye:
    """Where the room is seen from.

    Attributes
    ----------
    target : (3,) tuple of float
        What the eye turns about. [m]
    distance_m : float
        From there to the eye; 0 looks out of the target.
    azimuth_deg, elevation_deg : float
        Direction from the target to the eye: 0, 0 is straight behind the seat.
    half_height : float
        As in `Camera`.
    parallel : bool
        Parallel projection or perspective.
    """

    target: tuple[float, float, float]
    distance_m: float
    azimuth_deg: float
    elevation_deg: float
    half_height: float
    parallel: bool

    def camera(self, size: tuple[int, int]) -> Camera:
        """The same as a camera of a picture of width x height pixels."""
        a, e = np.radians(self.azimuth_deg), np.radians(self.elevation_deg)
        towards = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
        right = np.array([-np.sin(a), np.cos(a), 0.0])
        position = np.array(self.target) + self.distance_m * towards
        up = np.cross(towards, right)
        return Camera(position, right, up, -towards, self.half_height, self.parallel, *size)


def eye_of(camera: Camera, about: ArrayLike) -> Eye:
    """The eye of a camera, turning about what lies as deep as a point."""
    depth_m = float(camera.depth(np.asarray(about, np.float64)))
    x, y, z = -camera.forward
    elevation = float(np.degrees(np.arcsin(np.clip(z, -1.0, 1.0))))
    # Straight from above the right-hand side of the picture says which way it is turned.
    azimuth = float(np.degrees(np.arctan2(-camera.right[0], camera.right[1])))
    if abs(elevation) < 89.9:
        azimuth = float(np.degrees(np.arctan2(y, x)))
    return Eye(
        _point(camera.position + depth_m * camera.forward),
        depth_m,
        azimuth,
        elevation,
        camera.half_height,
        camera.parallel,
    )


def _point(values: Floats) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def turned(eye: Eye, right_px: float, down_px: float) -> Eye:
    """The eye after the room was dragged by so many pixels."""
    way = 1.0 if eye.distance_m < INSIDE_M else -1.0
    elevation = eye.elevation_deg - way * TURN_DEG_PER_PX * down_px
    return replace(
        eye,
        azimuth_deg=(eye.azimuth_deg + way * TURN_DEG_PER_PX * right_px + 180.0) % 360.0 - 180.0,
        elevation_deg=float(np.clip(elevation, -STEEPEST_DEG, STEEPEST_DEG)),
    )


def shifted(eye: Eye, right_px: float, down_px: float, height_px: int) -> Eye:
    """The eye after the picture was pushed sideways by so many pixels."""
    camera = eye.camera((height_px, height_px))
    reach = 1.0 if eye.parallel else max(eye.distance_m, NEAREST_M)
    step = eye.half_height * reach * 2.0 / height_px
    return replace(
        eye, target=_point(np.array(eye.target) + step * (down_px * camera.up - right_px * camera.right))
    )


def nearer(eye: Eye, factor: float) -> Eye:
    """The eye so many times nearer; looking out of the seat it narrows its view instead."""
    if eye.parallel or eye.distance_m < INSIDE_M:
        return replace(eye, half_height=float(np.clip(eye.half_height / factor, 0.01, 60.0)))
    return replace(eye, distance_m=float(np.clip(eye.distance_m / factor, NEAREST_M, FARTHEST_M)))


def with_projection(eye: Eye, parallel: bool) -> Eye:
    """The same view in the other projection, as large at the target as before."""
    if parallel == eye.parallel:
        return eye
    if parallel:
        return replace(eye, parallel=True, half_height=eye.half_height * max(eye.distance_m, NEAREST_M))
    tangent = float(np.tan(np.radians(look.VIEW_ANGLE_DEG) / 2))
    return replace(eye, parallel=False, half_height=tangent, distance_m=eye.half_height / tangent)


def named_view(stage: Stage, name: str, size: tuple[int, int], seat: int = 0) -> Eye:
    """The eye of a named view: "room", "plan", "section", "seat" or the name of a surface."""
    centre = stage.corners.mean(axis=0)
    if name == "seat":
        # A little behind and above the ears, where the paths that end there do not fill the picture.
        x, y, z = stage.study.scene.seats[seat].ears
        return Eye(
            (x + BEHIND_M, y, z + ABOVE_M),
            0.0,
            0.0,
            0.0,
            float(np.tan(np.radians(SEAT_ANGLE_DEG) / 2)),
            False,
        )
    for view in look.VIEWS:
        if view.name == name:
            return eye_of(choose_camera(stage, view, size), centre)
    return face_on(stage.study.room, stage.study.room.surface_index(name), size)


def face_on(room: Room, surface: int, size: tuple[int, int]) -> Eye:
    """A surface seen straight on from inside, in parallel projection."""
    frame = room.surfaces[surface].frame
    outlines = np.concatenate([room.facets[i].outline for i in room.surfaces[surface].facets])
    # A level face is a plan, seen along the plumb line.
    plumb = float(np.sign(frame.n[2]))
    level = orientation(frame.n).is_level
    camera = fit_camera(
        outlines,
        (0.0, 0.0, plumb) if level else _point(frame.n),
        up=(-plumb, 0.0, 0.0) if level else (0.0, 0.0, 1.0),
        view_angle_deg=None,
        size=size,
        margin=FACE_MARGIN,
    )
    return eye_of(camera, room.bounds.mean(axis=0))


def view_names(study: Study) -> tuple[tuple[str, str], ...]:
    """Names and headings of all named views, the surfaces of the room last."""
    surfaces = [s.name for s in study.room.surfaces if s.owner is None]
    return (*HEADING.items(), *((name, f"Facing the {name}") for name in surfaces))

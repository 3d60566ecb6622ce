"""Where speakers point, stand and dip: everything that `aim` tells of a scene, as one call."""

from dataclasses import dataclass

from raytrace.aiming.boundaries import BoundaryResponse, boundaries_of, boundary_response
from raytrace.aiming.deskclear import DeskMove, find_desk_moves
from raytrace.aiming.oddities import aim_notes
from raytrace.aiming.pointing import BEHIND_M, Pointing, SpeakerPair, find_pairs, find_pointings
from raytrace.aiming.wallsweep import WallSweep, sweep_to_wall
from raytrace.facts import Sentence
from raytrace.reflections import Progress
from raytrace.room import Room, build_room
from raytrace.scene import Scene


@dataclass(frozen=True)
class AimWish:
    """What is asked for.

    Attributes
    ----------
    seat : int
        Whose desk reflections and distances to the wall are looked into.
    behind_m : float
        How far behind the ears the second aim lies. [m]
    wall_m : (float or None, float or None)
        Bounds of the distances from the wall behind the speakers; None for the usual ones. [m]
    desk : bool
        Whether to look for what clears a desk, which takes most of the time.
    """

    seat: int = 0
    behind_m: float = BEHIND_M
    wall_m: tuple[float | None, float | None] = (None, None)
    desk: bool = True


@dataclass(frozen=True)
class Aiming:
    """What there is to set up of the speakers of a scene.

    Attributes
    ----------
    scene, room : Scene, Room
    wish : AimWish
    pointings : tuple of Pointing
        Per main speaker and seat.
    pairs : tuple of SpeakerPair
        Left and right, per seat that has both.
    responses : tuple of BoundaryResponse
        As `pointings`.
    sweep : WallSweep or None
    desk_moves : tuple of DeskMove
    notes : tuple of Sentence
        Warnings first, then what the figures rest on.
    """

    scene: Scene
    room: Room
    wish: AimWish
    pointings: tuple[Pointing, ...]
    pairs: tuple[SpeakerPair, ...]
    responses: tuple[BoundaryResponse, ...]
    sweep: WallSweep | None
    desk_moves: tuple[DeskMove, ...]
    notes: tuple[Sentence, ...]


_USUAL_WISH = AimWish()


def find_aim(scene: Scene, wish: AimWish = _USUAL_WISH, *, progress: Progress | None = None) -> Aiming:
    """How to set up the speakers of a scene.

    Parameters
    ----------
    scene : Scene
    wish : AimWish
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    Aiming

    Raises
    ------
    SceneError
        If the scene's geometry does not hold together.
    """
    room = build_room(scene)
    pointings = find_pointings(scene, room, behind_m=wish.behind_m)
    pairs = find_pairs(scene, room)
    boundaries = boundaries_of(scene)
    responses = tuple(boundary_response(boundaries, speaker=p.speaker, seat=p.seat) for p in pointings)
    sweep = sweep_to_wall(scene, boundaries, seat=wish.seat, bounds_m=wish.wall_m)
    desk_moves = find_desk_moves(scene, seat=wish.seat, progress=progress) if wish.desk else ()
    notes = aim_notes(scene, pointings, pairs, sweep)
    return Aiming(scene, room, wish, pointings, pairs, responses, sweep, desk_moves, notes)

"""Wave fronts of a speaker: the sphere that spreads from it, mirrored wherever the room mirrors it."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from raytrace.room import Room, build_room
from raytrace.scene import Scene

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_BOUNCES = 6
_GOLDEN = (1.0 + 5.0**0.5) / 2.0
_OFF_WALL_M = 1e-6  # a ray goes on from here, so that it does not meet the facet again that it leaves


@dataclass(frozen=True)
class WaveFronts:
    """Rays from a source with all they meet, of which the fronts at any time are made.

    Attributes
    ----------
    triangles : (n_triangles, 3) int
        Rays that are neighbours.
    starts : (n_legs, n_rays, 3) float
        Where each leg of each ray begins; the source first. [m]
    directions : (n_legs, n_rays, 3) float
        Unit vectors.
    begins_m : (n_legs + 1, n_rays) float
        Length of a ray's way up to where each leg begins, and the end of the last.
    met : (n_legs, n_rays) int
        Facet at the end of each leg, -1 where a ray leaves the room.
    speed_of_sound_m_s : float
    """

    triangles: Ints
    starts: Floats
    directions: Floats
    begins_m: Floats
    met: Ints
    speed_of_sound_m_s: float

    def at(self, time_s: float) -> tuple[Floats, Ints, Ints]:
        """The fronts so long after the sound left the source.

        Returns
        -------
        points : (n_rays, 3) float
            Where each ray is. [m]
        triangles : (k, 3) int
            Pieces of the fronts: rays that have met the same facets in the same order so far.
        order : (k,) int
            How many bounces each piece has behind it.
        """
        reach_m = max(time_s, 0.0) * self.speed_of_sound_m_s
        n_legs, n_rays = self.met.shape
        rays = np.arange(n_rays)
        leg = np.clip((self.begins_m <= reach_m).sum(axis=0) - 1, 0, n_legs - 1)
        points = (
            self.starts[leg, rays]
            + (reach_m - self.begins_m[leg, rays])[:, None] * self.directions[leg, rays]
        )
        is_there = reach_m <= self.begins_m[leg + 1, rays]
        corners = self.triangles
        whole = is_there[corners].all(axis=1) & (leg[corners] == leg[corners[:, :1]]).all(axis=1)
        for k in range(n_legs):
            ends_here = self.met[k][corners]
            whole &= (k >= leg[corners[:, 0]]) | (ends_here == ends_here[:, :1]).all(axis=1)
        kept = corners[whole]
        return points, kept, leg[kept[:, 0]]


def trace_fronts(room: Room, source: ArrayLike, *, until_s: float, fineness: int = 5) -> WaveFronts:
    """Rays of a source in all directions, mirrored by what they meet.

    Parameters
    ----------
    room : Room
    source : (3,) array_like
        [m]
    until_s : float
        After the sound leaves the source; rays that are longer end there, or after 6 bounces. [s]
    fineness : int
        How often the faces of an icosahedron are quartered: 10 4^n + 2 rays.

    Returns
    -------
    WaveFronts
        Mirrors alone: no scattering, no bending past edges, no levels; what hangs free lets all through.
        Where neighbours meet different facets they part, and the front has a gap.
    """
    directions, triangles = _sphere(fineness)
    position = np.broadcast_to(np.asarray(source, np.float64), directions.shape)
    reach_m = until_s * room.speed_of_sound_m_s
    normals = np.array([facet.normal for facet in room.facets])
    starts, ways, begins, met = [], [], [np.zeros(len(directions))], []
    for _ in range(MOST_BOUNCES + 1):
        distance_m, facet = room.first_hit(position, directions)
        starts.append(position)
        ways.append(directions)
        met.append(facet)
        begins.append(begins[-1] + distance_m)
        if (begins[-1] >= reach_m).all():
            break
        hits = facet >= 0
        normal = np.where(hits[:, None], normals[facet], 0.0)
        along = np.where(hits, distance_m, 0.0)[:, None]
        mirrored = directions - 2.0 * np.sum(directions * normal, axis=1, keepdims=True) * normal
        position = position + along * directions + _OFF_WALL_M * mirrored
        directions = mirrored
    return WaveFronts(
        triangles,
        np.array(starts),
        np.array(ways),
        np.array(begins),
        np.array(met, np.int64),
        room.speed_of_sound_m_s,
    )


def speaker_fronts(scene: Scene, speaker: int, *, until_s: float) -> WaveFronts:
    """Wave fronts of one of a scene's speakers, as `trace_fronts` has them; cabinets let all through."""
    bare = [own.model_copy(update={"body": None}) for own in scene.speakers]
    room = build_room(scene.model_copy(update={"speakers": tuple(bare)}))
    return trace_fronts(room, scene.speakers[speaker].position, until_s=until_s)


@cache
def _sphere(fineness: int) -> tuple[Floats, Ints]:
    """Unit vectors (n, 3) of an icosahedron whose faces are quartered so often, and its triangles (m, 3)."""
    a, b = 1.0, _GOLDEN
    points = [(s * a, t * b, 0.0) for s in (-1, 1) for t in (-1, 1)]
    points += [(0.0, s * a, t * b) for s in (-1, 1) for t in (-1, 1)]
    points += [(t * b, 0.0, s * a) for s in (-1, 1) for t in (-1, 1)]
    corners = np.array(points) / np.hypot(a, b)
    apart = np.linalg.norm(corners[:, None] - corners[None], axis=2)
    near = (apart < 1.2) & (apart > 0.0)  # edges of an icosahedron on the unit sphere are 1.05 long
    faces = [
        (i, j, k)
        for i in range(12)
        for j in range(i + 1, 12)
        for k in range(j + 1, 12)
        if near[i, j] and near[j, k] and near[i, k]
    ]
    triangles = np.array(faces, np.int64)
    for _ in range(fineness):
        corners, triangles = _quartered(corners, triangles)
    return corners, triangles


def _quartered(points: Floats, triangles: Ints) -> tuple[Floats, Ints]:
    """Each triangle in four, the new corners on the unit sphere."""
    edges = np.sort(
        np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1
    )
    unique, inverse = np.unique(edges, axis=0, return_inverse=True)
    middles = points[unique].sum(axis=1)
    middles /= np.linalg.norm(middles, axis=1, keepdims=True)
    ab, bc, ca = len(points) + inverse.reshape(3, -1)
    a, b, c = triangles.T
    parts = [np.stack(part, axis=1) for part in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]
    return np.concatenate([points, middles]), np.concatenate(parts)

"""What the surfaces of a room do to rays, and which bands can share them."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from raytrace.acoustics import Material
from raytrace.room import Room, cover_areas_m2, surface_covers

if TYPE_CHECKING:
    from raytrace.kernels.flight import Walls

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Of rays at the end of a fall by 35 dB (the range of T30), about 30 bounces in a treated room, half still
# count if one bounce multiplies their mean square weight by no more than this.
WEIGHT_GROWTH = 2.0 ** (1.0 / 30.0) - 1.0


def ray_walls(room: Room, materials: tuple[Material, ...], chance: Floats) -> "Walls":
    """What the facets of a room do to rays.

    Parameters
    ----------
    room : Room
    materials : tuple of Material
        From `room_materials`.
    chance : (n_materials,) float
        Share of the rays that each material scatters, whatever the band.

    Notes
    -----
    One choice between mirror and scatter serves all bands, which scatter unlike: each band's energy is
    multiplied by s / chance on scattering and by (1 - s) / (1 - chance) on mirroring, so that on average
    it keeps what its own s says.
    """
    from raytrace.kernels.flight import Walls

    place = {_likeness(material): index for index, material in enumerate(materials)}
    by_facet = [room.surfaces[facet.surface] for facet in room.facets]
    on_facet = [surface_covers(room, facet.surface) for facet in room.facets]
    frames = [surface.frame for surface, own in zip(by_facet, on_facet, strict=True) for _ in own]
    covers = [cover for own in on_facet for cover in own]
    rects = np.array([rect for rect, _ in covers], np.float64).reshape(-1, 4)
    absorbed = np.array([material.absorption for material in materials])
    spread = np.array([material.scattering for material in materials])
    odds = chance[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        mirrored = np.where(odds < 1.0, (1.0 - absorbed) * (1.0 - spread) / (1.0 - odds), 0.0)
        scattered = np.where(odds > 0.0, (1.0 - absorbed) * spread / odds, 0.0)
    kept = np.stack([mirrored, scattered], axis=1).reshape(-1, absorbed.shape[1])
    return Walls(
        normals=room.facet_arrays.normals,
        material=np.array([place[_likeness(surface.material)] for surface in by_facet], np.int64),
        cover_start=np.cumsum([0, *(len(own) for own in on_facet)], dtype=np.int64),
        cover_u=np.array([frame.u for frame in frames]).reshape(-1, 3),
        cover_v=np.array([frame.v for frame in frames]).reshape(-1, 3),
        cover_offset=np.array([(frame.u @ frame.origin, frame.v @ frame.origin) for frame in frames]).reshape(
            -1, 2
        )
        + rects[:, :2],
        cover_size=rects[:, 2:] - rects[:, :2],
        cover_material=np.array([place[_likeness(material)] for _, material in covers], np.int64),
        chance=chance,
        kept=kept,
    )


def room_materials(room: Room) -> tuple[tuple[Material, ...], Floats]:
    """Unlike materials of all surfaces, openings and panels, and the area of each. (n_materials,) [m2]"""
    found: dict[tuple[bytes, bytes], Material] = {}
    area: dict[tuple[bytes, bytes], float] = {}
    for index, surface in enumerate(room.surfaces):
        shown, bare_m2 = cover_areas_m2(room, index)
        for size_m2, material in [*shown, (bare_m2, surface.material)]:
            key = _likeness(material)
            found.setdefault(key, material)
            area[key] = area.get(key, 0.0) + size_m2
    return tuple(found.values()), np.array(list(area.values()))


def _likeness(material: Material) -> tuple[bytes, bytes]:
    """The same for materials that do the same."""
    return material.absorption.tobytes(), material.scattering.tobytes()


def scattering_groups(materials: tuple[Material, ...], area_m2: Floats) -> list[tuple[slice, Floats]]:
    """Bands that can share their rays, with the chance of scattering at each material.

    Bands that scatter alike are followed by the same rays; where they scatter too differently, the
    weights of shared rays would spread until a few of them carried all the energy, so those bands get
    rays of their own.

    Returns
    -------
    list of (slice, (n_materials,) float)
        Ranges of bands, together all eight, and the chances.
    """
    spread = np.array([material.scattering for material in materials])
    share = area_m2 / area_m2.sum()
    groups: list[tuple[slice, Floats]] = []
    start = 0
    for stop in range(1, spread.shape[1] + 1):
        wider = spread[:, start : stop + 1]
        if stop == spread.shape[1] or _weight_growth(wider, share) > WEIGHT_GROWTH:
            groups.append((slice(start, stop), _chance(spread[:, start:stop])))
            start = stop
    return groups


def _weight_growth(spread: Floats, share: Floats) -> float:
    """Largest growth of the mean square weight at one bounce over the bands, (n_materials, n) -> float."""
    chance = _chance(spread)[:, None]
    odds = chance * (1.0 - chance)
    with np.errstate(divide="ignore", invalid="ignore"):
        growth = np.where(spread == chance, 0.0, (spread - chance) ** 2 / odds)
    return float((share @ growth).max())


def _chance(spread: Floats) -> Floats:
    """Chance of scattering that suits several bands, (n_materials, n) -> (n_materials,)."""
    middle: Floats = 0.5 * (spread.min(axis=1) + spread.max(axis=1))
    return middle

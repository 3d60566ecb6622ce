"""Rugs, curtains and pads to buy for a scene: what, of which size, for which place."""

from dataclasses import dataclass

from raytrace.scene import Scene


@dataclass(frozen=True)
class CoverToBuy:
    """A cover by name, the surface or window that it is for, its size [m], price of it or None."""

    cover: str
    place: str
    size_m: tuple[float, float]
    price: float | None


def covers_to_buy(scene: Scene) -> tuple[CoverToBuy, ...]:
    """Every cover that a scene's openings name, in their order.

    Parameters
    ----------
    scene : Scene
    """
    known = scene.known_covers
    return tuple(
        CoverToBuy(
            opening.cover,
            opening.surface if opening.kind == "cover" else opening.name,
            opening.size,
            known[opening.cover].price,
        )
        for opening in scene.openings
        if opening.cover is not None
    )

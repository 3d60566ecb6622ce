"""Rugs, curtains, pads and shelves to buy for a scene: what, of which size, for which place."""

from dataclasses import dataclass

from raytrace.scene import BoxObject, Scene


@dataclass(frozen=True)
class CoverToBuy:
    """A cover by name, the surface or window that it is for, its size [m], price of it or None.

    `at` is its corner in the set-out frame of that surface [m], None where it covers a thing or a window.
    """

    cover: str
    place: str
    size_m: tuple[float, float]
    price: float | None
    at: tuple[float, float] | None = None


def covers_to_buy(scene: Scene) -> tuple[CoverToBuy, ...]:
    """Every cover that a scene's openings and objects name, in their order.

    Parameters
    ----------
    scene : Scene
    """
    known = scene.known_covers
    lying = [
        CoverToBuy(
            opening.cover,
            opening.surface if opening.kind == "cover" else opening.name,
            opening.size,
            known[opening.cover].price,
            opening.at if opening.kind == "cover" else None,
        )
        for opening in scene.openings
        if opening.cover is not None
    ]
    standing = [
        CoverToBuy(thing.cover, thing.name, (thing.size[1], thing.size[2]), known[thing.cover].price)
        for thing in scene.objects
        if isinstance(thing, BoxObject) and thing.cover is not None
    ]
    return (*lying, *standing)

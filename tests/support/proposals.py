"""Proposals for scenes of the repository, made once for all tests that look at them."""

from functools import cache

from raytrace import PanelWish, Proposal, load_scene, propose
from tests.support.scenes import SCENES

PANELS_ONLY = PanelWish(panels_only=True)


@cache
def proposal(name: str) -> Proposal:
    """The panels that are proposed for scenes/name.toml, as if they were written beside it."""
    scene = load_scene(SCENES / f"{name}.toml")
    return propose(scene, PANELS_ONLY, out=SCENES / f"{name}-proposed.toml")


@cache
def soon(more: str = "", wish: PanelWish = PANELS_ONLY, *, bounces: int = 2) -> Proposal:
    """The same for the box with some more in its file, by so many bounces within 18 ms alone: quicker."""
    scene = load_scene(SCENES / "box.toml", (SCENES / "box.toml").read_text(encoding="utf-8") + more)
    return propose(scene, wish, out=SCENES / "box-proposed.toml", up_to_order=bounces, within_s=0.018)

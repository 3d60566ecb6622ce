"""Proposals for scenes of the repository, made once for all tests that look at them."""

from functools import cache

from raytrace import PanelWish, Proposal, load_scene, propose
from tests.support.scenes import SCENES

PANELS_ONLY = PanelWish(panels_only=True)


@cache
def proposal(name: str, most_panels: int | None = None) -> Proposal:
    """The panels that are proposed for scenes/name.toml, as if they were written beside it."""
    scene = load_scene(SCENES / f"{name}.toml")
    return propose(scene, PanelWish(most_panels, panels_only=True), out=SCENES / f"{name}-proposed.toml")

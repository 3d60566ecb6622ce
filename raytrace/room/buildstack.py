"""The layers that sound meets in a panel: facing, wool, and the air behind it."""

from raytrace.acoustics import Facing, Gap, Layer, Miki, Stack
from raytrace.facts import Amount, Sentence, Unit, sentence
from raytrace.scene import Build
from raytrace.scene import Facing as GivenFacing

CLOTH_KG_M2 = 0.3
"""Mass of an upholstery cloth of which nothing is said. [kg/m2] Common practice, no source: 0.2 to 0.4."""


def stack_of(build: Build, gap_m: float = 0.0) -> Stack:
    """Layers of a panel from its front to its back, for `porous.reflection` and its neighbours.

    Parameters
    ----------
    build : Build
    gap_m : float
        Air between the panel's back and a hard surface. Without meaning behind a solid back. [m]

    Returns
    -------
    tuple of Facing, Layer and Gap
        Ends where the hard surface begins: the room's, or the solid back right behind the wool.

    Raises
    ------
    ValueError
        If the gap is negative or not finite.

    Examples
    --------
    >>> from raytrace.scene import load_builds
    >>> [type(part).__name__ for part in stack_of(load_builds()["wool 50"], 0.05)]
    ['Layer', 'Gap']
    """
    gap = Gap(gap_m)
    wool = Layer(Miki(build.flow_resistivity), build.thickness)
    facing = _facing_layer(build)
    front = (wool,) if facing is None else (facing, wool)
    return front if build.back == "solid" or gap_m == 0.0 else (*front, gap)


def facing_note(build: Build) -> Sentence:
    """What the facing of a build was taken for, in one sentence."""
    given = build.facing
    if given is None:
        return sentence("No facing is stated: the wool is taken as bare.")
    layer = _facing_layer(build)
    if layer is None:
        called = "The facing" if isinstance(given, GivenFacing) else f'"{given}"'
        return sentence(
            "{facing} is taken as an open cloth, one that can be breathed through: sound passes it freely.",
            facing=called,
        )
    mass = "" if isinstance(given, GivenFacing) and given.mass else ", not stated and taken"
    return sentence(
        "The facing is taken as a cloth or film of {resistance} Pa s/m and{stated} {mass}, free to move.",
        resistance=f"{layer.flow_resistance:g}",
        stated=mass,
        mass=Amount((layer.mass_kg_m2,), Unit.KG_M2),
    )


def _facing_layer(build: Build) -> Facing | None:
    """The layer of a facing with a stated flow resistance; None for open cloth."""
    given = build.facing
    if not isinstance(given, GivenFacing) or given.resistance == 0.0:
        return None
    return Facing(given.resistance, given.mass or CLOTH_KG_M2)

"""What lies in a panel from front to back: how deep it is made, and the layers that sound meets."""

from dataclasses import dataclass

from raytrace.acoustics import Facing, Gap, Layer, Miki, Stack
from raytrace.facts import Amount, Sentence, Unit, sentence
from raytrace.scene import Build, frame_section
from raytrace.scene import Facing as GivenFacing

CLOTH_KG_M2 = 0.3
"""Mass of an upholstery cloth of which nothing is said. [kg/m2] Common practice, no source: 0.2 to 0.4."""
BOARD_M = 0.006
"""Solid back: plywood. Common practice, no source."""
_HAIR_M = 1e-6  # what is lost in reading a thickness in one unit and a timber in another


@dataclass(frozen=True)
class Depths:
    """How deep a panel is made, from its front backwards; the wool lies flush with the frame's front. [m]

    Attributes
    ----------
    slab_m : float
        Thickness of the wool.
    cavity_m : float
        Air inside a frame that is deeper than its slab, between the wool and the frame's back.
    board_m : float
        Solid back, fixed to the back of the frame; 0 without one.
    """

    slab_m: float
    cavity_m: float
    board_m: float

    @property
    def behind_m(self) -> float:
        """From the back of the wool to what touches the wall where there is no gap."""
        return self.cavity_m + self.board_m

    @property
    def outer_m(self) -> float:
        """Of the finished panel."""
        return self.slab_m + self.behind_m


def depths_of(build: Build) -> Depths:
    """How deep a build is made: the one rule for sound, set-out, spacers, lists and drawings.

    A gap counts from the back of what is made to the wall. The air behind the wool is that and
    `Depths.behind_m`; behind a solid back it is the cavity alone.

    Parameters
    ----------
    build : Build

    Examples
    --------
    >>> from raytrace.scene import load_builds
    >>> deep = depths_of(load_builds()["wool 4 in"])  # a slab of 4 inches in a frame of 1x5, which is 4 1/2
    >>> round(1000 * deep.cavity_m, 1), round(1000 * deep.outer_m, 1)
    (12.7, 114.3)
    """
    deeper_m = frame_section(build.frame, build.thickness).depth_m - build.thickness
    return Depths(
        slab_m=build.thickness,
        cavity_m=deeper_m if deeper_m > _HAIR_M else 0.0,
        board_m=BOARD_M if build.back == "solid" else 0.0,
    )


def stack_of(build: Build, gap_m: float = 0.0) -> Stack:
    """Layers of a panel from its front to its back, for `porous.reflection` and its neighbours.

    Parameters
    ----------
    build : Build
    gap_m : float
        Air between the back of the wool and a hard surface. Without meaning before a solid back, which
        closes the cavity of its frame. [m]

    Returns
    -------
    tuple of Facing, Layer and Gap
        Ends where the hard surface begins: the room's, or the solid back.

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
    gap = Gap(depths_of(build).cavity_m if build.back == "solid" else gap_m)
    wool = Layer(Miki(build.flow_resistivity), build.thickness)
    facing = _facing_layer(build)
    front = (wool,) if facing is None else (facing, wool)
    return front if gap.depth_m == 0.0 else (*front, gap)


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

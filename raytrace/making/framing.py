"""What one panel is made of: frame, slab, cloth and back, with their sizes and masses."""

from dataclasses import dataclass

from raytrace.facts import Amount, Sentence, Unit, millimetres, sentence
from raytrace.making.timber import SOFTWOOD_KG_M3, Timber, batten_for, frame_timber
from raytrace.room import BOARD_M, CLOTH_KG_M2, depths_of
from raytrace.scene import Build, Facing, names_a_size

WOOL_KG_M3 = 60.0
"""Taken where a build states no density: the middle of usual slabs. Common practice, no source."""
PLYWOOD_KG_M3 = 650.0
WRAP_M = 0.050
"""What the cloth reaches round to the back, beyond the frame's depth."""
LONG_SIDE_M = 1.5
"""A frame longer than this bows: it gets a cross-bar."""
THREE_RAILS_M = 1.8
"""A hung panel longer than this gets a third hanging rail, six hooks instead of four."""


@dataclass(frozen=True)
class Part:
    """Equal pieces of timber of one panel: what they are, of what, how long [m], how many."""

    name: str
    timber: Timber
    length_m: float
    count: int


@dataclass(frozen=True)
class Piece:
    """Everything that one panel is made of.

    Attributes
    ----------
    parts : tuple of Part
        Timber.
    slab_m : tuple of float
        Width, height, thickness of the wool, which is the inside of the frame. [m]
    outer_m : tuple of float
        Width, height and depth of the finished panel. [m]
    front_cloth_m, back_cloth_m : tuple of float
        Cut sizes: the front with what wraps round. [m]
    board_m : tuple of float or None
        Solid back. [m]
    wool_kg, timber_kg, cloth_kg, board_kg : float
    """

    parts: tuple[Part, ...]
    slab_m: tuple[float, float, float]
    outer_m: tuple[float, float, float]
    front_cloth_m: tuple[float, float]
    back_cloth_m: tuple[float, float]
    board_m: tuple[float, float] | None
    wool_kg: float
    timber_kg: float
    cloth_kg: float
    board_kg: float

    @property
    def middle_m(self) -> float:
        """Of its centre of mass, behind its front."""
        _, _, depth = self.outer_m
        wool = self.wool_kg * 0.5 * self.slab_m[2]
        timber = self.timber_kg * 0.5 * self.parts[0].timber.depth_m
        board = self.board_kg * (depth - 0.5 * BOARD_M)
        return (wool + timber + board + self.cloth_kg * 0.5 * depth) / self.mass_kg

    @property
    def mass_kg(self) -> float:
        """Of the finished panel, without hooks and cords."""
        return self.wool_kg + self.timber_kg + self.cloth_kg + self.board_kg


def take_apart(build: Build, *, hung: bool) -> Piece:
    """The pieces of one panel and what they weigh.

    Parameters
    ----------
    build : Build
    hung : bool
        On cords, so with rails across the back that carry the eyelets.

    Returns
    -------
    Piece

    Notes
    -----
    Butt joints: the long sides run through, the short ones stand between them. Rails and cross-bars lie
    flat across the back. Each of the two faces is covered with cloth.
    """
    timber = frame_timber(build.frame, build.thickness)
    batten = batten_for(timber)
    short, long = sorted(build.size)
    across = short + 2 * timber.thickness_m
    parts = [
        Part("long side", timber, long + 2 * timber.thickness_m, 2),
        Part("short side", timber, short, 2),
    ]
    n_rails = 0 if not hung else 3 if long > THREE_RAILS_M else 2
    if n_rails:
        parts.append(Part("hanging rail", batten, across, n_rails))
    if long > LONG_SIDE_M and n_rails < 3:
        parts.append(Part("cross-bar", batten, across, 1))
    depths = depths_of(build)
    depth = depths.outer_m - depths.board_m
    width, height = (side + 2 * timber.thickness_m for side in build.size)
    front = width + 2 * (depth + WRAP_M), height + 2 * (depth + WRAP_M)
    is_solid = build.back == "solid"
    area = build.size[0] * build.size[1]
    return Piece(
        parts=tuple(parts),
        slab_m=(*build.size, build.thickness),
        outer_m=(width, height, depths.outer_m),
        front_cloth_m=front,
        back_cloth_m=(width, height),
        board_m=(width, height) if is_solid else None,
        wool_kg=wool_kg(build, area),
        timber_kg=sum(part.count * part.length_m * part.timber.kg_m for part in parts),
        cloth_kg=cloth_kg(build, front, (width, height)),
        board_kg=PLYWOOD_KG_M3 * BOARD_M * width * height if is_solid else 0.0,
    )


def wool_kg(build: Build, area_m2: float) -> float:
    """Mass of so much of a build's wool. [kg]"""
    density = WOOL_KG_M3 if build.density is None else build.density
    return density * area_m2 * build.thickness


def cloth_kg(build: Build, front_m: tuple[float, float], back_m: tuple[float, float]) -> float:
    """Mass of the cloths of both faces, of the sizes to which they are cut. [kg]"""
    stated = build.facing.mass if isinstance(build.facing, Facing) else 0.0
    return front_m[0] * front_m[1] * (stated or CLOTH_KG_M2) + back_m[0] * back_m[1] * CLOTH_KG_M2


def mass_notes(build: Build) -> tuple[Sentence, ...]:
    """What had to be assumed to weigh and to frame a build, a sentence each."""
    timber = frame_timber(build.frame, build.thickness)
    notes = []
    if build.density is None:
        density = Amount((WOOL_KG_M3,), Unit.KG_M3)
        notes.append(sentence("No density is stated: wool of {density} is taken.", density=density))
    if not names_a_size(build.frame):
        taken = millimetres(0.020, timber.depth_m)
        notes.append(sentence("The build names no size of timber: {taken} is taken.", taken=taken))
    short_by = build.thickness - timber.depth_m
    if short_by > 0.002:
        shallow = "The frame is {short} shallower than the slab, which stands out of its back."
        notes.append(sentence(shallow, short=millimetres(short_by)))
    if short_by < -0.002:
        deep = (
            "The frame is {more} deeper than the slab, which lies flush with its front: that much air is "
            "behind the wool, inside the frame, and counts beside any gap behind the frame."
        )
        notes.append(sentence(deep, more=millimetres(-short_by)))
    return tuple(notes)


MASS_BASIS = sentence(
    "Masses: wool by its density, softwood {softwood}, cloth {cloth} as it is cut, wrap included, "
    "unless the facing states its own, solid backs {board} plywood of {plywood} (common practice, no "
    "source); hooks, cords and moisture are not in them. Weigh the first panel that is finished.",
    softwood=Amount((SOFTWOOD_KG_M3,), Unit.KG_M3),
    cloth=Amount((CLOTH_KG_M2,), Unit.KG_M2),
    board=millimetres(BOARD_M),
    plywood=Amount((PLYWOOD_KG_M3,), Unit.KG_M3),
)

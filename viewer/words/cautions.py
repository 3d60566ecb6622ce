"""Which of the usual cautions belong beside a piece of work."""

from collections.abc import Collection
from enum import Enum

from raytrace import CAUTIONS, Caution, Room, Treatment, is_overhead

HIGH_M = 2.0  # what is held or marked above it takes steps or a ladder (common practice, no source)


class Work(Enum):
    """What is done, as far as it asks for its own cautions."""

    HANG = "overhead"
    MOUNT = "on a wall"
    STAND = "on the floor"
    MARK_ABOVE = "spots marked overhead"
    MARK = "spots marked on a wall"
    LAY = "a rug, a curtain, a pad"
    MAKE = "in the workshop"
    HIGH = "above 2 m"


_OF_WORK = {
    Work.HANG: (
        Caution.OVERHEAD,
        Caution.LADDERS,
        Caution.COVER,
        Caution.COATINGS,
        Caution.CABLES,
        Caution.RENTED,
        Caution.FIRE,
        Caution.FIBRES,
    ),
    Work.MOUNT: (
        Caution.CABLES,
        Caution.COVER,
        Caution.DAMP,
        Caution.RENTED,
        Caution.FIRE,
        Caution.FIBRES,
    ),
    Work.STAND: (Caution.STANDS, Caution.COVER, Caution.FIRE, Caution.FIBRES),
    Work.MARK_ABOVE: (
        Caution.OVERHEAD,
        Caution.LADDERS,
        Caution.COVER,
        Caution.COATINGS,
        Caution.CABLES,
    ),
    Work.MARK: (Caution.CABLES, Caution.COVER, Caution.DAMP, Caution.RENTED),
    Work.LAY: (Caution.SOFT, Caution.COVER, Caution.FIRE),
    Work.MAKE: (Caution.FIBRES, Caution.FIRE, Caution.LADDERS),
    Work.HIGH: (Caution.LADDERS,),
}


_AT_ONCE = (Caution.OVERHEAD, Caution.STANDS, Caution.CABLES, Caution.LADDERS)


def cautions_beside(works: Collection[Work]) -> list[Caution]:
    """Cautions in their usual order, local codes first in any case.

    Parameters
    ----------
    works : collection of Work
    """
    wanted = {Caution.CODES, *(caution for work in works for caution in _OF_WORK[work])}
    return [caution for caution in CAUTIONS if caution in wanted]


def first_of_all(cautions: Collection[Caution]) -> list[Caution]:
    """Those of what hurts at once, for where there is no room for all of them."""
    return [caution for caution in cautions if caution in _AT_ONCE]


def is_high(room: Room, panels: Collection[int]) -> bool:
    """Whether the top of one of these panels is so high that it takes steps or a ladder."""
    floor = float(room.bounds[0][2])
    return any(float(room.panels[k].corners[:, 2].max()) - floor > HIGH_M for k in panels)


def works_of(treatment: Treatment) -> set[Work]:
    """Everything that is done for a treatment, from the workshop to the last hook."""
    room, making = treatment.room, treatment.bill_of_materials
    above = {is_overhead(room.surfaces[hook.surface].frame.n) for hook in treatment.hooks}
    done = {
        Work.HANG: True in above,
        Work.MOUNT: False in above,
        Work.STAND: bool(treatment.stability),
        Work.LAY: bool(making.covers),
        Work.MAKE: bool(making.batches),
        Work.HIGH: is_high(room, range(len(room.panels))),
    }
    return {work for work, is_done in done.items() if is_done}

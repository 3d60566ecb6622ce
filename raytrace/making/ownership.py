"""Which panels of a room are owned already and which are to be made, as the scene's stock has it."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from raytrace.facts import Sentence, sentence
from raytrace.making.loads import is_hung
from raytrace.room import PlacedPanel
from raytrace.scene import Scene


@dataclass(frozen=True)
class Ownership:
    """Where the panels of a room come from.

    Attributes
    ----------
    owned : tuple of int
        Indices into the room's panels; the others are to be made, all of them or some of a stack.
    n_owned : dict of int to int
        How many of a panel's stack are owned, by index, where any is.
    left_over : dict of str to int
        Owned panels that have no place in the room, by build.
    """

    owned: tuple[int, ...]
    n_owned: dict[int, int]
    left_over: dict[str, int]


def find_ownership(scene: Scene, panels: Sequence[PlacedPanel]) -> Ownership:
    """Which of the panels are owned: of each build as many as the stock has, each of a stack counted.

    Parameters
    ----------
    scene : Scene
    panels : sequence of PlacedPanel
        Of its room.

    Returns
    -------
    Ownership

    Notes
    -----
    What goes on cords is owned last: it hangs overhead from rails across its back, which a panel made for
    a wall has not. Slabs of a raft have no frames, so that none of them is an owned panel. Otherwise the
    order of the scene decides.
    """
    left = Counter(scene.stock)
    taken: dict[int, int] = {}
    framed = [k for k, panel in enumerate(panels) if not panel.in_raft]
    for index in sorted(framed, key=lambda k: (is_hung(panels[k]), k)):
        panel = panels[index]
        count = min(left[panel.build_name], panel.stacked)
        if count > 0:
            left[panel.build_name] -= count
            taken[index] = count
    owned = tuple(sorted(k for k, count in taken.items() if count == panels[k].stacked))
    return Ownership(owned, taken, {name: n for name, n in left.items() if n > 0})


def owned_notes(panels: Sequence[PlacedPanel]) -> tuple[Sentence, ...]:
    """What to look at before owned panels, which may have been made for another place, are put up.

    Parameters
    ----------
    panels : sequence of PlacedPanel
        Those that are owned.
    """
    if not panels:
        return ()
    kept = (
        "Owned panels are taken to be made as their build says: weigh and measure them before anything is "
        "drilled, and look whether frame, cloth and wool are sound."
    )
    hung = ", ".join(panel.name for panel in panels if is_hung(panel))
    rails = (
        "{hung}: owned, and to hang on cords. That takes rails right across the back with eye bolts through "
        "them: a panel without does not go overhead until it has them."
    )
    return (sentence(kept), *((sentence(rails, hung=hung),) if hung else ()))

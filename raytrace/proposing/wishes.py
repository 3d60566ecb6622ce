"""What panels are wished for, by whom and within which bounds, as a problem of choosing among candidates."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from raytrace.proposing.candidates import Refusal, find_candidates
from raytrace.proposing.choice import Problem, Supply, pose
from raytrace.proposing.panelgrid import ON_AXIS_M, listening_axis, wanted_spots
from raytrace.proposing.surrogate import build_surrogate
from raytrace.proposing.words import default_build
from raytrace.scene import Scene, did_you_mean
from raytrace.study import Study

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class PanelWish:
    """Which panels may be proposed, and for whom.

    Attributes
    ----------
    most_panels : int or None
        At most so many, and then the best of them.
    budget : float or None
        For what must be bought; every build that is bought needs a price.
    builds : tuple of str
        What is bought, of each place the one that serves best. Without them all builds that the scene
        prices; else nothing where panels are owned; else the first of the scene's own builds; else "wool 50",
        or "wool 2 in" where the scene is told in feet and inches.
    seats : tuple of str
        Seats that count, the first named first; without them the scene's first one. The others have a say
        only in what `most_panels` or `budget` leave over.
    weights : tuple of float
        What the peaks of each of these seats weigh where all are served together, above 0; without them one
        seat comes after the other.
    margin_db : float or None
        How far below the limit every peak is to be, 0 or more; without it by the uncertainty of its verdict.
    singles : bool
        Whether a panel may go without its mirror image where speakers and seat mirror each other.
    spend : bool
        Whether what the fewest panels leave over of `most_panels` or `budget` is spent too, goal after goal.
    moves : tuple of str
        What may stand another way in the new scene where panels do not do: "desk", "speakers", "seat".
    panels_only : bool
        Look neither for covers nor for other arrangements.
    """

    most_panels: int | None = None
    budget: float | None = None
    builds: tuple[str, ...] = ()
    seats: tuple[str, ...] = ()
    weights: tuple[float, ...] = ()
    margin_db: float | None = None
    singles: bool = False
    spend: bool = False
    moves: tuple[str, ...] = ()
    panels_only: bool = False


def pose_wish(
    before: Study, wish: PanelWish, supplies: tuple[Supply, ...], seats: tuple[int, ...], tell: Progress
) -> tuple[Problem, tuple[Refusal, ...]]:
    """What there is to choose among for the seats that count, and the places that no panel may take.

    Parameters
    ----------
    before : Study
        The room as it is.
    wish : PanelWish
    supplies, seats : tuple of Supply, tuple of int
        From `find_supplies`, `find_seats`.
    tell : callable
        Called with a text and the share done (0 to 1).
    """
    scene, room = before.scene, before.room
    is_bounded = wish.most_panels is not None or wish.budget is not None
    is_shared = is_bounded and len(seats) < len(scene.seats)
    heard_at = () if is_shared else seats
    axis_m = listening_axis(scene, seats[0])
    spots = wanted_spots(scene, room, before.arrivals, seats)
    rest = [k for k in range(len(scene.seats)) if k not in seats] if is_shared else []
    others = wanted_spots(scene, room, before.arrivals, rest) if rest else ()
    tell("places for panels", 0.15)
    names = [supply.build for supply in supplies]
    candidates, refusals = find_candidates(scene, room, spots, names, axis_m=axis_m, others=others)
    tell("what a panel at each place would do", 0.25)
    surrogate = build_surrogate(scene, room, before.arrivals, candidates, heard_at)
    problem = pose(surrogate, candidates, supplies, symmetric=in_pairs(scene, wish, seats))
    problem = as_wished(problem, wish, seats)
    return replace(problem, is_shared=is_shared), refusals


def in_pairs(scene: Scene, wish: PanelWish, seats: Sequence[int]) -> bool:
    """Whether places that mirror each other are taken together only."""
    return listening_axis(scene, seats[0]) is not None and not wish.singles and _on_axis(scene, seats)


def as_wished(problem: Problem, wish: PanelWish, seats: tuple[int, ...]) -> Problem:
    """A problem with the bounds, seats and margin that are wished for."""
    return replace(
        problem,
        most_panels=wish.most_panels,
        budget=wish.budget,
        margin_db=wish.margin_db,
        seats=seats,
        weights=tuple(weight / min(wish.weights) for weight in wish.weights),
    )


def find_supplies(scene: Scene, wish: PanelWish) -> tuple[Supply, ...]:
    """What panels are to be had: those owned that have no place yet, and the builds that are bought."""
    known = scene.known_builds
    if wish.spend and wish.most_panels is None and wish.budget is None:
        raise ValueError("to spend needs a budget or a number of panels")
    for name in wish.builds:
        if name not in known:
            raise ValueError(f'no build is called "{name}"{did_you_mean(name, known)}')
    bought = wish.builds or tuple(name for name in known if scene.price(name) is not None)
    if not bought and not scene.stock:
        bought = (next(iter(scene.builds), default_build(scene)),)
    unpriced = next((name for name in bought if scene.price(name) is None), None)
    if wish.budget is not None and unpriced is not None:
        raise ValueError(
            f'the build "{unpriced}" has no price: give one in the scene or in a list for --prices, '
            f'[prices] with "{unpriced}" = 48'
        )
    owned = scene.left_over
    # Where one of them has no price the prices of the others decide nothing: it would pass for free.
    return tuple(
        Supply(name, owned.get(name, 0), name in bought, scene.price(name) if unpriced is None else None)
        for name in dict.fromkeys([*scene.stock, *bought])
    )


def find_seats(scene: Scene, names: Sequence[str]) -> tuple[int, ...]:
    """The seats that count, in the order in which they are named; else the first, the place of work."""
    known = [seat.name for seat in scene.seats]
    for name in names:
        if name not in known:
            raise ValueError(f'no seat is called "{name}"{did_you_mean(name, known)}')
    return tuple(known.index(name) for name in dict.fromkeys(names)) or (0,)


def _on_axis(scene: Scene, seats: Sequence[int]) -> bool:
    """Whether all seats that count lie in the plane in which the speakers mirror each other at the first."""
    return all(abs(scene.seats[k].ears[1] - scene.seats[seats[0]].ears[1]) <= ON_AXIS_M for k in seats)

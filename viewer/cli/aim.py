"""The command that tells how to set up the speakers of a scene."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from viewer.cli.commandline import (
    Flag,
    Mistake,
    SceneFile,
    Units,
    check_drawing,
    check_form,
    check_name,
    mistakes,
    read_scene,
    showing_progress,
    units_of,
    write_files,
)
from viewer.cli.printing import print_json, say, show

if TYPE_CHECKING:
    from raytrace import Scene

_FARTHEST_M = 60.0
_DOING = "trying distances from the wall, and places of the speakers that clear the desk"


@Parameter(name="*")
@dataclass(frozen=True)
class Setup:
    """What is looked into.

    Parameters
    ----------
    seat
        Seat whose desk reflections and distances to the wall are looked into; the default is the first.
    behind
        How far behind the ears the axes cross in the second set of angles, a length such as "200 mm"
        (common practice).
    wall_from
        Least distance of the speakers from the wall behind them that is tried, a length; the default is
        the cabinet's depth with 50 mm for plugs.
    wall_to
        Greatest one.
    skip_desk
        Do not look for what clears a desk, which takes most of the time.
    """

    seat: str | None = None
    behind: str = "200 mm"
    wall_from: Annotated[str | None, Parameter(name="--wall-from")] = None
    wall_to: Annotated[str, Parameter(name="--wall-to")] = "1200 mm"
    skip_desk: Annotated[bool, Parameter(name="--skip-desk", negative="")] = False


@Parameter(name="*")
@dataclass(frozen=True)
class Plan:
    """The drawing.

    Parameters
    ----------
    plan
        File to draw the plan for the seat into: .png, .svg or .pdf. An existing file is never overwritten
        without --replace.
    replace
        Overwrite the file that is to be drawn.
    """

    plan: Path | None = None
    replace: Flag = False


_USUAL = Setup()
_NO_PLAN = Plan()


def aim(
    scene: SceneFile,
    *,
    setup: Setup = _USUAL,
    to: Plan = _NO_PLAN,
    json: Flag = False,
    units: Units = None,
) -> None:
    """Print how to set up the speakers: where to point them, what to put under them, which walls cost bass.

    Parameters
    ----------
    json
        One JSON object in full precision.
    """
    from raytrace import AimWish, find_aim
    from viewer.tables import aim_json, aim_tables

    check_form(json, False, units)
    check_drawing(to.plan, "--plan", replace=to.replace)
    read = read_scene(scene)
    wish = AimWish(
        _seat(read, setup.seat), _length_m("--behind", setup.behind), _wall_m(setup), not setup.skip_desk
    )
    with mistakes(), showing_progress(_DOING) as progress:
        found = find_aim(read, wish, progress=progress)
    if to.plan is not None:
        from viewer.charts import draw_aim_plan

        write_files({to.plan: lambda path: draw_aim_plan(found, path, units=units_of(read, units))})
    if json:
        print_json(aim_json(found))
        return
    show(aim_tables(found, units=units_of(read, units)))
    if to.plan is not None:
        say(f"Written: {to.plan}")


def _seat(scene: "Scene", name: str | None) -> int:
    names = tuple(seat.name for seat in scene.seats)
    check_name(name, names, "seat")
    return 0 if name is None else names.index(name)


def _wall_m(setup: Setup) -> tuple[float | None, float]:
    """Bounds of the distances from the wall; the usual lower one is None."""
    low = None if setup.wall_from is None else _length_m("--wall-from", setup.wall_from)
    high = _length_m("--wall-to", setup.wall_to)
    if low is not None and low > high:
        raise Mistake(f"--wall-from {setup.wall_from} is more than --wall-to {setup.wall_to}")
    return low, high


def _length_m(option: str, text: str) -> float:
    """A length as it is typed, 0 or more."""
    from raytrace import parse_length

    try:
        length_m = parse_length(text)
    except ValueError as problem:
        raise Mistake(f"{option}: {problem}") from None
    if not 0.0 <= length_m <= _FARTHEST_M:
        raise Mistake(f"{option} must lie between 0 and {_FARTHEST_M:g} m, not {text}")
    return length_m

"""What a stand bears and how it is held, in the reader's units."""

from raytrace import PUSH_HEIGHT_M, PUSH_SHARE, STRAP_N, TILT_TEST_DEG, Stability, format_length
from viewer.words.units import force_words, mass_words


def stand_limits(units: str) -> str:
    """What every stand is built to bear, and what asks for more.

    Parameters
    ----------
    units : {"metric", "imperial"}
    """
    share = f"{100 * PUSH_SHARE:.0f} %"
    at = format_length(PUSH_HEIGHT_M, units=units, style="m")
    return (
        f"A stand is built to bear a level push of {share} of its weight at its top, at {at} if "
        "that is lower (IEC 60950-1, 4.1, from memory), and to stand up again from a tilt of "
        f"{TILT_TEST_DEG:.0f}° (IEC 62368-1, from memory). Children who climb and cables that are pulled ask "
        "for more: strap the top to the wall wherever that is allowed."
    )


def stand_words(found: Stability, units: str) -> str:
    """What a stand weighs, where its middle is, what it rests on and at what it tips, in one sentence.

    Parameters
    ----------
    found : Stability
    units : {"metric", "imperial"}
    """
    body = found.body
    mass, up = mass_words(body.mass_kg, units), format_length(float(body.centre[1]), units=units)
    foot = format_length(body.foot_m, units=units)
    carried, moved = ("blocks", "pull") if body.leans else ("feet", "push")
    return (
        f"{mass} in all, centre of mass {up} above the floor, {carried} {foot} long; tips at a "
        f"{moved} of {push_words(found, units)} or turned by "
        f"{body.tips_at_deg:.0f}°{strap_words(found, units)}"
    )


def push_words(found: Stability, units: str) -> str:
    """At what level push or pull a stand tips, how high up that is, and what is asked for."""
    body = found.body
    push, least = force_words(body.push_n, units), force_words(body.least_push_n, units)
    return f"{push} at {format_length(body.push_height_m, units=units)} ({least} asked for)"


def strap_words(found: Stability, units: str) -> str:
    """How many straps hold it to the wall; nothing where none do."""
    if not found.n_straps:
        return ""
    return f"; {found.n_straps} straps to the wall, each for {force_words(STRAP_N, units)}"

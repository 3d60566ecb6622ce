"""What is said of a budget that is spent well: goal after goal, with figures and reasons."""

from math import isnan
from typing import TYPE_CHECKING

from viewer.words.figures import decibels, listed
from viewer.words.units import told

if TYPE_CHECKING:
    from raytrace import Goal, Spending, SpentStep

STEPS_EXPLAINED = (
    "Each line takes what the lines above left over, in the order of practice. Early reflections: by how "
    "much peaks miss what is planned for, the limit and a margin below it, all together. Left against right: "
    "early energy. Room below the limit: by how much peaks are nearer than 3 dB below what is planned for, "
    "all together. Decay: outside the target's range, mean of 250 Hz to 4 kHz. Flutter: pairs of bare "
    "surfaces, each counted as far as it is from being treated. Back wall: its strongest reflection against "
    "the direct sound; 20 dB below is enough. Recalculated: the full run with all panels up."
)


def goal_figure(goal: "Goal", figure: float) -> str:
    """A goal's figure with its unit; a dash where there is none.

    Parameters
    ----------
    goal : Goal
    figure : float
    """
    if isnan(figure):
        return "–"
    from raytrace import Goal

    if goal is Goal.DECAY:
        return f"{figure:.2f} s"
    return f"{figure + 0.0:.1f}" if goal is Goal.FLUTTER else f"{decibels(figure)} dB"


def seconds(value: float) -> str:
    """A decay time in a table; a dash where none was found."""
    return "–" if isnan(value) else f"{value:.2f}"


def step_cells(step: "SpentStep") -> list[str]:
    """What a step is for, how many panels, where; its figure before, as predicted and as proven.

    Parameters
    ----------
    step : SpentStep
    """
    figures = [goal_figure(step.goal, value) for value in (step.before, step.after, step.proven)]
    where = ", ".join(step.where) or "none"
    return [step.goal.value, str(step.n_panels), where, *figures]


def reason_lines(spending: "Spending", units: str) -> list[str]:
    """Why no more panels are put up, goals that share a reason in one sentence.

    Parameters
    ----------
    spending : Spending
    units : {"metric", "imperial"}
    """
    found: dict[str, list[str]] = {}
    for step in spending.steps:
        found.setdefault(told(step.reason, units, hints=False), []).append(step.goal.value)
    return [f"{listed(goals).capitalize()}: {reason}." for reason, goals in found.items()]


def rest_words(spending: "Spending", units: str) -> str:
    """What is left over, and why, as one sentence.

    Parameters
    ----------
    spending : Spending
    units : {"metric", "imperial"}
    """
    left, reason = [], told(spending.reason, units, hints=False)
    if spending.money_left >= 0.005:  # which is no money to whoever counts in hundredths
        left.append(f"{spending.money_left:.2f} of the budget")
    if spending.panels_left:
        left.append("one panel" if spending.panels_left == 1 else f"{spending.panels_left} panels")
    return f"Left over: {' and '.join(left)}; {reason}." if left else f"Nothing is left over: {reason}."

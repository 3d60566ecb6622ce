import numpy as np

from raytrace import Goal, Spending, SpentStep
from raytrace.facts import sentence
from viewer.words import goal_figure, reason_lines, rest_words, seconds, step_cells

ENOUGH, SPENT = sentence("nothing is left to gain"), sentence("the budget is spent")


def step(goal, reason, n_panels=2):
    where = ("1 x left wall", "1 x right wall") if n_panels else ()
    return SpentStep(goal, n_panels, where, 120.0, 1.26, 0.5, 0.6, 0.5, reason)


def spending(**changes):
    bands = (np.full(8, 0.3), np.full(8, np.nan))
    steps = (step(Goal.FEWEST, ENOUGH), step(Goal.LEFT_RIGHT, ENOUGH, 0), step(Goal.DECAY, SPENT))
    return Spending(
        **{"steps": steps, "money_left": 38.0, "panels_left": None, "reason": SPENT} | changes,
        decay_s=bands,
        target_s=bands,
    )


def test_goals_that_share_a_reason_share_a_sentence():
    assert reason_lines(spending(), "metric") == [
        "Early reflections and left against right: nothing is left to gain.",
        "Decay: the budget is spent.",
    ]


def test_what_is_left_is_told_with_its_reason():
    assert rest_words(spending(), "metric") == "Left over: 38.00 of the budget; the budget is spent."
    both = spending(panels_left=1, reason=ENOUGH)
    assert rest_words(both, "metric") == (
        "Left over: 38.00 of the budget and one panel; nothing is left to gain."
    )
    none = spending(panels_left=0, money_left=0.001, reason=ENOUGH)
    assert rest_words(none, "metric") == "Nothing is left over: nothing is left to gain."
    panels = spending(panels_left=3, money_left=np.nan)
    assert rest_words(panels, "metric").startswith("Left over: 3 panels; ")


def test_figures_have_the_unit_of_their_goal_and_a_dash_where_there_is_none():
    assert goal_figure(Goal.DECAY, 0.426) == "0.43 s"
    assert goal_figure(Goal.BACK_WALL, -18.62) == "−18.6 dB"
    assert goal_figure(Goal.FLUTTER, -0.0) == "0.0"
    assert goal_figure(Goal.LEFT_RIGHT, float("nan")) == "–"
    assert seconds(float("nan")) == "–"
    assert step_cells(step(Goal.LEFT_RIGHT, ENOUGH, 0))[1:3] == ["0", "none"]

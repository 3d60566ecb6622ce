"""Sentences on a proposal: what each panel answers, and what must be known before it is put up."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from raytrace.facts import Hint, Sentence, sentence
from raytrace.making import Hook, find_battens, frame_beside_m, not_carried
from raytrace.proposing.calibration import short_of_goal_db
from raytrace.proposing.candidates import Candidate, Refusal
from raytrace.proposing.choice import SPARE_DB, Chosen, Problem
from raytrace.proposing.goals import Goal
from raytrace.proposing.margins import way_of_facets
from raytrace.scene import Scene
from raytrace.study import Study

# What is bought where nothing else is known: a slab of usual size in the units of the survey.
_DEFAULT_BUILDS = {"metric": "wool 50", "imperial": "wool 2 in"}


def default_build(scene: Scene) -> str:
    """The build of the library that is taken where neither the scene nor a wish names one."""
    return _DEFAULT_BUILDS[scene.job.units or "metric"]


@dataclass(frozen=True)
class Answer:
    """The reflection that a panel is there for.

    Attributes
    ----------
    speaker : str
    way : tuple of str
        Surfaces that it meets, in their order.
    seat : str or None
        None where there is one seat only.
    delay_ms : float
        After the direct sound, as exact as it is told. [ms]
    """

    speaker: str
    way: tuple[str, ...]
    seat: str | None
    delay_ms: float

    @property
    def reflection(self) -> str:
        """Which reflection it is, in a few words."""
        return f"{self._who}, {self._where}, {self.delay_ms:.1f} ms"

    def __str__(self) -> str:
        """What the panel does, as the rest of a sentence."""
        what = f"the {self._who}'s reflection off the {self._where}"
        return f"weakens {what}, {self.delay_ms:.1f} ms after the direct sound"

    @property
    def _who(self) -> str:
        return self.speaker if "speaker" in self.speaker.lower() else f"{self.speaker} speaker"

    @property
    def _where(self) -> str:
        return " › ".join(self.way) + ("" if self.seat is None else f" at {self.seat}")


_PURPOSES = {
    Goal.LEFT_RIGHT: "brings left and right nearer to each other",
    Goal.DECAY: "brings the decay nearer to its target",
    Goal.FLUTTER: "takes flutter from between bare surfaces",
    Goal.BACK_WALL: "weakens what the wall behind the seat sends back",
}


@dataclass(frozen=True)
class Purpose:
    """The goal beyond early reflections that a panel is there for."""

    goal: Goal

    @property
    def reflection(self) -> str:
        """What it is there for, in a few words."""
        return self.goal.value

    def __str__(self) -> str:
        """What the panel does, as the rest of a sentence."""
        return _PURPOSES[self.goal]


def find_answers(scene: Scene, before: Study, problem: Problem, chosen: Chosen) -> dict[int, Answer]:
    """What each chosen candidate answers: the peak that would rise most without it."""
    levels = problem.levels_db(chosen)
    problem.about(chosen)
    answers: dict[int, Answer] = {}
    for unit in chosen:
        for k in problem.units[unit]:
            others = [c for c in problem.panels(chosen) if c != k]
            surrogate = problem.surrogate
            worst = surrogate.worst(surrogate.states.state(others))
            with np.errstate(divide="ignore"):
                without = 10.0 * np.log10(worst / surrogate.limit)
            gained = np.maximum(without, -SPARE_DB) - np.maximum(levels, -SPARE_DB)
            counted = np.where(problem.counts, gained, 0.0)
            if counted.max(initial=0.0) < 0.1:
                counted = gained
            if counted.max(initial=0.0) < 0.1:  # what it takes off lies below the limit
                counted = np.where(without > -6.0, without - np.maximum(levels, -20.0), 0.0)
            surface = problem.candidates[k].surface
            name = _met_there(before, problem, int(np.argmax(counted)), surface)
            answers[k] = _answer(scene, before, problem, name)
    return answers


def _met_there(before: Study, problem: Problem, name: int, surface: int) -> int:
    """A reflection, or where it does not meet a surface, the strongest in one peak with it that does."""
    surrogate = problem.surrogate
    facets = before.room.facets
    meets = np.array(
        [any(f >= 0 and facets[f].surface == surface for f in own[2:]) for own in surrogate.names]
    )
    if meets[name]:
        return name
    state = problem.state(())
    of_name = state.leader[(surrogate.name == name) & (state.leader >= 0)]
    with_it = np.flatnonzero(np.isin(state.leader, of_name) & meets[surrogate.name])
    if not len(with_it):
        return name
    return int(surrogate.name[with_it[np.argmax(state.energy[with_it])]])


def _answer(scene: Scene, before: Study, problem: Problem, name: int) -> Answer:
    surrogate = problem.surrogate
    speaker, seat, *facets = surrogate.names[name]
    delay_s = float(surrogate.delay_s[np.flatnonzero(surrogate.name == name)[0]])
    return Answer(
        speaker=scene.speakers[speaker].name,
        way=way_of_facets(before, facets),
        seat=scene.seats[seat].name if len(scene.seats) > 1 else None,
        delay_ms=float(f"{1e3 * delay_s:.1f}"),
    )


def _seat_notes(scene: Scene, problem: Problem) -> list[Sentence]:
    names = [f'"{scene.seats[k].name}"' for k in problem.seats]
    others = _quoted(seat.name for k, seat in enumerate(scene.seats) if k not in problem.seats)
    if not others and len(names) > 1:
        order = f"{names[0]} first, then {', then '.join(names[1:])}"
        if problem.weights:
            order = "together, their weights " + ", ".join(
                f"{name} {weight:g}" for name, weight in zip(names, problem.weights, strict=True)
            )
        return [sentence("Where not all seats can be served: {order}.", order=order)]
    if not others:
        return []
    told = "Planned for the seat {counted} alone; {others} had no say.{asked}"
    if problem.is_shared:
        told = (
            "Planned for the seat {counted}; what it left over of the panels asked for went to "
            "{others}.{asked}"
        )
    asked = Hint(" --seat names the seats that count.")
    return [sentence(told, counted=_counted(scene, problem), others=others, asked=asked)]


def _counted(scene: Scene, problem: Problem) -> str:
    """Names of the seats that count."""
    return _quoted(scene.seats[k].name for k in problem.seats)


def _quoted(names: Iterable[str]) -> str:
    return " and ".join(f'"{name}"' for name in names)


def proposal_notes(
    before: Study, problem: Problem, *, panels: Sequence[Candidate], end: Sentence | None
) -> tuple[Sentence, ...]:
    """What must be known of a choice of panels.

    Parameters
    ----------
    before : Study
        The room as it is.
    problem : Problem
    panels : sequence of Candidate
        All that are put up.
    end : Sentence or None
        Why no more could be taken, if that is so.
    """
    scene = before.scene
    notes: list[Sentence] = []
    if not any(verdict.status == "judged" for verdict in before.verdicts):
        hidden = "No speaker is judged, the direct sound of each is hidden: nothing can be proposed."
        notes.append(sentence(hidden))
    elif not any(short_of_goal_db(problem, p) > 0.0 for p in before.peaks if p.seat in problem.seats):
        at_some = len(problem.seats) < len(scene.seats)
        seats = f" at {_counted(scene, problem)}" if at_some else ""
        quiet = "No early reflection is over the limit or near it{seats}: nothing needs to be put up."
        notes.append(sentence(quiet, seats=seats))
    elif not panels and end is not None:
        notes.append(sentence("Nothing is put up: {end}.", end=end))
    elif not panels:
        nothing = "No panel at any place that may be used takes anything worth having off these peaks."
        notes.append(sentence(nothing))
    builds = {candidate.panel.build_name for candidate in panels}
    bought = [supply for supply in problem.supplies if supply.buyable]
    if len(bought) > 1:
        order = "the fewest panels first"
        order += ", then the lowest price" if all(supply.price is not None for supply in bought) else ""
        among = "Chosen place by place among {builds}: " + order + "."
        notes.append(sentence(among, builds=_quoted(supply.build for supply in bought)))
    elif default_build(scene) in builds and default_build(scene) not in scene.builds:
        another = Hint("; --build names another one")
        planned = 'Planned with the library build "{build}"{another}.'
        notes.append(sentence(planned, build=default_build(scene), another=another))
    notes += _seat_notes(scene, problem)
    framed = any(frame_beside_m(scene.build(name)) > 0.0 for name in builds)
    if len(panels) > 1 and framed:
        beside = "frames reach beyond them, and neighbours are set far enough apart"
        notes.append(sentence(f"Places are those of the slabs; {beside}."))
    if any(candidate.panel.kind == "stand" for candidate in panels):
        feet = (
            "Stands are built with legs and feet, which the cut list holds; room for them was kept. What a "
            "stand weighs and what tips it is listed. Keep ways out free.{raised}"
        )
        raised = Hint(" raised = true under [job] would also allow panels held up off the floor.")
        notes.append(sentence(feet, raised="" if scene.job.raised else raised))
    return tuple(notes)


def holding_notes(
    before: Study, after: Study, hooks: Sequence[Hook], refusals: Sequence[Refusal]
) -> tuple[Sentence, ...]:
    """What holds the proposed panels, and where panels were left out since nothing known would.

    Parameters
    ----------
    before, after : Study
    hooks : sequence of Hook
        Of the proposed panels.
    refusals : sequence of Refusal
    """
    notes = []
    found = find_battens(after.scene, after.room, hooks)
    lost = not_carried(hooks, found)
    if lost:
        told = (
            "{lost} of {hooks} hooks beyond the studs that are known: find what carries {them} there before "
            "anything is drilled, or move the panel along the wall."
        )
        them = "it" if len(lost) == 1 else "them"
        notes.append(sentence(told, lost=len(lost), hooks=len(hooks), them=them))
    without = sum(hook.batten for hook in hooks) - len(lost)
    if without:
        count = len(found)
        battens = "one batten" if count == 1 else f"{count} battens"
        it = "it" if count == 1 else "them"
        told = (
            "{without} of {hooks} hooks without a joist or stud in reach: needs {battens} across joists; a "
            "competent person chooses {it}. Places where hooks meet joists were preferred as long as they do "
            "as much."
        )
        notes.append(sentence(told, without=without, hooks=len(hooks), battens=battens, it=it))
    left_out = Counter((before.room.surfaces[r.surface].name, r.reason) for r in refusals if r.would_fit)
    notes += [
        sentence(
            '{count} {places} on "{surface}" left out: a panel there {reason}.',
            count=count,
            places="place" if count == 1 else "places",
            surface=surface,
            reason=reason,
        )
        for (surface, reason), count in left_out.items()
    ]
    return tuple(notes)

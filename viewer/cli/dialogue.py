"""Questions at the terminal, one after the other: answers checked as they are given, and taken back."""

import os
import stat
import sys
from typing import TYPE_CHECKING, Literal

from viewer.cli.commandline import Mistake
from viewer.cli.printing import complain

if TYPE_CHECKING:
    from raytrace import Question, Tape

TapeUnits = Literal["metres", "millimetres", "feet"]
UNDO = "undo"
_HOW = (
    f'An empty answer takes the suggestion in brackets; "{UNDO}" goes back to the question before.\n'
    "Any length may have its unit: 3400 mm, 3.4 m, 11 ft 2 in.\n"
)


class Dialogue:
    """Answers from a terminal, or from lines that are piped in; from nowhere otherwise.

    Attributes
    ----------
    asks : bool
        Whether somebody sits at the other end: questions are shown, wrong answers asked again.
    """

    def __init__(self) -> None:
        self.asks = sys.stdin is not None and sys.stdin.isatty()
        self._is_piped = not self.asks and _holds_lines()
        self._n_lines = 0

    def choose(self, text: str, words: tuple[str, ...], option: str) -> str:
        """One of a few words, the first for an empty answer; without an answer the option is missing."""
        while True:
            answer = self._answer(f"{text} ({', '.join(words)}) [{words[0]}]: ")
            if answer is None:
                raise Mistake(f"{option} is missing; accepted: {', '.join(words)}")
            answer = answer.lower() or words[0]
            if answer in words:
                return answer
            self._refuse(answer, text, f"accepted: {', '.join(words)}")

    def ask(
        self, questions: "tuple[Question, ...]", given: dict[str, str], tape: "Tape"
    ) -> dict[str, str | float]:
        """Answers to all questions: given ones checked, the others asked for; "" takes the suggestion."""
        from raytrace import check_answer

        if self.asks:
            sys.stderr.write(_HOW)
        typed: dict[str, str | float] = {}
        checked: dict[str, object] = {}
        asked: list[int] = []
        at = 0
        while at < len(questions):
            question = questions[at]
            key, is_given = question.key, question.key in given
            suggestion = question.suggestion(checked, tape)
            prompt = f"{question.text} (for example {question.example_by(tape)}) [{suggestion}]: "
            answer = given[key] if is_given else self._answer(prompt)
            option = f"--{key.replace('_', '-')}"
            if answer is None:
                answer, is_given, option = "", True, f'{option} is missing, and "{suggestion}" does not fit'
            if answer.lower() == UNDO and not is_given:
                at = asked.pop() if asked else at
                for later in questions[at:]:
                    checked.pop(later.key, None)
                continue
            try:
                checked[key] = question.read(answer or suggestion, tape)
                check_answer(key, checked, tape)
            except ValueError as problem:
                checked.pop(key, None)
                if is_given:
                    raise Mistake(f"{option}: {problem}") from None
                self._refuse(answer or suggestion, question.text, str(problem))
                continue
            typed[key] = answer
            asked += [] if is_given else [at]
            at += 1
        return typed

    def _answer(self, prompt: str) -> str | None:
        """What is typed, or the next line; None where there is none."""
        if self.asks:
            try:
                return input(prompt).strip()
            except EOFError:
                raise Mistake("\nThe answers ended early; nothing was written.") from None
        line = sys.stdin.readline() if self._is_piped else ""
        self._n_lines += 1
        return line.strip() if line else None

    def _refuse(self, answer: str, text: str, why: str) -> None:
        """Say why an answer cannot be used; nobody is there to give another one for a line of a pipe."""
        if self.asks:
            complain(f"  {why}")
            return
        raise Mistake(f'line {self._n_lines}, "{answer[:60]}", cannot answer "{text}": {why}')


def _holds_lines() -> bool:
    """Whether standard input is a pipe or a file, which end; anything else might be waited for in vain."""
    try:
        mode = os.fstat(sys.stdin.fileno()).st_mode
    except (AttributeError, OSError, ValueError):
        return False
    return stat.S_ISFIFO(mode) or stat.S_ISREG(mode)
